"""At which voltage a chip resets itself, by its extended fuse: what it should be, and what boards come with.

The levels are those of the chips' data sheets (tables named BODLEVEL fuse coding). That a serial bootloader does not
answer for fuses, and that programmers differ in the bits that are not used: reports to the boards' core,
https://github.com/arduino/Arduino, numbers 544 and 5175.
"""

from __future__ import annotations

from dataclasses import dataclass

from timing.marks import Mark


@dataclass(frozen=True)
class BrownOutFuse:
    """One chip at 5 V and 16 MHz."""

    wanted_v: float
    """Typical level that it should have: the highest that there is."""
    wanted_efuse: int
    """The extended fuse byte for it."""
    usual_v: float
    """Typical level that boards come with."""
    usual_efuse: int
    """The byte that the boards' core burns for it."""
    used_bits: int
    """Bits of the byte that mean anything; the others read as 1 or as 0."""
    why: str
    """What the chip needs at its clock, for people."""
    mark: Mark
    source: str

    def last_digits(self, efuse: int) -> tuple[str, ...]:
        """Return the last hexadecimal digit as programmers show it, with its unused bits as 1 and as 0."""
        as_ones, as_zeros = (efuse | ~self.used_bits) & 0xF, efuse & self.used_bits & 0xF
        return tuple(f"{digit:X}" for digit in dict.fromkeys((as_ones, as_zeros)))


BROWN_OUT: dict[str, BrownOutFuse] = {
    "atmega328p": BrownOutFuse(
        4.3,
        0xFC,
        2.7,
        0xFD,
        0x07,
        "At 16 MHz it needs about 3.8 V (common practice, no source); the level below is well short of that.",
        "published",
        "levels: data sheets of its sister chips, DS40001906C, table 33-7, and DS40002011A, table 33-9, seen quoted; "
        "speed: common practice, no source; usual byte: boards.txt of the core, compared by a test",
    ),
    "atmega2560": BrownOutFuse(
        4.3,
        0xFC,
        2.7,
        0xFD,
        0x07,
        "Its data sheet tests it with this level for 16 MHz.",
        "published",
        "data sheet 2549L, table 31-4 and its note, seen quoted; usual byte: boards.txt of the boards' core, compared "
        "by a test",
    ),
    "atmega32u4": BrownOutFuse(
        4.3,
        0xC8,
        2.6,
        0xCB,
        0x0F,
        "It is the highest level that the chip has, and the one for 5 V.",
        "published",
        "data sheet 7766J, table 8-1, seen quoted; usual byte: boards.txt of the boards' core, compared by a test",
    ),
}
"""By the chip, as a board's facts name it."""
