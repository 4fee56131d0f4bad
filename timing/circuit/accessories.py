"""What else the add-on needs: box, cables, glands, ferrules, ferrites, sockets, protective conductor.

Nothing here is on a net of its own, so the netlist does not hold it: it follows from connectors and wires.
"""

from __future__ import annotations

from collections.abc import Iterator

from timing.circuit.drives import elsewhere
from timing.circuit.lists import Gauge, PartRow, wire_list
from timing.circuit.parts import Mate
from timing.circuit.ratings import triac_ratings
from timing.power.components import FREE_K_PER_W
from timing.project import Project

SPARE_ENDS = 1.2
"""Ferrules to buy for each that is needed (choice)."""


def accessories(project: Project) -> tuple[PartRow, ...]:
    """Return the rows of the parts list that no terminal stands for; they bear no refs."""
    return (*_box(project), *_cables(project), *_small(project))


def _row(quantity: int, description: str, reason: str) -> PartRow:
    return PartRow(quantity, (), description, "", (reason,))


def _mains(project: Project) -> bool:
    return any(one.actuator.coil.above_extra_low for one in project.drives)


def _box(project: Project) -> Iterator[PartRow]:
    mains = _mains(project)
    parted = ", with a partition between the circuits above extra-low voltage and the rest" if mains else ""
    yield _row(
        1,
        f"box, metal, closed, lid held by screws{parted}",
        "keeps fingers, grinding dust and the arc's high frequency out; a metal one is what the screen is tied to",
    )
    gauge = max((_thickest(project, mate) for mate in project.netlist.mates), key=lambda one: one.area_mm2)
    yield _row(
        1,
        f"protective conductor, {gauge} or thicker as local code asks, green-yellow, with ring lugs, to box and lid",
        "the box must not become live through a loose wire; connected by a licensed electrician, tested by local code"
        if mains
        else "bonds the box to the feeder's chassis; never to COMMON",
    )


def _cables(project: Project) -> Iterator[PartRow]:
    for mate in project.netlist.mates:
        ways = project.netlist.part(mate.free).terminals
        cores = len([way for way in ways if way != "SCREEN"])
        screen = "screened, " if "SCREEN" in ways else ""
        yield _row(
            1,
            f"cable, {screen}{cores} cores, {_thickest(project, mate)} or thicker, for {mate.free}; length as measured",
            "pairs twisted where the wire list says so",
        )
        yield _row(1, f"cable gland with strain relief, for the cable of {mate.free}", "no wire is held by its solder")
        yield _row(
            1,
            f"ferrite, split, for the cable of {mate.free}, at the box",
            "keeps a starter's high frequency off the board",
        )


def _small(project: Project) -> Iterator[PartRow]:
    wires = [wire for wire in wire_list(project.netlist) if not wire.on_board]
    ends = round(2 * len(wires) * SPARE_ENDS)
    yield _row(ends, "ferrules for the ends of stranded wires, by the sizes of the wire list", "a screw cuts strands")
    yield _row(len(wires), "labels for wires, with the numbers of the wire list", "found again in a year")
    yield from _boards(project)
    if any(elsewhere(one) for one in project.drives):
        yield _row(1, "warning label: circuits of other supplies in this box", "one plug pulled does not make it dead")
    yield from _heat_sinks(project)


def _boards(project: Project) -> Iterator[PartRow]:
    """What the microcontroller board is joined with, and what the loose parts are soldered on."""
    modules = project.design.circuits.build == "modules"
    carrier = "screw-terminal carrier" if modules else "socket strips or screw-terminal carrier"
    yield _row(1, f"{carrier} for the {project.board.title}", "the board can be changed")
    if _mains(project) and not modules:
        spaced = "circuit board made for it, no strip board: strips lie half a millimetre apart"
        yield _row(1, spaced, "keeps what is above extra-low voltage apart from the rest, as local code asks")
        return
    for_what = "the loose parts" if modules else "all parts of the box"
    yield _row(1, "strip board, holes 2.54 mm apart", f"carries {for_what}; `wirecue layout` says which size")


def _heat_sinks(project: Project) -> Iterator[PartRow]:
    """For what gets too hot without one. Ready-made modules bring theirs."""
    if project.design.circuits.build == "modules":
        return
    regulator = project.budget.regulator
    if regulator.linear and regulator.k_per_w < FREE_K_PER_W:
        loss_w = max(corner.loss_w for corner in project.budget.settled)
        yield _row(
            1,
            f"heat sink with insulating pad, {regulator.k_per_w:g} K/W or better from junction to air",
            f"the regulator turns {loss_w:.1f} W into heat at worst",
        )
    for one in project.drives:
        if one.actuator.drive != "opto-triac":
            continue
        rated = triac_ratings(project.design, one.actuator.coil)
        if rated.k_per_w is not None:
            yield _row(
                1,
                f"heat sink for the {one.role.replace('_', ' ')}'s triac, {rated.k_per_w:.2g} K/W or better from "
                "junction to air",
                f"it turns {rated.heat_w:.1f} W into heat while on, in air of {project.design.supply.box_air_deg_c:g} "
                "degC",
            )


def _thickest(project: Project, mate: Mate) -> Gauge:
    """The size that the cable of a plug needs: that of its thickest wire."""
    wires = [wire for wire in wire_list(project.netlist) if mate.free in _refs(wire.from_end, wire.to_end)]
    return max((wire.gauge for wire in wires), key=lambda one: one.area_mm2)


def _refs(*ends: str) -> set[str]:
    return {end.partition(".")[0] for end in ends}
