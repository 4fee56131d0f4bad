"""The wires in the feeder that are no way of the connector: those right at the loads, and behind contactors."""

from __future__ import annotations

from timing.circuit.lists import WireRow, wire_list
from timing.circuit.parts import Group, Netlist, PartKind

MOST_ASIDE = 20
"""Wires at the loads that are listed beside the connector; with more they get a sheet of their own."""


def at_loads(wiring: Netlist) -> list[WireRow]:
    """Return the wires in the feeder that end neither at the connector nor at the tapped winding."""
    aside = {mate.fixed for mate in wiring.mates} | {wiring.the(Group.FEEDER, PartKind.TRANSFORMER).ref}

    def of(end: str) -> str:
        return end.partition(".")[0]

    return [
        wire for wire in wire_list(wiring)
        if not wire.on_board and not wire.from_end.startswith("*") and wiring.part(of(wire.from_end)).place == "feeder"
        and not {of(wire.from_end), of(wire.to_end)} & aside
    ]  # fmt: skip


def loads_apart(wiring: Netlist) -> bool:
    """Tell whether the wires at the loads need a sheet of their own: with many, or with contactors before the loads."""
    return len(at_loads(wiring)) > MOST_ASIDE or wiring.first_of_kind(PartKind.INTERPOSING_CONTACTOR) is not None
