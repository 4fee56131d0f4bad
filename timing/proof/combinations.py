"""Every combination of the walk in figures, with what must stand after the pass: for another core to be compared with.

The walk asks the phase table once for passes that meet the same questions. Here each combination stands for itself,
whether the table asks or not. Before each pass a fault is shown that no table sets, so that what clears or sets the
fault differs from what leaves it alone. The instants lie on both sides of the wrap of a 32-bit clock.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from timing.proof.asking import Answers
from timing.proof.walk import Edge, Walk, edges_from
from timing.proof.world import NO_TIMER, Outcome, Situation, World
from timing.sequence.core.scan import Inputs, State

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


def finer(walked: Walk) -> Walk:
    """Return passes from the situations of `walked` as they may stand, and the walk need not tell apart.

    A time that is over is over by just less and by just more than what counts as a stall; timers that the table has
    no eye for are over; flags that can no longer matter are set.
    """
    world = walked.world
    return Walk(world, {situation: list(_finer_edges(world, situation)) for situation in walked.edges})


def _finer_edges(world: World, situation: Situation) -> Iterator[Edge]:
    filled = world.filled(situation)
    outcomes = _finer_outcomes(world, situation)
    if filled == situation:
        outcomes = [outcome for outcome in outcomes if outcome not in set(world.outcomes(situation))]
    yield from edges_from(world, filled, outcomes)


def _finer_outcomes(world: World, situation: Situation) -> list[Outcome]:
    stall_us = world.rig.settings.stall_us
    cares = world.cares.get(situation.phase, NO_TIMER)
    found = [
        Outcome(
            late_us if cares.time else 0,
            weld_limit or not cares.weld_limit,
            arc_limit or not cares.arc_limit,
            arc_end or not cares.arc_end,
        )
        for late_us, weld_limit, arc_limit, arc_end in world.outcomes(situation, (stall_us, stall_us + 1))
    ]
    return list(dict.fromkeys(found))


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
