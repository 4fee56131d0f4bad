"""Boards as laid out: read back they are the circuit, for every example and random designs; what is wrong is seen."""

from __future__ import annotations

import dataclasses
import re
from functools import cache

import pytest
from hypothesis import given, settings

from tests.conftest import EXAMPLES, SOAK
from tests.support.drawn_designs import DESIGNS, project_of
from timing.circuit.parts import PartKind
from timing.placement.annealing import SCREW_HOLES
from timing.placement.board import BoardLayout, Hole, layout_of, trimmed
from timing.placement.extraction import BARRIER_MM, barrier_mm, connected_terminals, copper_runs, wire_runs
from timing.placement.footprints import OFF_BOARD, ON_BOARD, FootprintError, patterns_of
from timing.placement.items import BoardItems, PlacementError, board_items
from timing.placement.linking import Copper, linked_copper
from timing.placement.place import HEAVY_A, LAYOUT_MOVES, confirmed_faults, place

QUICK = LAYOUT_MOVES if SOAK else 2_000
"""Moves: a layout that is not confirmed is never returned, so that few are enough to show what is returned."""


@pytest.fixture(scope="module", autouse=True)
def _roomy():
    """On a board with more room than need be, few moves do."""
    with pytest.MonkeyPatch.context() as patch:
        if not SOAK:
            patch.setattr("timing.placement.place.FILLED", 0.25)
        yield


@cache
def items_of(text: str) -> BoardItems:
    return board_items(project_of(text).netlist)


@cache
def layout_for(text: str, seed: int = 7) -> BoardLayout:
    return place(project_of(text).netlist, seed, QUICK)


def read_back(text: str) -> None:
    items, layout = items_of(text), layout_for(text)
    assert connected_terminals(layout) == frozenset(items.net_groups().values())
    assert confirmed_faults(items, layout) == []


def test_every_kind_of_part_has_a_hole_pattern_or_stands_elsewhere():
    assert set(ON_BOARD) | set(OFF_BOARD) == set(PartKind)
    assert not set(ON_BOARD) & set(OFF_BOARD)


def test_a_board_of_each_example_connects_what_the_circuit_connects(example):
    read_back(example.read_text())


def test_the_loose_parts_beside_ready_made_modules_have_their_board_too(example):
    text = example.read_text().replace('build = "board"', 'build = "modules"')
    read_back(text)


def with_small_panel(text: str) -> str:
    """The design with one dial and neither switches nor contacts: as many kinds of circuit, in a third of the parts."""
    text = re.sub(r"\[(interlock|arc_sensor|spot|stitch|panel)\]\n(.+\n)+", "", text)
    text = text.replace(", off_switch = true", "").replace("inch = true", "").replace('arc_start = "2 s"', "")
    text = re.sub(r'(preflow|postflow) = \{[^}]*setting = ("[^"]*")[^}]*\}', r"\1 = \2", text)
    return re.sub(r"pins = \{.*\}\n", "", text)


LOW_VOLTAGE = DESIGNS.map(lambda text: text.replace('"115 V"', '"24 V"'))
SMALL = LOW_VOLTAGE if SOAK else LOW_VOLTAGE.map(with_small_panel)


@settings(max_examples=30)
@given(SMALL)
def test_a_board_of_any_design_connects_what_the_circuit_connects(text):
    read_back(text)


def test_on_perforated_board_wires_along_the_rows_take_the_place_of_strips_and_cuts(example):
    items, layout = items_of(example.read_text()), layout_for(example.read_text())
    group_of = {hole: {terminal} for part in layout.parts for terminal, hole in part.pins}
    runs = wire_runs(layout)
    along = [[Hole(run.row, column) for column in range(run.first, run.last + 1)] for run in runs]
    # No two wires in one row share a hole, and each begins and ends at a joint.
    assert len({hole for holes in along for hole in holes}) == sum(map(len, along))
    for joined in (*along, *([link.start, link.end] for link in layout.links)):
        whole = set().union(*(group_of.get(hole, set()) for hole in joined))
        members = [hole for hole, group in group_of.items() if group & whole]
        group_of |= dict.fromkeys([*members, *joined], whole)
    assert {frozenset(group) for group in group_of.values() if group} == set(items.net_groups().values())
    joints = {hole for part in layout.parts for _, hole in part.pins}
    joints |= {hole for link in layout.links for hole in (link.start, link.end)}
    assert all({holes[0], holes[-1]} <= joints for holes in along)


SHOP = next(path for path in EXAMPLES if path.stem == "gasless_four_step").read_text()


def test_the_same_seed_and_moves_give_the_same_board_and_another_seed_another():
    netlist = project_of(SHOP).netlist
    assert place(netlist, 7, QUICK) == layout_for(SHOP)
    assert place(netlist, 8, QUICK) != layout_for(SHOP)


def test_a_layout_comes_back_from_its_data():
    items, layout = items_of(SHOP), layout_for(SHOP)
    data = layout.as_data(items.digest)
    assert layout_of(data, items.digest) == layout
    assert layout_of(data, "another") is None
    for damage in ({}, [], None, data | {"format": 0}, data | {"cuts": ["A0"]}, data | {"parts": [{"name": "R1"}]}):
        assert layout_of(damage, items.digest) is None


def test_each_cut_and_each_link_left_out_is_seen():
    items, layout = items_of(SHOP), layout_for(SHOP)
    for index in range(len(layout.cuts)):
        cuts = layout.cuts[:index] + layout.cuts[index + 1 :]
        assert any("joins" in fault for fault in confirmed_faults(items, dataclasses.replace(layout, cuts=cuts)))
    for index in range(len(layout.links)):
        links = layout.links[:index] + layout.links[index + 1 :]
        assert any("joins" in fault for fault in confirmed_faults(items, dataclasses.replace(layout, links=links)))


def test_a_part_that_stands_elsewhere_is_seen_even_on_the_same_strips():
    items, layout = items_of(SHOP), layout_for(SHOP)
    for index, part in enumerate(layout.parts):
        terminal, hole = part.pins[-1]
        beside = Hole(hole.row, hole.column + 1)
        moved = dataclasses.replace(part, pins=(*part.pins[:-1], (terminal, beside)))
        parts = (*layout.parts[:index], moved, *layout.parts[index + 1 :])
        assert confirmed_faults(items, dataclasses.replace(layout, parts=parts))
        turned = dataclasses.replace(part, turn=(part.turn + 180) % 360)
        parts = (*layout.parts[:index], turned, *layout.parts[index + 1 :])
        assert len(part.pins) == 1 or confirmed_faults(items, dataclasses.replace(layout, parts=parts))


def test_a_bare_link_over_anything_and_two_wires_in_a_hole_are_seen():
    items, layout = items_of(SHOP), layout_for(SHOP)
    insulated = [link for link in layout.links if link.insulated]
    assert insulated
    for link in insulated:
        links = tuple(dataclasses.replace(one, insulated=False) if one is link else one for one in layout.links)
        assert confirmed_faults(items, dataclasses.replace(layout, links=links))
    assert any("wires in" in fault for fault in confirmed_faults(items, dataclasses.replace(
        layout, links=(*layout.links, layout.links[0]))))  # fmt: skip


def test_the_two_sides_keep_their_distance_over_all_copper_floating_strips_too(example):
    text = example.read_text()
    items, layout = items_of(text), layout_for(text)
    field = {terminal for name in items.field_nets for terminal in items.net_groups()[name]}
    way_mm = barrier_mm(layout, field)
    assert way_mm is not None
    assert way_mm >= BARRIER_MM
    # One column of cuts instead of two is too little, and a strip that nothing stands on bridges the rest.
    narrow = dataclasses.replace(layout, barrier=layout.barrier[:1])
    assert any("clear way" in fault for fault in confirmed_faults(items, narrow))
    rows = {hole.row for part in layout.parts for _, hole in part.pins}
    empty = [run.row for run in copper_runs(layout) if run.row not in rows]
    for row in empty[:1]:
        open_ = tuple(Hole(one, column) for one in range(layout.rows) for column in layout.barrier if one != row)
        bridged = dataclasses.replace(layout, barrier=(), cuts=(*layout.cuts, *open_))
        assert any("clear way" in fault for fault in confirmed_faults(items, bridged))


def test_common_hangs_on_the_reservoir_as_a_tree(example):
    layout = layout_for(example.read_text())
    pieces = len(layout.links)
    runs = copper_runs(layout)
    joined = {(link.start, link.end) for link in layout.links}
    assert len(joined) == pieces
    # No loop anywhere: every link joins two stretches that nothing else joins.
    groups = list(range(len(runs)))
    at = {Hole(run.row, column): index for index, run in enumerate(runs) for column in range(run.first, run.last + 1)}
    for link in layout.links:
        first, second = groups[at[link.start]], groups[at[link.end]]
        assert first != second
        groups = [first if group == second else group for group in groups]


def test_common_and_the_reservoir_begin_at_the_reservoir_s_own_pins(monkeypatch):
    seen = {}

    def watched(bare, order, roots, heavy):
        seen.update(roots)
        return linked_copper(bare, order, roots, heavy)

    monkeypatch.setattr("timing.placement.place.linked_copper", watched)
    netlist = project_of(SHOP).netlist
    items, layout = board_items(netlist), place(netlist, 7, QUICK)
    reservoir = next(one for one in netlist.parts if one.reason.startswith("reservoir"))
    (part,) = (one for one in layout.parts if one.name == reservoir.ref)
    begun = {items.nets[net].name for net in seen}
    assert begun == {"RESERVOIR+", "COMMON"}
    # Rows may have been taken off since.
    assert {hole.column for hole in seen.values()} == {hole.column for _, hole in part.pins}


@pytest.mark.parametrize("root", [0, 2, 4])
def test_a_net_with_a_root_hangs_on_it_as_a_star_where_the_way_is_not_much_longer(root):
    """Five strips, one above the other, joined in a chain where nothing says where to begin."""
    pins = {Hole(row, 0): 0 for row in range(5)}
    bare = Copper(5, 12, [False] * 60, pins, ())
    copper = linked_copper(bare, [0], {0: Hole(root, 0)}, set())
    assert len(copper.links) == 4
    assert all(root in (link.start.row, link.end.row) for link in copper.links)


def with_currents(text: str) -> str:
    """The contactor's wires behind a fuse of 2 A."""
    return re.sub(r"(\[feeder\.contactor\]\n)", r'\1protection = { by = "own-fuse", rating = "2 A" }\n', text)


def test_what_carries_more_than_an_ampere_has_thick_links_and_doubled_strips():
    text = with_currents(SHOP)
    items, layout = items_of(text), layout_for(text)
    groups, current_a = items.net_groups(), {net.name: net.current_a for net in items.nets}
    of_terminal = {terminal: name for name, terminals in groups.items() for terminal in terminals}
    wires = {hole for link in layout.links for hole in (link.start, link.end)}
    net_at = {hole: of_terminal[terminal] for part in layout.parts for terminal, hole in part.pins}
    doubled = {Hole(run.row, column) for run in layout.tinned for column in range(run.first, run.last + 1)}
    heavy = {name for name, amps in current_a.items() if amps > HEAVY_A}
    assert {"CONT-FEED", "CONT-COIL"} <= heavy < set(current_a)
    for run in copper_runs(layout):
        holes = [Hole(run.row, column) for column in range(run.first, run.last + 1)]
        (net,) = {net_at[hole] for hole in holes if hole in net_at} or {""}
        used = [hole.column for hole in holes if hole in net_at or hole in wires]
        between = {Hole(run.row, column) for column in range(min(used), max(used) + 1)} if len(used) > 1 else set()
        assert doubled & set(holes) == (between if net in heavy else set())
        for link in layout.links:
            if net and (link.start in holes or link.end in holes):
                assert link.heavy == (net in heavy)


@pytest.mark.parametrize(("above", "below"), [(0, 0), (4, 3), (1, 9)])
def test_outer_rows_on_which_nothing_stands_are_cut_off_and_the_screws_keep_their_corners(above, below):
    items, layout = items_of(SHOP), layout_for(SHOP)
    assert trimmed(layout, SCREW_HOLES) == layout

    def down(hole):
        return Hole(hole.row + above, hole.column)

    taller = dataclasses.replace(
        layout,
        rows=layout.rows + above + below,
        parts=tuple(
            dataclasses.replace(
                part,
                body=(part.body[0] + above, part.body[1] + above, *part.body[2:]),
                pins=tuple((terminal, down(hole)) for terminal, hole in part.pins),
            )
            for part in layout.parts
        ),
        cuts=tuple(map(down, layout.cuts)),
        links=tuple(dataclasses.replace(link, start=down(link.start), end=down(link.end)) for link in layout.links),
        tinned=tuple(dataclasses.replace(run, row=run.row + above) for run in layout.tinned),
    )
    assert confirmed_faults(items, taller) == []
    assert trimmed(taller, SCREW_HOLES) == layout


def test_nothing_stands_on_the_screws_and_hot_parts_have_air(example):
    text = example.read_text()
    items, layout = items_of(text), layout_for(text)
    corner = {(row, column) for row in (0, 1, 2, layout.rows - 3, layout.rows - 2, layout.rows - 1)
              for column in (0, 1, 2, layout.columns - 3, layout.columns - 2, layout.columns - 1)}  # fmt: skip
    covered = {
        (row, column): part.name
        for part in layout.parts
        for row in range(part.body[0], part.body[1] + 1)
        for column in range(part.body[2], part.body[3] + 1)
    }
    assert not corner & set(covered)
    assert not corner & {tuple(hole) for link in layout.links for hole in (link.start, link.end)}
    hot = {item.name for item in items.items if item.patterns[0].hot}
    for part in layout.parts:
        if part.name in hot:
            beside = [(row, column) for row in range(part.body[0], part.body[1] + 1)
                      for column in (part.body[2] - 1, part.body[3] + 1)]  # fmt: skip
            assert not [covered[place] for place in beside if place in covered]


def test_a_load_above_extra_low_voltage_is_refused_in_a_sentence():
    text = SHOP.replace('fed_from = "elsewhere", voltage = "24 V"', 'fed_from = "elsewhere", voltage = "115 V"')
    assert text != SHOP
    with pytest.raises(PlacementError, match=r"above extra-low voltage, and neighbouring strips") as caught:
        place(project_of(text).netlist, 7, 10)
    assert "do       a relay or opto module" in str(caught.value)


def test_a_circuit_too_big_for_any_board_is_refused_in_a_sentence(monkeypatch):
    monkeypatch.setattr("timing.placement.place.STOCK", ((25, 39),))
    with pytest.raises(PlacementError, match=r"find no room on 25 x 39 holes"):
        place(project_of(SHOP).netlist, 7, 10)


def test_a_part_without_a_known_pattern_is_refused_in_a_sentence():
    netlist = project_of(SHOP).netlist
    resistor = next(part for part in netlist.parts if part.kind is PartKind.RESISTOR)
    with pytest.raises(FootprintError, match="gives no figure in W"):
        patterns_of(dataclasses.replace(resistor, description="resistor"))
    with pytest.raises(FootprintError, match="no hole pattern is known for a socket"):
        patterns_of(next(part for part in netlist.parts if part.kind is PartKind.SOCKET))


def test_holes_are_named_by_row_letters_and_column_numbers():
    layout = layout_for(SHOP)
    assert (str(Hole(0, 0)), str(Hole(25, 9)), str(Hole(26, 0)), str(Hole(38, 61))) == ("A1", "Z10", "AA1", "AM62")
    assert all(0 <= hole.row < layout.rows for hole in layout.cuts)


def test_an_isolated_feed_lies_on_the_field_side_and_only_the_module_and_couplers_stand_across():
    # A divider from the feed to the board would join the two again.
    text = re.sub(r"sense = \{ divider.*\n", "", SHOP.replace("[supply]\n", '[supply]\nisolation = "module"\n'))
    items = items_of(text)
    assert {"RESERVOIR+", "FEED-COMMON"} <= set(items.field_nets)
    assert "COMMON" not in items.field_nets
    across = {item.name for item in items.items if item.side == "across"}
    netlist = project_of(text).netlist
    assert PartKind.ISOLATING_MODULE in {netlist.part(name).kind for name in across}
    assert not any(item.joins for item in items.items)
    read_back(text)
