"""Where the leads go: every lead of every circuit has its place, at the bench and at the machine."""

from __future__ import annotations

from itertools import product

import pytest

from tests.support.recorders import WISHES, built, drawing_of
from timing.project import Project
from timing.recorder.uses import REED_PULLS_IN_AT, Use, connections, reed_turns

CASES = list(product(("shop_two_step", "spot_stitch", "gasless_four_step"), ("board", "modules"), WISHES))


@pytest.mark.parametrize(("name", "build", "wish"), CASES)
def test_every_terminal_of_the_machines_side_has_its_place_at_the_machine(name, build, wish):
    project = built(name, build)
    drawing = drawing_of(project, "nano", wish)
    placed = connections(project, drawing.circuits, drawing.wiring, "machine")
    poles = [lead.pole for one in placed for lead in one.leads]
    blocks = {refs.terminals for refs in drawing.wiring.circuits.values()}
    wanted = {pole for block in blocks for pole in drawing.wiring.netlist.part(block).terminals}
    assert sorted(poles) == sorted(wanted)
    assert all(lead.place for one in placed for lead in one.leads)


@pytest.mark.parametrize(("name", "build", "wish"), CASES)
def test_at_the_bench_each_output_has_a_lamp_and_the_trigger_is_pressed(name, build, wish):
    project = built(name, build)
    drawing = drawing_of(project, "nano", wish)
    placed = {one.key: one for one in connections(project, drawing.circuits, drawing.wiring, "bench")}
    outputs = {key for key in ("gas_valve", "wire_drive", "contactor") if key in drawing.circuits.adapters}
    assert {key for key, one in placed.items() if one.lamp} == outputs
    assert "press_trigger" in placed
    plugs = {mate.free for mate in project.netlist.mates}
    ways = {f"{ref}.{way}" for ref in plugs for way in project.netlist.part(ref).terminals}
    for key in outputs:
        assert placed[key].leads[0].place.split()[0] in ways


def test_the_reed_gets_turns_enough_for_the_least_welding_current():
    design = built("spot_stitch", "board").design
    assert reed_turns(design) == 1
    weak = design.model_copy(update={"process": design.process.model_copy(update={"load_current_a": 25.0})})
    turns = reed_turns(weak)
    least_a = 25.0 * 4.0 / 5.5
    assert turns * least_a >= 2 * REED_PULLS_IN_AT > (turns - 1) * least_a


def with_drive(drive: str, kind: str, pole: str):
    """The spot example with its wire drive switched otherwise."""
    project = built("spot_stitch", "board")
    wire = project.design.feeder.wire_drive
    coil = wire.coil.model_copy(update={"kind": kind, "switched_pole": pole})
    changed = wire.model_copy(update={"drive": drive, "coil": coil})
    feeder = project.design.feeder.model_copy(update={"wire_drive": changed})
    return Project(project.design.model_copy(update={"feeder": feeder}), project.board)


def wire_at(project: Project, use: Use):
    drawing = drawing_of(project, "nano", WISHES[0])
    return next(one for one in connections(project, drawing.circuits, drawing.wiring, use) if one.key == "wire_drive")


def test_at_the_bench_a_triac_is_fed_with_ac():
    assert "24 VAC" in wire_at(with_drive("opto-triac", "ac", "plus"), "bench").note


def test_a_dc_load_switched_in_its_minus_is_clipped_the_other_way_round():
    bench = wire_at(with_drive("mosfet", "dc", "minus"), "bench")
    assert bench.note.startswith("minus of the bench supply")
    assert bench.leads[0].place.endswith("on plus")
    plus, minus = (wire_at(with_drive("mosfet", "dc", pole), "machine").leads for pole in ("plus", "minus"))
    assert "COIL" in plus[0].place
    assert "RETURN" in minus[0].place
