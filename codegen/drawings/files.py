"""Drawings, lists and netlists of a build, by file name, all from one netlist.

The wire list and the parts list are CSV (RFC 4180), for a spreadsheet or for paper. A spreadsheet runs a cell that
begins like a formula. Text of a design may stand in these lists, so such cells get an apostrophe in front, which
spreadsheets hide; numbers stay numbers.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence

from codegen.drawings.feeder_ladder import feeder_sheets
from codegen.drawings.schematic import schematic
from codegen.drawings.wiring import bypass_sheet, wiring_sheets
from timing.circuit.accessories import accessories
from timing.circuit.lists import parts_list, wire_list
from timing.circuit.parts import Netlist
from timing.circuit.spice import spice_circuits
from timing.project import Project


def drawing_files(project: Project) -> dict[str, str]:
    """Return schematic, wiring, feeder and bypass plug as SVG, a file for each sheet of A4, the lists as CSV, the
    nets as CSV and JSON, and the circuits that were computed for ngspice.

    The feeder is drawn as found and as changed where the design says how it was wired.
    Check the design against the rules on pins first: raises NetlistError where two roles share a pin.
    """
    return {
        **numbered("schematic", schematic(project)),
        **numbered("wiring", wiring_sheets(project)),
        **_feeder_files(feeder_sheets(project)),
        "bypass.svg": bypass_sheet(project),
        "parts.csv": parts_csv(project),
        "wires.csv": wires_csv(project.netlist),
        "nets.csv": nets_csv(project.netlist),
        "nets.json": nets_json(project),
        **{f"spice/{one.name}.cir": one.text for one in spice_circuits(project)},
    }


def numbered(name: str, sheets: Sequence[str]) -> dict[str, str]:
    """Return sheets by file name: schematic.svg, schematic-2.svg and so on."""
    return {f"{name}{'' if number == 1 else f'-{number}'}.svg": svg for number, svg in enumerate(sheets, start=1)}


def _feeder_files(sheets: Sequence[str]) -> dict[str, str]:
    found, changed = FEEDER_FILES
    return {found: sheets[0], **numbered(changed.removesuffix(".svg"), sheets[1:])} if sheets else {}


FEEDER_FILES = ("feeder-found.svg", "feeder-changed.svg")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
WIRES_HEAD = ("number", "from", "to", "net", "awg", "mm2", "current_a", "length_mm", "kind", "pole", "how_to_run_it")
NETS_HEAD = ("net", "family", "current_a", "ref", "terminal", "kind", "value", "place")
PARTS_HEAD = ("quantity", "refs", "description", "value", "reason")


def wires_csv(wiring: Netlist) -> str:
    """Return the wire list; the lengths are left blank, to be measured in the machine.

    A name that begins with * is a star point: wires that meet there.
    """
    rows = (
        (
            str(wire.number),
            wire.from_end,
            wire.to_end,
            wire.net,
            str(wire.gauge.awg),
            f"{wire.gauge.metric_mm2:g}",
            f"{wire.current_a:.3g}",
            "",
            "link on the circuit board" if wire.on_board else "wire",
            {"+": "plus", "-": "minus"}.get(wire.pole, ""),
            wire.treatment,
        )
        for wire in wire_list(wiring)
    )
    return table_csv(WIRES_HEAD, rows)


def parts_csv(project: Project) -> str:
    """Return the parts list; what is no part of the circuit, such as the box, stands at its end without refs."""
    rows = (
        (str(row.quantity), " ".join(row.refs), row.description, row.value, "; ".join(row.reasons))
        for row in (*parts_list(project.netlist), *accessories(project))
    )
    return table_csv(PARTS_HEAD, rows)


def nets_csv(wiring: Netlist) -> str:
    """Return the net list: a row for each terminal of each part, in the order of the nets."""
    rows = (
        (
            net.name,
            net.family,
            f"{net.current_a:.3g}",
            terminal.ref,
            terminal.name,
            wiring.part(terminal.ref).kind.value,
            wiring.part(terminal.ref).value,
            wiring.part(terminal.ref).place,
        )
        for net in wiring.nets
        for terminal in net.terminals
    )
    return table_csv(NETS_HEAD, rows)


def nets_json(project: Project) -> str:
    """Return parts and nets as JSON: what nets.csv has, with descriptions, groups and how wires are run."""
    wiring, design = project.netlist, project.design
    record = {
        "kind": "wirecue net list",
        "schema": 1,
        "design": design.name,
        "digest": design.digest(),
        "parts": [
            {
                "ref": part.ref,
                "kind": part.kind.value,
                "value": part.value,
                "description": part.description,
                "place": part.place,
                "group": part.group.value,
                "terminals": list(part.terminals),
                "reason": part.reason,
            }
            for part in wiring.parts
        ],
        "nets": [
            {
                "name": net.name,
                "family": net.family,
                "current_a": net.current_a,
                "treatment": net.treatment,
                "terminals": [[terminal.ref, terminal.name] for terminal in net.terminals],
            }
            for net in wiring.nets
        ],
        "mates": [[mate.fixed, mate.free] for mate in wiring.mates],
    }
    return json.dumps(record, indent=2, ensure_ascii=False) + "\n"


def table_csv(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table as CSV (RFC 4180)."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(head)
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    return text.getvalue()


def harmless(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula."""
    return f"'{cell}" if cell.startswith(FORMULA_STARTS) else cell
