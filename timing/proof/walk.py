"""The walk: from the ways a board can start, over every pass, to everything that can ever stand."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple, cast

from timing.proof.asking import Answers, Questions, all_ways
from timing.proof.step import Step, watch
from timing.proof.world import NOW_US, Outcome, Situation, World
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
