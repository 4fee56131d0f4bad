"""One netlist, from which drawing, wire list and parts list come: complete, and the same every time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.timing.conftest import SHOP
from timing.circuit.accessories import accessories
from timing.circuit.builder import SCREENED, TWISTED, Builder, NetlistError
from timing.circuit.drives import elsewhere
from timing.circuit.lists import THINNEST_SIGNAL, gauge_for, parts_list, wire_list
from timing.circuit.netlist import netlist
from timing.circuit.parts import Group, Netlist, PartKind, Terminal
from timing.circuit.preferred import E24
from timing.design.board import Board
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.design.pinning import pin_names
from timing.project import Project
from wirecue.projects import load_board

Changed = Callable[..., Design]
Projects = Callable[..., Project]


def complete(wiring: Netlist, design: Design, board: Board) -> None:
    """Every terminal is on one net and in one row of the wire list; every pin of the design is among them."""
    terminals = Counter(Terminal(part.ref, name) for part in wiring.parts for name in part.terminals)
    assert set(terminals.values()) == {1}
    on_nets = Counter(terminal for net in wiring.nets for terminal in net.terminals)
    assert on_nets == terminals
    ends = Counter(end for wire in wire_list(wiring) for end in (wire.from_end, wire.to_end) if not end.startswith("*"))
    assert ends == Counter({str(terminal): 1 for terminal in terminals})
    mcu = next(part for part in wiring.parts if part.kind is PartKind.BOARD)
    for key, pin in pin_names(design, board).items():
        assert wiring.net_of(Terminal(mcu.ref, str(pin))).name == f"PIN-{key}"


def test_every_pin_and_terminal_of_every_example_is_wired_once(
    example: Path, board_named: Callable[[str], Board]
) -> None:
    design = parse_design(example.read_text())
    board = board_named(design.board.type)
    complete(Project(design, board).netlist, design, board)


DRIVES = st.sampled_from(["relay", "opto-triac", "mosfet"])
KINDS = st.sampled_from(["zener", "varistor", "diode"])
FEEDS = st.sampled_from(["control", "elsewhere"])
BOARD = load_board("uno")


@settings(max_examples=25)
@given(
    drive=DRIVES, suppression=KINDS, fed_from=FEEDS, snubber=st.booleans(), level=st.sampled_from(["high", "low"]),
    half_wave=st.booleans(), linear=st.booleans(), sense=st.booleans(), ac=st.booleans(), ac_input=st.booleans(),
)  # fmt: skip
def test_any_choice_of_circuits_gives_a_complete_netlist(
    drive: str, suppression: str, fed_from: str, snubber: bool, level: str, half_wave: bool, linear: bool,
    sense: bool, ac: bool, ac_input: bool,
) -> None:  # fmt: skip
    text = SHOP.replace(
        'coil = { hold = "0.6 A"',
        f'drive = "{drive}"\nsuppression = "{suppression}"\n'
        + ('snubber_capacitor = "47 nF"\n' if snubber else "")
        + f'coil = {{ fed_from = "{fed_from}", hold = "0.6 A"',
    )
    text = text.replace('type = "uno"', f'type = "uno"\non_level = {{ contactor = "{level}", gas_valve = "{level}" }}')
    text = text.replace("[supply]", f'[supply]\nrectifier = "{"half-wave" if half_wave else "bridge"}"')
    text = text.replace("[supply]", f'[supply]\nregulator = "{"linear" if linear else "switching"}"')
    if not sense:
        text = "\n".join(line for line in text.splitlines() if not line.startswith("sense = {"))
    text = text.replace('sense = "ac"', f'sense = "{"ac" if ac else "dc"}"')
    text = text.replace('optocoupler = "ac-input"', f'optocoupler = "{"ac-input" if ac_input else "single"}"')
    design = parse_design(text)
    wiring = Project(design, BOARD).netlist
    complete(wiring, design, BOARD)
    assert parts_list(wiring)


def test_the_same_design_gives_the_same_netlist(changed: Changed, board: Board) -> None:
    assert Project(changed(), board).netlist == Project(changed(), board).netlist


def test_common_touches_neither_the_winding_nor_the_chassis(project: Projects) -> None:
    wiring = project().netlist
    common = next(net for net in wiring.nets if net.name == "COMMON")
    kinds = {wiring.part(terminal.ref).kind for terminal in common.terminals}
    assert not kinds & {"earth", "connector", "transformer", "feeder-load", "feeder-trigger", "feeder-contact"}


def test_every_output_pin_has_its_resistor_to_off(project: Projects) -> None:
    wiring = project(('type = "uno"', 'type = "uno"\non_level = { contactor = "low" }')).netlist
    for role, off in (("gas_valve", "COMMON"), ("wire_drive", "COMMON"), ("contactor", "LOGIC")):
        pin = next(net for net in wiring.nets if net.name == f"PIN-{role}")
        rests = {
            wiring.net_of(Terminal(terminal.ref, "2")).name
            for terminal in pin.terminals
            if wiring.part(terminal.ref).kind is PartKind.RESISTOR and terminal.name == "1"
        }
        assert off in rests


def test_wires_behind_the_fuse_carry_the_fuse(project: Projects) -> None:
    wiring = project(('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nfuse = "5 A"')).netlist
    feed = [wire for wire in wire_list(wiring) if wire.net in ("24VAC-A", "24VAC-B", "RESERVOIR+", "FEEDER-24VAC-A")]
    assert feed
    assert all(wire.gauge.current_a >= 5.0 for wire in feed)
    with pytest.raises(ValueError, match="more than AWG 1 "):
        gauge_for(130.0)


def test_a_lamp_takes_no_wire_of_the_fuse_and_no_track_is_twisted(project: Projects) -> None:
    wiring = project(('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nfuse = "5 A"')).netlist
    lamp = next(part.ref for part in wiring.parts if part.kind is PartKind.LAMP)
    listed = wire_list(wiring)
    assert next(wire for wire in listed if wire.net == "COMMON" and lamp in wire.from_end).gauge == THINNEST_SIGNAL
    assert [wire for wire in listed if wire.on_board and wire.treatment in (TWISTED, SCREENED)] == []


def test_the_wires_of_the_trigger_carry_what_the_bypass_puts_on_them(project: Projects) -> None:
    found = project()
    bypassed = sum(one.actuator.coil.hold_a for one in found.drives if not elsewhere(one))
    wire = next(wire for wire in wire_list(found.netlist) if wire.net == "FEEDER-TRIG-LIVE")
    assert wire.current_a == pytest.approx(bypassed)
    assert wire.gauge.current_a >= bypassed > THINNEST_SIGNAL.current_a


@pytest.mark.parametrize("works", ["relay", "electronics"])
def test_no_trigger_is_given_coils_that_it_did_not_work(works: str, project: Projects) -> None:
    table = f'[feeder.as_found]\ntrigger = "{works}"\n\n[trigger]'
    links = project(("[trigger]", table)).netlist.bypass
    joined = {(link.from_way, link.to_way) for link in links}
    assert {("GAS-FOUND", "GAS-COIL"), ("CONT-FOUND", "CONT-COIL")} < joined
    assert not {(first, second) for first, second in joined if first == "TRIG-LIVE" and second.endswith("COIL")}


def test_connectors_say_volts_amperes_and_which_half_is_female(project: Projects) -> None:
    wiring = project(('voltage = "24 V", hold = "2.5 A", inrush = "8 A"', 'voltage = "115 V", hold = "3 A"')).netlist
    usual, apart = (wiring.part(mate.fixed).description for mate in wiring.mates)
    assert "50 V" in usual
    assert "300 V" in apart
    assert "4 A a way" in apart
    assert all("female contacts" in wiring.part(mate.fixed).description for mate in wiring.mates)
    assert all("male contacts, on" in wiring.part(mate.free).description for mate in wiring.mates)


def test_box_cable_gland_ferrite_and_protective_conductor_are_on_the_list(project: Projects) -> None:
    listed = accessories(project())
    words = " ".join(row.description for row in listed)
    assert all(word in words for word in ("box", "cable,", "gland", "ferrite", "ferrules", "protective conductor"))
    assert all(row.quantity >= 1 and row.reasons and not row.refs for row in listed)


def accessory_words(project: Project) -> str:
    return " ".join(f"{row.description}: {'; '.join(row.reasons)}." for row in accessories(project))


TRIAC = 'drive = "opto-triac"\ncoil = { hold = '


@pytest.mark.parametrize(
    ("pairs", "sinks"),
    [
        ((), []),
        # 0.33 W in air of 50 degC: 20 K above it, without a heat sink. 2 W: 120 K, too much.
        ((('coil = { hold = "0.33 A"', f'{TRIAC}"0.33 A"'),), []),
        ((('coil = { hold = "0.33 A", inrush = "0.8 A"', f'{TRIAC}"2 A"'),), ["gas valve's triac, 30 K/W"]),
        ((("[supply]", '[supply]\nregulator = "linear"'),), []),
        ((("[supply]", '[supply]\nregulator = "linear"\nregulator_cooling = "20 K/W"'),), ["pad, 20 K/W"]),
    ],
)  # fmt: skip
def test_a_heat_sink_is_listed_for_what_gets_too_hot_without_one(
    pairs: tuple[tuple[str, str], ...], sinks: list[str], project: Projects
) -> None:
    said = accessory_words(project(*pairs))
    assert said.count("heat sink") == len(sinks)
    assert all(sink in said for sink in sinks)


def test_each_way_of_building_lists_what_it_needs_and_nothing_else(project: Projects) -> None:
    modules = accessory_words(project(('build = "board"', 'build = "modules"')))
    board = accessory_words(project())
    assert "socket strips" not in modules
    assert "screw-terminal carrier for the Uno-style" in modules
    assert "strip board, holes 2.54 mm apart: carries the loose parts" in modules
    assert "socket strips or screw-terminal carrier" in board
    assert "carries all parts of the box" in board
    mains = ('hold = "0.6 A"', 'voltage = "115 V", fed_from = "elsewhere", hold = "0.6 A"')
    apart = accessory_words(project(mains))
    assert "no strip board" in apart
    assert "wirecue layout" not in apart


def test_the_bypass_plug_serves_every_load_as_found(project: Projects) -> None:
    links = project().netlist.bypass
    assert {(link.from_way, link.to_way) for link in links} == {
        ("TRIG-LIVE", "GAS-COIL"),
        ("TRIG-LIVE", "CONT-COIL"),
        ("WIRE-FEED", "WIRE-FOUND1"),
        ("WIRE-FOUND2", "WIRE-COIL"),
    }


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('coil = { hold = "0.6 A"', 'coil = { voltage = "48 V", hold = "0.6 A"'),
        ('coil = { hold = "0.6 A"', 'coil = { kind = "dc", hold = "0.6 A"'),
    ],
)
def test_a_coil_that_the_trigger_cannot_have_fed_is_not_linked_unseen(old: str, new: str, project: Projects) -> None:
    links = project((old, new)).netlist.bypass
    assert {(link.from_way, link.to_way) for link in links} == {
        ("TRIG-LIVE", "TRIG-FOUND"),
        ("GAS-FOUND", "GAS-COIL"),
        ("CONT-FOUND", "CONT-COIL"),
        ("WIRE-FEED", "WIRE-FOUND1"),
        ("WIRE-FOUND2", "WIRE-COIL"),
    }


def test_cautions_hang_on_things_that_exist(example: Path, board_named: Callable[[str], Board]) -> None:
    design = parse_design(example.read_text())
    wiring = Project(design, board_named(design.board.type)).netlist
    places = {part.ref for part in wiring.parts} | {net.name for net in wiring.nets} | {"everywhere"}
    assert {caution.at for caution in wiring.cautions} <= places
    said = " ".join(caution.text for caution in wiring.cautions)
    for word in ("mains", "not a safety function", "holds its charge", "USB only on the bench", "Local codes"):
        assert word in said


def test_parts_carry_preferred_values_and_no_names(project: Projects) -> None:
    wiring = project().netlist
    rows = parts_list(wiring)
    assert sum(row.quantity for row in rows) == sum(part.to_buy for part in wiring.parts) + 1
    for row in rows:
        assert row.quantity == len(row.refs)
        if row.description.startswith("resistor"):
            number = float(row.value.split()[0])
            while number < 10.0:
                number *= 10.0
            while number >= 100.0:
                number /= 10.0
            assert round(number) in E24


def test_kinds_of_one_letter_share_its_numbers_and_keep_their_circuit() -> None:
    build = Builder()
    build.net("A", "signal")
    build.net("B", "signal")
    kinds = (PartKind.DIODE, PartKind.ZENER, PartKind.RESISTOR, PartKind.COUPLER, PartKind.LINEAR_REGULATOR)
    refs = [build.add(Group.FEED, kind, "", kind.value, ("1", "2")) for kind in kinds]
    assert refs == ["D1", "D2", "R1", "U1", "U2"]
    for ref in refs:
        build.two(ref, "A", "B")
    made = build.finish((), (), ())
    assert [part.kind for part in made.parts_of(Group.FEED)] == list(kinds)
    assert made.between("B", "A", PartKind.DIODE, PartKind.ZENER) == ["D1", "D2"]
    with pytest.raises(LookupError, match="5 parts between A and B, not one"):
        made.only_between("A", "B")
    with pytest.raises(LookupError, match="no relay or triac in group feed"):
        made.the(Group.FEED, PartKind.RELAY, PartKind.TRIAC)


def test_a_terminal_left_over_is_a_fault_that_names_it() -> None:
    build = Builder()
    build.net("A", "signal")
    build.add(Group.FEED, PartKind.RESISTOR, "1 kohm", "resistor", ("1", "2"))
    build.join("A", "R1.1")
    with pytest.raises(NetlistError, match=r"not on exactly one net: R1\.2"):
        build.finish((), (), ())
    build.join("A", "R1.2", "R1.2")
    with pytest.raises(NetlistError, match=r"R1\.2"):
        build.finish((), (), ())


def test_two_roles_on_one_pin_are_refused_by_name(changed: Changed, board: Board) -> None:
    design = changed(('type = "uno"', 'type = "uno"\npins = { purge = "D2", trigger = "D2" }'))
    with pytest.raises(NetlistError, match=r"A1\.D2"):
        netlist(Project(design, board))


def test_a_net_with_one_terminal_is_a_fault_that_names_it() -> None:
    build = Builder()
    build.net("A", "signal")
    build.net("B", "signal")
    build.add(Group.FEED, PartKind.RESISTOR, "1 kohm", "resistor", ("1", "2"))
    build.join("A", "R1.1")
    build.join("B", "R1.2")
    with pytest.raises(NetlistError, match="nets with one terminal: A, B"):
        build.finish((), (), ())
    with pytest.raises(KeyError, match="R9"):
        netlist_of_nothing().part("R9")
    with pytest.raises(KeyError, match=r"R9\.1"):
        netlist_of_nothing().net_of(Terminal("R9", "1"))


def netlist_of_nothing() -> Netlist:
    return Builder().finish((), (), ())


def test_the_heaviest_load_that_a_design_may_state_has_a_wire(project: Projects) -> None:
    heavy = project(
        (
            'coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A", inrush = "8 A" }',
            'coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "20 A", inrush = "60 A" }',
        )
    )
    assert max(wire.gauge.current_a for wire in wire_list(heavy.netlist)) >= 20.0
