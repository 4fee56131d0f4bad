"""What a board can meet, as one design has it: what it keeps, what it may see, and how its timers may stand.

Time is taken apart into answers. A timer that has not run out may have run out at the next pass, or not; one that was
found over stays over until it is started anew. That allows everything that real times allow, and more: what holds
here holds for every setting of every dial, every limit and every rhythm of passes.

A flag that is set anew before anything asks for it tells no situations apart: see `live_flags`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter
from typing import Any, NamedTuple

from timing.design.design import Design
from timing.design.features import features_of
from timing.design.times import TimeSetting
from timing.proof.step import Choices, Model, Over, Step
from timing.sequence.core.columns import DIALLED, Action, Condition, Dialled, Reads, Stamps, Time, WorkedOut
from timing.sequence.core.engine import Engine, Rig
from timing.sequence.core.scan import KEPT, State, start
from timing.sequence.core.table import Output, Phase, Row, Table
from timing.sequence.simulate import rig_of

NOW_US = 2**32 + 500
"""Instant of every walked pass: just after the board's 32-bit clock has wrapped, so that the instants a pass looks
back to lie before the wrap."""
OFF_TABLE = 255
"""A phase that no table has, as a flipped bit may leave it."""

SHOWN_BEFORE = 254
"""The fault that is shown before every walked pass. No pass sets it, so one that leaves the fault alone is told from
one that clears or sets it."""

NO_TIMER = Over(False, False, False, False)

KEPT_FIELDS = tuple(
    name
    for name in State.__dataclass_fields__
    if name not in ("since_us", "duration_us", "weld_since_us", "contactor_on_us", "fault")
)
"""Fields of State that a situation keeps. Instants stand in its timers; the fault shown decides nothing."""
_kept = attrgetter(*KEPT_FIELDS)
_ALWAYS_LIVE = {"phase", "trigger_was", "purge_was", "inch_was"}
_ONLY_CONTACTS = tuple(name in _ALWAYS_LIVE for name in KEPT_FIELDS)
_SEEN = {
    condition.answer.shown_by: condition
    for condition in Condition
    if condition.answer.shown_by and condition.answer.reads is not Reads.PRESS
}


class AbstractState(NamedTuple):
    """What stands between two passes."""

    kept: tuple[int, ...]
    """Values of KEPT_FIELDS."""
    over: Over
    """Timers known to have run out. The others may have, by the next pass."""

    @property
    def phase(self) -> int:
        """The phase that the next pass begins in."""
        return self.kept[0]


class Outcome(NamedTuple):
    """How the timers stand when a pass begins."""

    late_us: int | None
    """How long ago the phase's time ran out; None while it runs."""
    weld_limit: bool
    arc_limit: bool
    arc_end: bool


@dataclass(frozen=True)
class StateSpace:
    """One design's sequence with all that can happen to it."""

    design: Design
    rig: Rig

    @cached_property
    def model(self) -> Model:
        """Table and constants."""
        return Model(self.rig.table, self.rig.settings)

    @cached_property
    def choices(self) -> Choices:
        """The values that each field of Inputs can have here. Times stand for all that their dial can give."""
        fixed, design = self.rig.settings.fixed, self.design
        contacts = {name: (False,) if condition in fixed else (False, True) for name, condition in _SEEN.items()}
        four_step = (False, True) if design.trigger.mode == "switch" else (self.rig.four_step,)
        switches = {
            name: (False,) if setting is None else (True, False) if setting.off_switch else (True,)
            for name, setting in (("spot", design.setting("spot")), ("stitch", design.setting("pause")))
        }
        times = {time.field: self._values_us(time) for time in DIALLED}
        return {**contacts, "four_step": four_step, **switches, **times}

    def _values_us(self, time: Dialled) -> tuple[int, ...]:
        setting = self.design.setting(time.name)
        if setting is None:
            return (0,)
        values = [self.running_us(setting)]
        if setting.low_us <= self.rig.settings.stall_us:
            values.append(setting.low_us)
        if setting.off_switch and time.off_is_zero:
            values.append(0)
        return tuple(dict.fromkeys(values))

    def running_us(self, setting: TimeSetting) -> int:
        """Return a time of `setting` that is not over as soon as it begins, where it has one."""
        return setting.setting_us if setting.setting_us > self.rig.settings.stall_us else setting.high_us

    @cached_property
    def live(self) -> dict[int, tuple[bool, ...]]:
        """Return for each phase which of KEPT_FIELDS can matter to a pass that begins in it, or later."""
        flags = live_flags(self.rig.table)
        return {
            phase: tuple(name in _ALWAYS_LIVE or name in live for name in KEPT_FIELDS) for phase, live in flags.items()
        }

    def kept_of(self, state: State) -> tuple[int, ...]:
        """Return what of `state` can matter, in the order of KEPT_FIELDS; the rest as if it were false."""
        return tuple(
            value if live else False for value, live in zip(_kept(state), self._live_in(state.phase), strict=True)
        )

    def filled(self, situation: AbstractState) -> AbstractState:
        """Return `situation` with every flag set that does not matter in it."""
        live = self._live_in(situation.phase)
        kept = (value if matters else True for value, matters in zip(situation.kept, live, strict=True))
        return situation._replace(kept=tuple(kept))

    def looks_at_what_is_dead(self, phase: int) -> bool:
        """Tell whether passes that begin in `phase` show rules a flag that cannot matter to the passes themselves.

        That is whether the arc sensor was seen open, on a table that does not ask.
        """
        seen_open = KEPT_FIELDS.index(KEPT[Condition.ARC_SEEN_OPEN])
        return self.rig.settings.arc_sensor and not self._live_in(phase)[seen_open]

    def _live_in(self, phase: int) -> tuple[bool, ...]:
        return self.live.get(phase, _ONLY_CONTACTS)

    @cached_property
    def lates_us(self) -> tuple[int, ...]:
        """How late a pass may find a time to be over: what it makes of it can differ only where times are so short
        that several fit between two passes."""
        stall_us = self.rig.settings.stall_us
        short_us = [
            value for name, values in self.choices.items() if name.endswith("_us") for value in values if value > 0
        ]
        short_us = [value for value in short_us if value <= stall_us]
        sums_us = {
            sum(part) - 1 for size in range(len(short_us)) for part in itertools.combinations(short_us, size + 1)
        }
        return tuple(sorted({0, *([stall_us] if short_us else []), *(late for late in sums_us if 0 < late < stall_us)}))

    @cached_property
    def cares(self) -> dict[int, Over]:
        """Return for each phase which timers can matter to a pass that begins in it, or to a rule on that pass."""
        table, settings = self.rig.table, self.rig.settings
        weld = _without_new_weld(table) if settings.weld_limit_us is not None else set()
        arc = {Phase.WELD} if settings.arc_limit_us is not None else set()
        return {
            phase: Over(
                row.time is not Time.NONE,
                phase in weld,
                phase in arc,
                settings.arc_sensor and Output.CONTACTOR not in row.outputs,
            )
            for phase, row in table.items()
        }

    def power_up(self) -> AbstractState:
        """Return a board that has just started."""
        return self.situation(start(self.rig.settings, NOW_US), NO_TIMER)

    def at_rest(self) -> AbstractState:
        """Return a board switched on long ago and left alone."""
        engine = Engine(self.rig)
        engine.settle()
        return self.situation(engine.state, NO_TIMER._replace(arc_end=True))

    def corrupt(self) -> list[AbstractState]:
        """Return boards whose phase is none of the table's: impossible, and answered for all the same."""
        absent = [phase for phase in Phase if phase not in self.rig.table]
        kept = self.at_rest().kept
        return [AbstractState((phase, *kept[1:]), NO_TIMER) for phase in (*map(int, absent), OFF_TABLE)]

    def situation(self, state: State, over: Over) -> AbstractState:
        """Return what `state` is, apart from instants; of `over` stays what can still matter."""
        cares = self.cares.get(state.phase, NO_TIMER)
        return AbstractState(
            self.kept_of(state), Over(*(one and cared for one, cared in zip(over, cares, strict=True)))
        )

    def after(self, step: Step) -> AbstractState:
        """Return the situation that a walked pass ends in."""
        return self.situation(step.after, step.over_after)

    def outcomes(self, situation: AbstractState, lates_us: Iterable[int] = ()) -> list[Outcome]:
        """Return every way in which the timers that matter may stand at the next pass.

        lates_us: lags at which to look at a time that is over, beside those that can make a difference.
        """
        cares = self.cares.get(situation.phase, NO_TIMER)
        lates = tuple(dict.fromkeys((*self.lates_us, *lates_us)))
        time: tuple[int | None, ...] = lates if situation.over.time else (None, *lates) if cares.time else (None,)
        weld_limit = _may_be(cares.weld_limit, situation.over.weld_limit)
        arc_limit = _may_be(cares.arc_limit, situation.over.arc_limit)
        arc_end = _may_be(cares.arc_end, situation.over.arc_end)
        return [Outcome(*ways) for ways in itertools.product(time, weld_limit, arc_limit, arc_end)]

    def state(self, situation: AbstractState, outcome: Outcome) -> State:
        """Return a state in which a pass at NOW_US finds the timers as `outcome` says, by a microsecond."""
        settings = self.rig.settings
        elapsed_us = 3 * settings.stall_us
        if outcome.arc_limit and settings.arc_limit_us is not None:
            elapsed_us = settings.arc_limit_us
        weld_us = settings.weld_limit_us if settings.weld_limit_us is not None else 1
        # What does not matter stands one way here and the other way there.
        turn = sum(situation.kept) % 2
        live = self._live_in(situation.phase)
        kept = [value if matters else turn for value, matters in zip(situation.kept, live, strict=True)]
        fields: dict[str, Any] = dict(zip(KEPT_FIELDS, kept, strict=True))
        flags = {name: value if name == "phase" else bool(value) for name, value in fields.items()}
        return State(
            **flags,
            since_us=NOW_US - elapsed_us,
            duration_us=elapsed_us + 1 if outcome.late_us is None else elapsed_us - outcome.late_us,
            weld_since_us=NOW_US - weld_us + (0 if outcome.weld_limit else 1),
            fault=SHOWN_BEFORE,
            contactor_on_us=NOW_US - (settings.arc_end_us or 0) + (0 if outcome.arc_end else 1),
        )


def state_space_of(design: Design, table: Table | None = None) -> StateSpace:
    """Return the world of `design`; with `table` its sequence runs on that one, already specialised for it."""
    rig = rig_of(design)
    return StateSpace(design, rig if table is None else replace(rig, table=table))


def times_of(world: StateSpace) -> dict[str, TimeSetting]:
    """Return the times that the design has, by name."""
    return features_of(world.design).times


def _may_be(cared: bool, known: bool) -> tuple[bool, ...]:
    return (True,) if known else (False, True) if cared else (False,)


def _without_new_weld(table: Table) -> set[int]:
    """Return the phases in which a weld limit stands, and those from which they are reached without a new weld."""
    found = {int(Phase.WELD), int(Phase.PAUSE)}
    while True:
        more = {
            int(phase)
            for phase, row in table.items()
            if any(transition.to in found and Action.BEGIN_WELD not in transition.do for transition in row.transitions)
        }
        if more <= found:
            return found
        found |= more


_MODE = tuple(KEPT[condition] for condition in (Condition.FOUR_STEP, Condition.SPOT, Condition.STITCH))
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
    asking = [*(note.when for note in row.notes), *(transition.when for transition in row.transitions)]
    asked = {KEPT[question.condition] for when in asking for question in when if question.condition in KEPT}
    return asked | _asked_by_time(row.time) | _ASKED_BY_RULES.get(phase, set())


def _behind(row: Row, table: Table, live: dict[int, frozenset[str]]) -> frozenset[str]:
    """Return what matters behind the exits of `row` and is not set on the way there."""
    found = (
        live[transition.to] - _set_by((*transition.do, *table[transition.to].enter))
        for transition in row.transitions
        if transition.to in table
    )
    return frozenset().union(*found)


def _asked_by_time(time: Time) -> set[str]:
    return set(time.lasts.asks) if isinstance(time.lasts, WorkedOut) else set()


def _set_by(actions: Iterable[Action]) -> set[str]:
    return {flag for action in actions if not isinstance(action.effect, Stamps) for flag in action.effect.sets}
