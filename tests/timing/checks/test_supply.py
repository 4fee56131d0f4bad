"""Findings: every rule can fire, and its remedy fixes what it found."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from timing.checks.finding import DesignEdit, Finding, Severity
from timing.checks.remedies import applied, mended
from timing.design.board import Board
from timing.design.loading import parse_design
from timing.project import Project


def findings(text: str, board: Board) -> dict[str, Finding]:
    return {finding.rule: finding for finding in Project(parse_design(text), board).supply.findings}


def test_every_example_closes_or_its_remedy_makes_it_close(example: Path, board_named: Callable[[str], Board]) -> None:
    text = example.read_text()
    board = board_named(parse_design(text).board.type)
    for finding in Project(parse_design(text), board).supply.findings:
        assert finding.reason
        assert finding.severity is Severity.INFO or finding.remedies
    closed = Project(parse_design(mended(text, board)), board).supply
    assert closed.errors == ()
    assert closed.budget.closes


def test_the_classic_trap_is_caught(shop_text: str, board: Board) -> None:
    """24 VAC, lightly loaded, at high line: over 40 V, on a regulator rated for 40 V or 35 V."""
    found = findings(shop_text, board)["supply.input-voltage"]
    assert found.severity is Severity.ERROR
    assert found.text == "The reservoir can stand at 41.2 V, and the regulator is rated for 40 V"
    assert found.remedies[0].changes[0].value == "60 V"
    linear = findings(shop_text.replace("[supply]", '[supply]\nregulator = "linear"'), board)["supply.input-voltage"]
    assert "is rated for 35 V" in linear.text
    assert [change.value for change in linear.remedies[0].changes] == ["switching", "60 V"]


ERROR = Severity.ERROR
# Each: what is wrong with the shop example, the rule that must say so, and how badly.
BROKEN = {
    "reservoir far too small": (
        ('reservoir = "1000 uF"', 'reservoir = "47 uF"\nregulator = "linear"\nrectifier = "half-wave"'),
        "supply.collapse", ERROR,
    ),
    "low winding": (
        ('measured_open = "27.4 V"\nmeasured_loaded = "25.2 V"',
         'measured_open = "12.6 V"\nmeasured_loaded = "11.1 V"'),
        "supply.dropout", ERROR,
    ),
    "output the board is not rated for": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nregulator_output = "24 V"'), "supply.board-voltage", ERROR,
    ),
    "capacitor rated too low": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nreservoir_rating = "35 V"'),
        "supply.capacitor-voltage", ERROR,
    ),
    "capacitor without ripple rating": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nreservoir_ripple = "0.1 A"'),
        "supply.capacitor-ripple", ERROR,
    ),
    "fuse too small for the inrush": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nfuse = "0.5 A"'), "supply.fuse-inrush", ERROR,
    ),
    "fuse too small for the load": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nfuse = "0.1 A"'), "supply.fuse-current", ERROR,
    ),
    "fuse that outlives the wire": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nfuse = "10 A"'), "supply.fuse-short", ERROR,
    ),
    "linear regulator in a warm box": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nregulator = "linear"\nregulator_input_max = "60 V"'),
        "supply.heat", ERROR,
    ),
    "threshold below the dropout": (('low = "15 V"', 'low = "8 V"'), "supply.threshold-low", ERROR),
    "threshold above what low line leaves": (('good = "18 V"', 'good = "33 V"'), "supply.threshold-high", ERROR),
    "divider that overdrives the pin": (
        ('divider_top = "56 kohm"', 'divider_top = "22 kohm"'), "circuits.sense-voltage", ERROR,
    ),
    "trigger resistor too large": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\ntrigger_resistor = "22 kohm"'),
        "circuits.trigger-current", ERROR,
    ),
    "trigger resistor too small": (
        ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\ntrigger_resistor = "1 kohm"'),
        "circuits.trigger-led", ERROR,
    ),
    "triac on dc": (
        ('coast = "50 ms"', 'coast = "50 ms"\ndrive = "opto-triac"'), "circuits.triac-on-dc", ERROR,
    ),
    "mosfet on ac": (
        ('coil = { hold = "0.6 A"', 'drive = "mosfet"\ncoil = { hold = "0.6 A"'), "circuits.mosfet-on-ac", ERROR,
    ),
    "a triac that holds a small coil in": (
        ('coil = { hold = "0.33 A", inrush = "0.8 A" }', 'drive = "opto-triac"\ncoil = { hold = "8 mA" }'),
        "circuits.leak-holds", ERROR,
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", BROKEN)
def test_each_error_is_found_and_its_remedy_fixes_it(what: str, shop_text: str, board: Board) -> None:
    (old, new), rule, severity = BROKEN[what]
    assert old in shop_text
    text = shop_text.replace(old, new)
    found = findings(text, board)
    assert rule in found
    assert found[rule].severity == severity
    assert Project(parse_design(mended(text, board)), board).supply.errors == ()


@pytest.mark.parametrize("loaded", ["27.4 V", "30 V"])
def test_a_winding_that_rises_under_load_was_not_measured_well(loaded: str, shop_text: str, board: Board) -> None:
    found = findings(shop_text.replace('measured_loaded = "25.2 V"', f'measured_loaded = "{loaded}"'), board)
    assert found["supply.readings"].severity is Severity.ERROR
    assert found["supply.readings"].text == f"The winding reads {loaded} loaded and 27.4 V open"
    assert [remedy.changes for remedy in found["supply.readings"].remedies] == [()], "no value can be guessed"
    assert "supply.readings" not in findings(shop_text, board)


@pytest.mark.parametrize(
    ("low", "good", "told"),
    [
        ("15 V", "33 V", "one dip would stop the sequence, and the supply would not count as good again"),
        ("32 V", "33 V", "no weld would start"),
    ],
)
def test_thresholds_that_a_bad_day_does_not_reach_say_what_would_happen(
    low: str, good: str, told: str, shop_text: str, board: Board
) -> None:
    text = shop_text.replace('low = "15 V"', f'low = "{low}"').replace('good = "18 V"', f'good = "{good}"')
    assert told in findings(text, board)["supply.threshold-high"].reason


# Each: a change, and the warning or note that it brings.
REMARKED = {
    "not measured": (
        ('measured_open = "27.4 V"\nmeasured_loaded = "25.2 V"\nmeasured_load = "2.1 A"\n', ""),
        "supply.not-measured",
    ),
    "half-wave": (('rating = "100 VA"', 'rating = "100 VA"\nrectifier = "half-wave"'), "supply.half-wave"),
    "no sense": (
        ('sense = { divider_top = "56 kohm", divider_bottom = "4.7 kohm", low = "15 V", good = "18 V" }', ""),
        "supply.no-sense",
    ),
    "plain diode": (('coil = { hold = "0.6 A"', 'suppression = "diode"\ncoil = { hold = "0.6 A"'), "circuits.release"),
    "small coil on a triac": (
        ('coil = { hold = "0.33 A", inrush = "0.8 A" }', 'drive = "opto-triac"\ncoil = { hold = "30 mA" }'),
        "circuits.triac-small-coil",
    ),
    "potentiometer too large": (
        ('setting = "90 ms" }', 'setting = "90 ms", resistance = "100 kohm" }'), "circuits.dial-bends",
    ),
    "weak transformer": (('measured_loaded = "25.2 V"', 'measured_loaded = "21.0 V"'), "supply.pull-in"),
    "little hold-up": (('low = "15 V", good = "18 V"', 'low = "12 V", good = "18 V"'), "supply.hold-up"),
    "thresholds too close": (('good = "18 V"', 'good = "15.1 V"'), "circuits.sense-resolution"),
    "divider too weak": (
        ('divider_top = "56 kohm", divider_bottom = "4.7 kohm"',
         'divider_top = "560 kohm", divider_bottom = "47 kohm"'),
        "circuits.sense-source",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", REMARKED)
def test_each_remark_is_made_without_forbidding(what: str, shop_text: str, board: Board) -> None:
    (old, new), rule = REMARKED[what]
    assert old in shop_text
    assert rule not in findings(shop_text, board) or rule == "supply.hold-up"
    assert findings(shop_text.replace(old, new), board)[rule].severity < Severity.ERROR


def test_a_transformer_pushed_over_its_rating_is_an_error_and_an_overloaded_one_a_warning(
    shop_text: str, board: Board
) -> None:
    pushed = findings(shop_text.replace('rating = "100 VA"', 'rating = "23.5 VA"'), board)["supply.volt-amperes"]
    assert pushed.severity is Severity.ERROR
    already = findings(shop_text.replace('rating = "100 VA"', 'rating = "15 VA"'), board)["supply.volt-amperes"]
    assert already.severity is Severity.WARNING
    assert already.reason.startswith("It is already overloaded as found")
    assert [figure.name for figure in already.figures][1] == "winding current as found"


def test_the_slower_release_is_told_in_milliseconds_of_burnback(shop_text: str, board: Board) -> None:
    text = shop_text.replace('coil = { hold = "0.6 A"', 'suppression = "diode"\ncoil = { hold = "0.6 A"')
    found = findings(text, board)["circuits.release"]
    assert found.key == "feeder.contactor.suppression"
    assert "burnback nobody set" in found.reason


def test_changes_keep_comments_and_add_what_is_missing(shop_text: str) -> None:
    text = re.sub(r"(?m)^sense = {.*\n", "", f"# head\n{shop_text}")
    sense = {"divider_top": "56 kohm", "divider_bottom": "4.7 kohm", "low": "18 V", "good": "22 V"}
    changes = [
        DesignEdit("supply.fuse", "1 A"),
        *(DesignEdit(f"supply.sense.{key}", value) for key, value in sense.items()),
    ]
    written = applied(text, changes)
    assert [line for line in written.splitlines() if line in text.splitlines()] == text.splitlines()
    assert 'fuse = "1 A"' in written
    assert parse_design(written).supply.sense is not None
