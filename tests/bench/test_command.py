"""`wirecue bench` as people and scripts use it."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner

from bench.board_clock import RUNS_AS_IT_LIKES
from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.machine import Faults
from bench.virtual.serving import behind_pty
from tests.support.running import run
from timing.sequence.core.table import Output
from wirecue.cli import main

SHOP = Path(__file__).parents[2] / "examples" / "shop_two_step.toml"


def bench(*arguments):
    return CliRunner().invoke(main, ["bench", *map(str, arguments)])


@pytest.fixture
def ahead(monkeypatch):
    """Let a board behind a port run ahead of the host's clock, so that the test takes no time."""
    monkeypatch.setattr("bench.board_clock.FOLLOWS_HOST", RUNS_AS_IT_LIKES)


def test_a_virtual_board_passes():
    result = bench(SHOP, "--virtual", "--case", "weld", "--case", "purge")
    assert result.exit_code == 0, result.output
    assert "pass  weld " in result.stdout
    assert result.stdout.endswith("All 2 cases pass.\n")
    assert "found shop_two_step with digest " in result.stderr
    assert "The feeder plug" not in result.output


def test_a_case_that_fails_is_exit_code_1(monkeypatch):
    class Dead(VirtualBoard):
        def __init__(self, target, version):
            super().__init__(target, version, AheadClock(3_001), faults=Faults(dead=frozenset({Output.WIRE})))

    monkeypatch.setattr("bench.virtual.board.VirtualBoard", Dead)
    result = bench(SHOP, "--virtual", "--case", "weld")
    assert result.exit_code == 1
    assert "wire drive: comes on expected at" in result.stderr
    assert "Do not connect this board to the feeder." in result.stdout


def test_json_to_the_screen_is_json_and_nothing_else():
    result = bench(SHOP, "--virtual", "--case", "tap", "--json", "-")
    assert json.loads(result.stdout)["cases"][0]["name"] == "tap"
    assert "All 1 cases pass." in result.stderr


def test_reports_are_written(tmp_path):
    result = bench(
        SHOP, "--virtual", "--case", "tap", "--json", tmp_path / "bench.json", "--junit", tmp_path / "bench.xml"
    )
    assert result.exit_code == 0, result.output
    assert json.loads((tmp_path / "bench.json").read_text())["passed"] is True
    assert ET.parse(tmp_path / "bench.xml").getroot().tag == "testsuites"


def test_a_report_that_cannot_be_written_is_told(tmp_path):
    result = bench(SHOP, "--virtual", "--case", "tap", "--json", tmp_path / "no" / "bench.json")
    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_cases_are_listed_with_how_long_they_take():
    result = bench(SHOP, "--list-cases")
    assert result.exit_code == 0
    assert re.search(r"^weld +[0-9.]+ s +weld while held$", result.stdout, re.MULTILINE)
    assert "weld-limit" not in result.stdout
    assert "weld-limit" in bench(SHOP, "--list-cases", "--long").stdout


def test_cases_that_are_left_out_for_their_length_are_named():
    # It ends soon: nothing answers behind this address.
    port = ("--port", "socket://127.0.0.1:1", "--yes")
    note = "left out for their length: purge-limit, supply-in-await-release, weld-limit; --long runs them"
    assert note in bench(SHOP, *port).stderr
    assert "left out" not in bench(SHOP, *port, "--long").stderr
    assert "left out" not in bench(SHOP, *port, "--case", "tap").stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--virtual", "--case", "wled"], "shop_two_step has no case 'wled'; was 'weld' meant?"),
        (["--virtual", "--port", "x"], "--port and --virtual exclude each other"),
        (["--virtual", "--json", "-", "--junit", "-"], "only one of --json, --junit and --paper can be printed"),
        (["--virtual=arm"], "'arm' is not one of 'model', 'avr'"),
        (["--port", "/dev/null"], "nobody is there to say that the cautions are heeded; --yes says so"),
        (["--port", "/dev/nonesuch"], "There is no port /dev/nonesuch."),
        (["--port", "/dev/" + "a" * 300, "--yes"], "File name too long"),
        (["--port", "/dev/nonesuch", "--yes"], "There is no port /dev/nonesuch."),
        ([], "No port was named"),
    ],
)
def test_a_wrong_command_is_exit_code_2_and_a_sentence(arguments, says):
    result = bench(SHOP, *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""


def test_a_design_file_that_is_not_there_is_exit_code_2(tmp_path):
    result = bench(tmp_path / "none.toml", "--virtual")
    assert result.exit_code == 2
    assert "none.toml" in result.stderr


@pytest.mark.usefixtures("ahead")
def test_the_cautions_come_before_a_real_port_is_opened_and_its_test_is_entered_in_the_logbook(shop, tmp_path):
    design, report = tmp_path / "mine.toml", tmp_path / "tap.json"
    design.write_text(SHOP.read_text())
    run("log", design, "--note", "begun")
    with behind_pty(VirtualBoard(shop, clock=AheadClock(3_001))) as name:
        result = bench(design, "--port", name, "--yes", "--no-press", "--case", "tap", "--json", report)
    assert result.exit_code == 0, result.output
    assert result.stderr.index("feeder plug") < result.stderr.index("found shop_two_step")
    (entry,) = json.loads(run("log", design, "--kind", "bench", "--json").stdout)["entries"]
    carried = {"digest": shop.digest, "firmware": json.loads(report.read_text())["firmware"], "port": name}
    assert entry["values"] == {"verdict": "passed", "cases": 1, "failed": 0, **carried, "report": "tap.json"}


def test_the_test_of_a_virtual_board_is_no_entry(tmp_path):
    design = tmp_path / "mine.toml"
    design.write_text(SHOP.read_text())
    run("log", design, "--note", "begun")
    assert bench(design, "--virtual", "--case", "tap").exit_code == 0
    assert json.loads(run("log", design, "--kind", "bench", "--json").stdout)["entries"] == []


@pytest.mark.usefixtures("ahead")
def test_the_real_trigger_is_asked_for_at_the_end(shop):
    board = VirtualBoard(shop, clock=AheadClock(3_001))
    # A hand, about when the request comes.
    board.move_contact("trigger", True, 3_000_000)
    board.move_contact("trigger", False, 4_500_000)
    with behind_pty(board) as name:
        result = bench(SHOP, "--port", name, "--yes", "--case", "tap")
    assert "Now press the real trigger" in result.stderr
    assert "pass  press" in result.stdout, result.output


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"faults": Faults(digest="a" * 16)}, "carries shop_two_step with digest aaaaaaaaaaaaaaaa"),
        ({"faults": Faults(edited=True)}, "but its settings.h was edited after the build"),
        ({"bench_link": False}, "is not fitted"),
    ],
)
def test_the_wrong_board_is_exit_code_2(shop, options, says):
    with behind_pty(VirtualBoard(shop, **options)) as name:
        result = bench(SHOP, "--port", name, "--yes")
    assert result.exit_code == 2
    assert says in result.stderr


def test_no_board_behind_the_port_is_exit_code_2(shop):
    with behind_pty(VirtualBoard(shop, faults=Faults(mute=True))) as name:
        result = bench(SHOP, "--port", name, "--yes", "--patience", "1")
    assert result.exit_code == 2
    assert "No answer on" in result.stderr


def test_a_missing_compiler_is_told(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    result = bench(SHOP, "--virtual=avr", "--case", "tap")
    assert result.exit_code == 2
    assert "no AVR compiler" in result.stderr


@pytest.mark.debian("avr-gcc", "arduino-core", "gcc", "simavr")
def test_the_real_firmware_in_a_simulator_passes():
    result = bench(SHOP, "--virtual=avr", "--case", "weld", "--case", "tap")
    assert result.exit_code == 0, result.output
    assert "All 2 cases pass." in result.stdout
