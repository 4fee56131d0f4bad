"""The roles that pins of the board can have: ONE list, for the schema, the checks, the wiring and the C header."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

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
