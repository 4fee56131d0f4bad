"""What the sequence needs to know of a design: its constants, and which conditions can arise at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from timing.design.design import Design
from timing.design.roles import TIME_NAMES
from timing.design.times import TimeSetting
from timing.sequence.table import Condition, Exit, Is, Note, Phase, Row, Table, Time

SETTLE_US = 500_000
"""How long the supply must be good before anything else counts."""
SHORTEST_OPEN_US = 50_000
"""How long trigger and buttons must be open after that, at the least."""
STALL_US = 1_000
"""A pass later than this is a stall. Below it, the next phase counts from the instant its forerunner was due, so
that passes do not add up; beyond it, from the pass itself, so that no phase is cut short."""


@dataclass(frozen=True)
class Settings:
    """The constants of one design's sequence. Times in microseconds."""

    open_us: int
    purge_limit_us: int
    inch_limit_us: int
    weld_limit_us: int | None
    arc_limit_us: int | None
    completes: bool
    """Spots complete when the trigger is released."""
    fixed: Mapping[Condition, bool]
    """Conditions that this design can only ever see one way."""
    settle_us: int = SETTLE_US
    stall_us: int = STALL_US

    @property
    def arc_sensor(self) -> bool:
        """True where an arc sensor is fitted."""
        return self.arc_limit_us is not None


def settings_of(design: Design) -> Settings:
    """Return the constants of `design`'s sequence."""
    longest_filter_us = max(filter_times_us(design).values())
    return Settings(
        open_us=max(SHORTEST_OPEN_US, 2 * longest_filter_us),
        purge_limit_us=design.limits.purge_us,
        inch_limit_us=design.limits.inch_us,
        weld_limit_us=design.limits.weld_us,
        arc_limit_us=design.limits.arc_start_us,
        completes=design.spot is not None and design.spot.on_release == "complete",
        fixed=_fixed_conditions(design),
    )


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
    absent(design.supply.sense is not None, Condition.SUPPLY_LOW)
    absent(any(setting.dial for setting in time_settings(design).values()), Condition.DIAL_FAULT)
    absent(design.buttons.purge, Condition.PURGE_CLOSED, Condition.PURGE_PRESS)
    absent(design.buttons.inch, Condition.INCH_CLOSED, Condition.INCH_PRESS)
    absent(design.arc_sensor is not None, Condition.ARC_SEEN, Condition.ARC_LIMIT_OVER)
    absent(design.limits.weld_us is not None, Condition.WELD_LIMIT_OVER)
    if design.arc_sensor is None:
        always[Condition.ARC_ESTABLISHED] = True

    spot, stitch = design.spot, design.stitch
    if spot is None or not spot.time.off_switch:
        always[Condition.SPOT] = spot is not None
    if stitch is None or not (stitch.pause.off_switch or (spot is not None and spot.time.off_switch)):
        always[Condition.STITCH] = stitch is not None
    always[Condition.COMPLETES] = spot is not None and spot.on_release == "complete"
    if design.trigger.mode == "two-step" or always.get(Condition.SPOT) is True:
        always[Condition.FOUR_STEP] = False
    elif design.trigger.mode == "four-step" and always.get(Condition.SPOT) is False:
        always[Condition.FOUR_STEP] = True
    return always


def specialise(table: Table, fixed: Mapping[Condition, bool]) -> Table:
    """Return `table` without what `fixed` makes impossible: exits, notes, conditions, and phases never entered."""
    rows = {phase: _specialise_row(row, fixed) for phase, row in table.items()}
    reached = {Phase.HOLD_OFF}
    frontier = [Phase.HOLD_OFF]
    while frontier:
        targets = {way.to for way in rows[frontier.pop()].exits} - reached
        reached |= targets
        frontier += targets
    return {phase: row for phase, row in rows.items() if phase in reached}


def _specialise_row(row: Row, fixed: Mapping[Condition, bool]) -> Row:
    exits = tuple(
        Exit(_open_questions(way.when, fixed), way.to, way.do, way.fault)
        for way in row.exits
        if _possible(way.when, fixed)
    )
    notes = tuple(
        Note(_open_questions(note.when, fixed), note.do, note.fault)
        for note in row.notes
        if _possible(note.when, fixed)
    )
    return Row(row.outputs, row.time, exits, notes, row.enter)


def _possible(when: tuple[Is, ...], fixed: Mapping[Condition, bool]) -> bool:
    return all(fixed.get(question.condition, question.wanted) == question.wanted for question in when)


def _open_questions(when: tuple[Is, ...], fixed: Mapping[Condition, bool]) -> tuple[Is, ...]:
    return tuple(question for question in when if question.condition not in fixed)


TIME_OF_SETTING = {
    "preflow": Time.PREFLOW,
    "spot": Time.SPOT,
    "burnback": Time.BURNBACK,
    "postflow": Time.POSTFLOW,
    "pause": Time.PAUSE,
}
"""Which phase time each of the five settings is."""
