"""A rule followed along the passes of the walk, from every start, until something breaks it."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass

from timing.proof.rules import Rule
from timing.proof.walk import Edge, Walk
from timing.proof.world import Situation

Node = tuple[Situation, Hashable]
"""A situation, and what is remembered of the way there."""


@dataclass(frozen=True)
class Breach:
    """Passes, the last of which breaks a rule."""

    at_rest: bool
    """True where they begin on a board in idle, False where at power-up or in an impossible state."""
    edges: tuple[Edge, ...]


@dataclass(frozen=True)
class Pursuit:
    """What to follow: where it begins, and what to make of each pass."""

    starts: tuple[Node, ...]
    observe: Callable[[Hashable, Edge], tuple[Hashable, bool]]
    """From what is remembered and a pass to what is remembered then, and whether the pass is a breach."""


def pursuit_of(rule: Rule, walk: Walk) -> Pursuit:
    """Return how to follow `rule`."""
    world = walk.world
    starts = (
        (world.at_rest(), rule.at_rest),
        (world.power_up(), rule.at_power_up),
        *((situation, rule.at_rest) for situation in world.corrupt()),
    )
    return Pursuit(starts, lambda memory, edge: rule.observe(memory, edge.step))


def _all_possible(breach: Breach) -> bool:
    return bool(breach.edges)


class Search:
    """One search, breadth first: breaches come shortest first."""

    def __init__(self, walk: Walk, pursuit: Pursuit, possible: Callable[[Breach], bool] = _all_possible) -> None:
        """Set out. Ways that are not `possible` are not gone."""
        self._walk = walk
        self._pursuit = pursuit
        self._possible = possible
        self._came: dict[Node, tuple[Node, Edge] | None] = dict.fromkeys(pursuit.starts)

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
                remembered, broken = self._pursuit.observe(memory, edge)
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

    def _way(self, node: Node, last: Edge) -> Breach:
        edges = [last]
        while (came := self._came[node]) is not None:
            node, edge = came
            edges.append(edge)
        return Breach(node[0] == self._walk.world.at_rest(), tuple(reversed(edges)))
