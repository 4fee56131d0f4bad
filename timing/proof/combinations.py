"""Every combination of the walk in figures, with what must stand after the pass: for another core to be compared with.

The walk asks the phase table once for passes that meet the same questions. Here each combination stands for itself,
whether the table asks or not, and each timer that is over is over by nothing, by just less and by just more than what
counts as a stall. One that is not over lacks a microsecond. Timers that the table has no eye for stand both ways in
turn. The instants lie on both sides of the wrap of a 32-bit clock.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from timing.proof.asking import Answers
from timing.proof.step import Step
from timing.proof.walk import Walk, passes
from timing.proof.world import NO_TIMER, NOW_US, Outcome, Situation
from timing.sequence.passes import Inputs, State
from timing.sequence.table import Fault

Column = NDArray[np.uint32]

STATE_FIELDS = tuple(field.name for field in fields(State))
INPUT_FIELDS = tuple(field.name for field in fields(Inputs))
_CLOCK_MASK = 0xFFFFFFFF


@dataclass(frozen=True)
class Combinations:
    """One state under every combination of inputs. N combinations."""

    before: State
    now_us: int
    inputs: dict[str, Column]
    """Shape (N,) by field of Inputs; the same N in every one."""
    after: dict[str, Column]
    """Shape (N,) by field of State, instants as a 32-bit clock has them."""
    outputs: NDArray[np.uint8]
    """Shape (N,): outputs byte after the pass."""


def combinations(walked: Walk) -> Iterator[Combinations]:
    """Yield every combination of `walked`, a state at a time."""
    inputs = _input_grid(walked)
    for number, (situation, outcome) in enumerate(_moments(walked)):
        before = walked.world.state(situation, outcome)
        before.fault = number % len(Fault)
        ways = passes(walked.world, before)
        which = np.zeros(len(inputs["trigger"]), np.intp)
        for index, (answers, _) in enumerate(ways):
            which[_matching(inputs, answers, walked)] = index
        rows = np.array([_row(step) for _, step in ways], np.uint32)[which]
        after = dict(zip(STATE_FIELDS, rows.T, strict=True))
        outputs = np.array([step.outputs for _, step in ways], np.uint8)[which]
        yield Combinations(before, NOW_US, inputs, after, outputs)


def _input_grid(walked: Walk) -> dict[str, Column]:
    choices = [walked.world.choices[name] for name in INPUT_FIELDS]
    grid = np.array(list(itertools.product(*choices)), np.uint32)
    return dict(zip(INPUT_FIELDS, grid.T, strict=True))


def _moments(walked: Walk) -> Iterator[tuple[Situation, Outcome]]:
    world = walked.world
    stall_us = world.rig.settings.stall_us
    turns = itertools.cycle((False, True))
    for situation in walked.edges:
        cares = world.cares.get(situation.phase, NO_TIMER)
        for late_us, weld_limit, arc_limit in world.outcomes(situation, (stall_us, stall_us + 1)):
            over = next(turns)
            yield (
                situation,
                Outcome(
                    late_us if cares.time or not over else 0,
                    weld_limit if cares.weld_limit else over,
                    arc_limit if cares.arc_limit else over,
                ),
            )


def _matching(inputs: dict[str, Column], answers: Answers, walked: Walk) -> NDArray[np.bool_]:
    asked = [name for name in answers if len(walked.world.choices[name]) > 1]
    match = np.ones(len(inputs["trigger"]), np.bool_)
    for name in asked:
        match &= inputs[name] == answers[name]
    return match


def _row(step: Step) -> list[int]:
    return [int(getattr(step.after, name)) & _CLOCK_MASK for name in STATE_FIELDS]
