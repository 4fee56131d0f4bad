"""`wirecue diff`: what changed in words, between designs, builds, and a board and its file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bench.virtual.board import VirtualBoard
from bench.virtual.machine import Faults
from bench.virtual.serving import behind_pty
from codegen.design_change import ProgramChange, design_change
from codegen.plan import Plan
from codegen.writing import write_plan
from tests.conftest import ROOT
from tests.support.running import run, shop
from timing.circuit.lists import wire_list
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_project

OTHER_DIAL = ('to = "300 ms", setting = "130 ms"', 'to = "250 ms", setting = "0.14 s"')


@pytest.fixture
def design(tmp_path):
    """The shop's design in a folder of its own."""
    return shop(tmp_path)


def changed(design: Path, name: str, *pairs: tuple[str, str]) -> Path:
    """Another design beside it, pieces of its text replaced."""
    text = design.read_text()
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path = design.with_name(name)
    path.write_text(text)
    return path


def built(folder: Path, *designs: Path) -> Path:
    """The manifests of builds of some designs, one after the other, without what else a build makes."""
    for path in designs:
        digest = load_project(path).design.digest()
        about = {
            "design": "shop_two_step",
            "digest": digest,
            "made_by": "wirecue 0.0.9",
            "design_file": path.read_text(),
        }
        write_plan(Plan({"x.txt": b"x"}), folder, about)
    return folder


def board(design: Path, **faults: object) -> VirtualBoard:
    return VirtualBoard(target_of(load_project(design)), "1.2.3", faults=Faults(**faults))


def test_the_same_design_otherwise_written_is_the_same(design):
    other = changed(design, "other.toml", ('"130 ms"', '"0.13 s"'), ("# Invented", "# Made up"))
    result = run("diff", design, other)
    assert result.exit_code == 0, result.output
    assert "The same design: nothing differs." in result.stdout


def test_old_and_new_are_told_as_typed_and_what_it_means_for_the_hands(design):
    design = changed(design, "made.toml", ("[buttons]", "[panel]\nmade = true\n[buttons]"))
    other = changed(design, "other.toml", OTHER_DIAL, ("inch = true", "inch = false"))
    result = run("diff", design, other)
    assert result.exit_code == 1, result.output
    said = " ".join(result.stdout.split())
    for says in (
        "times.burnback.setting 130 ms -> 0.14 s",
        "buttons.inch true -> false",
        "Flash the board anew, and test it on the bench before it goes back.",
        "burnback: a dial from 20 ms to 250 ms, not 20 ms to 300 ms, set to 140 ms.",
        "Plates to print anew though the design says that they are made: burnback, status lamp. The dials of preflow, "
        "postflow keep theirs.",
        "Plates that come off: inch push button.",
        "On the board, inch button: pin D4 is free.",
        "A1.D4 to *PIN-inch, on the circuit board",
        "1 x push button, normally open, inch button",
    ):
        assert says in said
    assert "Wires to put in" not in result.stdout
    back = json.loads(run("diff", other, design, "--json").stdout)
    assert not back["same"]
    assert {"about": "times and dials", "key": "times.burnback.to", "old": "250 ms", "new": "300 ms"} in back["changes"]
    assert back["hands"]["flash"]
    assert back["hands"]["plates"] == ["burnback", "inch push button", "status lamp"]
    assert (back["hands"]["wires_off"], back["hands"]["parts_off"]) == ([], [])
    assert len(back["hands"]["wires_new"]) == 7


@pytest.mark.parametrize(
    ("pair", "says", "not_said"),
    [
        (('"50 ms"', '"43 ms"'), "The board does the same with either", "On the panel"),
        (('setting = "130 ms"', 'setting = "140 ms"'), "burnback: turn its dial from 130 ms to 140 ms.", "Flash"),
        (('title = "Two-step', 'title = "My'), "The board does the same with either", "Plates to print"),
        (("[buttons]", "[panel]\nmade = true\n[buttons]"), "The board needs nothing", "Flash"),
    ],
)
def test_what_does_not_reach_the_board_asks_for_no_flash(design, pair, says, not_said):
    result = run("diff", design, changed(design, "other.toml", pair))
    assert result.exit_code == 1
    assert says in result.stdout
    assert not_said not in result.stdout
    assert "No wire moves." in result.stdout
    assert "Every plate that stays is still true." in result.stdout


def test_what_cannot_be_built_is_compared_and_the_rest_said_not_to_be_told(design):
    other = changed(design, "other.toml", ("[board]", '[board]\npins = { gas_valve = "99" }'))
    result = run("diff", design, other)
    assert result.exit_code == 1
    assert "board.pins.gas_valve" in result.stdout
    assert "It cannot be told: " in result.stdout


def test_builds_are_compared_by_their_manifests(design):
    other = changed(design, "other.toml", OTHER_DIAL)
    folder = built(design.with_name("out"), other, design)
    digest = load_project(other).design.digest()
    assert run("diff", folder, design).exit_code == 0
    result = run("diff", folder / "earlier" / f"{digest}.json", design)
    assert result.exit_code == 1
    assert "times.burnback.to       250 ms  ->  300 ms" in result.stdout
    assert "Built by wirecue 0.0.9." in result.stdout


@pytest.mark.parametrize("content", ["{}", "[1", "\x00", '{"kind": "wirecue build"}'])
def test_a_file_that_is_no_manifest_is_refused(design, content):
    path = design.with_name("some.json")
    path.write_text(content)
    result = run("diff", path, design)
    assert result.exit_code == 2
    assert "manifest" in result.stderr
    assert "other version" not in result.stderr or "schema" in result.stderr


def test_a_manifest_without_its_design_is_told(design):
    write_plan(Plan({"x.txt": b"x"}), design.with_name("out"), {"design": "d", "digest": "0" * 16, "made_by": "it"})
    result = run("diff", design.with_name("out"), design)
    assert result.exit_code == 2
    assert "which did not keep the design file" in result.stderr


@pytest.mark.parametrize(
    "arguments", [(), ("b.toml", "--port", "x"), ("b.toml", "--build", "out"), ("--port", "/dev/no_such_port")]
)
def test_a_wrong_command_is_exit_code_2(design, arguments):
    assert run("diff", design, *arguments).exit_code == 2


def test_a_board_that_carries_the_design_is_the_same(design):
    with behind_pty(board(design)) as port:
        result = run("diff", design, "--port", port)
    assert result.exit_code == 0, result.output
    assert "made with version 1.2.3" in result.stdout
    assert "The same design: nothing differs." in result.stdout


def test_a_board_with_edited_settings_is_not(design):
    with behind_pty(board(design, edited=True)) as port:
        result = run("diff", design, "--port", port)
    assert result.exit_code == 1
    assert "A number of its settings.h was edited after the build" in result.stdout


def test_what_a_board_was_flashed_with_is_found_in_the_builds_that_the_logbook_names(design):
    digest = load_project(design).design.digest()
    old = changed(design, "old.toml", OTHER_DIAL)
    built(design.with_name("somewhere"), old, design)
    design.with_suffix(".log").write_text(
        "# wirecue logbook: mine.\n"
        f'2026-01-30T10:00:00+01:00 build {{ digest = "{load_project(old).design.digest()}", folder = "somewhere" }}\n'
        f'2026-01-31T10:00:00+01:00 flash {{ digest = "{load_project(old).design.digest()}" }}\n'
        f'2026-11-30T10:00:00+01:00 build {{ digest = "{digest}", folder = "somewhere" }}\n'
    )
    with behind_pty(board(old)) as port:
        result = run("diff", design, "--port", port)
    assert result.exit_code == 1, result.output
    told = " ".join(result.stdout.split())
    assert "The logbook says of that digest: built 2026-01-30 10:00, flashed 2026-01-31 10:00." in told
    assert "times.burnback.setting 0.14 s -> 130 ms" in told
    assert "Flash the board anew" in told


def test_a_board_that_nobody_kept_a_build_of_is_said_to_be_unknown(design):
    old = changed(design, "old.toml", OTHER_DIAL)
    with behind_pty(board(old)) as port:
        result = run("diff", design, "--port", port)
        data = json.loads(run("diff", design, "--port", port, "--json").stdout)
        found = run("diff", design, "--port", port, "--build", built(design.with_name("out"), old))
    assert result.exit_code == 1
    assert "its settings cannot be told" in " ".join(result.stdout.split())
    assert (data["same"], data["changes"]) == (False, None)
    assert data["board"]["digest"] == load_project(old).design.digest()
    assert "times.burnback.to       250 ms  ->  300 ms" in found.stdout


def test_a_part_that_only_gets_another_number_is_no_work(design):
    """The purge button stands before the inch button, whose parts are renumbered when it goes."""
    other = changed(design, "other.toml", ("purge = true", "purge = false"))
    hands = json.loads(run("diff", design, other, "--json").stdout)["hands"]
    assert hands["wires_new"] == []
    assert len(hands["wires_off"]) == 7
    assert not any("inch" in wire for wire in hands["wires_off"])


def test_a_manifest_whose_design_is_none_is_refused(design):
    write_plan(Plan({"x.txt": b"x"}), design.with_name("out"), {"digest": "0" * 16, "design_file": "format = 1"})
    result = run("diff", design.with_name("out"), design)
    assert result.exit_code == 2
    assert "manifest.json, design_file" in result.stderr


def test_what_goes_and_what_comes_is_all_that_two_designs_do_not_share():
    before, after = (load_project(ROOT / "examples" / name) for name in ("gasless_four_step.toml", "spot_stitch.toml"))
    change, back = design_change(before, after), design_change(after, before)
    old, new = (len(wire_list(project.netlist)) for project in (before, after))
    assert len(change.wires_new) - len(change.wires_off) == new - old
    assert (len(back.wires_off), len(back.wires_new)) == (len(change.wires_new), len(change.wires_off))
    assert (sorted(back.parts_off), sorted(back.parts_new)) == (sorted(change.parts_new), sorted(change.parts_off))
    assert change.program is back.program is ProgramChange.PROGRAM
