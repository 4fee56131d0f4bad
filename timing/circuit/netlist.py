"""From a design and its board to the netlist of the whole add-on."""

from __future__ import annotations

from collections.abc import Sequence

from timing.circuit.cautions import cautions
from timing.circuit.drives import Drive, drives
from timing.circuit.parts import Mate, Netlist
from timing.circuit.wiring import Wiring, elsewhere, short_name
from timing.circuit.wiring_drives import DRIVES
from timing.circuit.wiring_feeder import bypass, feed, feeder_side, load_as_found, regulator, screen
from timing.circuit.wiring_panel import dials, inputs, sense, trigger
from timing.design.board import Board
from timing.design.design import Design
from timing.power.budget import Budget, budget


def netlist(design: Design, board: Board, found: Budget | None = None) -> Netlist:
    """Return the netlist of a design on its board; `found` saves computing the budget again.

    A role without a pin gets a terminal that says so. Raises NetlistError where two roles share a pin: check the
    design against the rules on pins first.
    """
    wiring = Wiring(design, board, found or budget(design, board))
    outputs = drives(design, board)
    wiring.build.group = "feed"
    feed(wiring)
    wiring.build.group = "regulator"
    regulator(wiring)
    wiring.build.group = "feeder"
    low = [one for one in outputs if not one.actuator.coil.above_extra_low]
    high = [one for one in outputs if one.actuator.coil.above_extra_low]
    usual = _connector(wiring, ["24VAC-A", "24VAC-B", "TRIG-LIVE", "TRIG-RETURN"], low, ["SCREEN"])
    # What may kill does not share a connector with what may be handled.
    apart = [_connector(wiring, [], high, [], ", for mains, unlike the other")] if high else []
    mates = (usual, *apart)
    at = {one.role: mates[-1] if one in high else usual for one in outputs}
    wiring.build.join(wiring.ac_a, f"{usual.free}.24VAC-A")
    wiring.build.join(wiring.ac_b, f"{usual.free}.24VAC-B")
    feeder_side(wiring, usual.fixed)
    for one in outputs:
        load_as_found(wiring, at[one.role].fixed, one)
    wiring.build.group = "trigger"
    trigger(wiring, usual.free)
    for one in outputs:
        wiring.build.group = one.role
        DRIVES[one.actuator.drive](wiring, one, at[one.role].free)
    wiring.build.group = "inputs"
    inputs(wiring)
    wiring.build.group = "dials"
    dials(wiring)
    wiring.build.group = "sense"
    sense(wiring)
    wiring.build.group = "screen"
    screen(wiring, usual.fixed, usual.free)
    links = tuple(link for one in outputs for link in bypass(one, at[one.role].fixed, design))
    placed = cautions(wiring.found, [mate.fixed for mate in mates], wiring.mcu)
    return wiring.build.finish(mates, links, placed)


def _connector(
    wiring: Wiring, first: Sequence[str], outputs: Sequence[Drive], last: Sequence[str], kind: str = ""
) -> Mate:
    """Add a connector in two halves: ways for both, and in the feeder's half those of the contacts as found."""
    names = [short_name(one) for one in outputs]
    ways = (*first, *(f"{name}-{way}" for name in names for way in ("FEED", "COIL")), *last)
    found = (f"{short_name(one)}-FOUND{way}" for one in outputs if elsewhere(one) for way in (1, 2))
    both = (*ways, *found)
    text, value = f"connector, {len(both)}-pole, polarised{kind}", f"{len(both)}-pole"
    reason = "the add-on unplugs; the bypass plug fits"
    socket = wiring.build.add("J", "connector", value, f"{text}, fixed to the feeder", both, "feeder", reason)
    plug = wiring.build.add("P", "connector", value, f"{text}, on the add-on's cable", ways, "cable")
    return Mate(socket, plug)
