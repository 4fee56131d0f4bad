"""The recorder's netlist: two sides that share nothing, each circuit of the machine apart from every other."""

from __future__ import annotations

from itertools import product

import pytest

from tests.support.recorders import WISHES, built, drawing_of
from timing.circuit.parts import Group, Netlist, PartKind, Terminal

ISOLATING = {
    PartKind.COUPLER, PartKind.AC_INPUT_COUPLER, PartKind.PHOTO_RELAY, PartKind.INPUT_MODULE, PartKind.RELAY_MODULE,
}  # fmt: skip
CASES = list(product(("shop_two_step", "spot_stitch"), ("board", "modules"), WISHES))


def galvanic(wiring: Netlist) -> list[set[str]]:
    """Nets that hang together through parts that do not isolate."""
    groups = [{net.name} for net in wiring.nets]
    for part in wiring.parts:
        if part.kind in ISOLATING:
            continue
        touched = {wiring.net_of(Terminal(part.ref, name)).name for name in part.terminals}
        joined = [group for group in groups if group & touched]
        groups = [group for group in groups if not group & touched] + [set().union(*joined)]
    return groups


@pytest.mark.parametrize(("name", "build", "wish"), CASES)
def test_only_couplers_and_modules_join_the_two_sides_and_no_circuit_meets_another(name, build, wish):
    drawing = drawing_of(built(name, build), "pico", wish)
    groups = galvanic(drawing.wiring.netlist)
    laptop = [group for group in groups if "COMMON" in group]
    assert len(laptop) == 1
    assert not any(net.startswith(("IN", "PRESS-")) and not net.endswith("-LED") for net in laptop[0])
    for group in groups:
        circuits = {net.split("-")[0] for net in group if net.startswith("IN")}
        assert len(circuits) <= 1, group


@pytest.mark.parametrize(("name", "build", "wish"), CASES)
def test_every_lead_to_a_circuit_of_the_machine_is_fused_on_one_side_at_least(name, build, wish):
    drawing = drawing_of(built(name, build), "nano", wish)
    for key, adapter in drawing.circuits.adapters.items():
        refs = drawing.wiring.circuits[key]
        if adapter.kind.from_battery:
            assert not refs.fuses
        else:
            assert len(refs.fuses) == (2 if adapter.kind.value == "welding voltage" else 1)


def test_each_loop_has_a_battery_of_its_own():
    drawing = drawing_of(built("shop_two_step", "board"), "nano", WISHES[1])
    loops = [key for key, one in drawing.circuits.adapters.items() if one.kind.from_battery]
    assert loops == ["main_contact", "sensor", "disc"]
    assert len({drawing.wiring.circuits[key].battery for key in loops}) == len(loops)


def test_a_press_is_held_open_by_a_resistor_whatever_it_is_built_of():
    for build in ("board", "modules"):
        wiring = drawing_of(built("shop_two_step", build), "pico", WISHES[0]).wiring
        for key in ("press_trigger", "press_purge"):
            assert wiring.netlist.between(f"PIN-{key}", "COMMON", PartKind.RESISTOR) == [wiring.circuits[key].pull]


def test_modules_take_the_place_of_the_coils_couplers():
    wiring = drawing_of(built("shop_two_step", "modules"), "nano", WISHES[0]).wiring
    assert wiring.netlist.part(wiring.input_module).kind is PartKind.INPUT_MODULE
    assert not list(wiring.netlist.parts_of(Group.PRESSES, PartKind.PHOTO_RELAY))
    assert [one.channel for one in wiring.circuits.values() if one.channel] == [1, 2]
