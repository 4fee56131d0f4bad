"""Why a board started: ONE table, from which the sketch, the lamp, the link, the bench and the papers are made.

Knows nothing of design files, so that a bench harness can carry it along.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Reset(IntEnum):
    """Causes, by weight: one that the lamp tells is kept until power-up, or until another such."""

    UNTOLD = 0
    POWER_UP = 1
    PIN = 2
    WATCHDOG = 3
    BROWN_OUT = 4
    LOOP = 5
    CLOCK = 6
    CONVERTER = 7

    @property
    def word(self) -> str:
        """The word that the link answers."""
        return RESET_ROWS[self].word

    @property
    def means(self) -> str:
        """One sentence for people."""
        return RESET_ROWS[self].means

    @property
    def on_lamp(self) -> bool:
        """True where the lamp tells it after the start, by its number in winks, until the first press."""
        return self >= FIRST_ON_LAMP


FIRST_ON_LAMP = Reset.BROWN_OUT
"""From this one on a reset is a fault of board or supply, which no bootloader looks like (derived)."""


@dataclass(frozen=True)
class ResetRow:
    """One cause."""

    word: str
    means: str
    """One sentence for people."""
    remedy: str
    """What to look for."""


RESET_ROWS = {
    Reset.UNTOLD: ResetRow(
        "not told",
        "the bootloader keeps the chip's reset flags to itself",
        "nothing; burn a present bootloader if you want to know",
    ),
    Reset.POWER_UP: ResetRow("power-up", "the supply came up", "nothing"),
    Reset.PIN: ResetRow(
        "reset pin",
        "its button, or a host that opened the serial port",
        "nothing, if somebody did that; else noise on the reset pin: keep its wire short or off",
    ),
    Reset.WATCHDOG: ResetRow(
        "watchdog",
        "the watchdog, or a bootloader that starts the sketch through it after a reset by the pin",
        "if nobody touched button or port: the chip's own clock; change the board",
    ),
    Reset.BROWN_OUT: ResetRow(
        "brown-out",
        "the board's own supply fell below the chip's brown-out level",
        "a loaded or sagging regulator, a loose supply wire, coils without suppression",
    ),
    Reset.LOOP: ResetRow(
        "loop hung",
        "the program stood still and the watchdog ended it",
        "noise from the arc or coils: suppression, screens, distance; if it comes back, change the board",
    ),
    Reset.CLOCK: ResetRow(
        "clock slow",
        "the clock that times the weld stopped or fell behind the converter",
        "noise as above; if it comes back, change the board",
    ),
    Reset.CONVERTER: ResetRow(
        "converter slow",
        "the converter that reads dials and supply stopped or fell behind the clock",
        "noise as above; if it comes back, change the board",
    ),
}
"""Every cause, once."""


def lamp_words() -> str:
    """Say how the lamp tells a reset, for whoever waits for it to be steady."""
    causes = ", ".join(f"{int(cause)} {cause.word}" for cause in Reset if cause.on_lamp)
    return (
        "A lamp that is lit and goes dark for a moment a few times, again and again, tells why the board started: "
        f"{causes}. It ends with the first press. A fault is the other way round: dark, with blinks."
    )
