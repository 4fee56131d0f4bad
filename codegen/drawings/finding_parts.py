"""Finding parts in a netlist by what they are and what they connect."""

from __future__ import annotations

from collections.abc import Iterator

from timing.circuit.parts import Netlist, Part


def parts_of(wiring: Netlist, group: str, *kinds: str) -> Iterator[Part]:
    """Return the parts of a group, of some kinds if any are named."""
    return (part for part in wiring.parts if part.group == group and (not kinds or part.kind in kinds))


def one_of(wiring: Netlist, group: str, *kinds: str) -> Part | None:
    """Return the first part of a group and some kinds, or None."""
    return next(parts_of(wiring, group, *kinds), None)


def between(wiring: Netlist, first: str, second: str, *kinds: str) -> list[str]:
    """Return the refs of the parts with two terminals that lie between two nets."""
    ends: dict[str, set[str]] = {}
    for net in wiring.nets:
        for terminal in net.terminals:
            ends.setdefault(terminal.ref, set()).add(net.name)
    return [
        part.ref
        for part in wiring.parts
        if len(part.terminals) == 2 and ends[part.ref] == {first, second} and (not kinds or part.kind in kinds)
    ]


def only_between(wiring: Netlist, first: str, second: str, *kinds: str) -> str:
    """Return the ref of the one part between two nets. Raises LookupError unless there is exactly one."""
    found = between(wiring, first, second, *kinds)
    if len(found) != 1:
        raise LookupError(f"{len(found)} parts between {first} and {second}, not one")
    return found[0]


def has_net(wiring: Netlist, name: str) -> bool:
    """Tell whether a netlist has a net of that name."""
    return any(net.name == name for net in wiring.nets)
