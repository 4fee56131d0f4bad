"""Passes from where the walk goes, as finely as a board may stand: for the compiled core to be compared with."""

from __future__ import annotations

from timing.proof.exploration import Passes, PassGroup, Walk
from timing.proof.state_space import NO_TIMER, AbstractState, Outcome, StateSpace


def finer(walked: Walk) -> Walk:
    """Return passes from the situations of `walked` as they may stand, and the walk need not tell apart.

    A time that is over is over by just less and by just more than what counts as a stall; timers that the table has
    no eye for are over; flags that can no longer matter are set.
    """
    world = walked.world
    passes = Passes(world)
    return Walk(world, {situation: _finer_groups(world, passes, situation) for situation in walked.groups})


def _finer_groups(world: StateSpace, passes: Passes, situation: AbstractState) -> list[PassGroup]:
    filled = world.filled(situation)
    outcomes = _finer_outcomes(world, situation)
    if filled == situation:
        outcomes = [outcome for outcome in outcomes if outcome not in set(world.outcomes(situation))]
    return passes.groups(filled, outcomes)


def _finer_outcomes(world: StateSpace, situation: AbstractState) -> list[Outcome]:
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
