"""What the far end of the link must know about a design: its sequence, its dials, its contacts. Goes through JSON.

Also the bits in which the link speaks of contacts, switches, analog channels and what the sequence sees. Knows nothing
of design files, so that a bench harness can carry it along.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from timing.sequence.core.columns import TIME_NAMES, Condition
from timing.sequence.core.dial_scale import DialScale
from timing.sequence.core.engine import Rig
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.settings import Settings, specialise
from timing.sequence.core.table import TABLE, Output

RAW_CONTACTS = (
    "trigger",
    "purge",
    "inch",
    "interlock",
    "arc",
    "four_step",
    *(f"{name}_switch" for name in TIME_NAMES),
)
"""Contacts as the pins show them, 1 closed; bit 0 first. The interlock is closed when all is well."""

RAW_BIT = {name: 1 << position for position, name in enumerate(RAW_CONTACTS)}
RAW_ALL = (1 << len(RAW_CONTACTS)) - 1

ANALOG_CHANNELS = (*TIME_NAMES, "supply")
"""Analog channels by their number on the link: the five dials, then the supply sense."""

SEEN = ("trigger", "purge", "inch", "arc", "interlock_open", "supply_low", "dial_fault")
"""What the sequence sees after filters; in the edge trace they stand above the three output bits."""

OUTPUT_BIT = {"gas_valve": Output.GAS.value, "wire_drive": Output.WIRE.value, "contactor": Output.CONTACTOR.value}
LEVEL_BIT = OUTPUT_BIT | {name: 8 << position for position, name in enumerate(SEEN)}
"""Bits of the levels word of a trace record: outputs as read back from the pins, then what the sequence sees."""
OUTPUTS_MASK = 7


@dataclass(frozen=True)
class SupplyCounts:
    """Readings to put in the place of the supply's: surely low, surely good, and between the two thresholds."""

    low: int
    good: int
    between: int

    def at(self, level: SupplyLevel) -> int:
        """Return the reading for a level."""
        return {SupplyLevel.LOW: self.low, SupplyLevel.GOOD: self.good, SupplyLevel.BETWEEN: self.between}[level]


@dataclass(frozen=True)
class Target:
    """One design on one board, as the link sees it."""

    design: str
    digest: str
    """16 hex digits that stand for the whole design."""
    board: str
    """Type of the board."""
    rig: Rig
    scales: Mapping[str, DialScale]
    """Times that are on a dial, by name, with the dial's mapping."""
    fitted: frozenset[str]
    """Roles that have a pin (see roles.ROLES)."""
    full_scale_counts: int
    supply: SupplyCounts | None
    """None where the supply is not sensed."""
    clock_tolerance_ppm: int
    """Worst error of the board's clock, in parts in a million."""

    def dialled_us(self, name: str, time_us: int) -> int:
        """Return the time nearest to `time_us` that the dial can give; a fixed time is what it is."""
        scale = self.scales.get(name)
        return self.rig.times_us[name] if scale is None else scale.time_us(scale.counts_for(time_us))


def to_json(target: Target) -> dict[str, Any]:
    """Return `target` as plain JSON data; the phase table is not in it, for every reader has it."""
    rig = target.rig
    settings = asdict(rig.settings) | {"fixed": {what.name: value for what, value in rig.settings.fixed.items()}}
    return {
        "design": target.design,
        "digest": target.digest,
        "board": target.board,
        "fitted": sorted(target.fitted),
        "full_scale_counts": target.full_scale_counts,
        "supply_counts": None if target.supply is None else asdict(target.supply),
        "clock_tolerance_ppm": target.clock_tolerance_ppm,
        "dials": {name: asdict(scale) for name, scale in target.scales.items()},
        "settings": settings,
        "filters_us": {role: list(times_us) for role, times_us in rig.filters_us.items()},
        "times_us": dict(rig.times_us),
        "switches": dict(rig.switches),
        "four_step": rig.four_step,
        "supply_filter_us": rig.supply_filter_us,
    }


def from_json(data: Mapping[str, Any]) -> Target:
    """Return the target that `to_json` wrote. Raises KeyError or TypeError for anything else."""
    fixed = {Condition[name]: value for name, value in data["settings"]["fixed"].items()}
    settings = Settings(**(data["settings"] | {"fixed": fixed}))
    rig = Rig(
        table=specialise(TABLE, fixed),
        settings=settings,
        filters_us={role: (filter_us, bridge_us) for role, (filter_us, bridge_us) in data["filters_us"].items()},
        times_us=data["times_us"],
        switches=data["switches"],
        four_step=data["four_step"],
        supply_filter_us=data["supply_filter_us"],
    )
    return Target(
        design=data["design"],
        digest=data["digest"],
        board=data["board"],
        rig=rig,
        scales={name: DialScale(**scale) for name, scale in data["dials"].items()},
        fitted=frozenset(data["fitted"]),
        full_scale_counts=data["full_scale_counts"],
        supply=None if data["supply_counts"] is None else SupplyCounts(**data["supply_counts"]),
        clock_tolerance_ppm=data["clock_tolerance_ppm"],
    )


CAUTIONS = (
    "The board lies on the bench, not in the feeder, with lamps or nothing for gas valve, wire drive and contactor: "
    "the test switches all of them.",
    "The feeder plug of the add-on (P1) is pulled; USB alone feeds it (or goes through a USB isolator). COMMON is "
    "not isolated from the feeder's 24 VAC: with P1 in, a grounded computer can short the winding through it.",
    "The bench link is fitted for the test and comes out again before the board goes back.",
    "Opening the port resets many boards: outputs float until the sketch runs, and only their resistors hold them off.",
    "The board is a timer, not a safety function. A passed test says nothing about interlock, emergency stop or "
    "thermal cut-out of the machine.",
)
"""What a person must have read before a real board is tested."""
