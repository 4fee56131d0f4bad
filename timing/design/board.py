"""[board]: which board, which pin does what; and the facts of a board, as its folder states them."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from timing.design.roles import ROLES
from timing.design.section import Name, Section, refuse

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
    pins: tuple[Pin, ...]
    usual_pins: dict[str, str]
    """Role to pin name, where a design says nothing else."""
    sources: dict[str, str] = {}
    """What each figure rests on: a mark of timing.marks, and after a colon where it stands."""

    def pin(self, name: str) -> Pin | None:
        """Return the pin of that name, or None."""
        return next((pin for pin in self.pins if pin.name == name), None)

    @property
    def adc_full_scale(self) -> int:
        """Highest reading of the converter."""
        return (1 << self.adc_bits) - 1
