"""`wirecue fit`: what test welds tell, and into the design file only on request."""

from __future__ import annotations

import json
import re

import pytest

from tests.support.running import run, shop
from timing.design.loading import load_design
from timing.logbook.entry import EntryKind
from timing.process.case import burnback_case, run_likely
from wirecue.logbooks import logbook_path, read_logbook

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
    return [
        option for setting, end in ends for option in ("--weld", f"{setting} ms: {end.extension_mm:.2f} mm, no ball")
    ]


def test_without_write_the_file_stays_as_it_is(tmp_path):
    path = shop(tmp_path)
    before = path.read_text()
    result = run("fit", path, *welds_of(path, "62 ms"))
    assert result.exit_code == 0
    assert "feeder.wire_drive.coast" in result.output
    assert '"50 ms"' in result.output
    assert result.output.rstrip().endswith("--write puts that into the file.")
    assert path.read_text() == before


def test_write_puts_coast_and_setting_in_and_keeps_every_other_line(tmp_path):
    path = shop(tmp_path, 'coast = "50 ms"', 'coast = "50 ms"  # guessed')
    before = path.read_text().splitlines()
    result = run("fit", path, *welds_of(path, "62 ms"), "--write")
    assert result.exit_code == 0
    assert f"design: {path}" in result.stderr
    after = path.read_text().splitlines()
    gone = [line for line in before if line not in after]
    assert gone[0] == 'coast = "50 ms"  # guessed'
    assert [line.split(" = ")[0] for line in gone[1:]] in ([], ["burnback"])
    (coast,) = [line for line in after if line.startswith('coast = "')]
    assert re.fullmatch(r'coast = "[0-9.]+ ms"  # guessed \[from 4 test welds of [0-9]{4}-[0-9]{2}-[0-9]{2}\]', coast)
    assert load_design(path).feeder.wire_drive.coast_us == pytest.approx(62_000, abs=8_000)


def test_data_hold_limits_setting_and_the_next_weld(tmp_path):
    path = shop(tmp_path)
    data = json.loads(run("fit", path, *welds_of(path, "62 ms"), "--json").stdout)
    limits = data["coast_limits"]
    assert limits["low_s"] < 0.062 < limits["high_s"]
    assert len(data["welds"]) == len(SETTINGS_MS)
    assert 0.02 <= data["setting"]["burnback_s"] <= 0.3
    assert (data["next_weld"] is None) == data["setting"]["enough"]
    assert {change["key"] for change in data["changes"]} >= {"feeder.wire_drive.coast"}


def test_welds_that_contradict_each_other_are_kept_but_nothing_is_written(tmp_path):
    path = shop(tmp_path)
    before = path.read_text()
    result = run("fit", path, "-w", "90 ms: 2 mm", "-w", "91 ms: 11.5 mm", "--write")
    assert result.exit_code == 1
    assert "do not agree" in result.stdout
    assert "Nothing is written" in result.stderr
    assert path.read_text() == before
    assert len(read_logbook(logbook_path(path)).entries) == 2


@pytest.mark.parametrize(
    ("weld", "words"),
    [
        ("90 ms 9 mm", "burnback, a colon, then"),
        ("90: 9 mm", "a number needs its unit"),
        ("90 ms: 9 s", "measures something else"),
        ("mark 4: 9 mm", "the plate reads from 20 to 300 ms"),
    ],
)
def test_a_weld_that_cannot_be_read_is_told_how_to_write_it_and_leaves_no_logbook(tmp_path, weld, words):
    path = shop(tmp_path)
    result = run("fit", path, "--weld", "90 ms: 9 mm", "--weld", weld)
    assert result.exit_code == 2
    assert words in result.stderr
    assert not logbook_path(path).exists()


def test_a_weld_that_cannot_be_is_not_logged(tmp_path):
    path = shop(tmp_path)
    result = run("fit", path, "--weld", "90 ms: 50 mm")
    assert result.exit_code == 1
    assert "measure from the contact tip" in result.stderr
    assert not logbook_path(path).exists()


def test_without_a_weld_it_says_where_to_begin(tmp_path):
    path = shop(tmp_path)
    result = run("fit", path)
    assert result.exit_code == 0
    assert "No test weld yet" in result.stdout
    assert "Next test weld: the dial at mark" in " ".join(result.stdout.split())
    assert not logbook_path(path).exists()


def test_welds_add_up_in_the_logbook_and_are_read_from_it(tmp_path):
    path = shop(tmp_path)
    run("fit", path, "--weld", "mark 130: 3/8 in, no ball")
    run("fit", path, "--weld", "60 ms: frozen, 15 mm away", "--speed", "250 in/min")
    entries = [entry.values for entry in read_logbook(logbook_path(path)).of(EntryKind.WELD)]
    wire = "mild-steel 0.9 mm, gas M21"
    assert entries == [
        {
            "burnback": "130 ms",
            "outcome": "free",
            "mark": "mark 130",
            "ball": False,
            "extension": "3/8 in",
            "distance": "12 mm",
            "speed": "200 in/min",
            "wire": wire,
        },
        {"burnback": "60 ms", "outcome": "frozen", "distance": "15 mm", "speed": "250 in/min", "wire": wire},
    ]
    result = run("fit", path)
    assert "1  mark 130: 3/8 in, no ball" in result.stdout
    assert "2  60 ms: frozen in the puddle, 15 mm away, 250 in/min" in result.stdout


def test_a_weld_is_left_out_for_good_by_its_number_while_its_entry_stays(tmp_path):
    path = shop(tmp_path)
    run("fit", path, "-w", "130 ms: 9 mm", "-w", "140 ms: 3 mm")
    result = run("fit", path, "--leave-out", "2")
    again = run("fit", path, "-w", "120 ms: 9 mm")
    assert "140 ms" not in result.stdout + again.stdout
    assert "3  120 ms: 9 mm" in again.stdout
    assert len(read_logbook(logbook_path(path)).entries) == 4
    refused = run("fit", path, "--leave-out", "2")
    assert refused.exit_code == 2
    assert "no test weld 2" in refused.stderr


def test_no_log_takes_the_welds_given_alone(tmp_path):
    path = shop(tmp_path)
    run("fit", path, "-w", "130 ms: 9 mm")
    before = logbook_path(path).read_text()
    result = run("fit", path, "-w", "120 ms: 8.5 mm", "--no-log")
    assert "1  120 ms: 8.5 mm" in result.stdout
    assert "130 ms: 9 mm" not in result.stdout
    assert logbook_path(path).read_text() == before
    assert run("fit", path, "--no-log", "--leave-out", "1").exit_code == 2


def test_what_the_logbook_has_of_other_wire_or_cannot_be_read_is_told_and_passed_over(tmp_path):
    path = shop(tmp_path)
    run("fit", path, "-w", "130 ms: 9 mm")
    with logbook_path(path).open("a") as book:
        book.write('2026-03-01T10:22:05+01:00 weld { burnback = "90", outcome = "frozen" }\n')
        book.write('2026-03-01T10:23:05+01:00 weld { burnback = "90 ms", outcome = "frozen", wire = "aluminium" }\n')
        book.write("2026-03-01T10:24:05+01:00 weld { burnb")
    result = run("fit", path)
    assert result.exit_code == 0
    assert "weld 2 of the logbook is passed over: burnback '90': a number needs its unit" in result.stderr
    assert "1 of the logbook's welds passed over: made with another wire or gas" in result.stderr
    assert "mine.log, line 5: passed over" in result.stderr
    assert "frozen" not in result.stdout.split("likely")[0]


def test_a_fixed_burnback_gets_times_in_place_of_marks(tmp_path):
    path = shop(tmp_path, '{ from = "20 ms", to = "300 ms", setting = "130 ms" }', '"130 ms"')
    result = run("fit", path, "-w", "130 ms: 9 mm", "--write")
    assert "mark" not in result.stdout
    assert "with a burnback of" in " ".join(result.stdout.split())
    assert run("fit", path, "-w", "mark 130: 9 mm").exit_code == 2


SHORT_DIAL = ('to = "300 ms", setting = "130 ms" }', 'to = "80 ms", setting = "60 ms" }')


def test_on_a_made_panel_fit_turns_the_dial_within_its_ends_and_says_which_end_is_short(tmp_path):
    path = shop(tmp_path, *SHORT_DIAL)
    path.write_text(path.read_text() + "\n[panel]\nmade = true\n")
    # A machine that coasts for three times as long.
    result = run("fit", path, *welds_of(path, "150 ms"), "--write")
    assert result.exit_code == 0, result.output
    burnback = load_design(path).times.burnback
    assert (burnback.low_us, burnback.high_us) == (20_000, 80_000)
    assert burnback.setting_us <= 80_000
    assert re.search(
        r"burnback: its dial ends at 80 ms and the advised setting is \d+ ms, \d+ ms above it", result.stdout
    )
    assert "--write --new-ranges" in result.stdout


def test_a_fitted_setting_is_told_as_a_turn_of_the_dial(tmp_path):
    path = shop(tmp_path, 'setting = "130 ms"', 'setting = "290 ms"')
    before = load_design(path)
    result = run("fit", path, *welds_of(path, "62 ms"), "--write")
    after = load_design(path).times.burnback.setting_us
    assert after != before.times.burnback.setting_us
    assert f"burnback: turn its dial from 290 ms to {after / 1000:g} ms" in result.stdout
    assert "Plates to print" not in result.stdout


def test_an_entry_written_by_hand_needs_no_more_than_burnback_and_outcome(tmp_path):
    path = shop(tmp_path)
    logbook_path(path).write_text(
        "# wirecue logbook: mine\n"
        '2026-03-01T10:22:05+01:00 weld { burnback = "90 ms", outcome = "frozen" }\n'
        '2026-03-01T10:23:05+01:00 weld { burnback = "150 ms", outcome = "free", extension = "3/8 in", ball = true }\n'
        "2026-03-01T10:24:05+01:00 weld { left_out = 1 }\n"
    )
    result = run("fit", path)
    assert result.exit_code == 0
    assert result.stderr == ""
    assert "2  150 ms: 3/8 in, ball" in result.stdout
    assert "frozen in the puddle" not in result.stdout


def test_the_same_wire_typed_otherwise_is_the_same_wire(tmp_path):
    path = shop(tmp_path)
    run("fit", path, "-w", "130 ms: 9 mm")
    path.write_text(path.read_text().replace('wire_diameter = "0.9 mm"', 'wire_diameter = "0.90 mm"'))
    assert "1  130 ms: 9 mm" in run("fit", path).stdout
    path.write_text(path.read_text().replace('wire_diameter = "0.90 mm"', 'wire_diameter = "1.2 mm"'))
    assert "made with another wire or gas" in run("fit", path).stderr


def test_write_puts_the_extension_over_the_dial_in_and_check_goes_by_it(tmp_path):
    path = shop(tmp_path)
    digest = load_design(path).digest()
    result = run("fit", path, "-w", "130 ms: 9 mm, ball", "-w", "110 ms: 9 mm, ball", "--write")
    assert re.search(r"extension_left +\(not there\) +-> +the table above", result.stdout)
    assert re.search(r"\d+ ms +\d+\.\d mm +\d+\.\d to \d+\.\d mm +\d+ %", result.stdout)
    written = load_design(path)
    found = written.extension_left
    assert found is not None
    assert re.fullmatch(r"2 test welds of [0-9-]{10}", found.found_from)
    assert found.settings_us[0] == written.times.burnback.low_us
    assert found.settings_us[-1] == written.times.burnback.high_us
    assert written.digest() != digest, "the setting itself is another"
    said = run("check", path, "--all").stdout
    assert "found from 2 test welds of" in " ".join(said.split())


def test_no_band_is_written_that_no_weld_came_free_for(tmp_path):
    path = shop(tmp_path)
    run("fit", path, "-w", "60 ms: frozen", "--write")
    assert load_design(path).extension_left is None
