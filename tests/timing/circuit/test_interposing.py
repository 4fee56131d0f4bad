"""Behind an interposing contactor: parts with nets, what takes the load's spike, the protective conductor."""

from __future__ import annotations

import pytest

from tests.timing.circuit.test_named_designs import LAG, MOTOR, RATING, SHOP, changed, project_of
from timing.circuit.feeder_ladder import feeder_wiring
from timing.circuit.lists import parts_list, wire_list
from timing.circuit.parts import Netlist, Part, PartKind, Terminal
from timing.project import Project

STATED = 'contact_dc = { voltage = "110 V", current = "12 A", category = "DC-13" }'
COIL = 'coil = { hold = "0.25 A", inrush = "1.5 A" }'


def machine(behind: str, *more: tuple[str, str]) -> Project:
    table = f"{COIL}\ninterposed = {{ {behind}, on_delay = {LAG}, off_delay = {LAG} }}"
    return project_of(changed(SHOP, ((MOTOR, table), (RATING, ""), *more)))


def contactor_of(net: Netlist) -> Part:
    found = net.first_of_kind(PartKind.INTERPOSING_CONTACTOR)
    assert found is not None
    return found


def ends(net: Netlist, ref: str) -> dict[str, str]:
    return {name: net.net_of(Terminal(ref, name)).name for name in net.part(ref).terminals}


@pytest.mark.parametrize(
    ("behind", "across", "earthed"),
    [
        (f'kind = "dc", voltage = "90 V", hold = "3 A", {STATED}', ("varistor, 95 V RMS",), True),
        (f'kind = "dc", voltage = "24 V", hold = "8 A", {STATED}', ("varistor, 25 V RMS",), False),
        (
            'kind = "ac", voltage = "230 V", hold = "16 A"',
            ("varistor, 320 V RMS", "class X2", "resistor 100 ohm"),
            True,
        ),
        ('kind = "ac", voltage = "24 V", hold = "12 A"', ("varistor, 35 V RMS", "film,", "resistor 100 ohm"), False),
        ('kind = "ac", voltage = "600 V", hold = "20 A"', (), True),
    ],
)
def test_coil_contact_and_load_are_parts_with_nets(behind: str, across: tuple[str, ...], earthed: bool) -> None:
    net = machine(behind).netlist
    contactor = contactor_of(net)
    on = ends(net, contactor.ref)
    assert (on["A1"], on["A2"], on["L1"], on["T1"]) == (
        "FEEDER-WIRE-COIL", "FEEDER-WIRE-RETURN", "WIRE-LOAD-FEED", "WIRE-LOAD-COIL",
    )  # fmt: skip
    load = next(part for part in net.parts if part.value.startswith("wire drive"))
    assert {on["L1"], on["T1"]} <= set(ends(net, load.ref).values())
    # Right at the load, and nothing of it on the coil's own circuit.
    nets = {"WIRE-LOAD-COIL", "WIRE-LOAD-RETURN", "WIRE-LOAD-SNUBBER"}
    taking = [part for part in net.parts if set(ends(net, part.ref).values()) <= nets]
    assert len(taking) == len(across)
    for part, words in zip(taking, across, strict=True):
        assert words in part.description
    assert net.has_net("WIRE-PE") is earthed
    if earthed:
        kinds = [net.part(end.ref).kind for end in next(one for one in net.nets if one.name == "WIRE-PE").terminals]
        assert kinds == [PartKind.EARTH, PartKind.EARTH]
        assert any(caution.at == contactor.ref and "licensed electrician" in caution.text for caution in net.cautions)
    if not across:
        assert "a licensed electrician chooses what takes the load's spike" in contactor.reason


def test_its_wires_and_parts_are_on_the_lists() -> None:
    net = machine('kind = "ac", voltage = "230 V", hold = "80 A", inrush = "200 A"').netlist
    heavy = {"WIRE-LOAD-FEED", "WIRE-LOAD-COIL", "WIRE-PE"}
    rows = [wire for wire in wire_list(net) if wire.net in heavy]
    assert {wire.net for wire in rows} == heavy
    assert all("licensed electrician" in wire.treatment for wire in rows)
    # The leads of what takes the spike carry none of the load's current.
    spikes = [wire for wire in rows if wire.from_end.startswith(("RV", "C"))]
    assert len(spikes) == 2
    assert {str(wire.gauge) for wire in spikes} == {"AWG 14 / 2.5 mm2"}
    assert all(wire.gauge.current_a >= 80.0 for wire in rows if wire not in spikes)
    bought = {ref: row for row in parts_list(net) for ref in row.refs}
    assert "NO contact (L1, T1) AC-15 80 A at 230 V" in bought[contactor_of(net).ref].description
    assert sum("terminal for a protective conductor" in row.description for row in bought.values()) == 1


def test_the_cuts_lead_to_its_contact_and_the_contact_as_found_to_the_connector() -> None:
    found = ("[feeder.gas_valve]", '[feeder.as_found]\ntrigger = "coils"\n\n[feeder.gas_valve]')
    project = machine(f'kind = "dc", voltage = "90 V", hold = "3 A", {STATED}', found)
    wiring = feeder_wiring(project)
    assert wiring is not None
    ref = contactor_of(project.netlist).ref
    goes = [goes.partition(",")[0] for cut in wiring.cuts[-2:] for _, goes in cut.ends]
    assert goes == [f"{ref}.L1", "J1.WIRE-FOUND1", "J1.WIRE-FOUND2", f"{ref}.T1"]
    joined = {(link.from_way, link.to_way) for link in project.netlist.bypass}
    assert {("WIRE-FEED", "WIRE-FOUND1"), ("WIRE-FOUND2", "WIRE-COIL")} < joined
