"""What comes about in the end: with trigger and buttons open, every way leads to all off, and stays there.

Whether the arc comes or goes, faults come or go and dials are turned does not matter: all that is walked. Only one
thing is taken for granted: time passes, so that a timer that is not started anew runs out one day. A breach is a round
of passes that could go on for ever with an output on, without any timer standing still.
"""

from __future__ import annotations

from timing.proof.following import Pursuit
from timing.proof.rounds import rounds
from timing.proof.step import CONTACTOR
from timing.proof.walk import Edge, Walk
from timing.proof.world import NO_TIMER, Situation

Graph = dict[Situation, list[Edge]]


def pursuit_to_the_end(walk: Walk) -> Pursuit:
    """Return how to find a pass, everything open, that ends in a round without end."""
    left_alone = {
        situation: [edge for edge in edges if edge.step.seen.all_open] for situation, edges in walk.edges.items()
    }
    on = {int(phase) for phase, row in walk.world.model.table.items() if row.outputs}
    endless = {
        situation for members in _endless_rounds(walk, left_alone) for situation in members if situation.phase in on
    }
    return Pursuit(
        ((walk.world.at_rest(), None), (walk.world.power_up(), None)),
        lambda memory, edge: (memory, edge.to in endless and edge.step.seen.all_open),
    )


def _endless_rounds(walk: Walk, graph: Graph) -> list[set[Situation]]:
    """Return the sets of situations in which passes can go round for ever while time passes."""
    found, waiting = [], [graph]
    while waiting:
        open_graph = waiting.pop()
        targets = {situation: {edge.to for edge in edges} for situation, edges in open_graph.items()}
        for members in rounds(targets):
            inside = {
                situation: [edge for edge in open_graph[situation] if edge.to in members] for situation in members
            }
            standing = _standing_still(walk, inside)
            if standing:
                # A timer that stands still runs out one day: passes that find it running do not go on for ever.
                waiting.append(_without(walk, inside, standing))
            else:
                found.append(members)
    return found


def _standing_still(walk: Walk, graph: Graph) -> set[int]:
    """Return the timers that some passes of `graph` find running, and none finds over or starts anew."""
    running, moving = set[int](), set[int]()
    for situation, edges in graph.items():
        for edge in edges:
            running |= _found_running(walk, situation, edge)
            moving |= _moved(edge)
    return running - moving


def _without(walk: Walk, graph: Graph, standing: set[int]) -> Graph:
    return {
        situation: [edge for edge in edges if not standing & _found_running(walk, situation, edge)]
        for situation, edges in graph.items()
    }


def _found_running(walk: Walk, situation: Situation, edge: Edge) -> set[int]:
    cares = walk.world.cares.get(situation.phase, NO_TIMER)
    return {timer for timer, over in enumerate(edge.step.over) if cares[timer] and not over}


def _moved(edge: Edge) -> set[int]:
    before, after = edge.step.before, edge.step.after
    over = {timer for timer, over in enumerate(edge.step.over) if over}
    phase = {0, 2} if before.since_us != after.since_us else set[int]()
    weld = {1} if before.weld_since_us != after.weld_since_us else set[int]()
    contactor = {3} if edge.step.outputs_before & CONTACTOR else set[int]()
    return over | phase | weld | contactor
