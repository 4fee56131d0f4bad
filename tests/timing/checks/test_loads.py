"""Loads that an ac rating says nothing of, and loads that can kill: which finding for which design."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product

import pytest

from tests.timing.conftest import SHOP
from timing.checks.finding import Finding, Severity
from timing.checks.registry import RULES, told_by
from timing.checks.remedies import applied, mended
from timing.circuit.lists import parts_list, wire_list
from timing.circuit.parts import PartKind
from timing.design.board import Board
from timing.design.loading import parse_design
from timing.power.budget import Budget, budget
from timing.project import Project
from wirecue.projects import load_board

MOTOR = 'coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A", inrush = "8 A" }'
RATING = 'contact_dc = { voltage = "30 V", current = "10 A", category = "DC-13" }'
CONTACTOR = 'coil = { hold = "0.6 A", inrush = "3.5 A" }'


def load(volts: str, hold: str, inrush: str = "", kind: str = "dc") -> str:
    start = f', inrush = "{inrush}"' if inrush else ""
    return f'coil = {{ kind = "{kind}", fed_from = "elsewhere", voltage = "{volts}", hold = "{hold}"{start} }}'


def rating(volts: str, amps: str, category: str = "DC-13") -> str:
    return f'contact_dc = {{ voltage = "{volts}", current = "{amps}", category = "{category}" }}'


LOAD_RULES = [rule for rule in RULES if rule.function.__module__ in ("timing.checks.loads", "timing.checks.load_wires")]


@cache
def shop_budget() -> Budget:
    """The budget of the shop feeder, which stands in for that of every change of a load: no rule here looks at it."""
    return budget(parse_design(SHOP), load_board("uno"))


def changed_budget(text: str) -> Budget:
    return replace(shop_budget(), design=parse_design(text))


def found_in(text: str) -> dict[str, Finding]:
    """The findings on loads, by rule; at most one load of these designs is found fault with."""
    return {one.rule: one for one in told_by(LOAD_RULES, Project(parse_design(text), load_board("uno")))}


# Each: a dc load on a relay, what is stated of its contact, and whether that may be built.
DC = [
    (load("90 V", "3 A"), "", False),
    (load("115 V", "0.2 A"), "", False),
    (load("250 V", "0.1 A"), "", False),
    (load("24 V", "2.5 A", "8 A"), "", False),
    (load("24 V", "1.1 A"), "", False),
    (load("31 V", "0.1 A"), "", False),
    (load("30 V", "1 A"), "", True),
    (load("24 V", "0.3 A"), "", True),
    (load("90 V", "3 A"), rating("110 V", "3 A"), True),
    (load("90 V", "3 A"), rating("80 V", "20 A"), False),
    (load("90 V", "3 A"), rating("110 V", "2.9 A"), False),
    # The inrush counts where an arc can stand: a pull of the trigger may end while the motor starts.
    (load("90 V", "3 A", "9 A"), rating("110 V", "5 A"), False),
    (load("90 V", "3 A", "9 A"), rating("110 V", "9 A"), True),
    (load("24 V", "2.5 A", "8 A"), rating("30 V", "5 A"), True),
    # A resistive rating leaves three tenths for a coil.
    (load("24 V", "2.5 A"), rating("30 V", "5 A", "resistive"), False),
    (load("24 V", "2.5 A"), rating("30 V", "10 A", "resistive"), True),
]


@pytest.mark.parametrize(("coil", "stated", "may"), DC)
def test_a_contact_that_breaks_dc_must_be_stated_to(coil: str, stated: str, may: bool, shop_text: str) -> None:
    assert MOTOR in shop_text
    assert RATING in shop_text
    text = shop_text.replace(MOTOR, coil).replace(RATING, stated)
    found = found_in(text).get("circuits.dc-contact")
    assert (found is None) == may
    if found is not None:
        assert found.severity is Severity.ERROR
        assert found.key == "feeder.wire_drive.contact_dc"
        assert "the arc between the opening contacts stands" in found.reason
        told = " ".join(remedy.text for remedy in found.remedies)
        assert "DC-13 (IEC 60947-5-1)" in told
        assert "interposing contactor" in told
        # No rating is written down that nobody has read off a data sheet.
        assert all(remedy.changes == () for remedy in found.remedies)


def test_a_load_refused_stays_refused_after_all_that_can_be_mended(shop_text: str, board: Board) -> None:
    text = shop_text.replace(MOTOR, load("90 V", "3 A")).replace(RATING, "")
    assert "circuits.dc-contact" in {
        one.rule for one in Project(parse_design(mended(text, board)), board).supply.errors
    }


@pytest.mark.parametrize("coil", [load("250 V", "20 A", "60 A", "ac"), load("24 V", "20 A", "60 A", "ac")])
def test_ac_needs_no_dc_rating(coil: str, shop_text: str) -> None:
    text = shop_text.replace(MOTOR, coil).replace(RATING, "")
    assert "circuits.dc-contact" not in found_in(text)


def test_the_parts_list_asks_for_what_the_design_states(shop_text: str, board: Board) -> None:
    text = shop_text.replace(RATING, rating("30 V", "12 A", "resistive"))
    wiring = Project(parse_design(text), board).netlist
    bought = " ".join(row.description for row in parts_list(wiring))
    assert "stated for 30 V dc, 12 A, resistive (an ac rating is none)" in bought
    assert found_in(text)["circuits.dc-contact-stated"].severity is Severity.INFO


@pytest.mark.parametrize(
    ("coil", "may"),
    [
        (load("24 V", "0.5 A"), True),
        (load("60 V", "1 A"), True),
        (load("61 V", "0.5 A"), False),
        (load("24 V", "2.5 A"), False),
        (load("250 V", "0.1 A"), False),
    ],
)
def test_a_mosfet_takes_no_more_than_its_clamp(coil: str, may: bool, shop_text: str) -> None:
    text = shop_text.replace(MOTOR, f'drive = "mosfet"\n{coil}').replace(RATING, "")
    found = found_in(text)
    assert ("circuits.dc-clamp" not in found) == may
    assert "circuits.dc-contact" not in found


@pytest.mark.parametrize(
    ("volts", "kind", "above"),
    [("24 V", "ac", False), ("50 V", "ac", False), ("51 V", "ac", True), ("60 V", "dc", False), ("61 V", "dc", True)],
)
def test_above_extra_low_voltage_a_load_is_for_licensed_hands(
    volts: str, kind: str, above: bool, shop_text: str, board: Board
) -> None:
    text = shop_text.replace(MOTOR, load(volts, "0.5 A", kind=kind)).replace(RATING, rating("250 V", "10 A"))
    found = found_in(text)
    wiring = Project(parse_design(text), board).netlist
    assert ("circuits.above-extra-low" in found) == above
    assert len(wiring.mates) == 1 + above
    if above:
        assert found["circuits.above-extra-low"].severity is Severity.WARNING
        assert "licensed electrician" in " ".join(one.text for one in found["circuits.above-extra-low"].remedies)
        usual, apart = (set(wiring.part(mate.fixed).terminals) for mate in wiring.mates)
        assert apart == {"WIRE-FEED", "WIRE-COIL", "WIRE-FOUND1", "WIRE-FOUND2"}
        assert not usual & apart
        caution = next(one.text for one in wiring.cautions if one.at == wiring.mates[1].fixed)
        assert "licensed electrician" in caution
        bought = [row.description for row in parts_list(wiring)]
        assert [
            text for text in bought if text.startswith("connector, 4-pole") and "for mains, unlike the other" in text
        ]
        assert sum("for mains" in text and "as bypass plug" in text for text in bought) == 1
        assert all("a sleeve of its own" in wire.treatment for wire in wire_list(wiring) if "WIRE-COIL" in wire.net)


def test_no_way_of_the_two_connectors_is_on_one_net(shop_text: str, board: Board) -> None:
    """Nothing but the contact itself joins the mains-level circuit to anything."""
    text = shop_text.replace(CONTACTOR, load("115 V", "0.2 A", kind="ac"))
    wiring = Project(parse_design(text), board).netlist
    usual, apart = ({mate.fixed, mate.free} for mate in wiring.mates)
    for net in wiring.nets:
        refs = {terminal.ref for terminal in net.terminals}
        assert not (refs & usual and refs & apart), net.name


def test_what_stands_above_extra_low_voltage_is_not_fed_by_the_winding(shop_text: str) -> None:
    text = shop_text.replace(CONTACTOR, 'coil = { voltage = "115 V", hold = "0.2 A" }')
    assert found_in(text)["circuits.fed-from"].severity is Severity.ERROR
    changes = found_in(text)["circuits.fed-from"].remedies[0].changes
    assert "circuits.fed-from" not in found_in(applied(text, changes))


@pytest.mark.parametrize(("kind", "volts"), list(product(("ac", "dc"), ("5 V", "24 V", "115 V", "230 V", "250 V"))))
def test_no_load_goes_without_what_takes_its_spike(kind: str, volts: str, shop_text: str, board: Board) -> None:
    text = shop_text.replace(CONTACTOR, load(volts, "0.2 A", kind=kind))
    wiring = Project(parse_design(text), board).netlist
    across = wiring.between("FEEDER-CONT-COIL", "FEEDER-CONT-RETURN", PartKind.VARISTOR)
    assert across or (kind == "dc" and wiring.has_net("CONT-AT-LOAD"))
