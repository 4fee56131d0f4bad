"""Sections of the build sheet on supply and wiring."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from codegen.charts.supply import supply_svg
from codegen.drawings.feeder_ladder import feeder_sheets
from codegen.drawings.schematic import schematic
from codegen.drawings.wiring import bypass_sheet, wiring_sheets
from codegen.papers.blocks import Block, Caution, Grid, Paragraph, Picture
from codegen.papers.sheet import SheetSource
from timing.circuit.accessories import accessories
from timing.circuit.feeder_ladder import feeder_wiring
from timing.circuit.lists import WireRow, hand_work, parts_list, wire_list
from timing.design.board import Kind, Role
from timing.design.pinning import needed_roles
from timing.formatting import in_ms
from timing.power.record import corner_figures
from timing.power.verdict import supply_verdict
from timing.safety import BEFORE_OPENING, CONTROL_CIRCUIT, CONTROL_CIRCUIT_APART, DRY_CONTACTS, IN_THE_BOX


def supply_budget(sheet: SheetSource) -> Sequence[Block]:
    """The 24 VAC budget at its corners, and what follows from it."""
    found = sheet.project.supply.budget
    head = ("at", "winding, V", "reservoir, V", "ripple, V", "add-on's current, A", "regulator heat, W", "junction, °C")
    fuse = "" if not found.fuse_proposed else ", as proposed"
    said = [
        (finding.severity.word, *map(_sentence, (finding.text, "; or: ".join(one.text for one in finding.remedies))))
        for finding in sheet.project.supply.findings
    ]
    source = "measured" if found.winding.measured else "from its rating, not measured"
    return [
        Paragraph(supply_verdict(sheet.project.supply).text),
        Paragraph(
            f"Winding {found.winding.open_v:.1f} V open, {found.winding.source_ohm:.2f} ohm, {source}. Fuse "
            f"{found.fuse.title}{fuse}, at the tap. Switching on: {found.inrush.peak_a:.0f} A at most. "
            f"With the 24 VAC gone the reservoir lasts {in_ms(found.hold_up_s)}."
        ),
        Caution(
            f"The reservoir can stand at {found.highest_v:.0f} V and holds its charge after switching off. "
            "Wait, and measure under 5 V before you touch it."
        ),
        Picture(
            supply_svg(sheet.project.supply),
            "The supply: reservoir at its corners, winding by phase, pull-in and start",
        ),
        Grid(head, tuple(map(corner_figures, found.corners)), frozenset(range(1, len(head)))),
        *([Grid(("", "found", "what to do"), tuple(said))] if said else []),
    ]


def _sentence(text: str) -> str:
    return f"{text}." if text else ""


def drawings(sheet: SheetSource) -> Sequence[Block]:
    """Schematic, wiring and bypass plug."""
    project = sheet.project
    said = "the wire list says the same in words"
    return [
        Paragraph(
            "Each drawing is made for a whole sheet of A4 in landscape; print the files `schematic.svg`, "
            "`wiring.svg`, `bypass.svg` and their further sheets at full size for the workbench."
        ),
        *[Picture(svg, f"Schematic of the add-on; {said}", sheet=True) for svg in schematic(project)],
        *[Picture(svg, f"Wiring; {said}", sheet=True) for svg in wiring_sheets(project)],
        Picture(bypass_sheet(project), "Bypass plug that puts the feeder back as found", sheet=True),
    ]


def feeder(sheet: SheetSource) -> Sequence[Block] | None:
    """The machine as found and as changed, and every cut with its meter tests."""
    wiring = feeder_wiring(sheet.project)
    if wiring is None:
        return None
    rows = tuple(
        (str(cut.number), cut.wire, "; ".join(f"{end}: {goes}" for end, goes in cut.ends), cut.before, cut.after, "")
        for cut in wiring.cuts
    )
    found, *changed = feeder_sheets(sheet.project)
    return [
        Caution(BEFORE_OPENING),
        Paragraph(
            "Photograph every terminal before you touch it. One cut after the other, each with its two meter tests; a "
            "reading that is not as told means another wire than drawn: stop and trace it."
        ),
        Grid(("", "cut", "where its ends go", "meter before", "meter after", "done"), rows, frozenset({0}),
             frozenset({5}), "Cuts, in this order, numbered as in the drawings"),
        Picture(found, "The feeder as found, with the wires to cut", sheet=True),
        *(Picture(svg, "The feeder as changed, with every terminal of the add-on", sheet=True) for svg in changed),
    ]  # fmt: skip


def parts(sheet: SheetSource) -> Sequence[Block]:
    """What to buy."""
    rows = tuple(
        (str(row.quantity), ", ".join(row.refs), row.description, "; ".join(row.reasons))
        for row in parts_list(sheet.project.netlist)
    )
    besides = tuple((str(row.quantity), row.description, "; ".join(row.reasons)) for row in accessories(sheet.project))
    work = hand_work(sheet.project.netlist)
    return [
        Paragraph(
            f"{work}. Besides {work.cable_and_panel} wires to plug and panel and {work.in_feeder} in the feeder, the "
            "same either way of building."
        ),
        Grid(("", "part", "what to buy", "why"), rows, frozenset({0})),
        Grid(("", "what to buy", "why"), besides, frozenset({0}), title="Besides: box, cables and small parts"),
    ]


def wires(sheet: SheetSource) -> Sequence[Block]:
    """Every wire with a box to tick, with the cautions of its place."""
    listed, design = wire_list(sheet.project.netlist), sheet.design
    placed = tuple((one.at, one.text) for one in sheet.project.netlist.cautions if one.at != "everywhere")
    treatments = dict.fromkeys(wire.treatment for wire in listed if wire.treatment)
    keys = {text: f"({number})" for number, text in enumerate(treatments, start=1)}
    rows = tuple(
        (str(wire.number), wire.net, wire.from_end, wire.to_end, str(wire.gauge), keys.get(wire.treatment, ""), "")
        for wire in listed
        if not wire.on_board
    )
    links = tuple(
        (f"{link.connector}.{link.from_way}", f"{link.connector}.{link.to_way}", link.note)
        for link in sheet.project.netlist.bypass
    )
    return [
        Caution(CONTROL_CIRCUIT_APART if sheet.project.budget.isolation.parts_common else CONTROL_CIRCUIT),
        Caution(IN_THE_BOX),
        *([Caution(DRY_CONTACTS)] if design.interlock.fitted or design.arc_sensor is not None else []),
        Grid(("at", "mind"), placed, title="Where to take care"),
        Grid(("", "how to run it"), tuple((key, text) for text, key in keys.items()), title="How to run the wires"),
        Grid(
            ("", "net", "from", "to", "size", "run", "done"),
            rows,
            frozenset({0}),
            frozenset({6}),
            "Wires; a star is a point where all of a net meet",
        ),
        Grid(
            ("net", "joins"),
            tuple(_tracks(listed)),
            title="On the add-on's own circuit board: tracks or links between these terminals",
        ),
        Grid(("from", "to", "what it puts back"), links, title="Links in the bypass plug, which puts the feeder back"),
    ]


def _tracks(listed: Sequence[WireRow]) -> Iterator[tuple[str, str]]:
    for net, found in groupby((wire for wire in listed if wire.on_board), key=lambda wire: wire.net):
        ends = [end for wire in found for end in (wire.from_end, wire.to_end) if not end.startswith("*")]
        yield net, ", ".join(ends)


def pins(sheet: SheetSource) -> Sequence[Block]:
    """Which pin does what, and what holds an output off while the board boots."""
    design, board = sheet.design, sheet.board
    names = sheet.project.pins
    rows = []
    for role in needed_roles(design):
        name = names[role.key]
        pin = board.pin(name) if name else None
        rows.append((role.meaning, name or "none yet", pin.port if pin else "", _pin_note(sheet, role)))
    return [
        Caution(
            "Pins float while the board boots: every output needs what is said here, or gas, wire and contactor may "
            "come on by themselves."
        ),
        Grid(("job", "pin", "port", "level"), tuple(rows)),
    ]


def _pin_note(sheet: SheetSource, role: Role) -> str:
    if role.kind is Kind.ANALOG:
        return "reads a voltage"
    if role.kind is Kind.INPUT:
        return "pulled up; the contact pulls it to common"
    level = getattr(sheet.design.board.on_level, role.key, None)
    if level is None:
        return "high is on"
    wired = next((one for one in sheet.project.drives if one.role == role.key), None)
    if wired is not None and wired.pull_ohm is None:
        return f"{level} is on; the module's input is dark while the pin floats"
    return f"{level} is on; resistor to {'common' if level == 'high' else 'supply'} holds it off"
