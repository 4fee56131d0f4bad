"""Which wires and parts stand on which sheet of the wiring, and the letters for how to run a wire."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from timing.circuit.lists import WireRow, wire_list
from timing.circuit.parts import Group, Netlist, Part, PartKind

MOST_ASIDE = 20
"""Wires at the loads that are listed beside the connector; with more they get a sheet of their own."""
SUPPRESSION = (PartKind.DIODE, PartKind.ZENER, PartKind.VARISTOR)
PANEL_PITCH, PANEL_GAP, PANEL_ROOM = 4.5, 1.6, 118.0
"""Rows of a part on the panel; what parts two parts there; the height that they may take."""
MOST_WAYS = 13
"""With more ways than that the panel gets a sheet of its own, and what is told of the wires its place."""


@dataclass(frozen=True)
class Keys:
    """Letters for the ways to run a wire."""

    letters: dict[str, str]

    @staticmethod
    def of(wires: Iterable[WireRow]) -> Keys:
        texts = dict.fromkeys(wire.treatment for wire in wires if wire.treatment and not wire.on_board)
        return Keys({text: "abcdefghijklmn"[index] for index, text in enumerate(texts)})

    def label(self, wire: WireRow) -> str:
        """Return what stands on a wire: number, size, letter."""
        return ", ".join(filter(None, (f"{wire.number}: {wire.gauge}", self.letters.get(wire.treatment))))


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


def panel_parts(wiring: Netlist) -> list[Part]:
    """Return everything on the panel, in the order of the netlist."""
    return [part for part in wiring.parts if part.place == "panel"]


def panel_apart(wiring: Netlist) -> bool:
    """Tell whether the panel needs a sheet of its own: much on it, many ways, a selector or parts at the coils."""
    if wiring.first_of_kind(PartKind.SELECTOR) is not None:
        return True
    at_coils = any(part.place == "feeder" and part.kind in SUPPRESSION for part in wiring.parts)
    height = sum(len(part.terminals) * PANEL_PITCH + PANEL_GAP for part in panel_parts(wiring))
    ways = sum(len(wiring.part(mate.fixed).terminals) for mate in wiring.mates)
    return height > PANEL_ROOM or ways > MOST_WAYS or at_coils or loads_apart(wiring)
