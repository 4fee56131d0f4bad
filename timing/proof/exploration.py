"""The walk: from the ways a board can start, over every pass, to everything that can ever stand.

`combinations` hands out every combination of it in figures, with what must stand after the pass: for another core to
be compared with. The walk asks the phase table once for passes that meet the same questions; there each combination
stands for itself, whether the table asks or not. Before each pass a fault is shown that no table sets, so that what
clears or sets the fault differs from what leaves it alone. The instants lie on both sides of the wrap of a 32-bit
clock.
"""

from __future__ import annotations

import itertools
import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from operator import attrgetter
from typing import NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from timing.proof.state_space import NOW_US, Outcome, Situation, World
from timing.proof.step import Answers, Questions, Step, all_ways, watch
from timing.sequence.core.scan import Inputs, State


class Edge(NamedTuple):
    """All passes from one situation that ask the same questions and get the same answers."""

    answers: Answers
    """Values of inputs; what is missing was not asked, and may be anything."""
    outcome: Outcome
    step: Step
    to: Situation


@dataclass(frozen=True)
class Walk:
    """Every situation that can be reached, and every pass from it."""

    world: World
    edges: dict[Situation, list[Edge]]

    @property
    def input_combinations(self) -> int:
        """Number of combinations of inputs, the same in every situation."""
        return math.prod(len(values) for values in self.world.choices.values())

    def combinations(self, situation: Situation) -> int:
        """Return how many combinations of timers and inputs a pass from `situation` can meet."""
        return len(self.world.outcomes(situation)) * self.input_combinations

    @property
    def total(self) -> int:
        """Number of combinations of situation, timers and inputs."""
        return sum(self.combinations(situation) for situation in self.edges)


def walk(world: World) -> Walk:
    """Walk all of `world`."""
    starts = [world.at_rest(), world.power_up(), *world.corrupt()]
    edges: dict[Situation, list[Edge]] = {}
    waiting = deque(starts)
    while waiting:
        situation = waiting.popleft()
        if situation in edges:
            continue
        edges[situation] = edges_from(world, situation, world.outcomes(situation))
        waiting.extend(edge.to for edge in edges[situation])
    return Walk(world, edges)


def edges_from(world: World, situation: Situation, outcomes: Iterable[Outcome]) -> list[Edge]:
    """Return every pass from `situation` with the timers standing as one of `outcomes` says."""
    return [
        Edge(answers, outcome, step, world.after(step))
        for outcome in outcomes
        for answers, step in passes(world, world.state(situation, outcome))
    ]


def passes(world: World, state: State) -> list[tuple[Answers, Step]]:
    """Return a pass from `state` for each way of answering what it asks, and what rules may ask of it."""

    def run(questions: Questions) -> Step:
        return watch(world.model, state, cast(Inputs, questions), NOW_US)

    return list(all_ways(run, world.choices, {}))


Column = NDArray[np.uint32]

STATE_FIELDS = tuple(field.name for field in fields(State))
INPUT_FIELDS = tuple(field.name for field in fields(Inputs))
_CLOCK_MASK = 0xFFFFFFFF
_BLOCK = 65_536
_values = attrgetter(*STATE_FIELDS)


@dataclass(frozen=True)
class Combinations:
    """Many combinations of state and inputs, N of them, and what the sequence makes of each in one pass at NOW_US."""

    before: dict[str, Column]
    """Shape (N,) by field of State, instants as a 32-bit clock has them."""
    inputs: dict[str, Column]
    """Shape (N,) by field of Inputs."""
    after: dict[str, Column]
    """Shape (N,) by field of State."""
    outputs: NDArray[np.uint8]
    """Shape (N,): outputs byte after the pass."""


def combinations(walked: Walk) -> Iterator[Combinations]:
    """Yield every combination of `walked`, some ten thousand at a time."""
    grid = _Grid(walked.world)
    edges: list[Edge] = []
    rows = 0
    for edge in itertools.chain.from_iterable(walked.edges.values()):
        edges.append(edge)
        rows += grid.count(edge.answers)
        if rows >= _BLOCK:
            yield _block(edges, grid)
            edges, rows = [], 0
    if edges:
        yield _block(edges, grid)


class _Grid:
    """All combinations of inputs in a fixed order, and which of them some answers stand for."""

    def __init__(self, world: World) -> None:
        self._choices = [world.choices[name] for name in INPUT_FIELDS]
        sizes = [len(values) for values in self._choices]
        self._strides = dict(
            zip(INPUT_FIELDS, (math.prod(sizes[place + 1 :]) for place in range(len(sizes))), strict=True)
        )
        self._places = {
            name: {value: place * self._strides[name] for place, value in enumerate(values)}
            for name, values in zip(INPUT_FIELDS, self._choices, strict=True)
        }
        self._open: dict[frozenset[str], NDArray[np.intp]] = {}

    @cached_property
    def columns(self) -> NDArray[np.uint32]:
        """Shape (fields of Inputs, combinations)."""
        return np.array(list(itertools.product(*self._choices)), np.uint32).T

    def count(self, answers: Answers) -> int:
        """Return how many combinations `answers` stand for."""
        return len(self._left_open(answers))

    def matching(self, answers: Answers) -> NDArray[np.intp]:
        """Return the places of the combinations that `answers` stand for."""
        first = sum(self._places[name][value] for name, value in answers.items())
        return self._left_open(answers) + first

    def _left_open(self, answers: Answers) -> NDArray[np.intp]:
        asked = frozenset(answers)
        if asked not in self._open:
            steps = [list(self._places[name].values()) for name in INPUT_FIELDS if name not in asked]
            self._open[asked] = np.array([sum(way) for way in itertools.product(*steps)], np.intp)
        return self._open[asked]


def _block(edges: Sequence[Edge], grid: _Grid) -> Combinations:
    found = [grid.matching(edge.answers) for edge in edges]
    which = np.repeat(np.arange(len(edges)), [len(places) for places in found])
    inputs = grid.columns[:, np.concatenate(found)]
    outputs = np.array([edge.step.outputs for edge in edges], np.uint8)
    return Combinations(
        _columns([edge.step.before for edge in edges], which),
        dict(zip(INPUT_FIELDS, inputs, strict=True)),
        _columns([edge.step.after for edge in edges], which),
        outputs[which],
    )


def _columns(states: Sequence[State], which: NDArray[np.intp]) -> dict[str, Column]:
    rows = np.array([_values(state) for state in states], np.int64) & _CLOCK_MASK
    return dict(zip(STATE_FIELDS, rows.astype(np.uint32).T[:, which], strict=True))
