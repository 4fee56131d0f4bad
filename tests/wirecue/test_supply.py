"""wirecue supply: table, bars, findings, picture, JSON, draws, exit codes."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import ROOT
from tests.support.running import run, shop
from timing.design.loading import load_design
from timing.sequence.core.table import Phase
from wirecue.terminal_supply import level_bar, share_bar


def test_every_corner_and_phase_has_its_line_and_the_verdict_stands_first(example: Path) -> None:
    result = run("supply", example)
    assert result.exit_code == 0
    for title in ("high line, board in reset, nothing on", "nominal line, weld", "low line, weld, aged capacitor"):
        assert title in result.output
    for phase in Phase:
        assert re.search(rf"^{phase.word} .* %$", result.output, re.M), phase
    first = result.output.partition("\n\n")[0].replace("\n", " ")
    assert first.startswith("The supply carries the add-on. The winding carries ")
    assert first.count(". ") == 1, "two sentences"
    assert result.output.splitlines()[-1].endswith("0 errors, 0 warnings.")


def test_a_trap_is_exit_1_with_its_remedy(tmp_path: Path) -> None:
    path = shop(tmp_path, 'regulator_input_max = "60 V"\n')
    result = run("supply", path)
    assert result.exit_code == 1
    assert "error    supply.regulator_input_max: The reservoir can stand at 41.1 V" in result.output
    assert (
        "         do    Fit a regulator rated for 60 V at its input or more\n"
        '               (supply.regulator_input_max = "60 V")\n'
    ) in result.output
    first = result.output.partition("\n\n")[0].replace("\n", " ")
    assert first.startswith("The supply does not carry the add-on as it stands: the reservoir can stand at 41.1 V")
    assert "1.1 V over what the regulator is rated for" in first


def test_a_supply_that_collapses_is_told_and_drawn(tmp_path: Path) -> None:
    path = shop(tmp_path, 'reservoir = "1000 uF"', 'reservoir = "10 uF"\nrectifier = "half-wave"\nregulator = "linear"')
    picture = tmp_path / "supply.svg"
    result = run("supply", path, "--svg", picture)
    assert result.exit_code == 1
    assert picture.exists()


def walk(data: Any) -> list[tuple[str, Any]]:
    if isinstance(data, dict):
        return [pair for key, value in data.items() for pair in [(key, value), *walk(value)]]
    return [pair for item in data for pair in walk(item)] if isinstance(data, list) else []


def test_json_has_units_in_its_keys_and_the_draws(example: Path) -> None:
    result = run("supply", example, "--json", "--draws", "50")
    assert result.exit_code == 0
    data = json.loads(result.output)
    assert data["monte_carlo"]["draws"] == 50
    assert data["corners"][0]["dc_max_v"] == data["highest_v"]
    units = ("_v", "_a", "_w", "_s", "_va", "_ohm", "_deg_c", "_a2s", "_rad", "_share", "_factor")
    # Counts, and what names its unit beside it, have none in the key.
    plain = {"draws", "seed", "value", "low", "middle", "high", "limit", "beyond"}
    for key, value in walk(data):
        if isinstance(value, float) and key not in plain:
            assert f"_{key}".endswith(units), key


def test_the_same_seed_draws_the_same_feeders(example: Path) -> None:
    first, second, other = (run("supply", example, "--json", "--draws", "40", "--seed", seed) for seed in "112")
    assert first.output == second.output
    assert first.output != other.output


def test_many_draws_show_how_far_they_are(example: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wirecue.commands.supply.SHOW_PROGRESS_FROM", 30)
    result = run("supply", example, "--draws", "30")
    assert "drawing feeders" in result.stderr
    assert "30 feeders drawn" in result.stdout
    assert "drawing feeders" not in run("supply", example, "--draws", "29").stderr


def test_the_picture_goes_to_a_file_or_to_the_screen(example: Path, tmp_path: Path) -> None:
    picture = tmp_path / "supply.svg"
    told = run("supply", example, "--svg", picture)
    assert f"picture: {picture}" in told.stderr
    printed = run("supply", example, "--svg", "-")
    assert printed.stdout.rstrip() == picture.read_text().rstrip()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nowhere.toml"], "nowhere.toml"),
        (["examples/shop_two_step.toml", "--svg", "-", "--json"], "give all but one of them a file"),
        (["examples/shop_two_step.toml", "--draws", "-1"], "draws"),
        (["examples/shop_two_step.toml", "--svg", "no/such/folder/x.svg"], "no/such/folder/x.svg"),
    ],
)
def test_bad_files_and_commands_are_exit_2_in_words(
    arguments: list[str], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    result = run("supply", *arguments)
    assert result.exit_code == 2
    assert says in result.output
    assert "Traceback" not in result.output


def test_bars_show_where_the_reservoir_stands_between_the_limits() -> None:
    assert level_bar(30.0, 31.0, 10.0, 40.0, 48.0, ascii_only=True) == "     [         #    ]   "
    assert level_bar(0.0, 0.0, 10.0, 40.0, 48.0, ascii_only=True) == "     [              ]   "
    assert share_bar(0.5, ascii_only=True) == "############............ 50 %"
    assert share_bar(1.5, ascii_only=True) == "########################! 150 %"


def test_a_terminal_without_unicode_gets_plain_bars() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "wirecue", "supply", "examples/shop_two_step.toml"],
        capture_output=True, cwd=ROOT, check=True, env={"PYTHONIOENCODING": "ascii", "PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert done.stdout.isascii()
    assert b"[" in done.stdout


def test_write_fixes_the_errors_and_lets_the_board_measure_its_supply(tmp_path: Path) -> None:
    path = shop(tmp_path, 'regulator_input_max = "60 V"\n')
    text = re.sub(r"(?m)^sense = {.*\n", "", path.read_text())
    path.write_text(text)
    result = run("supply", path, "--write")
    assert result.exit_code == 0
    assert '+regulator_input_max = "60 V"' in result.stderr
    assert f"written: {path}" in result.stderr
    assert "0 errors, 0 warnings" in result.output
    design = load_design(path)
    assert design.supply.sense is not None
    assert [line for line in path.read_text().splitlines() if line in text.splitlines()] == text.splitlines()
    written = path.read_text()
    again = run("supply", path, "--write")
    assert (again.exit_code, "written" in again.stderr, path.read_text()) == (0, False, written)


def test_what_no_change_fixes_is_told_and_the_file_stays_as_it_was(tmp_path: Path) -> None:
    # Three dials on a board with three channels: none is left for the supply.
    path = shop(tmp_path, 'type = "uno"', 'type = "pico"')
    text = re.sub(r"(?m)^sense = {.*\n", "", path.read_text())
    path.write_text(text)
    result = run("supply", path, "--write")
    assert "No pin is left that could measure it" in result.stdout
    assert (result.exit_code, result.stderr, path.read_text()) == (0, "", text)


@pytest.mark.parametrize("form", ["inline", "dotted"])
def test_the_supply_may_stand_in_any_form_that_the_file_knows(form: str, tmp_path: Path) -> None:
    path = shop(tmp_path)
    text = re.sub(r"(?m)^sense = {.*\n", "", path.read_text())
    table = re.search(r"(?ms)^\[supply\]\n(.*?)\n\n", text)
    assert table is not None
    lines = [line for line in table[1].splitlines() if line and not line.startswith("#")]
    head, rest = text[: table.start()], text[table.end() :]
    if form == "inline":
        stated = "supply = { " + ", ".join(line.partition("  #")[0] for line in lines) + " }\n"
    else:
        stated = "".join(f"supply.{line}\n" for line in lines)
    place = head.index("[")
    path.write_text(head[:place] + stated + head[place:] + rest)
    result = run("supply", path, "--write")
    assert result.exit_code == 0, result.output
    assert load_design(path).supply.sense is not None
