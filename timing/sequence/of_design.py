"""From a design to what its sequence needs: constants, contacts with their filters, dials."""

from __future__ import annotations

from timing.design.board import SUPPLY_SENSE
from timing.design.design import Design
from timing.design.features import Features, features_of
from timing.design.suppression import off_delay_of
from timing.once import once
from timing.sequence.core.columns import Condition
from timing.sequence.core.settings import SHORTEST_OPEN_US, Settings, specialise
from timing.sequence.core.table import TABLE, Table


@once
def table_of(design: Design) -> Table:
    """Return the phase table without what `design` makes impossible."""
    return specialise(TABLE, settings_of(design).fixed)


@once
def settings_of(design: Design) -> Settings:
    """Return the constants of `design`'s sequence."""
    features = features_of(design)
    longest_filter_us = max(features.filters_us.values())
    return Settings(
        open_us=max(SHORTEST_OPEN_US, 2 * longest_filter_us),
        purge_limit_us=design.limits.purge_us,
        inch_limit_us=design.limits.inch_us,
        weld_limit_us=design.limits.weld_us,
        arc_limit_us=design.limits.arc_start_us,
        arc_end_us=arc_end_us(design),
        completes=design.spot is not None and design.spot.on_release == "complete",
        fixed=_fixed_conditions(features),
        longest_us={name: setting.high_us for name, setting in features.times.items()},
    )


def arc_end_us(design: Design) -> int | None:
    """Return how long an arc may still be sensed once the contactor is off; None without an arc sensor."""
    if design.arc_sensor is None:
        return None
    return off_delay_of(design, design.feeder.contactor).max_us + design.arc_sensor.filter_us


def _fixed_conditions(features: Features) -> dict[Condition, bool]:
    design, fitted = features.design, features.fitted
    always: dict[Condition, bool] = {}

    def absent(fitted: bool, *conditions: Condition) -> None:
        if not fitted:
            always.update(dict.fromkeys(conditions, False))

    absent(fitted["interlock"], Condition.INTERLOCK_OPEN)
    absent(fitted[SUPPLY_SENSE.key], Condition.SUPPLY_LOW, Condition.SUPPLY_POOR)
    absent(bool(features.dialled), Condition.DIAL_FAULT)
    absent(fitted["purge"], Condition.PURGE_CLOSED, Condition.PURGE_PRESS)
    absent(fitted["inch"], Condition.INCH_CLOSED, Condition.INCH_PRESS)
    sensed = (Condition.ARC_SEEN, Condition.ARC_STAYS, Condition.ARC_SEEN_OPEN, Condition.ARC_LIMIT_OVER)
    absent(fitted["arc"], *sensed)
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
