"""One pass under observation: what stood before it, what it saw, what stands after it.

`all_ways` takes it in every way: what a pass asks is answered in all ways, what it does not ask stays open.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any, NamedTuple, TypeVar, cast

from timing.sequence.core.columns import Condition
from timing.sequence.core.scan import CONDITIONS, Inputs, Scan, State
from timing.sequence.core.settings import Settings
from timing.sequence.core.table import Output, Phase, Table

GAS, WIRE, CONTACTOR = Output.GAS.value, Output.WIRE.value, Output.CONTACTOR.value
WELDING = GAS | WIRE | CONTACTOR


@dataclass(frozen=True)
class Model:
    """A phase table with the constants it runs on."""

    table: Table
    settings: Settings


class Seen(NamedTuple):
    """The inputs that a rule may speak of. Every combination of them is walked, whether a pass asks or not."""

    trigger: bool
    purge: bool
    inch: bool
    press: bool
    """The trigger is closed, and was open in the pass before."""
    fault: bool
    """Interlock open, supply low, or an arc that stays."""
    unwell: bool
    """Such a fault, or in hold-off the supply not good or a dial broken or shorted."""
    arc: bool
    """The arc is sensed. Looked at in a weld, until it was seen open, and once it can no longer last."""
    arc_open: bool
    """The arc is not sensed, looked at where `arc` is."""
    arc_stays: bool
    """The arc is sensed, and the contactor has been off for longer than an arc can last; not looked at in another
    fault."""
    dial: bool
    """In the phases that a weld may follow on: a dial is broken or shorted."""
    mode: tuple[bool, bool, bool]
    """Where they are to be latched: four-step, spot and stitch as the panel has them; elsewhere as they were."""

    @property
    def all_open(self) -> bool:
        """Tell whether trigger and buttons are open."""
        return not (self.trigger or self.purge or self.inch)


class Over(NamedTuple):
    """Which timers have run out."""

    time: bool
    """The phase's own, counted from its start."""
    weld_limit: bool
    arc_limit: bool
    arc_end: bool
    """The contactor has been off for longer than an arc can last."""


class Step(NamedTuple):
    """One pass, done."""

    model: Model
    seen: Seen
    before: State
    over: Over
    """Timers as the pass found them."""
    path: tuple[int, ...]
    """Phases in order: where the pass began, and each phase entered."""
    ran_out: tuple[bool, ...]
    """For each phase that was left: whether its time was over then."""
    after: State
    over_after: Over
    outputs_before: int
    outputs: int
    """Outputs byte that stands after the pass."""

    @property
    def impossible(self) -> bool:
        """Tell whether the pass began in a phase that the table does not have."""
        return self.before.phase not in self.model.table

    @property
    def immediate(self) -> bool:
        """Tell whether a fault stands that must switch everything off in this very pass."""
        return self.seen.fault or self.impossible

    def entered(self, phase: Phase) -> list[int]:
        """Return the phases from which `phase` was entered in this pass."""
        path = self.path
        if len(path) == 1:
            return []
        return [came for came, to in itertools.pairwise(path) if to == phase]


_TIME_OVER, _WELD_LIMIT_OVER, _ARC_LIMIT_OVER = (
    CONDITIONS[timer] for timer in (Condition.TIME_OVER, Condition.WELD_LIMIT_OVER, Condition.ARC_LIMIT_OVER)
)
_values = attrgetter(*State.__dataclass_fields__)
CONTACTS = ("trigger", "purge", "inch")
"""Contacts whose fresh closing the sequence tells by what it keeps of the pass before: the last fields of State."""


class _WatchedPass(Scan):
    """A pass that remembers its way."""

    def __post_init__(self) -> None:
        super().__post_init__()
        self._watch()

    def _watch(self) -> None:
        self.path = [int(self.state.phase)]
        self.ran_out: list[bool] = []

    def take_transition(self) -> bool:
        ran_out = _TIME_OVER(self)
        moved = super().take_transition()
        if moved:
            self.path.append(int(self.state.phase))
            self.ran_out.append(ran_out)
        return moved

    def due(self) -> Over:
        """Tell which timers have run out as things stand."""
        arc_end = self.over(self.state.contactor_on_us, self.settings.arc_end_us)
        return Over(_TIME_OVER(self), _WELD_LIMIT_OVER(self), _ARC_LIMIT_OVER(self), arc_end)


class _OpenPass(_WatchedPass):
    """A watched pass whose contacts are asked for when the table asks for them, and only then.

    So one pass stands for many: for those in which a contact that the table does not look at stands otherwise. Its
    inputs answer, beside what `Inputs` has, `trigger_fresh` and the like: whether a contact that is closed was open in
    the pass before. What the contacts leave in the state is for the caller to fill in.
    """

    def __post_init__(self) -> None:
        self._watch()
        self.served = False
        arc_end_us = self.settings.arc_end_us
        self.arc_overdue = arc_end_us is not None and self._watch_arc(arc_end_us)

    def _fresh(self, contact: str) -> bool:
        return bool(getattr(self.inputs, contact) and getattr(self.inputs, f"{contact}_fresh"))

    @property
    def press(self) -> bool:
        return not self.served and self._fresh("trigger")

    @press.setter
    def press(self, value: bool) -> None:
        self.served = not value

    @property
    def purge_press(self) -> bool:
        return self._fresh("purge")

    @purge_press.setter
    def purge_press(self, value: bool) -> None:
        raise NotImplementedError("no exit or note uses up a press of a button")

    @property
    def inch_press(self) -> bool:
        return self._fresh("inch")

    @inch_press.setter
    def inch_press(self, value: bool) -> None:
        raise NotImplementedError("no exit or note uses up a press of a button")


_BEFORE_A_WELD = frozenset({Phase.PREFLOW, Phase.BURNBACK, Phase.POSTFLOW, Phase.PAUSE})


def watch(model: Model, before: State, inputs: Inputs, now_us: int) -> Step:
    """Run one pass at `now_us` from a copy of `before` and return all about it. `before` must not change later."""
    one = _WatchedPass(model.table, model.settings, State(*_values(before)), inputs, now_us)
    step = _watched(one, before)
    return with_contacts(step, inputs.trigger, inputs.purge, inputs.inch, inputs.trigger and not before.trigger_was)


def watch_open(model: Model, before: State, inputs: Inputs, now_us: int) -> Step:
    """Run a pass like `watch`, its contacts asked only where the table asks (see `_OpenPass`); `seen` lacks them."""
    return _watched(_OpenPass(model.table, model.settings, State(*_values(before)), inputs, now_us), before)


def with_contacts(step: Step, trigger: bool, purge: bool, inch: bool, press: bool) -> Step:
    """Return `step` with the contacts as it met them."""
    # By place, for this is done for every pass of the walk.
    kept: list[Any] = [*_values(step.after)[: -len(CONTACTS)], trigger, purge, inch]
    others: tuple[Any, ...] = step.seen[len(CONTACTS) + 1 :]
    seen, after = Seen(trigger, purge, inch, press, *others), State(*kept)
    return Step(step.model, seen, step.before, step.over, step.path, step.ran_out, after, *step[-3:])


def _watched(one: _WatchedPass, before: State) -> Step:
    model, inputs, state = Model(one.table, one.settings), one.inputs, one.state
    over = one.due()
    outputs = one.run()
    # The contactor as the pass before left it: it is off from there on.
    outputs_before = outputs_of(model, before)
    fault = inputs.interlock_open or inputs.supply_low
    overdue = over.arc_end and not outputs_before & CONTACTOR and not fault
    look = model.settings.arc_sensor and (Phase.WELD in one.path or not before.arc_seen_open or overdue)
    arc = look and inputs.arc
    arc_stays = overdue and arc
    fault = fault or arc_stays
    unwell = fault or (Phase.HOLD_OFF in one.path and (inputs.supply_poor or inputs.dial_fault))
    return Step(
        model=model,
        seen=Seen(
            trigger=False,
            purge=False,
            inch=False,
            press=False,
            fault=fault,
            unwell=unwell,
            arc=arc,
            arc_open=look and not arc,
            arc_stays=arc_stays,
            dial=not _BEFORE_A_WELD.isdisjoint(one.path) and inputs.dial_fault,
            mode=_mode(inputs) if latches(one.path) else (before.four_step, before.spot, before.stitch),
        ),
        before=before,
        over=over,
        path=tuple(one.path),
        ran_out=tuple(one.ran_out),
        after=state,
        over_after=one.due(),
        outputs_before=outputs_before,
        outputs=outputs,
    )


def latches(path: Sequence[int]) -> bool:
    """Tell whether trigger mode, spot and stitch are latched along `path`: on entering preflow, and by a press in
    postflow."""
    return Phase.PREFLOW in path[1:] or (Phase.POSTFLOW, Phase.WELD) in itertools.pairwise(path)


def _mode(inputs: Inputs) -> tuple[bool, bool, bool]:
    """Return four-step, spot and stitch as the panel has them: spot and stitch are two-step work."""
    stitch = bool(inputs.stitch and inputs.spot)
    return bool(inputs.four_step and not inputs.spot), bool(inputs.spot), stitch


def outputs_of(model: Model, state: State) -> int:
    """Return the outputs byte that a pass ending in `state` has left; 0 for a phase that the table does not have."""
    row = model.table.get(cast(Phase, state.phase))
    return 0 if row is None else row.outputs_bits


Answers = dict[str, int]
Choices = Mapping[str, tuple[int, ...]]
Result = TypeVar("Result")


class Questions:
    """Stands in for an object whose attributes decide what happens, and notes which of them were asked.

    The first of its choices is the answer to a question for which no answer is given.
    """

    def __init__(self, given: Answers, choices: Choices) -> None:
        self._answers = dict(given)
        self._choices = choices
        self._asked: list[str] = []

    def __getattr__(self, name: str) -> int:
        if name not in self._answers:
            self._answers[name] = self._choices[name][0]
            self._asked.append(name)
        return self._answers[name]


def all_ways(run: Callable[[Questions], Result], choices: Choices, forced: Answers) -> Iterator[tuple[Answers, Result]]:
    """Run `run` once for each way in which its questions can be answered; yield the answers and the result.

    `forced` is answered beforehand. What is missing from the answers was not asked: the result is the same for every
    choice of it. The ways exclude each other, and together they cover every combination of choices.
    """
    open_ways = [forced]
    while open_ways:
        questions = Questions(open_ways.pop(), choices)
        result = run(questions)
        answers, asked = questions._answers, questions._asked
        so_far = {name: value for name, value in answers.items() if name not in asked}
        for name in asked:
            open_ways += [{**so_far, name: other} for other in choices[name][1:]]
            so_far[name] = answers[name]
        yield so_far, result
