"""What a design has fitted, said once: times with their dials and switches, contacts with their filters, roles."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from timing.design.board import DIAL_ROLES, ROLES, SUPPLY_SENSE, SWITCH_ROLES, Role
from timing.design.design import Design
from timing.design.times import TimeSetting
from timing.once import once
from timing.sequence.core.columns import TIME_NAMES

ALWAYS = ("wire_drive", "contactor", "lamp", "trigger", "bench_link")
"""Roles that every add-on has, by key."""


@dataclass(frozen=True, eq=False)
class Features:
    """What one design has fitted. Each answer is worked out once."""

    design: Design

    @cached_property
    def times(self) -> dict[str, TimeSetting]:
        """The times that the design has, by name, in the order of the panel."""
        found = {name: self.design.setting(name) for name in TIME_NAMES}
        return {name: setting for name, setting in found.items() if setting is not None}

    @cached_property
    def dialled(self) -> frozenset[str]:
        """Names of the times that have a dial."""
        return frozenset(name for name, setting in self.times.items() if setting.dial)

    @cached_property
    def switched(self) -> frozenset[str]:
        """Names of the times that have a switch on the panel."""
        return frozenset(name for name, setting in self.times.items() if setting.off_switch)

    @cached_property
    def filters_us(self) -> dict[str, int]:
        """The filter time of each contact that is filtered, by role."""
        design = self.design
        filters_us = {"trigger": design.trigger.filter_us}
        if design.buttons.purge:
            filters_us["purge"] = design.buttons.filter_us
        if design.buttons.inch:
            filters_us["inch"] = design.buttons.filter_us
        if design.arc_sensor is not None:
            filters_us["arc"] = design.arc_sensor.filter_us
        return filters_us

    def bridge_us(self, contact: str) -> int:
        """Return how long a gap of a contact is bridged; 0: none.

        A trigger that carries ac opens its optocoupler between half-waves: its filter bridges that.
        """
        chopped = contact == "trigger" and self.design.trigger.sense == "ac"
        return self.filters_us[contact] if chopped else 0

    @cached_property
    def fitted(self) -> dict[str, bool]:
        """Whether each part that a design may leave out is fitted, by the key of its role."""
        design = self.design
        return {
            "gas_valve": design.feeder.gas_valve is not None,
            "purge": design.buttons.purge,
            "inch": design.buttons.inch,
            "interlock": design.interlock.fitted,
            "arc": design.arc_sensor is not None,
            "four_step": design.trigger.mode == "switch",
            SUPPLY_SENSE.key: design.supply.sense is not None,
            **{role.key: name in self.dialled for name, role in zip(TIME_NAMES, DIAL_ROLES, strict=True)},
            **{role.key: name in self.switched for name, role in zip(TIME_NAMES, SWITCH_ROLES, strict=True)},
        }

    @cached_property
    def roles(self) -> tuple[Role, ...]:
        """The roles that need a pin, in the order of roles.ROLES."""
        return tuple(role for key, role in ROLES.items() if key in ALWAYS or self.fitted[key])


@once
def features_of(design: Design) -> Features:
    """Return what `design` has fitted: one and the same for all who ask."""
    return Features(design)
