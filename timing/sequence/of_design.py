"""From a design to what its sequence needs: constants, contacts with their filters, dials."""

from __future__ import annotations

from timing.design.design import Design
from timing.design.suppression import off_delay_of
from timing.design.times import TimeSetting
from timing.sequence.core.columns import TIME_NAMES, Condition
from timing.sequence.core.settings import SHORTEST_OPEN_US, Settings, specialise
from timing.sequence.core.table import TABLE, Table


def table_of(design: Design) -> Table:
    """Return the phase table without what `design` makes impossible."""
    return specialise(TABLE, settings_of(design).fixed)


def settings_of(design: Design) -> Settings:
    """Return the constants of `design`'s sequence."""
    longest_filter_us = max(filter_times_us(design).values())
    return Settings(
        open_us=max(SHORTEST_OPEN_US, 2 * longest_filter_us),
        purge_limit_us=design.limits.purge_us,
        inch_limit_us=design.limits.inch_us,
        weld_limit_us=design.limits.weld_us,
        arc_limit_us=design.limits.arc_start_us,
        arc_end_us=arc_end_us(design),
        completes=design.spot is not None and design.spot.on_release == "complete",
        fixed=_fixed_conditions(design),
        longest_us={name: setting.high_us for name, setting in time_settings(design).items()},
    )


def arc_end_us(design: Design) -> int | None:
    """Return how long an arc may still be sensed once the contactor is off; None without an arc sensor."""
    if design.arc_sensor is None:
        return None
    return off_delay_of(design, design.feeder.contactor).max_us + design.arc_sensor.filter_us


def filter_times_us(design: Design) -> dict[str, int]:
    """Return the filter time of each contact that the design has, by role."""
    times = {"trigger": design.trigger.filter_us}
    if design.buttons.purge:
        times["purge"] = design.buttons.filter_us
    if design.buttons.inch:
        times["inch"] = design.buttons.filter_us
    if design.arc_sensor is not None:
        times["arc"] = design.arc_sensor.filter_us
    return times


def time_settings(design: Design) -> dict[str, TimeSetting]:
    """Return the times that the design has, by name, in the order of the panel."""
    found = {name: design.setting(name) for name in TIME_NAMES}
    return {name: setting for name, setting in found.items() if setting is not None}


def _fixed_conditions(design: Design) -> dict[Condition, bool]:
    always: dict[Condition, bool] = {}

    def absent(fitted: bool, *conditions: Condition) -> None:
        if not fitted:
            always.update(dict.fromkeys(conditions, False))

    absent(design.interlock.fitted, Condition.INTERLOCK_OPEN)
    absent(design.supply.sense is not None, Condition.SUPPLY_LOW, Condition.SUPPLY_POOR)
    absent(any(setting.dial for setting in time_settings(design).values()), Condition.DIAL_FAULT)
    absent(design.buttons.purge, Condition.PURGE_CLOSED, Condition.PURGE_PRESS)
    absent(design.buttons.inch, Condition.INCH_CLOSED, Condition.INCH_PRESS)
    sensed = (Condition.ARC_SEEN, Condition.ARC_STAYS, Condition.ARC_SEEN_OPEN, Condition.ARC_LIMIT_OVER)
    absent(design.arc_sensor is not None, *sensed)
    absent(design.limits.weld_us is not None, Condition.WELD_LIMIT_OVER)
    absent(design.limits.weld_us is not None or design.arc_sensor is not None, Condition.LIMITED)
    if design.arc_sensor is None:
        always[Condition.ARC_ESTABLISHED] = True

    spot, stitch = design.spot, design.stitch
    if spot is None or not spot.time.off_switch:
        always[Condition.SPOT] = spot is not None
    if stitch is None or not (stitch.pause.off_switch or (spot is not None and spot.time.off_switch)):
        always[Condition.STITCH] = stitch is not None
    always[Condition.COMPLETES] = spot is not None and spot.on_release == "complete"
    absent(always[Condition.COMPLETES] and stitch is not None, Condition.LET_GO)
    if design.trigger.mode == "two-step" or always.get(Condition.SPOT) is True:
        always[Condition.FOUR_STEP] = False
    elif design.trigger.mode == "four-step" and always.get(Condition.SPOT) is False:
        always[Condition.FOUR_STEP] = True
    return always
