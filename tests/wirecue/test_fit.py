"""`wirecue fit`: what test welds tell, and into the design file only on request."""

from __future__ import annotations

import json

import pytest

from tests.support.running import run, shop
from timing.design.loading import load_design
from timing.process.case import burnback_case, run_likely

SETTINGS_MS = (20, 60, 110, 180)


def welds_of(path, coast: str, contactor: str = "20 ms") -> list[str]:
    """Options for welds that a machine with that coast and drop-out would make."""
    text = path.read_text().replace('coast = "50 ms"', f'coast = "{coast}"')
    text = text.replace('typical = "20 ms", max = "30 ms"', f'typical = "{contactor}", max = "30 ms"')
    other = path.with_name("other.toml")
    other.write_text(text)
    rests = run_likely(burnback_case(load_design(other)), [setting / 1000 for setting in SETTINGS_MS])
    other.unlink()
    ends = zip(SETTINGS_MS, rests, strict=True)
    return [option for setting, end in ends for option in ("--weld", f"{setting} ms: {end.extension_mm:.2f} mm")]


def test_without_write_the_file_stays_as_it_is(tmp_path):
    path = shop(tmp_path)
    before = path.read_text()
    result = run("fit", path, *welds_of(path, "62 ms"))
    assert result.exit_code == 0
    assert "These welds do not tell the two apart" in result.output or "another test weld" in result.output.lower()
    assert "feeder.wire_drive.coast" in result.output
    assert '"50 ms"' in result.output
    assert result.output.rstrip().endswith("--write puts that into the file.")
    assert path.read_text() == before


def test_write_puts_the_coast_in_and_keeps_every_other_line(tmp_path):
    path = shop(tmp_path, 'coast = "50 ms"', 'coast = "50 ms"  # guessed')
    before = path.read_text().splitlines()
    result = run("fit", path, *welds_of(path, "62 ms"), "--write")
    assert result.exit_code == 0
    assert f"design: {path}" in result.stderr
    after = path.read_text().splitlines()
    gone = [line for line in before if line not in after]
    assert gone == ['coast = "50 ms"  # guessed']
    assert any(line.startswith('coast = "') and line.endswith("# guessed") for line in after)
    assert load_design(path).feeder.wire_drive.coast_us == pytest.approx(62_000, abs=8_000)


def test_data_hold_limits_and_the_next_weld(tmp_path):
    path = shop(tmp_path)
    data = json.loads(run("fit", path, *welds_of(path, "62 ms"), "--json").stdout)
    limits = data["coast_with_contactor_as_designed_limits"]
    assert limits["low_s"] < 0.062 < limits["high_s"]
    assert len(data["welds"]) == len(SETTINGS_MS)
    assert 0 <= data["next_weld"]["burnback_s"] <= 1
    assert {change["key"] for change in data["changes"]} >= {"feeder.wire_drive.coast"}


def test_welds_that_contradict_each_other_are_not_written(tmp_path):
    path = shop(tmp_path)
    before = path.read_text()
    result = run("fit", path, "-w", "90 ms: 2 mm", "-w", "91 ms: 11 mm", "--write")
    assert result.exit_code == 1
    assert "do not agree" in result.stdout
    assert "Nothing is written" in result.stderr
    assert path.read_text() == before


@pytest.mark.parametrize(
    ("weld", "words"),
    [
        ("90 ms 9 mm", "burnback, a colon, then"),
        ("90: 9 mm", "a number needs its unit"),
        ("90 ms: 9 s", "measures something else"),
        ("90 ms: 9 mm", "give --weld twice or more"),
    ],
)
def test_a_weld_that_cannot_be_read_is_told_how_to_write_it(tmp_path, weld, words):
    result = run("fit", shop(tmp_path), "--weld", weld)
    assert result.exit_code == 2
    assert words in result.stderr


def test_without_a_weld_it_asks_for_one(tmp_path):
    result = run("fit", shop(tmp_path))
    assert result.exit_code == 2
    assert "--weld" in result.stderr
