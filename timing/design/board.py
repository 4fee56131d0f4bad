"""[board]: which board, which pin does what; the roles of pins; and the facts of a board, as its folder states them.

ROLES is the ONE list of roles, for the schema, the checks, the wiring and the C header.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from timing.design.section import Name, Section, refuse
from timing.marks import Mark
from timing.protocol.recorder import RECORDER_INPUTS, RECORDER_PRESSES
from timing.sequence.core.columns import TIME_NAMES


class Kind(Enum):
    """What a pin must be able to do for a role."""

    OUTPUT = "output"
    INPUT = "input"
    ANALOG = "analog"


@dataclass(frozen=True)
class Role:
    """One job for one pin."""

    key: str
    kind: Kind
    meaning: str

    @property
    def macro(self) -> str:
        """Name of the pin in the sketch."""
        return f"{self.key.upper()}_PIN"


OUTPUT_ROLES = (
    Role("gas_valve", Kind.OUTPUT, "gas valve"),
    Role("wire_drive", Kind.OUTPUT, "wire drive"),
    Role("contactor", Kind.OUTPUT, "contactor"),
)
LAMP = Role("lamp", Kind.OUTPUT, "status lamp")
INPUT_ROLES = (
    Role("trigger", Kind.INPUT, "trigger"),
    Role("purge", Kind.INPUT, "purge button"),
    Role("inch", Kind.INPUT, "inch button"),
    Role("interlock", Kind.INPUT, "interlock contact, closed when all is well"),
    Role("arc", Kind.INPUT, "arc sensor, closed when the arc is established"),
    Role("four_step", Kind.INPUT, "trigger mode switch, closed for four-step"),
    Role("bench_link", Kind.INPUT, "bench link, a jumper read at power-up"),
)
SWITCH_ROLES = tuple(
    Role(f"{name}_switch", Kind.INPUT, f"{name} switch, closed when the function is on") for name in TIME_NAMES
)
DIAL_ROLES = tuple(Role(f"{name}_dial", Kind.ANALOG, f"{name} dial") for name in TIME_NAMES)
SUPPLY_SENSE = Role("supply_sense", Kind.ANALOG, "supply sense")

ROLES: dict[str, Role] = {
    role.key: role for role in (*OUTPUT_ROLES, LAMP, *INPUT_ROLES, *SWITCH_ROLES, *DIAL_ROLES, SUPPLY_SENSE)
}

PRESS_JUMPER = Role("press_jumper", Kind.INPUT, "press jumper, read at power-up")

RECORDER_ROLES: dict[str, Role] = {
    role.key: role
    for role in (
        *(Role(f"input_{one.number}", Kind.INPUT, f"input {one.number}: {one.sees}") for one in RECORDER_INPUTS),
        *(Role(f"press_{one.key}", Kind.OUTPUT, f"presses {one.presses}") for one in RECORDER_PRESSES),
        PRESS_JUMPER,
        LAMP,
    )
}
"""Jobs of the pins of a board that is a recorder."""


Level = Literal["high", "low"]

FIVE_VOLT_LOGIC_V = 4.5
"""Boards of less logic voltage than this need parts that open at 3.3 V, and allow no 5 V at their pins (choice)."""


class OutputLevels(Section):
    """Which pin level switches a load on; the external resistor pulls to the other one."""

    gas_valve: Level = Field("high", description="Level that opens the gas valve.")
    wire_drive: Level = Field("high", description="Level that runs the wire drive.")
    contactor: Level = Field("high", description="Level that pulls the contactor in.")


class BoardChoice(Section):
    """The board, and its pins by role."""

    type: Name = Field(description="Name of a board; `wirecue boards` lists them.")
    pins: dict[str, str] = Field(
        default_factory=dict, description="Role = pin, for roles that are not on the board's usual pin."
    )
    on_level: OutputLevels = Field(
        default_factory=lambda: OutputLevels.model_validate({}), description="Which level means on."
    )

    @field_validator("pins")
    @classmethod
    def _known_roles(cls, pins: dict[str, str]) -> dict[str, str]:
        for role in pins:
            if role not in ROLES:
                raise refuse(f"role {role!r}", f"one of {', '.join(ROLES)}")
        return pins


class _Facts(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Pin(_Facts):
    """One pin of a board."""

    name: str
    """As printed on the board, and as it is named in the sketch: D2 is pin 2, A0 is A0."""
    port: str
    """Name in the microcontroller's data sheet, such as PD2."""
    digital: bool = True
    analog_channel: int | None = None
    """Channel of the analog-to-digital converter, or None."""
    pull_up: bool = True
    """True where the pin has an internal pull-up."""
    reserved: str = ""
    """Why the pin must not be used at all, such as the serial link; empty if it may."""
    glitch: str = ""
    """What the pin does by itself between reset and the sketch; empty if it floats quietly."""

    @property
    def number(self) -> str:
        """The pin as a C expression of the board's core: 2 for D2, A0 for A0."""
        return self.name[1:] if self.name.startswith("D") else self.name


class Bootloader(_Facts):
    """The small program on a board that takes a sketch over the serial port."""

    name: str
    """What people call it: 'new', 'old'; 'usual' where there is one alone."""
    protocol: Literal["arduino", "wiring", "avr109"]
    """As the uploader names what it speaks."""
    baud: int
    watchdog_loops: bool = False
    """True where it leaves the watchdog running after a watchdog reset, which then resets the board for ever."""


class Board(_Facts):
    """The facts of one board, typed; a board's folder states them in board.toml."""

    type: str
    title: str
    family: Literal["avr", "rp2040"]
    """Which glue of the common templates drives it."""
    mcu: str
    """As compilers and simulators name it."""
    clock_hz: int
    oscillator_tolerance_percent: float
    """Worst error of the board's clock."""
    logic_v: float
    adc_bits: int
    adc_reference_v: float
    flash_bytes: int
    """Left for the sketch by the bootloader."""
    ram_bytes: int
    base_flash_bytes: int
    """Estimate of what core and serial link take, for machines without a compiler."""
    base_ram_bytes: int
    vin_min_v: float
    """Lowest dc voltage at the board's supply input."""
    vin_max_v: float
    """Highest dc voltage at the board's supply input that its own regulator is rated for."""
    current_a: float
    """Typical supply current of the board alone."""
    pin_current_a: float
    """Most that one pin may source or sink continuously."""
    fqbn: str
    """Board name for the core's build tools."""
    variant: str
    """Pin-map folder of the board's core."""
    input_terminal: str = "VIN"
    """Supply input, as printed on the board."""
    logic_terminal: str = "5V"
    """Output of the board's own regulator for the logic, as printed on the board."""
    opens_port_resets: bool
    """True where opening the serial port resets the board."""
    native_usb: bool
    """True where the microcontroller itself speaks USB and the port comes and goes with it."""
    tested: str = ""
    """How far the sketch was tested on this board; empty where its program itself runs in the tests."""
    watchdog_note: str = ""
    """Known trouble of this board's bootloader after a watchdog reset."""
    signature: str = ""
    """By which the chip tells an uploader what it is, six hexadecimal digits; empty where none is asked."""
    bootloaders: tuple[Bootloader, ...] = ()
    """Those that boards of this type are sold with, the likeliest first; empty where the board is a drive."""
    upload_drive: str = ""
    """Name of the drive as which the board takes a sketch; empty where a bootloader takes it over the port."""
    usb_ids: tuple[str, ...] = ()
    """Vendor and product, four hexadecimal digits each, that only ports of such boards have; copies have others."""
    pins: tuple[Pin, ...]
    usual_pins: dict[str, str]
    """Role to pin name, where a design says nothing else."""
    recorder_pins: dict[str, str]
    """Role to pin name of a board that is a recorder: all of RECORDER_ROLES."""
    sources: dict[str, str] = {}
    """What each figure rests on: a mark of timing.marks, and after a colon where it stands."""

    def pin(self, name: str) -> Pin | None:
        """Return the pin of that name, or None."""
        return next((pin for pin in self.pins if pin.name == name), None)

    @property
    def adc_full_scale(self) -> int:
        """Highest reading of the converter."""
        return (1 << self.adc_bits) - 1


@dataclass(frozen=True)
class BrownOutFuse:
    """At which voltage a chip at 5 V and 16 MHz resets itself, by its extended fuse; what boards come with.

    Levels: the chips' data sheets (tables named BODLEVEL fuse coding). That a serial bootloader does not answer for
    fuses, and that programmers differ in the bits that are not used: reports to the boards' core,
    https://github.com/arduino/Arduino, numbers 544 and 5175.
    """

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
