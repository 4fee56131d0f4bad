"""The command line: exit codes, one screen of words for what is bad, nothing half-written, and a light start."""

from __future__ import annotations

import json
import re
import subprocess
import sys

import pytest
from click.testing import CliRunner

from tests.conftest import EXAMPLES, ROOT
from tests.support.running import run, shop
from wirecue.cli import COMMAND_HELP, main


def test_alone_it_says_what_to_do_next():
    result = run()
    assert result.exit_code == 0
    assert "First steps:" in result.output
    assert "not a safety function" in result.output


@pytest.mark.parametrize("name", COMMAND_HELP)
def test_each_command_teaches_itself_and_is_listed_as_it_calls_itself(name):
    result = run(name, "--help")
    assert result.exit_code == 0
    assert len(result.output.splitlines()) > 6
    command = main.get_command(None, name)
    assert command.name == name
    assert command.short_help == COMMAND_HELP[name]


HEAVY = {
    "numpy",
    "pydantic",
    "jinja2",
    "serial",
    "transitions",
    "tomlkit",
    "drawsvg",
    "schemdraw",
    "typst",
    "reportlab",
}
SLOW = {"numpy.ma", "numpy.random", "numpy.polynomial", "difflib"}
"""What is not worth its loading for one figure, or before a word is misspelt."""
NEEDED = {
    "--help": set(),
    "simulate": {"pydantic"},
    # What burnback leaves is drawn a thousand times over.
    "check": {"pydantic", "numpy"},
}


@pytest.mark.parametrize("name", NEEDED)
def test_a_command_loads_no_more_of_the_heavy_libraries_than_it_needs(name):
    arguments = [name] if name == "--help" else [name, str(ROOT / "examples" / "shop_two_step.toml")]
    code = (
        "import sys, wirecue.cli as cli\n"
        f"try: cli.main({arguments!r})\n"
        "except SystemExit: pass\n"
        "print('\\n'.join(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    loaded = set(done.stderr.splitlines())
    assert loaded & HEAVY <= NEEDED[name]
    assert not loaded & SLOW


def test_an_unknown_command_or_option_is_exit_2():
    assert run("zzz").exit_code == 2
    assert "no command 'chek'; was 'check' meant?" in run("chek").stderr
    assert run("chek").exit_code == 2
    assert run("check", "--colour", EXAMPLES[0]).exit_code == 2


@pytest.mark.parametrize("command", ["check", "simulate", "build"])
def test_a_bad_file_is_one_screen_and_exit_2(tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    path = shop(tmp_path, 'filter = "25 ms"', 'filter = "25 s"')
    before = sorted(tmp_path.rglob("*"))
    result = run(command, path)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.splitlines()[1:] == [
        "  found    '25 s'",
        '  allowed  0 ms to 100 ms, for example "25 ms"',
        "  hint     was '25 ms' meant?",
    ]
    assert sorted(tmp_path.rglob("*")) == before


def test_a_file_that_is_not_there_is_exit_2():
    result = run("check", "nowhere.toml")
    assert result.exit_code == 2
    assert "`wirecue new` writes one to start from" in result.stderr


def test_an_unknown_board_is_told_with_its_line(tmp_path):
    path = shop(tmp_path, 'type = "uno"', 'type = "unno"')
    result = run("check", path)
    assert result.exit_code == 2
    assert "board.type" in result.stderr
    assert "was 'uno' meant?" in result.stderr
    assert ", line " in result.stderr.splitlines()[0]


def test_check_passes_the_examples(example):
    result = run("check", example)
    assert result.exit_code == 0
    assert result.output.splitlines()[-1].endswith("it may be built.")


def test_check_counts_the_infos_and_shows_them_when_asked(tmp_path):
    # One warning, and infos beside it.
    path = shop(tmp_path, 'gas_flow = "', 'gas_flow = "80 ft3/h" # "')
    findings = json.loads(run("check", "--json", path).stdout)["findings"]
    infos = [one for one in findings if one["severity"] == "info"]
    assert [one["rule"] for one in findings if one["severity"] == "warning"] == ["gas-flow-shields"]
    short, whole = run("check", path), run("check", "--all", path)
    assert (short.exit_code, whole.exit_code) == (0, 0)
    assert f"{len(infos)} infos ask for nothing: `wirecue check --all {path}` shows them." in short.stdout
    assert [line.split()[0] for line in short.stdout.splitlines() if line[:1] != " "] == [
        "warning", str(len(infos)), "shop_two_step:",
    ]  # fmt: skip
    assert len(re.findall(r"(?m)^info ", whole.stdout)) == len(infos)
    assert "ask for nothing" not in whole.stdout


def test_check_fails_a_broken_rule_with_reason_and_remedy(tmp_path):
    result = run("check", shop(tmp_path, 'filter = "25 ms"', 'filter = "5 ms"'))
    assert result.exit_code == 1
    assert "error    trigger.filter: the filter is 5 ms" in result.output
    assert "         why   a held trigger would look like one press after the other" in result.output
    assert "         do    a filter of " in result.output
    assert result.output.splitlines()[-1].endswith("it must not be built yet.")


def test_check_as_json(tmp_path):
    result = run("check", "--json", shop(tmp_path, 'filter = "25 ms"', 'filter = "5 ms"'))
    assert result.exit_code == 1
    report = json.loads(result.stdout)
    assert report["findings"][0]["severity"] == "error"
    assert report["findings"][0]["key"] == "trigger.filter"


def test_simulate_draws_in_the_terminal(example):
    result = run("simulate", example)
    assert result.exit_code == 0
    assert "contactor actual" in result.output
    assert "weld" in result.output


def test_simulate_writes_what_is_asked_for_and_nothing_else(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = shop(tmp_path)
    result = run(
        *("simulate", path, "--script", "0 s press; 1 s release"),
        *("--svg", "a.svg", "--vcd", "a.vcd", "--csv", "a.csv", "--json", "a.json"),
    )
    assert result.exit_code == 0
    assert sorted(item.name for item in tmp_path.iterdir()) == ["a.csv", "a.json", "a.svg", "a.vcd", "mine.toml"]
    timeline = json.loads((tmp_path / "a.json").read_text())
    assert [phase["phase"] for phase in timeline["phases"]] == [
        "idle",
        "preflow",
        "weld",
        "burnback",
        "postflow",
        "idle",
    ]
    assert timeline["traces"]["gas_valve"] == [
        {"at_us": 0, "value": 0},
        {"at_us": 25_000, "value": 1},
        {"at_us": 3_155_000, "value": 0},
    ]


def test_simulate_reads_a_script_from_a_file_or_from_standard_input(tmp_path):
    script = tmp_path / "steps.txt"
    script.write_text("0 s press\n+1 s release\n")
    from_file = run("simulate", EXAMPLES[1], "--script-file", script, "--json", "-")
    from_pipe = run("simulate", EXAMPLES[1], "--script-file", "-", "--json", "-", stdin=script.read_text())
    assert from_file.stdout == from_pipe.stdout
    assert json.loads(from_file.stdout)["end_us"] > 1_000_000


def test_simulate_says_where_a_file_cannot_be_written(tmp_path):
    result = run("simulate", shop(tmp_path), "--svg", tmp_path / "no" / "such" / "place.svg")
    assert result.exit_code == 2
    assert "no such file or directory" in result.stderr


@pytest.mark.debian("sigrok-cli")
def test_the_dump_is_read_by_logic_analyser_software(tmp_path, example):
    dump = tmp_path / "a.vcd"
    assert run("simulate", example, "--vcd", dump).exit_code == 0
    result = run("simulate", example, "--json", "-")
    tracks = json.loads(result.stdout)["traces"]
    read = subprocess.run(
        ["sigrok-cli", "-I", "vcd:downsample=1000", "-i", str(dump), "-O", "csv"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    lines = [line for line in read.splitlines() if line and not line.startswith((";", "META"))]
    header = next(line for line in read.splitlines() if line.startswith("; Channels"))
    names = header.partition(": ")[2].split(", ")
    rows = [dict(zip(names, line.split(","), strict=True)) for line in lines[1:]]
    for name in ("wire_drive", "contactor"):
        first_on_ms = next(index for index, row in enumerate(rows) if row[name] == "1")
        assert first_on_ms * 1000 == pytest.approx(tracks[name][1]["at_us"], abs=1000)


def test_new_writes_a_design_that_checks_and_never_over_one_that_is_there(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for like in ("shop_two_step", "spot_stitch", "gasless_four_step"):
        assert run("new", f"my_{like}", "--like", like).exit_code == 0
        assert run("check", f"my_{like}.toml").exit_code == 0
    kept = (tmp_path / "my_spot_stitch.toml").read_text()
    assert "# Time constant" in kept or "# Coast" in kept
    again = run("new", "my_spot_stitch")
    assert again.exit_code == 2
    assert "is there already" in again.stderr
    assert (tmp_path / "my_spot_stitch.toml").read_text() == kept


@pytest.mark.parametrize("name", ["My Feeder", "../up", "1st", "con", ""])
def test_new_refuses_names_that_would_not_travel(tmp_path, monkeypatch, name):
    folder = tmp_path / "inner"
    folder.mkdir()
    monkeypatch.chdir(folder)
    result = run("new", name)
    if name != "../up":
        assert result.exit_code == 2
        assert list(tmp_path.rglob("*.toml")) == []


def test_boards_and_schema_are_json_where_asked():
    boards = json.loads(run("boards", "--json").stdout)
    assert {"uno", "nano", "leonardo"} <= {board["type"] for board in boards}
    schema = json.loads(run("schema").stdout)
    assert schema["$defs"]["Trigger"]["properties"]["filter"]["description"].startswith("A press counts")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts_name_the_program(shell):
    result = run("completion", shell)
    assert result.exit_code == 0
    assert "_WIRECUE_COMPLETE" in result.stdout


def test_no_colour_where_none_is_wanted(tmp_path, monkeypatch):
    path = shop(tmp_path, 'filter = "25 ms"', 'filter = "5 ms"')
    coloured = CliRunner().invoke(main, ["check", str(path)], color=True)
    assert "\x1b[" in coloured.output
    monkeypatch.setenv("NO_COLOR", "1")
    plain = CliRunner().invoke(main, ["check", str(path)], color=True)
    assert "\x1b[" not in plain.output
