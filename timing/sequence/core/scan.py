"""The sequence, one pass at a time: the plain interpreter of the phase table.

The C core does the same, pass for pass. All times are microseconds on the board's clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from typing import cast

from .settings import Settings
from .table import Action, Condition, Exit, Fault, Is, Note, Output, Phase, Table, Time


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

    def as_tuple(self) -> tuple[int, ...]:
        """Return all of it, comparable and hashable."""
        return tuple(int(getattr(self, item.name)) for item in fields(self))


def start(settings: Settings, now_us: int = 0) -> State:
    """Return the state of a board that starts at `now_us`."""
    return State(since_us=now_us, duration_us=settings.settle_us, contactor_on_us=now_us)


def contactor_on(table: Table, phase: int) -> bool:
    """Tell whether the contactor is on in `phase`; in one that the table does not have it is off."""
    row = table.get(cast(Phase, phase))
    return row is not None and Output.CONTACTOR in row.outputs


@dataclass(slots=True)
class Pass:
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
            if not self.hop():
                return self.table[Phase(self.state.phase)].outputs_bits
        self._enter(Phase.HOLD_OFF, self.now_us)
        self.state.fault = Fault.STATE
        return 0

    def hop(self) -> bool:
        """Take the present phase's notes and its first open exit; return False where none is open."""
        row = self.table[Phase(self.state.phase)]
        for note in row.notes:
            if self._hold(note.when):
                self._take_note(note)
        way = next((way for way in row.exits if self._hold(way.when)), None)
        if way is not None:
            self._take_exit(way)
        return way is not None

    def _hold(self, when: tuple[Is, ...]) -> bool:
        return all(CONDITIONS[question.condition](self) == question.wanted for question in when)

    def _take_note(self, note: Note) -> None:
        self.use_up(note.when)
        for action in note.do:
            ACTIONS[action](self, self.now_us)
        if note.fault is not None:
            self.state.fault = note.fault

    def _take_exit(self, way: Exit) -> None:
        self.use_up(way.when)
        at_us = self.due_us() if Is(Condition.TIME_OVER) in way.when else self.now_us
        for action in way.do:
            ACTIONS[action](self, at_us)
        if way.fault is not None:
            self.state.fault = way.fault
        self._enter(way.to, at_us)

    def _enter(self, phase: Phase, at_us: int) -> None:
        self.state.phase = phase
        row = self.table.get(phase)
        for action in row.enter if row else ():
            ACTIONS[action](self, at_us)
        self.restart(at_us)

    def use_up(self, when: tuple[Is, ...]) -> None:
        """Mark the press as served where `when` asks for one."""
        if Is(Condition.PRESS) in when:
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

    def latch(self) -> None:
        """Take over trigger mode, spot and stitch. Spot and stitch are two-step work."""
        self.state.spot = self.inputs.spot
        self.state.stitch = self.inputs.stitch and self.inputs.spot
        self.state.four_step = self.inputs.four_step and not self.inputs.spot

    def over(self, since_us: int, limit_us: int | None) -> bool:
        """Tell whether `limit_us` has passed since `since_us`; None never passes."""
        return limit_us is not None and self.now_us - since_us >= limit_us


KEPT: dict[Condition, str] = {
    Condition.FOUR_STEP: "four_step",
    Condition.SPOT: "spot",
    Condition.STITCH: "stitch",
    Condition.ARC_ESTABLISHED: "arc_established",
    Condition.ARC_SEEN_OPEN: "arc_seen_open",
    Condition.PRESSED_AGAIN: "pressed_again",
    Condition.LET_GO: "let_go",
    Condition.LIMITED: "limited",
    Condition.ALL_WELL: "all_well",
    Condition.SETTLED: "settled",
    Condition.SEEN_OPEN: "seen_open",
}
"""Conditions that the state keeps, and the flag that keeps each."""

SETS: dict[Action, tuple[str, bool]] = {
    Action.LIMIT: ("limited", True),
    Action.UNLIMIT: ("limited", False),
    Action.ESTABLISH_ARC: ("arc_established", True),
    Action.FORGET_ARC: ("arc_seen_open", False),
    Action.SET_AGAIN: ("pressed_again", True),
    Action.CLEAR_AGAIN: ("pressed_again", False),
    Action.SET_LET_GO: ("let_go", True),
    Action.CLEAR_LET_GO: ("let_go", False),
    Action.SEE_WELL: ("all_well", True),
    Action.SETTLE: ("settled", True),
    Action.SEE_ILL: ("all_well", False),
    Action.UNSETTLE: ("settled", False),
    Action.SEE_OPEN: ("seen_open", True),
    Action.SEE_CLOSED: ("seen_open", False),
}
"""Actions that set a flag of the state, and to what."""


def _keeps(flag: str) -> Callable[[Pass], bool]:
    return lambda p: getattr(p.state, flag)


CONDITIONS: dict[Condition, Callable[[Pass], bool]] = {
    Condition.INTERLOCK_OPEN: lambda p: p.inputs.interlock_open,
    Condition.SUPPLY_LOW: lambda p: p.inputs.supply_low,
    Condition.SUPPLY_POOR: lambda p: p.inputs.supply_low or p.inputs.supply_poor,
    Condition.DIAL_FAULT: lambda p: p.inputs.dial_fault,
    Condition.TRIGGER_CLOSED: lambda p: p.inputs.trigger,
    Condition.PRESS: lambda p: p.press,
    Condition.PURGE_CLOSED: lambda p: p.inputs.purge,
    Condition.PURGE_PRESS: lambda p: p.purge_press,
    Condition.INCH_CLOSED: lambda p: p.inputs.inch,
    Condition.INCH_PRESS: lambda p: p.inch_press,
    Condition.ARC_SEEN: lambda p: p.inputs.arc,
    Condition.ARC_STAYS: lambda p: p.arc_overdue and p.inputs.arc,
    Condition.COMPLETES: lambda p: p.settings.completes,
    Condition.TIME_OVER: lambda p: p.over(p.state.since_us, p.state.duration_us),
    Condition.WELD_LIMIT_OVER: lambda p: p.over(p.state.weld_since_us, p.settings.weld_limit_us),
    Condition.ARC_LIMIT_OVER: lambda p: p.over(p.state.since_us, p.settings.arc_limit_us),
    **{condition: _keeps(flag) for condition, flag in KEPT.items()},
}

TIMES: dict[Time, Callable[[Pass], int]] = {
    Time.NONE: lambda _: 0,
    Time.HOLD_OFF: lambda p: p.settings.open_us if p.state.settled else p.settings.settle_us,
    Time.PREFLOW: lambda p: p.inputs.preflow_us,
    Time.SPOT: lambda p: p.inputs.spot_us,
    Time.BURNBACK: lambda p: p.inputs.burnback_us,
    Time.POSTFLOW: lambda p: p.inputs.postflow_us,
    Time.PAUSE: lambda p: p.inputs.pause_us,
    Time.PURGE_LIMIT: lambda p: p.settings.purge_limit_us,
    Time.INCH_LIMIT: lambda p: p.settings.inch_limit_us,
}


def _set(name: str, value: bool) -> Callable[[Pass, int], None]:
    return lambda p, _: setattr(p.state, name, value)


ACTIONS: dict[Action, Callable[[Pass, int], None]] = {
    Action.LATCH: lambda p, _: p.latch(),
    Action.BEGIN_WELD: lambda p, at_us: setattr(p.state, "weld_since_us", at_us),
    Action.AWAIT_ARC: lambda p, _: setattr(p.state, "arc_established", not p.settings.arc_sensor),
    Action.RESTART: lambda p, at_us: p.restart(at_us),
    Action.COUNT: lambda p, at_us: setattr(p.state, "since_us", at_us),
    **{action: _set(flag, value) for action, (flag, value) in SETS.items()},
}


def step(table: Table, settings: Settings, state: State, inputs: Inputs, now_us: int) -> int:
    """Run one pass at `now_us`: advance `state` in place, return the outputs byte (see table.Output)."""
    return Pass(table, settings, state, inputs, now_us).run()
