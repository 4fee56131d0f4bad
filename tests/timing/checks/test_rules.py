"""The rules: each speaks up where it should, with numbers and a remedy, and keeps quiet where it should."""

from __future__ import annotations

import pytest

from tests.conftest import EXAMPLES
from timing.checks.controls import longest_gap_us
from timing.checks.finding import Finding, Severity, worst
from timing.checks.registry import check
from timing.design.loading import load_design, parse_design
from timing.project import Footprint, Project
from wirecue.projects import load_board

TEXTS = {path.stem: path.read_text() for path in EXAMPLES}


def findings(example: str, *changes: tuple[str, str], board: str | None = None) -> list[Finding]:
    text = TEXTS[example]
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    design = parse_design(text)
    return check(Project(design, load_board(board or design.board.type)))


def of(rule: str, found: list[Finding]) -> list[Finding]:
    return [finding for finding in found if finding.rule == rule]


def test_the_examples_break_no_rule_and_have_no_warning(example):
    design = load_design(example)
    found = check(Project(design, load_board(design.board.type), Footprint(9000, 500, measured=False)))
    assert [finding for finding in found if finding.severity >= Severity.WARNING] == []


SHOP, SPOT, FIELD = "shop_two_step", "spot_stitch", "gasless_four_step"
ERROR, WARNING, INFO = Severity.ERROR, Severity.WARNING, Severity.INFO


@pytest.mark.parametrize(
    ("example", "change", "rule", "severity", "says"),
    [
        # An ac-input optocoupler at 60 Hz pulses 120 times a second: 8.33 ms apart.
        (SHOP, ('filter = "25 ms"', 'filter = "9 ms"'), "filter-bridges-the-gaps", ERROR, "up to 8.33 ms"),
        (SHOP, ('filter = "25 ms"', 'filter = "15 ms"'), "filter-bridges-the-gaps", WARNING, "gap is 16.7 ms"),
        # A single one pulses 60 times a second.
        (FIELD, ('filter = "45 ms"', 'filter = "18 ms"'), "filter-bridges-the-gaps", ERROR, "up to 16.7 ms"),
        (
            FIELD,
            ('filter = "45 ms"', 'filter = "21 ms"'),
            "filter-bridges-the-gaps",
            INFO,
            "at 50 Hz the gaps would be 20 ms",
        ),
        (SPOT, ('filter = "12 ms"', 'filter = "3 ms"'), "filter-outlasts-bounce", WARNING, "3 ms"),
        (FIELD, ('filter = "45 ms"', 'filter = "80 ms"'), "release-delay", WARNING, "80 ms late"),
        # 200 in/min is 84.67 mm/s; 25 ms of it are 2.1 mm.
        (SHOP, ('title = "', 'title = "x'), "release-delay", INFO, "feeds 2.1 mm of wire"),
        (
            SPOT,
            ('from = "200 ms", to = "2 s"', 'from = "200 ms", to = "3 s"'),
            "spot-dial-range",
            INFO,
            "200 ms to 3 s",
        ),
        (SPOT, ('pause = { from = "200 ms"', 'pause = { from = "29 ms"'), "pause-parts-the-stitches", ERROR, "29 ms"),
        (SHOP, ('from = "20 ms", to = "300 ms"', 'from = "20 ms", to = "500 ms"'), "burnback-is-short", WARNING, "500"),
        (SHOP, ('weld = "5 min"', ""), "weld-limit", WARNING, "no weld limit"),
        (FIELD, ('weld = "4 min"', ""), "weld-limit", ERROR, "four-step without a weld limit"),
        (SPOT, ('weld = "90 s"', 'weld = "1.5 s"'), "weld-limit", ERROR, "cuts into the longest spot, 2 s"),
        (SPOT, ('mode = "two-step"', 'mode = "switch"'), "four-step-rests", INFO, "while spot welding is on"),
        (SPOT, ('arc_start = "2 s"', 'arc_start = "100 ms"'), "arc-start-limit", WARNING, "44 ms"),
        (SPOT, ('title = "', 'title = "x'), "relay-operations", INFO, "2687 times an hour"),
        (
            SHOP,
            ('type = "uno"', 'type = "uno"\npins = { trigger = "D99"}'),
            "every-role-has-a-pin",
            ERROR,
            "no pin 'D99'",
        ),
        (SHOP, ('type = "uno"', 'type = "uno"\npins = { trigger = "D3", purge = "D3"}'), "one-role-a-pin", ERROR, "D3"),
        (
            SHOP,
            ('type = "uno"', 'type = "uno"\npins = { burnback_dial = "D3"}'),
            "pins-can-do-their-job",
            ERROR,
            "measure",
        ),
        (
            SPOT,
            ('type = "nano"', 'type = "nano"\npins = { trigger = "A6"}'),
            "pins-can-do-their-job",
            ERROR,
            "only measures",
        ),
        (SHOP, ('type = "uno"', 'type = "uno"\npins = { trigger = "D0"}'), "pins-are-free-at-boot", ERROR, "is taken"),
        (
            SHOP,
            ('type = "uno"', 'type = "uno"\npins = { contactor = "D13"}'),
            "pins-are-free-at-boot",
            ERROR,
            "at reset",
        ),
        (SHOP, ('type = "uno"', 'type = "uno"\npins = { spot_dial = "A4"}'), "no-idle-pins", INFO, "spot dial"),
        (SHOP, ('type = "uno"', 'type = "uno"'), "outputs-are-pulled-off", INFO, "to board common"),
        (
            SHOP,
            ('type = "uno"', 'type = "uno"\non_level = { gas_valve = "low" }'),
            "outputs-are-pulled-off",
            INFO,
            "to the board's supply",
        ),
    ],
)
def test_a_rule_speaks_up(example, change, rule, severity, says):
    found = of(rule, findings(example, change))
    assert any(finding.severity is severity and says in finding.text for finding in found), found
    for finding in found:
        assert finding.reason
        assert finding.remedy or finding.severity is INFO


@pytest.mark.parametrize(
    ("pins", "rule", "offered"),
    [
        # A contactor needs a pin that switches; A6 and A7 of this board only measure.
        ('contactor = "D99"', "every-role-has-a-pin", "one of D4, D7, D8, D10, A0, A3, A5"),
        ('contactor = "A6"', "pins-can-do-their-job", "one of D4, D7, D8, D10, A3, A5"),
        # A dial needs a pin that measures.
        ('burnback_dial = "D3"', "pins-can-do-their-job", "one of A0, A2, A3, A5"),
        (
            'burnback_dial = "A6", pause_dial = "A6"',
            "one-role-a-pin",
            "another pin for pause_dial, one of A0, A2, A3, A5",
        ),
    ],
)
def test_a_remedy_offers_only_pins_that_can_do_the_job(pins, rule, offered):
    found = of(rule, findings(SPOT, ('type = "nano"', f'type = "nano"\npins = {{ {pins} }}')))
    assert offered in [remedy.text for finding in found for remedy in finding.remedies]


def test_a_board_that_runs_out_of_pins_says_so():
    # Three dials and the supply sense need four channels of the converter; this board has three.
    full = of("every-role-has-a-pin", findings(SHOP, ('type = "uno"', 'type = "pico"')))
    assert [(finding.key, finding.remedy) for finding in full] == [
        ("board.pins.postflow_dial", "none is free that can do it: a larger board, or a function less")
    ]


def test_stitches_are_counted_by_the_hour():
    # 450 ms spot, 90 ms burnback, 800 ms pause: 1340 ms a stitch, 3.6e6 / 1340 = 2687 an hour, 40 % duty.
    found = findings(SPOT)
    assert "2687 times an hour at its settings" in of("relay-operations", found)[0].text
    assert "stitching keeps the arc on for 40 %" in of("duty-cycle", found)[0].text


@pytest.mark.parametrize(
    ("plate", "severity", "words"),
    [
        # At the plate's own current the plate's figure counts; with less current more of it: X (Ir / I)^2.
        ('duty_cycle = "35 %"\nduty_cycle_current = "104 A"', WARNING, "may weld 35 % of the time at the 104 A"),
        ('duty_cycle = "20 %"\nduty_cycle_current = "120 A"', WARNING, "may weld 27 % of the time at the 104 A"),
        ('duty_cycle = "20 %"\nduty_cycle_current = "180 A"', None, ""),
    ],
)
def test_the_duty_cycle_of_the_plate_is_taken_to_the_current_of_the_wire(plate, severity, words):
    found = of("duty-cycle", findings(SPOT, ('gas = "M21"', f'gas = "M21"\n{plate}')))
    assert [finding.severity for finding in found if finding.key == "stitch.pause"] == ([severity] if severity else [])
    assert words in "".join(finding.reason for finding in found)


def test_dial_steps_are_given_at_both_ends():
    # Uno: 10-bit converter. 280 ms over the counts between the end resistors; 280 ms over 300 degrees.
    burnback = next(finding for finding in of("dial-step", findings(SHOP)) if finding.key == "times.burnback")
    assert "one degree of the knob is 0.933 ms at the low end, 0.933 ms at the high end" in burnback.text
    # An audio taper passes 15 % in the first half of its turn, 85 % in the second.
    spot = next(finding for finding in of("dial-step", findings(SPOT)) if finding.key == "spot.time")
    assert "one degree of the knob is 1.8 ms at the low end, 10.2 ms at the high end" in spot.text


@pytest.mark.parametrize("from_ms", [25, 26])
def test_without_an_arc_sensor_a_pause_must_outlast_the_contactor_only(from_ms):
    unsensed = (('[arc_sensor]\nfilter = "4 ms"\n', ""), ('arc_start = "2 s"\n', ""))
    pause = ('{ from = "200 ms", to = "1.5 s"', f'{{ from = "{from_ms} ms", to = "1.5 s"')
    found = of("pause-parts-the-stitches", findings(SPOT, *unsensed, pause))
    assert [finding.severity for finding in found] == [WARNING] * (from_ms == 25)


def test_a_burnback_of_less_than_half_a_second_is_nothing_to_speak_of():
    dial = ('from = "20 ms", to = "300 ms"', 'from = "20 ms", to = "499 ms"')
    assert of("burnback-is-short", findings(SHOP, dial)) == []


def test_a_coarse_dial_is_warned_of():
    change = ('from = "20 ms", to = "300 ms"', 'from = "2 ms", to = "2 s"')
    found = [finding for finding in of("dial-step", findings(SHOP, change)) if finding.severity is WARNING]
    assert [finding.key for finding in found] == ["times.burnback"]


@pytest.mark.parametrize(("flash", "ram", "severity"), [(9000, 500, INFO), (40_000, 500, ERROR), (9000, 1900, ERROR)])
def test_memory_must_fit_with_room_for_the_stack(flash, ram, severity):
    design = parse_design(TEXTS[SHOP])
    project = Project(design, load_board("uno"), Footprint(flash, ram, measured=True))
    assert [finding.severity for finding in of("memory-fit", check(project))] == [severity]


@pytest.mark.parametrize(
    ("optocoupler", "line_hz", "missing", "gap_us"),
    [("ac-input", 50, 0, 10_000), ("ac-input", 60, 0, 8_333), ("single", 50, 0, 20_000), ("single", 60, 1, 33_333)],
)
def test_gaps_between_half_waves(optocoupler, line_hz, missing, gap_us):
    assert longest_gap_us(optocoupler, line_hz, missing) == pytest.approx(gap_us, abs=1)


def test_the_gravest_findings_come_first_and_name_real_keys():
    found = findings(FIELD, ('weld = "4 min"', ""), ('filter = "45 ms"', 'filter = "80 ms"'))
    assert [finding.severity for finding in found] == sorted((f.severity for f in found), reverse=True)
    assert worst(found) is ERROR
    assert worst([]) is INFO


def test_a_failed_regulator_is_told_with_what_guards_the_rail_as_built():
    """A suppressor diode among modules, a crowbar on a soldered board, and neither's figures for the other."""
    modules = ('build = "board"', 'build = "modules"')
    (soldered,), (wired,) = (of("supply.crowbar", findings(SPOT, *changes)) for changes in ((), (modules,)))
    assert "a thyristor short the rail" in soldered.text
    assert "a suppressor diode of 5.6 V holds the rail between 5.3 V and 6.8 V" in wired.text
    assert "The board takes 5.25 V" in wired.reason
    weak = ("[supply]\n", '[supply]\nfuse = "2.5 A"\n')
    (told,) = of("supply.crowbar", findings(SPOT, modules, weak))
    assert told.severity is ERROR
    assert told.text.startswith("With the regulator shorted the clamp draws")
