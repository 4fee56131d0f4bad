"""The sequence, one pass at a time: the plain interpreter of the phase table.

The C core does the same, pass for pass. All times are microseconds on the board's clock.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Any, assert_never, cast

from .columns import (
    DIALLED,
    Action,
    Calls,
    Condition,
    ConditionColumns,
    Constant,
    Dialled,
    Effect,
    Lasts,
    Reads,
    Sets,
    Stamps,
    Time,
    WorkedOut,
)
from .settings import Settings
from .table import Fault, Guard, Note, Output, Phase, Table, Transition


@dataclass(frozen=True, slots=True)
class Inputs:
    """What one pass sees: contacts after their filters, and the times as the dials stand now.

    The defaults are a quiet board: nothing pressed, all well. Preflow, burnback and postflow are 0 while their
    switch is off; spot and pause keep the time of their dial, and `spot` and `stitch` say whether they are on.
    """

    trigger: bool = False
    purge: bool = False
    inch: bool = False
    arc: bool = False
    interlock_open: bool = False
    supply_low: bool = False
    """Below the lower threshold, after its filter."""
    supply_poor: bool = False
    """Below the higher threshold: not good."""
    dial_fault: bool = False
    four_step: bool = False
    spot: bool = False
    stitch: bool = False
    preflow_us: int = 0
    spot_us: int = 0
    burnback_us: int = 0
    postflow_us: int = 0
    pause_us: int = 0


@dataclass(slots=True)
class State:
    """What the sequence keeps from pass to pass. A new one is a board that has just started."""

    phase: int = Phase.HOLD_OFF
    since_us: int = 0
    duration_us: int = 0
    weld_since_us: int = 0
    contactor_on_us: int = 0
    """Latest pass that found the contactor on; where that is long ago, just as long ago as an arc can last."""
    fault: int = Fault.NONE
    four_step: bool = False
    spot: bool = False
    stitch: bool = False
    arc_established: bool = False
    arc_seen_open: bool = False
    pressed_again: bool = False
    let_go: bool = False
    limited: bool = False
    all_well: bool = False
    settled: bool = False
    seen_open: bool = False
    # Contacts as the last pass saw them. A board that starts has seen nothing open yet.
    trigger_was: bool = True
    purge_was: bool = True
    inch_was: bool = True

    def copy(self) -> State:
        """Return an independent copy."""
        return replace(self)


def start(settings: Settings, now_us: int = 0) -> State:
    """Return the state of a board that starts at `now_us`."""
    return State(since_us=now_us, duration_us=settings.settle_us, contactor_on_us=now_us)


def contactor_on(table: Table, phase: int) -> bool:
    """Tell whether the contactor is on in `phase`; in one that the table does not have it is off."""
    row = table.get(cast(Phase, phase))
    return row is not None and Output.CONTACTOR in row.outputs


@dataclass(slots=True)
class Scan:
    """One pass over the table, in progress. Build it, then `run` it."""

    table: Table
    settings: Settings
    state: State
    inputs: Inputs
    now_us: int
    press: bool = field(init=False)
    purge_press: bool = field(init=False)
    inch_press: bool = field(init=False)
    arc_overdue: bool = field(init=False)
    """The contactor has been off for longer than an arc can last."""

    def __post_init__(self) -> None:
        state, inputs = self.state, self.inputs
        self.press = inputs.trigger and not state.trigger_was
        self.purge_press = inputs.purge and not state.purge_was
        self.inch_press = inputs.inch and not state.inch_was
        state.trigger_was, state.purge_was, state.inch_was = inputs.trigger, inputs.purge, inputs.inch
        arc_end_us = self.settings.arc_end_us
        self.arc_overdue = arc_end_us is not None and self._watch_arc(arc_end_us)

    def _watch_arc(self, arc_end_us: int) -> bool:
        """Remember an open arc sensor; return whether an arc could no longer last, the contactor being off."""
        state = self.state
        if not state.arc_seen_open and not self.inputs.arc:
            state.arc_seen_open = True
        if contactor_on(self.table, state.phase):
            state.contactor_on_us = self.now_us
            return False
        if not self.over(state.contactor_on_us, arc_end_us):
            return False
        # Kept just over, so that it stays so when the board's clock goes round.
        state.contactor_on_us = self.now_us - arc_end_us
        return True

    def run(self) -> int:
        """Advance the state as far as this pass takes it; return the outputs byte that then stands."""
        for _ in range(len(Phase)):
            if self.state.phase not in self.table:
                break
            if not self.take_transition():
                return self.table[Phase(self.state.phase)].outputs_bits
        self._enter(Phase.HOLD_OFF, self.now_us)
        self.state.fault = Fault.STATE
        return 0

    def take_transition(self) -> bool:
        """Take the present phase's notes and its first open exit; return False where none is open."""
        row = self.table[Phase(self.state.phase)]
        for note in row.notes:
            if self._hold(note.when):
                self._take_note(note)
        transition = next((transition for transition in row.transitions if self._hold(transition.when)), None)
        if transition is not None:
            self._leave(transition)
        return transition is not None

    def _hold(self, when: tuple[Guard, ...]) -> bool:
        # A plain loop, for proof and simulation are here most of their time.
        for guard in when:  # noqa: SIM110
            if CONDITIONS[guard.condition](self) != guard.wanted:
                return False
        return True

    def _take_note(self, note: Note) -> None:
        self.use_up(note.when)
        for action in note.do:
            ACTIONS[action](self, self.now_us)
        if note.fault is not None:
            self.state.fault = note.fault

    def _leave(self, transition: Transition) -> None:
        self.use_up(transition.when)
        at_us = self.due_us() if Guard(Condition.TIME_OVER) in transition.when else self.now_us
        for action in transition.do:
            ACTIONS[action](self, at_us)
        if transition.fault is not None:
            self.state.fault = transition.fault
        self._enter(transition.to, at_us)

    def _enter(self, phase: Phase, at_us: int) -> None:
        self.state.phase = phase
        row = self.table.get(phase)
        for action in row.enter if row else ():
            ACTIONS[action](self, at_us)
        self.restart(at_us)

    def use_up(self, when: tuple[Guard, ...]) -> None:
        """Mark the press as served where `when` asks for one."""
        if Guard(Condition.PRESS) in when:
            self.press = False

    def due_us(self) -> int:
        """Return the instant from which the next phase counts once this one's time is over."""
        due_us = self.state.since_us + self.state.duration_us
        return due_us if self.now_us - due_us <= self.settings.stall_us else self.now_us

    def restart(self, at_us: int) -> None:
        """Let the present phase's time count from `at_us`, with the time as its dial stands now."""
        self.state.since_us = at_us
        row = self.table.get(Phase(self.state.phase))
        self.state.duration_us = 0 if row is None else TIMES[row.time](self)

    def latch(self, _at_us: int) -> None:
        """Take over trigger mode, spot and stitch. Spot and stitch are two-step work."""
        self.state.spot = self.inputs.spot
        self.state.stitch = self.inputs.stitch and self.inputs.spot
        self.state.four_step = self.inputs.four_step and not self.inputs.spot

    def await_arc(self, _at_us: int) -> None:
        """Take the arc as not yet established; without a sensor there is nothing to wait for."""
        self.state.arc_established = not self.settings.arc_sensor

    def hold_off_us(self) -> int:
        """Return how long hold-off lasts from here: until settled, then until everything is open."""
        return self.settings.open_us if self.state.settled else self.settings.settle_us

    def supply_poor(self) -> bool:
        """Tell whether the supply is not good: a low one never is."""
        return self.inputs.supply_low or self.inputs.supply_poor

    def arc_stays(self) -> bool:
        """Tell whether an arc is sensed that could no longer last."""
        return self.arc_overdue and self.inputs.arc

    def completes(self) -> bool:
        """Tell whether spots complete when the trigger is released."""
        return self.settings.completes

    def time_over(self) -> bool:
        """Tell whether the present phase's time is over."""
        return self.over(self.state.since_us, self.state.duration_us)

    def weld_limit_over(self) -> bool:
        """Tell whether the weld limit is over."""
        return self.over(self.state.weld_since_us, self.settings.weld_limit_us)

    def arc_limit_over(self) -> bool:
        """Tell whether the arc-start limit is over, in a weld."""
        return self.over(self.state.since_us, self.settings.arc_limit_us)

    def over(self, since_us: int, limit_us: int | None) -> bool:
        """Tell whether `limit_us` has passed since `since_us`; None never passes."""
        return limit_us is not None and self.now_us - since_us >= limit_us


KEPT: dict[Condition, str] = {
    condition: condition.answer.field for condition in Condition if condition.answer.reads is Reads.STATE
}
"""Conditions that the state keeps, and the flag that keeps each."""


def _field(of: type[Inputs | State], name: str) -> str:
    """Return the name of a field, made sure of. Raises LookupError: a column that nothing stands behind."""
    if name not in of.__dataclass_fields__:
        raise LookupError(f"{of.__name__} has no field {name!r}, which the phase table's columns name")
    return name


def _asking(answer: ConditionColumns) -> Callable[[Scan], bool]:
    match answer.reads:
        case Reads.INPUT:
            return attrgetter(f"inputs.{_field(Inputs, answer.field)}")
        case Reads.STATE:
            return attrgetter(f"state.{_field(State, answer.field)}")
        case Reads.PRESS:
            return attrgetter(answer.field)
        case Reads.RULE:
            found: Callable[[Scan], bool] = getattr(Scan, answer.field)
            return found
        case _:
            assert_never(answer.reads)


def _doing(effect: Effect) -> Callable[[Scan, int], None]:
    match effect:
        case Sets(flag, value):
            return _setting(_field(State, flag), value)
        case Stamps(field):
            return _stamping(_field(State, field))
        case Calls(name):
            found: Callable[[Scan, int], None] = getattr(Scan, name)
            return found
        case _:
            assert_never(effect)


def _setting(flag: str, value: bool) -> Callable[[Scan, int], None]:
    return lambda scan, _: setattr(scan.state, flag, value)


def _stamping(field: str) -> Callable[[Scan, int], None]:
    return lambda scan, at_us: setattr(scan.state, field, at_us)


def _lasting(lasts: Lasts | None) -> Callable[[Scan], int]:
    match lasts:
        case None:
            return lambda _: 0
        case Dialled():
            return attrgetter(f"inputs.{_field(Inputs, lasts.field)}")
        case Constant(field):
            return attrgetter(f"settings.{field}")
        case WorkedOut(name):
            found: Callable[[Scan], int] = getattr(Scan, name)
            return found
        case _:
            assert_never(lasts)


CONDITIONS = {condition: _asking(condition.answer) for condition in Condition}
ACTIONS = {action: _doing(action.effect) for action in Action}
TIMES = {time: _lasting(time.lasts) for time in Time}


def time_fields(times_us: Mapping[str, int], switches: Mapping[str, bool]) -> dict[str, Any]:
    """Return the fields of Inputs that are times, from the dials' times and the switches, by name of the time.

    A time that is in neither is 0; one whose switch takes it to zero is 0 while the switch is off.
    """
    return {
        time.field: times_us.get(time.name, 0) if switches.get(time.name, True) or not time.off_is_zero else 0
        for time in DIALLED
    }


Scanner = Callable[[Table, Settings, State, Inputs, int], int]
"""What makes one pass at an instant: advances the state in place, returns the outputs byte."""


def step(table: Table, settings: Settings, state: State, inputs: Inputs, now_us: int) -> int:
    """Make one pass at `now_us`: advance `state` in place, return the outputs byte (see table.Output)."""
    return Scan(table, settings, state, inputs, now_us).run()
