"""Wire list with gauges and parts list, as data, from the netlist."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from timing.circuit.builder import SCREENED, TWISTED
from timing.circuit.parts import Net, Netlist, PartKind, Pole, Terminal
from timing.once import once

BYPASS_REFS = ("P0", "P00")
"""Bypass plugs, in the order of the connectors."""
POWER_FAMILIES = {"ac", "load", "screen"}


CIRCULAR_MILS_PER_A = 700.0
"""A cautious rule for wires in a bundle (practice: the PCB calculator of an open design suite uses it, seen)."""


@dataclass(frozen=True)
class Gauge:
    """A wire size; the metric one is the size sold in its place (practice), never thinner than 0.9 of it."""

    awg: int
    metric_mm2: float

    @property
    def diameter_in(self) -> float:
        """Diameter of the solid wire, ASTM B258: 0.005 in x 92^((36 - n) / 39) (exact)."""
        return float(0.005 * 92.0 ** ((36 - self.awg) / 39))

    @property
    def area_mm2(self) -> float:
        """Cross-section of that diameter."""
        return 3.141592653589793 / 4.0 * (self.diameter_in * 25.4) ** 2

    @property
    def current_a(self) -> float:
        """Current it carries by the rule."""
        return (1000.0 * self.diameter_in) ** 2 / CIRCULAR_MILS_PER_A

    def __str__(self) -> str:
        return f"AWG {self.awg} / {self.metric_mm2:g} mm2"


GAUGES = (Gauge(24, 0.25), Gauge(22, 0.34), Gauge(20, 0.5), Gauge(18, 1.0), Gauge(16, 1.5), Gauge(14, 2.5),
          Gauge(12, 4.0), Gauge(10, 6.0), Gauge(8, 10.0), Gauge(6, 16.0), Gauge(4, 25.0),
          Gauge(2, 35.0), Gauge(1, 50.0))  # fmt: skip
"""Gauges with the metric size sold in their place (practice)."""
THINNEST_SIGNAL = GAUGES[0]
"""Thinnest wire for signals (choice)."""
THINNEST_POWER = GAUGES[2]
"""Thinner wires break at screw terminals (practice)."""
POWER_KINDS = frozenset(
    {
        PartKind.BOARD, PartKind.BRIDGE, PartKind.CAPACITOR, PartKind.DIODE, PartKind.ELECTROLYTIC, PartKind.FUSE,
        PartKind.WIRE_LINK,
        PartKind.LINEAR_REGULATOR, PartKind.SWITCHING_REGULATOR, PartKind.RELAY, PartKind.TRANSFORMER,
        PartKind.SOCKET, PartKind.PLUG, PartKind.VARISTOR, PartKind.ZENER,
    }
)  # fmt: skip
"""Parts through which the supply's current goes; on a net that all share, the leg of any other carries a signal."""
CABLE_TREATMENTS = {TWISTED, SCREENED}
"""How to run a wire; a track on the board is not twisted."""
SIGNAL_LEG_A = 0.1
"""What such a leg is sized for: a lamp, a pull-up, a relay's coil through its MOSFET (choice)."""
SPIKE_LEG_A = 5.0
"""What the leads of a part are sized for that takes the spike of a load behind a contactor (practice: short ones of
2.5 mm2)."""
SPIKE_KINDS = frozenset({PartKind.CAPACITOR, PartKind.RESISTOR, PartKind.VARISTOR})
BEHIND_CONTACTOR = "-LOAD-COIL"
"""Ends the name of the net between an interposing contactor and its load."""
SHARED_NETS = {"COMMON", "RAIL", "LOGIC"}
"""Nets on which power and signals meet."""


def gauge_for(current_a: float, thinnest: Gauge = THINNEST_SIGNAL) -> Gauge:
    """Return the thinnest gauge that carries a current (A, continuous), not thinner than `thinnest`.

    Raises ValueError above what the thickest listed carries.
    """
    for gauge in GAUGES[GAUGES.index(thinnest) :]:
        if gauge.current_a >= current_a:
            return gauge
    raise ValueError(f"{current_a:g} A is more than {GAUGES[-1]} carries ({GAUGES[-1].current_a:.1f} A)")


@dataclass(frozen=True)
class WireRow:
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
    pole: Pole


@dataclass(frozen=True)
class PartRow:
    """One row of the parts list."""

    quantity: int
    refs: tuple[str, ...]
    """None for what is no part of the circuit, such as the box."""
    description: str
    value: str
    reasons: tuple[str, ...]


@once
def wire_list(wiring: Netlist) -> tuple[WireRow, ...]:
    """Return the wires, numbered from 1 in the order of the nets."""
    rows = [row for net in wiring.nets for row in _net_rows(wiring, net)]
    return tuple(WireRow(number, *row) for number, row in enumerate(rows, start=1))


WireData = tuple[str, str, str, Gauge, float, bool, str, Pole]
"""A row of the wire list but for its number."""


def _net_rows(wiring: Netlist, net: Net) -> Iterator[WireData]:
    thinnest = THINNEST_POWER if net.family in POWER_FAMILIES else THINNEST_SIGNAL

    def row(ends: tuple[str, str], amps: float, *terminals: Terminal) -> WireData:
        on_board = all(wiring.part(terminal.ref).place == "box" for terminal in terminals)
        return (
            net.name,
            *ends,
            gauge_for(amps, thinnest),
            amps,
            on_board,
            "" if on_board and net.treatment in CABLE_TREATMENTS else net.treatment,
            net.pole,
        )

    if len(net.terminals) == 2:
        first, second = net.terminals
        yield row((str(first), str(second)), net.current_a, first, second)
        return
    for terminal in net.terminals:
        yield row((str(terminal), f"*{net.name}"), _leg_a(wiring, net, terminal), terminal)


def _leg_a(wiring: Netlist, net: Net, terminal: Terminal) -> float:
    """Return what one leg of a star carries (A): on a shared net, that of a signal part carries no supply current.

    Behind a contactor, that of a part for spikes carries none of the load's.
    """
    kind = wiring.part(terminal.ref).kind
    if net.name.endswith(BEHIND_CONTACTOR) and kind in SPIKE_KINDS:
        return min(net.current_a, SPIKE_LEG_A)
    signal = net.name in SHARED_NETS and kind not in POWER_KINDS
    return min(net.current_a, SIGNAL_LEG_A) if signal else net.current_a


@once
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


NOT_SOLDERED = (PartKind.BOARD, PartKind.EARTH)
"""In the box, but no loose part: the board is ready-made, the box's tag is screwed on."""


@dataclass(frozen=True)
class HandWork:
    """What a person joins by hand, one for each row of the wire list."""

    modules: int
    """Ready-made modules, the microcontroller board among them."""
    loose_parts: int
    """To be soldered, on a circuit board in the box."""
    between_modules: int
    """Wires in the box with a module at one end or both."""
    joints: int
    """Joints or links among the loose parts."""
    cable_and_panel: int
    """Wires from the box to the plug and to the panel; the same either way of building."""
    in_feeder: int
    """Wires in the machine, from the socket to what was there; the same either way of building."""

    @property
    def in_box(self) -> int:
        """Connections to make inside the box: wires between modules, and joints of the loose parts."""
        return self.between_modules + self.joints

    def __str__(self) -> str:
        if not self.modules:
            return f"{self.in_box} connections in the box: the joints of {self.loose_parts} parts on one circuit board"
        return (
            f"{self.in_box} connections in the box: {self.between_modules} wires at {self.modules} modules, "
            f"{self.joints} joints of {self.loose_parts} loose parts on a small board"
        )


@once
def hand_work(wiring: Netlist) -> HandWork:
    """Count what a netlist asks of a pair of hands."""
    kinds = Counter(_joined(wiring, wire) for wire in wire_list(wiring))
    # A link under two screws is one piece of wire, though it has a row at either end.
    links = sum(part.kind is PartKind.JUMPER and part.place == "module" for part in wiring.parts)
    soldered = [part for part in wiring.parts if part.place == "box" and part.kind not in NOT_SOLDERED]
    return HandWork(
        modules=sum(part.place == "module" for part in wiring.parts) - links,
        loose_parts=len(soldered),
        between_modules=kinds["module"] - links,
        joints=kinds["box"],
        cable_and_panel=kinds["outside"],
        in_feeder=kinds["feeder"],
    )


def _joined(wiring: Netlist, wire: WireRow) -> str:
    """Tell where a wire is made: in the box at a module, among its loose parts, to the outside, in the feeder."""
    ends = {wiring.part(end.partition(".")[0]).place for end in (wire.from_end, wire.to_end) if not end.startswith("*")}
    if "cable" in ends or "panel" in ends:
        return "outside"
    return next(place for place in ("feeder", "module", "box") if place in ends)
