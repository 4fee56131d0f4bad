"""The constants of a sequence, and the phase table as one design sees it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from .columns import Condition
from .table import Guard, Note, Phase, Row, Table, Transition

SETTLE_US = 500_000
"""How long the supply must be good before anything else counts (choice)."""
SHORTEST_OPEN_US = 50_000
"""How long trigger and buttons must be open after that, at the least (choice)."""
STALL_US = 1_000
"""A pass later than this is a stall. Below it, the next phase counts from the instant its forerunner was due, so that
passes do not add up; beyond it, from the pass itself, so that no phase is cut short (choice)."""


@dataclass(frozen=True)
class Settings:
    """The constants of one design's sequence. Times in microseconds."""

    open_us: int
    purge_limit_us: int
    inch_limit_us: int
    weld_limit_us: int | None
    arc_limit_us: int | None
    arc_end_us: int | None
    """How long an arc may still be sensed once the contactor is off: its longest off-delay and the sensor's filter."""
    completes: bool
    """Spots complete when the trigger is released."""
    fixed: Mapping[Condition, bool]
    """Conditions that this design can only ever see one way."""
    settle_us: int = SETTLE_US
    stall_us: int = STALL_US
    longest_us: Mapping[str, int] = field(default_factory=dict)
    """Time by name: the longest that its dial, or the design, can give."""

    @property
    def arc_sensor(self) -> bool:
        """True where an arc sensor is fitted."""
        return self.arc_limit_us is not None


def specialise(table: Table, fixed: Mapping[Condition, bool]) -> Table:
    """Return `table` without what `fixed` makes impossible: exits, notes, conditions, and phases never entered."""
    rows = {phase: _specialise_row(row, fixed) for phase, row in table.items()}
    reached = {Phase.HOLD_OFF}
    frontier = [Phase.HOLD_OFF]
    while frontier:
        targets = {transition.to for transition in rows[frontier.pop()].transitions} - reached
        reached |= targets
        frontier += targets
    return {phase: row for phase, row in rows.items() if phase in reached}


def _specialise_row(row: Row, fixed: Mapping[Condition, bool]) -> Row:
    exits = _merged(
        [
            Transition(_open_questions(transition.when, fixed), transition.to, transition.do, transition.fault)
            for transition in row.transitions
            if _possible(transition.when, fixed)
        ]
    )
    notes = tuple(
        Note(_open_questions(note.when, fixed), note.do, note.fault)
        for note in row.notes
        if _possible(note.when, fixed)
    )
    return Row(row.outputs, row.time, exits, notes, row.enter)


def _merged(exits: list[Transition]) -> tuple[Transition, ...]:
    """Join neighbours that do the same and differ in one question only, asked this way and that: it decides nothing."""
    found: list[Transition] = []
    for transition in exits:
        before = found[-1] if found else None
        if before is not None and replace(before, when=transition.when) == transition:
            differing = set(before.when) ^ set(transition.when)
            if len({question.condition for question in differing}) == 1 and len(differing) == 2:
                found[-1] = replace(
                    transition, when=tuple(question for question in transition.when if question not in differing)
                )
                continue
        found.append(transition)
    return tuple(found)


def _possible(when: tuple[Guard, ...], fixed: Mapping[Condition, bool]) -> bool:
    return all(fixed.get(question.condition, question.wanted) == question.wanted for question in when)


def _open_questions(when: tuple[Guard, ...], fixed: Mapping[Condition, bool]) -> tuple[Guard, ...]:
    return tuple(question for question in when if question.condition not in fixed)
