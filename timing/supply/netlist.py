"""From a design and its board to the netlist of the whole add-on."""

from __future__ import annotations

from timing.design.board import Board
from timing.design.design import Design
from timing.supply.budget import Budget, budget
from timing.supply.cautions import cautions
from timing.supply.drives import drives
from timing.supply.parts import Mate, Netlist
from timing.supply.wiring import Wiring, elsewhere, short_name
from timing.supply.wiring_drives import DRIVES
from timing.supply.wiring_feeder import bypass, feed, feeder_side, regulator, screen
from timing.supply.wiring_panel import dials, inputs, sense, trigger


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
    ways = ["24VAC-A", "24VAC-B", "TRIG-LIVE", "TRIG-RETURN"]
    for one in outputs:
        ways += [f"{short_name(one)}-FEED", f"{short_name(one)}-COIL"]
    ways.append("SCREEN")
    found_ways = [f"{short_name(one)}-FOUND{n}" for one in outputs if elsewhere(one) for n in (1, 2)]
    socket = wiring.build.add(
        "J", "connector", f"{len(ways) + len(found_ways)}-pole", f"connector, {len(ways) + len(found_ways)}-pole, "
        "polarised, fixed to the feeder", (*ways, *found_ways), "feeder", "the add-on unplugs; the bypass plug fits",
    )  # fmt: skip
    plug = wiring.build.add(
        "P", "connector", f"{len(ways) + len(found_ways)}-pole", f"connector, {len(ways) + len(found_ways)}-pole, "
        "polarised, on the add-on's cable", tuple(ways), "cable",
    )  # fmt: skip
    wiring.build.join(wiring.ac_a, f"{plug}.24VAC-A")
    wiring.build.join(wiring.ac_b, f"{plug}.24VAC-B")
    feeder_side(wiring, socket, outputs)
    wiring.build.group = "trigger"
    trigger(wiring, plug)
    for one in outputs:
        wiring.build.group = one.role
        DRIVES[one.actuator.drive](wiring, one, plug)
    wiring.build.group = "inputs"
    inputs(wiring)
    wiring.build.group = "dials"
    dials(wiring)
    wiring.build.group = "sense"
    sense(wiring)
    wiring.build.group = "screen"
    screen(wiring, socket, plug)
    links = tuple(link for one in outputs for link in bypass(one, socket, design))
    return wiring.build.finish((Mate(socket, plug),), links, cautions(wiring.found, socket, wiring.mcu))
