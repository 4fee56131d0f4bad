"""The walk: from the ways a board can start, over every pass, to everything that can ever stand.

`figures` hands out every pass of it in figures, with what must stand after it: for another core to be compared with,
on each combination of inputs that the pass stands for. Before each pass a fault is shown that no table sets, so that
what clears or sets the fault differs from what leaves it alone. The instants lie on both sides of the wrap of a 32-bit
clock.
"""

from __future__ import annotations

import gc
import itertools
import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, fields
from enum import IntEnum
from functools import cached_property
from operator import attrgetter
from typing import NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from timing.proof.state_space import NOW_US, AbstractState, Outcome, StateSpace
from timing.proof.step import CONTACTS, Answers, Over, Questions, Step, all_ways, watch_open, with_contacts
from timing.sequence.core.scan import Inputs, State


class StateEdge(NamedTuple):
    """All passes from one situation that ask the same questions and get the same answers."""

    answers: Answers
    """Values of inputs; what is missing was not asked, and may be anything."""
    outcome: Outcome
    step: Step
    to: AbstractState


@dataclass(frozen=True)
class PassGroup:
    """Edges that situations share where contacts were otherwise in the pass before and it does not matter."""

    edges: list[StateEdge]
    all_open: bool
    """Trigger and buttons are open in all of them; else in none."""

    @cached_property
    def targets(self) -> tuple[AbstractState, ...]:
        """Return where they end, each once."""
        return tuple(dict.fromkeys(edge.to for edge in self.edges))


@dataclass(frozen=True)
class Walk:
    """Every situation that can be reached, and every pass from it."""

    world: StateSpace
    groups: dict[AbstractState, list[PassGroup]]

    @cached_property
    def edges(self) -> dict[AbstractState, list[StateEdge]]:
        """Return the passes from each situation."""
        return {
            situation: list(itertools.chain.from_iterable(group.edges for group in groups))
            for situation, groups in self.groups.items()
        }

    @cached_property
    def input_combinations(self) -> int:
        """Number of combinations of inputs, the same in every situation."""
        return math.prod(len(values) for values in self.world.choices.values())

    def combinations(self, situation: AbstractState) -> int:
        """Return how many combinations of timers and inputs a pass from `situation` can meet."""
        return len(self.world.outcomes(situation)) * self.input_combinations

    @cached_property
    def total(self) -> int:
        """Number of combinations of situation, timers and inputs."""
        return sum(self.combinations(situation) for situation in self.groups)


def walk(world: StateSpace) -> Walk:
    """Walk all of `world`."""
    starts = [world.at_rest(), world.power_up(), *world.corrupt()]
    passes = Passes(world)
    groups: dict[AbstractState, list[PassGroup]] = {}
    waiting = deque(starts)
    while waiting:
        situation = waiting.popleft()
        if situation in groups:
            continue
        groups[situation] = passes.groups(situation, world.outcomes(situation))
        for group in groups[situation]:
            waiting.extend(group.targets)
    return Walk(world, groups)


@contextmanager
def without_cycle_search() -> Iterator[None]:
    """Keep the interpreter from looking for cycles among objects meanwhile.

    The walk keeps nearly all that it makes, and next to none of it is in cycles: looking for them again and again took
    more than a third of the time. What is let go of is freed all the same, by its reference count.
    """
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


class _Contact(IntEnum):
    """How a pass finds a contact."""

    OPEN = 0
    HELD = 1
    FRESH = 2
    """Closed, and open in the pass before."""


_OF_CONTACTS = frozenset((*CONTACTS, *(f"{contact}_fresh" for contact in CONTACTS)))

Core = tuple[tuple[int, ...], Over]
"""A situation without its contacts."""


@dataclass(frozen=True)
class _OpenPasses:
    """Every pass from one core with the timers standing one way: contacts open where the table does not ask."""

    found: list[tuple[Answers, Answers, Step, Core]]
    """What was asked and answered of the contacts, and of the rest; the pass, and where it ends."""
    tells_fresh: tuple[bool, ...]
    """For each of CONTACTS: whether it matters to any of these passes, or to a rule, if it was closed before."""
    groups: dict[tuple[int, ...], PassGroup] = field(default_factory=dict)


class Passes:
    """The passes of one world. Each is run once, whatever the contacts that it does not ask for.

    A pass that finds a contact open does as well after one that found it closed as after one that found it open. And
    most phases do not look at the buttons at all. So the table is run on situations without their contacts, and what
    the contacts leave is filled in.
    """

    def __init__(self, world: StateSpace) -> None:
        self._world = world
        self._choices = {**world.choices, **{f"{contact}_fresh": (False, True) for contact in CONTACTS}}
        self._now = list(itertools.product(*(world.choices[contact] for contact in CONTACTS)))
        self._open: dict[tuple[Core, Outcome, bool], _OpenPasses] = {}

    def groups(self, situation: AbstractState, outcomes: Iterable[Outcome]) -> list[PassGroup]:
        """Return every pass from `situation` with the timers standing as one of `outcomes` says."""
        core = situation.kept[: -len(CONTACTS)], situation.over
        was = situation.kept[-len(CONTACTS) :]
        found = []
        looks = self._world.looks_at_what_is_dead(situation.phase)
        for outcome in outcomes:
            # What does not matter stands this way in half of what is walked, and that way in the other half.
            turned = sum(was if looks else map(bool, outcome)) % 2 > 0
            key = core, outcome, turned
            if key not in self._open:
                self._open[key] = self._open_passes(*key)
            passes = self._open[key]
            for now in self._now:
                ways = tuple(
                    _Contact.OPEN if not closed else _Contact.HELD if closed_before or not tells else _Contact.FRESH
                    for closed, closed_before, tells in zip(now, was, passes.tells_fresh, strict=True)
                )
                if ways not in passes.groups:
                    passes.groups[ways] = _group(passes.found, ways, outcome)
                found.append(passes.groups[ways])
        return found

    def _open_passes(self, core: Core, outcome: Outcome, turned: bool) -> _OpenPasses:
        world = self._world
        state = world.state(AbstractState((*core[0], turned, False, False), core[1]), outcome)

        def run(questions: Questions) -> Step:
            return watch_open(world.model, state, cast(Inputs, questions), NOW_US)

        found = []
        for answers, step in all_ways(run, self._choices, {}):
            to = world.after(step)
            of_contacts = {name: answer for name, answer in answers.items() if name in _OF_CONTACTS}
            others = {name: answer for name, answer in answers.items() if name not in _OF_CONTACTS}
            found.append((of_contacts, others, step, (to.kept[: -len(CONTACTS)], to.over)))
        asked = {name for of_contacts, *_ in found for name in of_contacts}
        # A rule may ask whether the trigger was pressed.
        tells = tuple(contact == "trigger" or f"{contact}_fresh" in asked for contact in CONTACTS)
        return _OpenPasses(found, tells)


def _group(found: list[tuple[Answers, Answers, Step, Core]], ways: tuple[int, ...], outcome: Outcome) -> PassGroup:
    """Return the edges of those passes that meet the contacts as `ways` says."""
    trigger, purge, inch = (way is not _Contact.OPEN for way in ways)
    met = dict(zip(CONTACTS, (trigger, purge, inch), strict=True))
    met |= {f"{contact}_fresh": way is _Contact.FRESH for contact, way in zip(CONTACTS, ways, strict=True)}
    press = ways[0] is _Contact.FRESH
    now: Answers = dict(zip(CONTACTS, (trigger, purge, inch), strict=True))
    edges = []
    for of_contacts, others, step, (kept, over) in found:
        if of_contacts.items() <= met.items():
            to = AbstractState((*kept, trigger, purge, inch), over)
            edges.append(StateEdge(now | others, outcome, with_contacts(step, trigger, purge, inch, press), to))
    return PassGroup(edges, not (trigger or purge or inch))


Figures = NDArray[np.uint32]

STATE_FIELDS = tuple(field.name for field in fields(State))
INPUT_FIELDS = tuple(field.name for field in fields(Inputs))
NOT_ASKED = 0xFFFFFFFF
"""Stands in figures for an input that a pass does not ask for; no input can be that."""
_CLOCK_MASK = 0xFFFFFFFF
_BLOCK = 65_536
_values = attrgetter(*STATE_FIELDS)


@dataclass(frozen=True)
class PassFigures:
    """Many passes in figures, N of them: what the sequence makes of each at NOW_US."""

    before: Figures
    """Shape (N, STATE_FIELDS), instants as a 32-bit clock has them."""
    inputs: Figures
    """Shape (N, INPUT_FIELDS); NOT_ASKED where every choice gives the same."""
    after: Figures
    """Shape (N, STATE_FIELDS)."""
    outputs: Figures
    """Shape (N,): outputs byte after the pass."""
    combinations: int
    """How many combinations of inputs they stand for, all together."""


def figures(walked: Walk) -> Iterator[PassFigures]:
    """Yield every pass of `walked` in figures, some ten thousand at a time."""
    tables = _GroupFigures(walked)
    block: list[tuple[AbstractState, PassGroup]] = []
    size = 0
    for situation, groups in walked.groups.items():
        block += [(situation, group) for group in groups]
        size += sum(len(group.edges) for group in groups)
        if size >= _BLOCK:
            yield tables.of(block)
            block, size = [], 0
    if block:
        yield tables.of(block)


class _GroupFigures:
    """The figures of every group of passes, each worked out once."""

    def __init__(self, walked: Walk) -> None:
        self._choices = walked.world.choices
        groups = {id(group): group for found in walked.groups.values() for group in found}
        edges = [edge for group in groups.values() for edge in group.edges]
        self._places: dict[int, NDArray[np.intp]] = {}
        place = 0
        for key, group in groups.items():
            self._places[key] = np.arange(place, place + len(group.edges))
            place += len(group.edges)
        self._before = _rows([_values(edge.step.before) for edge in edges])
        self._after = _rows([_values(edge.step.after) for edge in edges])
        self._inputs = _rows([tuple(edge.answers.get(name, NOT_ASKED) for name in INPUT_FIELDS) for edge in edges])
        self._outputs = np.array([edge.step.outputs for edge in edges], np.uint32)

    def of(self, block: Sequence[tuple[AbstractState, PassGroup]]) -> PassFigures:
        """Return the figures of `block`, the contacts before each pass as they are in its situation."""
        places = [self._places[id(group)] for _, group in block]
        which = np.concatenate(places)
        was = _rows([situation.kept[-len(CONTACTS) :] for situation, _ in block])
        before = self._before[which]
        before[:, -len(CONTACTS) :] = np.repeat(was, [len(part) for part in places], axis=0)
        inputs = self._inputs[which]
        sizes = np.array([len(self._choices[name]) for name in INPUT_FIELDS])
        combinations = int(np.where(inputs == NOT_ASKED, sizes, 1).prod(axis=1).sum())
        return PassFigures(before, inputs, self._after[which], self._outputs[which], combinations)


def _rows(rows: Sequence[tuple[int, ...]]) -> Figures:
    return (np.array(rows, np.int64) & _CLOCK_MASK).astype(np.uint32)
