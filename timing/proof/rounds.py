"""Rounds in a graph: the sets of places from each of which one can come back to it."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from typing import TypeVar

Place = TypeVar("Place", bound=Hashable)


def rounds(graph: Mapping[Place, Iterable[Place]]) -> list[set[Place]]:
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
