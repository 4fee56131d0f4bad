"""Wire list and parts list as CSV: complete, lengths blank, and nothing that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codegen.drawings.files import (
    FORMULA_STARTS,
    NETS_HEAD,
    harmless,
    nets_csv,
    nets_json,
    parts_csv,
    wires_csv,
)
from tests.conftest import EXAMPLES, ROOT
from timing.circuit.spice import spice_circuits
from wirecue.projects import load_project


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_every_terminal_stands_once_in_the_wire_list_and_lengths_are_blank(example: Path) -> None:
    project = load_project(example)
    wiring = project.netlist
    listed = rows(wires_csv(project.netlist))
    ends = Counter(row[end] for row in listed for end in ("from", "to") if not row[end].startswith("*"))
    assert ends == {f"{part.ref}.{name}": 1 for part in wiring.parts for name in part.terminals}
    assert {row["length_mm"] for row in listed} == {""}
    assert [int(row["number"]) for row in listed] == list(range(1, len(listed) + 1))
    for row in listed:
        assert int(row["awg"]) in range(10, 25)
        assert float(row["mm2"]) > 0


def test_every_part_to_buy_stands_once_in_the_parts_list(example: Path) -> None:
    project = load_project(example)
    wiring = project.netlist
    listed = rows(parts_csv(project))
    refs = Counter(ref for row in listed for ref in row["refs"].split())
    assert refs == {"P0": 1} | {part.ref: 1 for part in wiring.parts if part.to_buy}
    assert all(row["description"] and row["reason"] for row in listed if not row["refs"])
    assert all(int(row["quantity"]) == len(row["refs"].split()) and row["description"] for row in listed if row["refs"])


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\r=1"])
def test_a_cell_like_a_formula_gets_an_apostrophe(cell: str) -> None:
    assert harmless(cell) == f"'{cell}"


@given(st.text())
def test_no_cell_begins_like_a_formula_and_the_rest_is_kept(cell: str) -> None:
    made = harmless(cell)
    assert not made.startswith(FORMULA_STARTS)
    assert made.removeprefix("'") == cell.removeprefix("'")


def test_a_negative_terminal_name_is_not_taken_for_a_formula(example: Path) -> None:
    project = load_project(example)
    for text in (wires_csv(project.netlist), parts_csv(project)):
        assert not any(cell.startswith(FORMULA_STARTS) for row in csv.reader(io.StringIO(text)) for cell in row)


def test_the_net_list_read_back_is_the_designs_netlist(example: Path) -> None:
    project = load_project(example)
    wiring = project.netlist
    wanted = {net.name: {str(terminal) for terminal in net.terminals} for net in wiring.nets}
    listed: dict[str, set[str]] = {}
    for row in rows(nets_csv(wiring)):
        part = wiring.part(row["ref"])
        terminal = row["terminal"].removeprefix("'")
        assert (row["kind"], row["value"].removeprefix("'"), row["place"]) == (part.kind.value, part.value, part.place)
        listed.setdefault(row["net"], set()).add(f"{part.ref}.{terminal}")
    assert listed == wanted
    record = json.loads(nets_json(project))
    assert {net["name"]: {".".join(pair) for pair in net["terminals"]} for net in record["nets"]} == wanted
    assert [part["ref"] for part in record["parts"]] == [part.ref for part in wiring.parts]


def test_the_page_on_open_formats_names_every_column_key_and_circuit() -> None:
    page = (ROOT / "docs" / "open-formats.md").read_text(encoding="utf-8")
    project = load_project(EXAMPLES[0])
    record = json.loads(nets_json(project))
    names = [*NETS_HEAD, *record, *record["parts"][0], *record["nets"][0]]
    assert [name for name in names if f"`{name}`" not in page] == []
    circuits = [one.name for one in spice_circuits(project)]
    assert [name for name in circuits if name not in page and f"`-{name.partition('-')[2]}`" not in page] == []
