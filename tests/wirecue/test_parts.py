"""wirecue parts: proposals with reasons, written into the design with its comments, whole or not at all."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.support.running import run, shop
from timing.design.loading import load_design


def test_proposals_come_with_part_and_reason(example: Path) -> None:
    result = run("parts", example)
    assert result.exit_code == 0
    assert "supply.fuse = " in result.output
    assert result.output.count("         part  ") == result.output.count("         why   ") >= 4


def test_what_falls_short_is_told(tmp_path: Path) -> None:
    result = run("parts", shop(tmp_path, '"60 V"', '"40 V"'))
    assert 'supply.regulator_input_max = "60 V"' in result.output
    assert "what the design says falls short" in result.output


def test_write_shows_the_lines_and_keeps_every_other(tmp_path: Path) -> None:
    path = shop(tmp_path, 'rating = "100 VA"', 'rating = "100 VA"   # read off the plate')
    before = path.read_text()
    result = run("parts", path, "--write")
    assert result.exit_code == 0
    after = path.read_text()
    assert [line for line in after.splitlines() if line in before.splitlines()] == before.splitlines()
    added = [line for line in after.splitlines() if line not in before.splitlines()]
    assert {line.partition("  # ")[2] for line in added} == {"[proposed part; `wirecue parts` says why]"}
    assert [line.partition("  # ")[0] for line in added] == [
        'regulator_output = "9 V"', 'reservoir_ripple = "220 mA"', 'fuse = "400 mA"',
        'trigger_resistor = "2 kohm"', 'trigger_bleed = "200 ohm"']  # fmt: skip
    for line in added:
        assert f"+{line}" in result.stderr
    assert f"written: {path}" in result.stderr
    assert load_design(path).supply.fuse_a == 0.4


def test_written_once_there_is_nothing_left_to_propose(tmp_path: Path) -> None:
    path = shop(tmp_path)
    run("parts", path, "--write")
    text = path.read_text()
    again = run("parts", path, "--write")
    assert "The design names every part" in again.output
    assert path.read_text() == text


def test_a_value_that_falls_short_is_replaced_in_its_line(tmp_path: Path) -> None:
    path = shop(tmp_path, 'regulator_input_max = "60 V"', 'regulator_input_max = "40 V"  # the usual module')
    result = run("parts", path, "--write")
    assert 'regulator_input_max = "60 V"  # the usual module' in path.read_text()
    assert '-regulator_input_max = "40 V"  # the usual module' in result.stderr


def test_line_ends_stay_as_they_were(tmp_path: Path) -> None:
    path = shop(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    run("parts", path, "--write")
    assert path.read_bytes().count(b"\r\n") == path.read_bytes().count(b"\n")


def test_a_write_that_fails_leaves_the_design_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = shop(tmp_path)
    before = path.read_bytes()

    def full(*_: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    result = run("parts", path, "--write")
    assert result.exit_code == 2
    assert "no space left on device" in result.output
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_without_write_nothing_is_written(tmp_path: Path) -> None:
    path = shop(tmp_path)
    before = path.read_bytes()
    run("parts", path)
    assert path.read_bytes() == before


def test_json_names_key_and_value(example: Path) -> None:
    data = json.loads(run("parts", example, "--json").stdout)
    assert {"key", "value", "part", "reason", "open"} == set(data["proposals"][0])
    assert all(one["key"].startswith("supply.") for one in data["proposals"])


def test_both_ways_of_building_are_counted_and_the_own_one_marked(example: Path) -> None:
    data = json.loads(run("parts", example, "--json").stdout)
    printed = run("parts", example).stdout.splitlines()
    for way, work in data["hand_work"].items():
        assert work["in_box"] == work["between_modules"] + work["joints"]
        line = next(line for line in printed if line.startswith(way))
        assert f"{work['in_box']} connections in the box" in line
        assert line.endswith("(as in the design)") == (way == data["build"])


def test_the_whole_parts_list_comes_as_csv(example: Path, tmp_path: Path) -> None:
    path = tmp_path / "parts.csv"
    run("parts", example, "--csv", path)
    printed = run("parts", example, "--csv", "-").stdout
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    assert rows == list(csv.DictReader(io.StringIO(printed)))
    assert any(row["description"].startswith("fuse T ") for row in rows)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [(["nowhere.toml"], "nowhere.toml"), (["DESIGN", "--json", "--csv", "-"], "give all but one of them a file")],
)
def test_bad_files_and_commands_are_exit_2_in_words(tmp_path: Path, arguments: list[str], says: str) -> None:
    named = [str(shop(tmp_path)) if one == "DESIGN" else one for one in arguments]
    result = run("parts", *named)
    assert result.exit_code == 2
    assert says in result.output


def test_two_roles_on_one_pin_get_no_list_but_words(tmp_path: Path) -> None:
    path = shop(tmp_path, 'type = "uno"', 'type = "uno"\npins = { purge = "D4", lamp = "D4" }')
    result = run("parts", path, "--csv", "-")
    assert result.exit_code == 1
    assert "wirecue check" in result.output
