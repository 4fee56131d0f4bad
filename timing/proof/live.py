"""What of a state can still matter: a flag that is set anew before anything asks for it tells no situations apart."""

from __future__ import annotations

from collections.abc import Iterable

from timing.sequence.core.scan import KEPT, SETS
from timing.sequence.core.table import Action, Condition, Phase, Row, Table, Time

_MODE = tuple(KEPT[condition] for condition in (Condition.FOUR_STEP, Condition.SPOT, Condition.STITCH))
_SETS: dict[Action, tuple[str, ...]] = {
    **{action: (flag,) for action, (flag, _) in SETS.items()},
    Action.AWAIT_ARC: (KEPT[Condition.ARC_ESTABLISHED],),
    Action.LATCH: _MODE,
}
_ASKED_BY_TIMES = {Time.HOLD_OFF: {KEPT[Condition.SETTLED]}}
_ASKED_BY_RULES = {
    **{phase: {*_MODE} for phase in (Phase.PREFLOW, Phase.BURNBACK, Phase.POSTFLOW, Phase.PAUSE)},
    Phase.WELD: {*_MODE, KEPT[Condition.ARC_ESTABLISHED]},
    Phase.HOLD_OFF: {KEPT[Condition.SETTLED], KEPT[Condition.SEEN_OPEN]},
}
"""What the rules look at, whether the table of the day asks for it or not."""


def live_flags(table: Table) -> dict[int, frozenset[str]]:
    """Return for each phase the flags whose value at the start of a pass there can matter, then or later.

    Liveness as compilers compute it (A. Aho, R. Sethi, J. Ullman, Compilers, 1986, section 10.6; from memory).
    """
    live = {int(phase): frozenset(_asked(phase, row)) for phase, row in table.items()}
    while True:
        wider = {int(phase): live[phase] | _behind(row, table, live) for phase, row in table.items()}
        if wider == live:
            return live
        live = wider


def _asked(phase: Phase, row: Row) -> set[str]:
    asking = [*(note.when for note in row.notes), *(way.when for way in row.exits)]
    asked = {KEPT[question.condition] for when in asking for question in when if question.condition in KEPT}
    return asked | _ASKED_BY_TIMES.get(row.time, set()) | _ASKED_BY_RULES.get(phase, set())


def _behind(row: Row, table: Table, live: dict[int, frozenset[str]]) -> frozenset[str]:
    """Return what matters behind the exits of `row` and is not set on the way there."""
    found = (live[way.to] - _set_by((*way.do, *table[way.to].enter)) for way in row.exits if way.to in table)
    return frozenset().union(*found)


def _set_by(actions: Iterable[Action]) -> set[str]:
    return {flag for action in actions for flag in _SETS.get(action, ())}
