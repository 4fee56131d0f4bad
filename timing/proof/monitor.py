"""A rule followed along the passes of the walk, from every start, until something breaks it.

What must come about in the end: with trigger and buttons open, every way leads to all off, and stays there. Whether
the arc comes or goes, faults come or go and dials are turned does not matter: all that is walked. Only one thing is
taken for granted: time passes, so that a timer that is not started anew runs out one day. A breach is a round of
passes that could go on for ever with an output on, without any timer standing still.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

from timing.proof.exploration import PassGroup, StateEdge, Walk
from timing.proof.rules import ProofRule
from timing.proof.state_space import NO_TIMER, AbstractState
from timing.proof.step import CONTACTOR, Step

Node = tuple[AbstractState, Hashable]
"""A situation, and what is remembered of the way there."""


@dataclass(frozen=True)
class Breach:
    """Passes, the last of which breaks a rule."""

    at_rest: bool
    """True where they begin on a board in idle, False where at power-up or in an impossible state."""
    edges: tuple[StateEdge, ...]


@dataclass(frozen=True)
class Monitor:
    """What to follow: where it begins, and what to make of each pass."""

    starts: tuple[Node, ...]
    observe: Callable[[Hashable, StateEdge], tuple[Hashable, bool]]
    """From what is remembered and a pass to what is remembered then, and whether the pass is a breach."""


def monitor_of(rule: ProofRule, walk: Walk) -> Monitor:
    """Return how to follow `rule`."""
    world = walk.world
    starts = (
        (world.at_rest(), rule.at_rest),
        (world.power_up(), rule.at_power_up),
        *((situation, rule.at_rest) for situation in world.corrupt()),
    )
    return Monitor(starts, lambda memory, edge: rule.observe(memory, edge.step))


def steps_of_walk(walk: Walk) -> Iterator[Step]:
    """Yield every pass of `walk`, those that situations share once."""
    groups = {id(group): group for found in walk.groups.values() for group in found}
    for group in groups.values():
        for edge in group.edges:
            yield edge.step


def combinations_without_breach(walk: Walk, monitor: Monitor) -> int | None:
    """Follow `monitor` to the end; return how many combinations it met, or None where one is a breach.

    Like a whole `Search`, but what becomes of a memory in a group of passes is worked out once.
    """
    met = set(monitor.starts)
    waiting = list(monitor.starts)
    known: dict[tuple[int, Hashable], set[Node]] = {}
    while waiting:
        situation, memory = waiting.pop()
        for group in walk.groups[situation]:
            key = id(group), memory
            if key not in known:
                after = _after(group, memory, monitor)
                if after is None:
                    return None
                known[key] = after
            new = known[key] - met
            met |= new
            waiting.extend(new)
    return sum(walk.combinations(situation) for situation, _ in met)


def _after(group: PassGroup, memory: Hashable, monitor: Monitor) -> set[Node] | None:
    after = set[Node]()
    for edge in group.edges:
        remembered, broken = monitor.observe(memory, edge)
        if broken:
            return None
        after.add((edge.to, remembered))
    return after


def _all_possible(breach: Breach) -> bool:
    return bool(breach.edges)


class Search:
    """One search, breadth first: breaches come shortest first."""

    def __init__(self, walk: Walk, monitor: Monitor, possible: Callable[[Breach], bool] = _all_possible) -> None:
        """Set out. Ways that are not `possible` are not gone."""
        self._walk = walk
        self._monitor = monitor
        self._possible = possible
        self._came: dict[Node, tuple[Node, StateEdge] | None] = dict.fromkeys(monitor.starts)

    @property
    def combinations(self) -> int:
        """Number of combinations met so far: of pass, and of what was remembered before it."""
        return sum(self._walk.combinations(situation) for situation, _ in self._came)

    def breaches(self) -> Iterator[Breach]:
        """Yield each breach as it is met, and go on until there is nothing new."""
        waiting = deque(self._came)
        while waiting:
            node = waiting.popleft()
            situation, memory = node
            for edge in self._walk.edges[situation]:
                remembered, broken = self._monitor.observe(memory, edge)
                to = (edge.to, remembered)
                if not broken and to in self._came:
                    continue
                way = self._way(node, edge)
                if not self._possible(way):
                    continue
                if broken:
                    yield way
                else:
                    self._came[to] = (node, edge)
                    waiting.append(to)

    def _way(self, node: Node, last: StateEdge) -> Breach:
        edges = [last]
        while (came := self._came[node]) is not None:
            node, edge = came
            edges.append(edge)
        return Breach(node[0] == self._walk.world.at_rest(), tuple(reversed(edges)))


Graph = dict[AbstractState, list[StateEdge]]


def liveness_monitor(walk: Walk) -> Monitor:
    """Return how to find a pass, everything open, that ends in a round without end."""
    left_alone = {
        situation: [edge for group in groups if group.all_open for edge in group.edges]
        for situation, groups in walk.groups.items()
    }
    on = {int(phase) for phase, row in walk.world.model.table.items() if row.outputs}
    endless = {
        situation for members in _endless_rounds(walk, left_alone) for situation in members if situation.phase in on
    }
    return Monitor(
        ((walk.world.at_rest(), None), (walk.world.power_up(), None)),
        lambda memory, edge: (memory, edge.to in endless and edge.step.seen.all_open),
    )


def _endless_rounds(walk: Walk, graph: Graph) -> list[set[AbstractState]]:
    """Return the sets of situations in which passes can go round for ever while time passes."""
    found, waiting = [], [graph]
    while waiting:
        open_graph = waiting.pop()
        targets = {situation: {edge.to for edge in edges} for situation, edges in open_graph.items()}
        for members in strongly_connected_components(targets):
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


def _found_running(walk: Walk, situation: AbstractState, edge: StateEdge) -> set[int]:
    cares = walk.world.cares.get(situation.phase, NO_TIMER)
    return {timer for timer, over in enumerate(edge.step.over) if cares[timer] and not over}


def _moved(edge: StateEdge) -> set[int]:
    before, after = edge.step.before, edge.step.after
    over = {timer for timer, over in enumerate(edge.step.over) if over}
    phase = {0, 2} if before.since_us != after.since_us else set[int]()
    weld = {1} if before.weld_since_us != after.weld_since_us else set[int]()
    contactor = {3} if edge.step.outputs_before & CONTACTOR else set[int]()
    return over | phase | weld | contactor


Place = TypeVar("Place", bound=Hashable)


def strongly_connected_components(graph: Mapping[Place, Iterable[Place]]) -> list[set[Place]]:
    """Return the strongly connected parts of `graph` that hold at least one edge.

    R. Tarjan, Depth-first search and linear graph algorithms, SIAM J. Comput. 1 (1972); without recursion.
    """
    found: list[set[Place]] = []
    number: dict[Place, int] = {}
    lowest: dict[Place, int] = {}
    # The places of the part under way, in the order in which they were met.
    stack: list[Place] = []
    on_stack: set[Place] = set()

    def meet(place: Place) -> tuple[Place, Iterator[Place]]:
        number[place] = lowest[place] = len(number)
        stack.append(place)
        on_stack.add(place)
        return place, iter(graph[place])

    def close(place: Place) -> None:
        part = set[Place]()
        while place not in part:
            part.add(stack.pop())
        on_stack.difference_update(part)
        if len(part) > 1 or place in graph[place]:
            found.append(part)

    for first in graph:
        if first in number:
            continue
        way = [meet(first)]
        while way:
            place, ahead = way[-1]
            to = next(ahead, None)
            if to is None:
                way.pop()
                if way:
                    came = way[-1][0]
                    lowest[came] = min(lowest[came], lowest[place])
                if lowest[place] == number[place]:
                    close(place)
            elif to not in number:
                way.append(meet(to))
            elif to in on_stack:
                lowest[place] = min(lowest[place], number[to])
    return found
