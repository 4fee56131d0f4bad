"""Wire list and parts list, as data, from the netlist."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from timing.circuit.parts import Net, Netlist, Terminal
from timing.circuit.wires import THINNEST_POWER, THINNEST_SIGNAL, Gauge, gauge_for

BYPASS_REFS = ("P0", "P00")
"""Bypass plugs, in the order of the connectors."""
POWER_FAMILIES = {"ac", "load", "screen"}


@dataclass(frozen=True)
class Wire:
    """One row of the wire list. Nets of more than two terminals meet at a star point, so that each terminal has
    exactly one row."""

    number: int
    net: str
    from_end: str
    """A terminal, such as 'R1.2'."""
    to_end: str
    """A terminal, or a star point such as '*COMMON'."""
    gauge: Gauge
    current_a: float
    on_board: bool
    """True where both ends are on the add-on's own circuit board: a track or link rather than a wire."""
    treatment: str


@dataclass(frozen=True)
class PartRow:
    """One row of the parts list."""

    quantity: int
    refs: tuple[str, ...]
    description: str
    value: str
    reasons: tuple[str, ...]


def wire_list(wiring: Netlist) -> tuple[Wire, ...]:
    """Return the wires, numbered from 1 in the order of the nets."""
    rows = [row for net in wiring.nets for row in _net_rows(wiring, net)]
    return tuple(Wire(number, *row) for number, row in enumerate(rows, start=1))


def _net_rows(wiring: Netlist, net: Net) -> Iterator[tuple[str, str, str, Gauge, float, bool, str]]:
    gauge = gauge_for(net.current_a, THINNEST_POWER if net.family in POWER_FAMILIES else THINNEST_SIGNAL)

    def in_box(terminal: Terminal) -> bool:
        return wiring.part(terminal.ref).place == "box"

    if len(net.terminals) == 2:
        first, second = net.terminals
        on_board = in_box(first) and in_box(second)
        yield net.name, str(first), str(second), gauge, net.current_a, on_board, net.treatment
        return
    for terminal in net.terminals:
        yield net.name, str(terminal), f"*{net.name}", gauge, net.current_a, in_box(terminal), net.treatment


def parts_list(wiring: Netlist) -> tuple[PartRow, ...]:
    """Return the parts to buy, equal ones together, in the order of their first ref; the bypass plug included."""
    rows: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for part in wiring.parts:
        if part.to_buy:
            rows.setdefault((part.description, part.value), []).append((part.ref, part.reason))
    listed = [
        PartRow(
            len(found),
            tuple(ref for ref, _ in found),
            description,
            value,
            tuple(dict.fromkeys(reason for _, reason in found if reason)),
        )
        for (description, value), found in rows.items()
    ]
    reason = "with the links of the bypass plug; puts the feeder back as found"
    for ref, mate in zip(BYPASS_REFS, wiring.mates, strict=False):
        free = wiring.part(mate.free)
        listed.append(PartRow(1, (ref,), f"{free.description}, as bypass plug", free.value, (reason,)))
    return tuple(listed)
