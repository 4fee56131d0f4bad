"""The phase table run by the `transitions` library: a second opinion on the engine.

A general-purpose state machine library reads the same table, so that the plain interpreter of `core` (and through it
the C core) is checked against a reading that it does not share. It asks the same conditions and does the same actions;
what it has of its own is how phases, exits, order and entering work.
"""

from __future__ import annotations

from typing import Any

from transitions import Machine

from timing.sequence.core.columns import Action, Condition
from timing.sequence.core.scan import ACTIONS, CONDITIONS, Inputs, Scan, State
from timing.sequence.core.settings import Settings
from timing.sequence.core.table import Fault, Guard, Note, Phase, Table, Transition


class ReferenceMachine:
    """The sequence as a `transitions.Machine`, stepped like `scan.step`."""

    def __init__(self, table: Table, settings: Settings, state: State) -> None:
        self._table = table
        self._settings = settings
        self.state = state
        self._scan: Scan | None = None
        self._at_us = 0
        self.machine: Any = Machine(
            model=self,
            model_attribute="phase_name",
            states=[{"name": phase.word, "on_enter": self._entering(phase)} for phase in Phase],
            initial=Phase(state.phase).word,
            auto_transitions=False,
        )
        self._notes = max((len(row.notes) for row in table.values()), default=0)
        for phase, row in table.items():
            for index in range(self._notes):
                self._add_note(phase, index, row.notes[index] if index < len(row.notes) else None)
            for transition in row.transitions:
                self._add_exit(phase, transition)
            # Nothing holds: stay. It makes "advance" answer False instead of raising.
            self.machine.add_transition("advance", phase.word, None, before="stay")

    def step(self, inputs: Inputs, now_us: int) -> int:
        """Run one pass at `now_us`; return the outputs byte."""
        self._scan = Scan(self._table, self._settings, self.state, inputs, now_us)
        self._at_us = now_us
        for _ in range(len(Phase)):
            for index in range(self._notes):
                self.trigger(f"note_{index}")  # type: ignore[attr-defined]
            self._moved = True
            self.trigger("advance")  # type: ignore[attr-defined]
            if not self._moved:
                return self._table[Phase(self.state.phase)].outputs_bits
        self.machine.set_state(Phase.HOLD_OFF.word)
        self._entering(Phase.HOLD_OFF)()
        self.state.fault = Fault.STATE
        return 0

    def take_up(self, state: State) -> None:
        """Go on from `state`, whatever was before."""
        self.state = state
        self.machine.set_state(Phase(state.phase).word)

    def stay(self) -> None:
        """Say that no exit was taken."""
        self._moved = False

    def _add_exit(self, phase: Phase, transition: Transition) -> None:
        self.machine.add_transition(
            "advance",
            phase.word,
            transition.to.word,
            conditions=[self._asking(question.condition) for question in transition.when if question.wanted],
            unless=[self._asking(question.condition) for question in transition.when if not question.wanted],
            before=self._leaving(transition),
        )

    def _add_note(self, phase: Phase, index: int, note: Note | None) -> None:
        if note is not None:
            self.machine.add_transition(
                f"note_{index}",
                phase.word,
                None,
                conditions=[self._asking(question.condition) for question in note.when if question.wanted],
                unless=[self._asking(question.condition) for question in note.when if not question.wanted],
                before=self._noting(note),
            )
        self.machine.add_transition(f"note_{index}", phase.word, None)

    def _asking(self, condition: Condition) -> Any:
        return lambda: CONDITIONS[condition](self._current())

    def _leaving(self, transition: Transition) -> Any:
        def leave() -> None:
            current = self._current()
            self._at_us = current.due_us() if Guard(Condition.TIME_OVER) in transition.when else current.now_us
            self._current().use_up(transition.when)
            self._do(transition.do)
            if transition.fault is not None:
                self.state.fault = transition.fault

        return leave

    def _noting(self, note: Note) -> Any:
        def take() -> None:
            self._at_us = self._current().now_us
            self._current().use_up(note.when)
            self._do(note.do)
            if note.fault is not None:
                self.state.fault = note.fault

        return take

    def _entering(self, phase: Phase) -> Any:
        def enter() -> None:
            self.state.phase = phase
            self._do(self._table[phase].enter)
            self._do((Action.RESTART,))

        return enter

    def _do(self, actions: tuple[Action, ...]) -> None:
        for action in actions:
            ACTIONS[action](self._current(), self._at_us)

    def _current(self) -> Scan:
        if self._scan is None:
            raise RuntimeError("the machine was asked outside a pass")
        return self._scan


class TransitionsScan:
    """A scan of any table by a machine of the library: use it where `core.scan.step` stands (see scan.Scanner)."""

    def __init__(self) -> None:
        self._machine: ReferenceMachine | None = None
        self._runs: tuple[Table, Settings] | None = None

    def __call__(self, table: Table, settings: Settings, state: State, inputs: Inputs, now_us: int) -> int:
        """Make one pass at `now_us`: advance `state` in place, return the outputs byte."""
        if self._machine is None or self._runs != (table, settings):
            self._machine, self._runs = ReferenceMachine(table, settings, state), (table, settings)
        self._machine.take_up(state)
        return self._machine.step(inputs, now_us)
