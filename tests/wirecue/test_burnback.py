"""`wirecue burnback`: the curve in words, as data and as a picture."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET

import pytest

from tests.support.running import run, shop


def test_the_table_goes_from_the_puddle_to_the_setting_to_start_with(tmp_path):
    result = run("burnback", shop(tmp_path), "--setting", "40.25 ms")
    assert result.exit_code == 0
    lines = result.output.splitlines()
    rows = [line for line in lines if line.startswith(tuple("0123456789")) and " ms " in line]
    assert "in the puddle" in rows[0]
    assert sum("<- start here" in row for row in rows) == 1
    asked = [row for row in rows if "<- asked about" in row]
    assert len(asked) == 1
    assert asked[0].startswith("40.25 ms")
    assert "With the 40.25 ms asked about, " in result.output
    assert "One mark of the dial, 28 ms" in result.output
    assert lines[-1].startswith("Starting point: prove it on scrap")


def test_data_agree_with_the_words_and_rise_with_the_setting(tmp_path):
    path = shop(tmp_path)
    data = json.loads(run("burnback", path, "--json").stdout)
    settings = [row["setting_s"] for row in data["curve"]]
    assert settings == sorted(settings)
    assert all(row["low_mm"] <= row["middle_mm"] <= row["high_mm"] for row in data["curve"])
    assert all(sum(row["share_by_outcome"].values()) == pytest.approx(1) for row in data["curve"])
    best = data["recommended"]
    assert f"Start with {best['setting_s'] * 1000:g} ms" in run("burnback", path).output
    window = data["likely_good_window"]
    assert window["low_s"] <= best["setting_s"] <= window["high_s"]


def test_a_faster_wire_is_calculated_with_its_own_current(tmp_path):
    path = shop(tmp_path)
    slow, fast = (
        json.loads(run("burnback", path, "--json", "--speed", speed).stdout) for speed in ("140 in/min", "8 m/min")
    )
    assert slow["wire_feed_speed_mm_s"] == pytest.approx(140 * 25.4 / 60, rel=1e-5)
    assert fast["wire_feed_speed_mm_s"] == pytest.approx(8000 / 60, rel=1e-5)
    assert fast["current_a"] > slow["current_a"]


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--speed", "200", "a number needs its unit"),
        ("--speed", "200 ms", "measures something else"),
        ("--speed", "2 m/s", "for example '200 in/min'"),
        ("--setting", "-5 ms", "for example '90 ms'"),
        ("--setting", "2 h", "'90 ms'"),
    ],
)
def test_options_that_cannot_be_are_told_what_is_allowed(tmp_path, option, value, words):
    result = run("burnback", shop(tmp_path), option, value)
    assert result.exit_code == 2
    assert words in result.stderr
    assert result.stdout == ""


def test_a_picture_that_cannot_be_written_leaves_nothing(tmp_path):
    result = run("burnback", shop(tmp_path), "--svg", tmp_path / "no" / "where.svg")
    assert result.exit_code == 2
    assert "no such file or directory" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]


def test_the_picture_is_printed_alone(tmp_path):
    result = run("burnback", shop(tmp_path), "--svg", "-")
    assert ET.fromstring(result.stdout).tag.endswith("svg")


def test_a_distance_that_leaves_no_room_is_a_sentence(tmp_path):
    result = run("burnback", shop(tmp_path, 'contact_tip_to_work = "12 mm"', 'contact_tip_to_work = "4 mm"'))
    assert result.exit_code == 1
    assert "too short to start again" in result.stderr
    assert "hold the gun further off" in result.stderr
