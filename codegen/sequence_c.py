"""The phase table as C: one view of each row, from which the template writes the portable core."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import assert_never

from timing.design.design import Design
from timing.design.times import TimeSetting
from timing.once import once
from timing.sequence.core.columns import (
    DIALLED,
    Action,
    Calls,
    Condition,
    Constant,
    Dialled,
    Effect,
    Reads,
    Sets,
    Stamps,
    Time,
    WorkedOut,
)
from timing.sequence.core.scan import KEPT
from timing.sequence.core.settings import Settings
from timing.sequence.core.table import Fault, Guard, Note, Output, Phase, Row, Table, Transition
from timing.sequence.of_design import settings_of, table_of


class UnknownInCError(LookupError):
    """The phase table asks for what has no words in C. Keeps the member of the table and what it lacks."""

    def __init__(self, what: Condition | Time, lacks: str) -> None:
        super().__init__(what, lacks)
        self.what, self.lacks = what, lacks

    def __str__(self) -> str:
        return f"{type(self.what).__name__}.{self.what.name}: {self.lacks}"


@dataclass(frozen=True)
class Branch:
    """One `if` of the core: what it asks, what it does, and the sentence above it."""

    sentence: str
    question: str
    statements: tuple[str, ...]


@dataclass(frozen=True)
class Latched:
    """A flag that is taken over from the panel's switches: true where some are on and others off."""

    condition: Condition
    on: tuple[str, ...]
    off: tuple[str, ...] = ()

    @property
    def statement(self) -> str:
        """The statement in C."""
        asked = [*(f"inputs->{name}" for name in self.on), *(f"!inputs->{name}" for name in self.off)]
        return f"{self.condition.answer.c} = {' && '.join(asked)};"


@dataclass(frozen=True)
class PhaseCase:
    """One phase as a case of the core's switch."""

    macro: str
    sentence: str
    """What is on, and which time runs."""
    notes: tuple[Branch, ...]
    transitions: tuple[Branch, ...]
    enter: tuple[str, ...]
    duration: str
    """The phase's time as a C expression; empty where it has none."""
    outputs: str
    """The outputs as a C expression."""


@dataclass(frozen=True)
class SequenceCore:
    """Everything the template of the core needs."""

    cases: tuple[PhaseCase, ...]
    phases: tuple[Phase, ...]
    flags: tuple[str, ...]
    """Flags that the state keeps, without the last pass's contacts."""
    buttons: tuple[str, ...]
    """Contacts whose fresh press counts: trigger first."""
    inputs: tuple[str, ...]
    """Yes-or-no inputs."""
    times: tuple[str, ...]
    """Names of the times that are inputs; the others are constants."""
    keeps_weld_start: bool
    contactor_phases: tuple[Phase, ...]
    """Phases in which the contactor is on, where an arc sensor is watched in the others; else empty."""
    latch: tuple[str, ...]
    """Statements that take over trigger mode, spot and stitch; empty where nothing can differ."""


@once
def sequence_core(design: Design) -> SequenceCore:
    """Return the C view of `design`'s phase table, without anything the design lacks."""
    return _Writer(design).core()


def time_varies(time: Dialled, setting: TimeSetting) -> bool:
    """Tell whether a time is an input of the sequence: on a dial, or taken to zero by its switch."""
    return setting.dial or (setting.off_switch and time.off_is_zero)


_ORDER = list(Condition)
_CONDITION_OF = {flag: condition for condition, flag in KEPT.items()}


class _Writer:
    def __init__(self, design: Design) -> None:
        self._design = design
        self._settings: Settings = settings_of(design)
        self._table: Table = table_of(design)

    def core(self) -> SequenceCore:
        free = [condition for condition in Condition if condition not in self._settings.fixed]
        answers = [condition.answer for condition in free]
        pressed = [answer.shown_by for answer in answers if answer.reads is Reads.PRESS]
        seen = [answer.shown_by for answer in answers if answer.shown_by and answer.reads is not Reads.PRESS]
        return SequenceCore(
            cases=tuple(self._case(phase, row) for phase, row in self._table.items()),
            phases=tuple(self._table),
            flags=tuple(answer.field for answer in answers if answer.reads is Reads.STATE),
            buttons=tuple(pressed),
            inputs=(*seen, *self._switch_inputs()),
            times=tuple(time.name for time in self._varying()),
            keeps_weld_start=self._settings.weld_limit_us is not None,
            contactor_phases=self._contactor_phases(),
            latch=tuple(latched.statement for latched in self._latch()),
        )

    def _contactor_phases(self) -> tuple[Phase, ...]:
        if not self._settings.arc_sensor:
            return ()
        return tuple(phase for phase, row in self._table.items() if Output.CONTACTOR in row.outputs)

    def _varying(self) -> tuple[Dialled, ...]:
        return tuple(time for time, setting in self._times() if time_varies(time, setting))

    def _passed(self, inputs: bool) -> str:
        """First arguments of a function that gets the inputs only where it needs them."""
        return "state, inputs, " if inputs else "state, "

    def _times(self) -> Iterator[tuple[Dialled, TimeSetting]]:
        for time in DIALLED:
            setting = self._design.setting(time.name)
            if setting is not None:
                yield time, setting

    def _switch_inputs(self) -> Iterator[str]:
        """Name the panel switches that the sequence latches."""
        in_order = sorted(self._latch(), key=lambda latched: _ORDER.index(latched.condition))
        yield from dict.fromkeys(name for latched in in_order for name in (*latched.on, *latched.off))

    def _case(self, phase: Phase, row: Row) -> PhaseCase:
        on = [output for output in Output if output in row.outputs]
        lights = ", ".join(output.name.lower() for output in on) or "all off"
        duration = self._duration(row)
        return PhaseCase(
            macro=f"PHASE_{phase.name}",
            sentence=f"{phase.word}: {lights}" + (f"; {row.time.value}" if duration else ""),
            notes=tuple(self._note(note) for note in row.notes),
            transitions=tuple(self._exit(transition) for transition in row.transitions),
            enter=tuple(self._actions(row.enter, "at_us")),
            duration=duration,
            outputs=" | ".join(f"OUTPUT_{output.name}" for output in on) or "0",
        )

    def _duration(self, row: Row) -> str:
        """Return the phase's time as a C expression; empty where this design has none, and nothing asks for it."""
        lasts = row.time.lasts
        match lasts:
            case Constant():
                return lasts.macro
            case WorkedOut():
                return lasts.c
            case Dialled():
                setting = self._design.setting(lasts.name)
                if setting is not None:
                    return f"inputs->{lasts.field}" if time_varies(lasts, setting) else lasts.macro
            case None:
                pass
            case _:
                assert_never(lasts)
        asking = (*(note.when for note in row.notes), *(transition.when for transition in row.transitions))
        if any(question.condition is Condition.TIME_OVER for when in asking for question in when):
            raise UnknownInCError(row.time, "it ends a phase of a design that does not have it")
        return ""

    def _note(self, note: Note) -> Branch:
        statements = [*self._used_up(note.when), *self._actions(note.do, "now_us"), *_fault(note.fault)]
        return Branch(_sentence(note.when, note.do, note.fault, ""), _question(note.when), tuple(statements))

    def _exit(self, transition: Transition) -> Branch:
        on_time = Guard(Condition.TIME_OVER) in transition.when
        at_us = "due_us(state, now_us)" if on_time else "now_us"
        statements = list(self._used_up(transition.when))
        done = [action.effect for action in transition.do if not self._is_nothing(action.effect)]
        if on_time and any(_takes_instant(effect) for effect in done):
            statements.append(f"const uint32_t at_us = {at_us};")
            at_us = "at_us"
        passed = self._passed(bool(self._varying() or self._latch()))
        actions = self._actions(transition.do, at_us)
        statements += [*actions, *_fault(transition.fault), f"enter({passed}PHASE_{transition.to.name}, {at_us});"]
        return Branch(
            _sentence(transition.when, transition.do, transition.fault, transition.to.word),
            _question(transition.when),
            tuple(statements),
        )

    def _used_up(self, when: tuple[Guard, ...]) -> Iterator[str]:
        if Guard(Condition.PRESS) in when:
            yield "fresh.press = false;"

    def _actions(self, actions: tuple[Action, ...], at_us: str) -> Iterator[str]:
        """Return what this design's core does of `actions`, from the instant `at_us` on."""
        for action in actions:
            if not self._is_nothing(action.effect):
                yield action.effect.c.format(scan=self._passed(bool(self._varying())), at_us=at_us)

    def _is_nothing(self, effect: Effect) -> bool:
        """Tell whether an effect is on what this design's state does not keep: flags that are settled, the weld's start
        where no limit counts from it."""
        match effect:
            case Stamps(field):
                return field == "weld_since_us" and self._settings.weld_limit_us is None
            case Sets() | Calls():
                return bool(effect.sets) and all(_CONDITION_OF[flag] in self._settings.fixed for flag in effect.sets)
            case _:
                assert_never(effect)

    def _latch(self) -> tuple[Latched, ...]:
        """Take over what can differ from weld to weld. Spot and stitch are two-step work."""
        design, fixed = self._design, self._settings.fixed
        spot_switched = design.spot is not None and design.spot.time.off_switch
        pause_switched = design.stitch is not None and design.stitch.pause.off_switch
        spot = ("spot",) if spot_switched else ()
        latched = (
            Latched(Condition.SPOT, ("spot",)),
            Latched(Condition.STITCH, (*(("stitch",) if pause_switched else ()), *spot)),
            Latched(Condition.FOUR_STEP, ("four_step",) if design.trigger.mode == "switch" else (), spot),
        )
        return tuple(one for one in latched if one.condition not in fixed)


def _takes_instant(effect: Effect) -> bool:
    return isinstance(effect, Stamps) or (isinstance(effect, Calls) and effect.takes_instant)


def _question(when: tuple[Guard, ...]) -> str:
    asked = [("" if question.wanted else "!") + _in_c(question.condition) for question in when]
    return " && ".join(asked) or "true"


def _in_c(condition: Condition) -> str:
    if not condition.answer.c:
        raise UnknownInCError(condition, "no words in C; every design must settle it beforehand")
    return condition.answer.c


def _fault(fault: Fault | None) -> tuple[str, ...]:
    return () if fault is None else (f"state->fault = FAULT_{fault.name};",)


def _sentence(when: tuple[Guard, ...], do: tuple[Action, ...], fault: Fault | None, to: str) -> str:
    says = ", ".join(str(question) for question in when) or "always"
    if to:
        says += f" -> {to}"
    if do:
        says += ": " + ", ".join(action.value for action in do)
    if fault is not None:
        says += "; clears the fault" if fault is Fault.NONE else f"; fault {fault.value}, {fault.word}"
    return says
