"""The phase table as C: one view of each row, from which the template writes the portable core."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from timing.design.design import Design
from timing.design.times import TimeSetting
from timing.sequence.core.scan import KEPT, SETS
from timing.sequence.core.settings import Settings
from timing.sequence.core.table import Action, Condition, Exit, Fault, Is, Note, Output, Phase, Row, Table, Time
from timing.sequence.of_design import settings_of, table_of

QUESTIONS: dict[Condition, str] = {
    Condition.INTERLOCK_OPEN: "inputs->interlock_open",
    Condition.SUPPLY_LOW: "inputs->supply_low",
    Condition.SUPPLY_POOR: "supply_poor(inputs)",
    Condition.DIAL_FAULT: "inputs->dial_fault",
    Condition.TRIGGER_CLOSED: "inputs->trigger",
    Condition.PRESS: "fresh.press",
    Condition.PURGE_CLOSED: "inputs->purge",
    Condition.PURGE_PRESS: "fresh.purge_press",
    Condition.INCH_CLOSED: "inputs->inch",
    Condition.INCH_PRESS: "fresh.inch_press",
    Condition.ARC_SEEN: "inputs->arc",
    Condition.ARC_STAYS: "stays",
    Condition.TIME_OVER: "time_over(state, now_us)",
    Condition.WELD_LIMIT_OVER: "over(state->weld_since_us, WELD_LIMIT_US, now_us)",
    Condition.ARC_LIMIT_OVER: "over(state->since_us, ARC_START_LIMIT_US, now_us)",
    **{condition: f"state->{flag}" for condition, flag in KEPT.items()},
}
"""Each condition as the C core asks it. Conditions that no design can leave open are not here."""

SEEN = {
    Condition.TRIGGER_CLOSED: "trigger",
    Condition.PURGE_CLOSED: "purge",
    Condition.INCH_CLOSED: "inch",
    Condition.ARC_SEEN: "arc",
    Condition.INTERLOCK_OPEN: "interlock_open",
    Condition.SUPPLY_LOW: "supply_low",
    Condition.SUPPLY_POOR: "supply_poor",
    Condition.DIAL_FAULT: "dial_fault",
}
"""Conditions that are seen as they are, and the input that shows each."""

# In the core only where the flag is kept, which is where a sensor is fitted.
_SETS = SETS | {Action.AWAIT_ARC: (KEPT[Condition.ARC_ESTABLISHED], False)}
_CONDITION_OF = {flag: condition for condition, flag in KEPT.items()}

_TIME_NAMES = {
    Time.PREFLOW: "preflow",
    Time.SPOT: "spot",
    Time.BURNBACK: "burnback",
    Time.POSTFLOW: "postflow",
    Time.PAUSE: "pause",
}
_LIMIT_NAMES = {Time.PURGE_LIMIT: "PURGE_LIMIT_US", Time.INCH_LIMIT: "INCH_LIMIT_US"}


@dataclass(frozen=True)
class Branch:
    """One `if` of the core: what it asks, what it does, and the sentence above it."""

    sentence: str
    question: str
    statements: tuple[str, ...]


@dataclass(frozen=True)
class PhaseCase:
    """One phase as a case of the core's switch."""

    macro: str
    sentence: str
    """What is on, and which time runs."""
    notes: tuple[Branch, ...]
    exits: tuple[Branch, ...]
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


def sequence_core(design: Design) -> SequenceCore:
    """Return the C view of `design`'s phase table, without anything the design lacks."""
    return _Writer(design).core()


def time_varies(name: str, setting: TimeSetting) -> bool:
    """Tell whether a time is an input of the sequence: on a dial, or taken to zero by its switch."""
    return setting.dial or (setting.off_switch and name not in ("spot", "pause"))


class _Writer:
    def __init__(self, design: Design) -> None:
        self._design = design
        self._settings: Settings = settings_of(design)
        self._table: Table = table_of(design)

    def core(self) -> SequenceCore:
        free = [condition for condition in Condition if condition not in self._settings.fixed]
        pressed = (Condition.TRIGGER_CLOSED, Condition.PURGE_CLOSED, Condition.INCH_CLOSED)
        return SequenceCore(
            cases=tuple(self._case(phase, row) for phase, row in self._table.items()),
            phases=tuple(self._table),
            flags=tuple(flag for condition, flag in KEPT.items() if condition in free),
            buttons=tuple(SEEN[condition] for condition in pressed if condition in free),
            inputs=(*(SEEN[c] for c in free if c in SEEN), *self._switch_inputs()),
            times=self._varying(),
            keeps_weld_start=self._settings.weld_limit_us is not None,
            contactor_phases=self._contactor_phases(),
            latch=self._latch(),
        )

    def _contactor_phases(self) -> tuple[Phase, ...]:
        if not self._settings.arc_sensor:
            return ()
        return tuple(phase for phase, row in self._table.items() if Output.CONTACTOR in row.outputs)

    def _varying(self) -> tuple[str, ...]:
        return tuple(name for name, setting in self._times() if time_varies(name, setting))

    def _passed(self, inputs: bool) -> str:
        """First arguments of a function that gets the inputs only where it needs them."""
        return "state, inputs, " if inputs else "state, "

    def _times(self) -> Iterator[tuple[str, TimeSetting]]:
        for name in _TIME_NAMES.values():
            setting = self._design.setting(name)
            if setting is not None:
                yield name, setting

    def _switch_inputs(self) -> Iterator[str]:
        """Name the panel switches that the sequence latches."""
        latched = " ".join(self._latch())
        yield from (name for name in ("four_step", "spot", "stitch") if f"inputs->{name}" in latched)

    def _case(self, phase: Phase, row: Row) -> PhaseCase:
        on = [output for output in Output if output in row.outputs]
        lights = ", ".join(output.name.lower() for output in on) or "all off"
        duration = self._duration(row.time)
        return PhaseCase(
            macro=f"PHASE_{phase.name}",
            sentence=f"{phase.word}: {lights}" + (f"; {row.time.value}" if duration else ""),
            notes=tuple(self._note(note) for note in row.notes),
            exits=tuple(self._exit(way) for way in row.exits),
            enter=tuple(self._actions(row.enter, "at_us")),
            duration=duration,
            outputs=" | ".join(f"OUTPUT_{output.name}" for output in on) or "0",
        )

    def _duration(self, time: Time) -> str:
        if time is Time.HOLD_OFF:
            return "state->settled ? OPEN_US : SETTLE_US"
        if time in _LIMIT_NAMES:
            return _LIMIT_NAMES[time]
        name = _TIME_NAMES.get(time)
        setting = None if name is None else self._design.setting(name)
        if name is None or setting is None:
            return ""
        return f"inputs->{name}_us" if time_varies(name, setting) else f"{name.upper()}_US"

    def _note(self, note: Note) -> Branch:
        statements = [*self._used_up(note.when), *self._actions(note.do, "now_us"), *_fault(note.fault)]
        return Branch(_sentence(note.when, note.do, note.fault, ""), _question(note.when), tuple(statements))

    def _exit(self, way: Exit) -> Branch:
        on_time = Is(Condition.TIME_OVER) in way.when
        at_us = "due_us(state, now_us)" if on_time else "now_us"
        statements = list(self._used_up(way.when))
        actions = list(self._actions(way.do, "at_us" if on_time else "now_us"))
        if on_time and any("at_us" in action for action in actions):
            statements.append(f"const uint32_t at_us = {at_us};")
            at_us = "at_us"
        passed = self._passed(bool(self._varying() or self._latch()))
        statements += [*actions, *_fault(way.fault), f"enter({passed}PHASE_{way.to.name}, {at_us});"]
        return Branch(_sentence(way.when, way.do, way.fault, way.to.word), _question(way.when), tuple(statements))

    def _used_up(self, when: tuple[Is, ...]) -> Iterator[str]:
        if Is(Condition.PRESS) in when:
            yield "fresh.press = false;"

    def _actions(self, actions: tuple[Action, ...], at_us: str) -> Iterator[str]:
        for action in actions:
            if action is Action.LATCH and self._latch():
                yield "latch(state, inputs);"
            elif action is Action.BEGIN_WELD and self._settings.weld_limit_us is not None:
                yield f"state->weld_since_us = {at_us};"
            elif action is Action.RESTART:
                yield f"restart({self._passed(bool(self._varying()))}{at_us});"
            elif action is Action.COUNT:
                yield f"state->since_us = {at_us};"
            elif action in _SETS and _CONDITION_OF[_SETS[action][0]] not in self._settings.fixed:
                flag, value = _SETS[action]
                yield f"state->{flag} = {str(value).lower()};"

    def _latch(self) -> tuple[str, ...]:
        """Take over what can differ from weld to weld. Spot and stitch are two-step work."""
        design, fixed = self._design, self._settings.fixed
        spot_switched = design.spot is not None and design.spot.time.off_switch
        pause_switched = design.stitch is not None and design.stitch.pause.off_switch
        spot = ["inputs->spot"] if spot_switched else []
        statements = []
        if Condition.SPOT not in fixed:
            statements.append("state->spot = inputs->spot;")
        if Condition.STITCH not in fixed:
            stitch = ["inputs->stitch"] if pause_switched else []
            statements.append(f"state->stitch = {' && '.join(stitch + spot)};")
        if Condition.FOUR_STEP not in fixed:
            four_step = ["inputs->four_step"] if design.trigger.mode == "switch" else []
            two_step_only = [f"!{name}" for name in spot]
            statements.append(f"state->four_step = {' && '.join(four_step + two_step_only)};")
        return tuple(statements)


def _question(when: tuple[Is, ...]) -> str:
    asked = [("" if question.wanted else "!") + QUESTIONS[question.condition] for question in when]
    return " && ".join(asked) or "true"


def _fault(fault: Fault | None) -> tuple[str, ...]:
    return () if fault is None else (f"state->fault = FAULT_{fault.name};",)


def _sentence(when: tuple[Is, ...], do: tuple[Action, ...], fault: Fault | None, to: str) -> str:
    says = ", ".join(str(question) for question in when) or "always"
    if to:
        says += f" -> {to}"
    if do:
        says += ": " + ", ".join(action.value for action in do)
    if fault is not None:
        says += "; clears the fault" if fault is Fault.NONE else f"; fault {fault.value}, {fault.word}"
    return says
