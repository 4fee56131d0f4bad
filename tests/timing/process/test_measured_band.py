"""The extension left as test welds found it: into the design file, back out, and what `check` makes of it."""

from __future__ import annotations

import re

import numpy as np
import pytest

from codegen.charts.burnback import burnback_svg, in_the_design
from tests.timing.checks.test_registry import MEASURED_BAND, TEXTS
from timing.checks import process as rules
from timing.checks.finding import Finding, Severity
from timing.checks.registry import check
from timing.design.loading import parse_design
from timing.design.saving import with_values
from timing.design.text_file import DesignFileError
from timing.process.burnback_curve import burnback_curve
from timing.process.case import burnback_case
from timing.process.measured_band import ExtensionBand, band_values, measured_band, stale_because
from timing.project import Project
from wirecue.projects import load_board

PLAIN = TEXTS["shop_two_step"]
MEASURED = TEXTS["measured"]
BAND = ExtensionBand(
    settings_s=np.array([0.02, 0.05, 0.11, 1.03]),
    low_mm=np.array([8.04, 7.0, 6.0, 4.0]),
    middle_mm=np.array([12.0, 9.0, 8.0, 6.0]),
    high_mm=np.array([15.0, 11.0, 9.5, 8.0]),
    good=np.array([0.096, 0.8, 0.995, 1 / 3]),
    frozen=np.array([0.904, 0.2, 0.005, 0.0]),
    short=np.array([0.0, 0.0, 0.0, 1 / 3]),
    fused=np.array([0.0, 0.0, 0.0, 1 / 3]),
    ball_mm=1.23,
)


def said(text: str) -> list[Finding]:
    design = parse_design(text)
    project = Project(design, load_board(design.board.type))
    return [*rules.burnback_leaves_a_good_end(project), *rules.extension_left_holds(project)]


def test_a_band_comes_back_from_the_design_file_as_it_went_in_and_makes_no_other_program() -> None:
    design = parse_design(PLAIN)
    text, changes = with_values(PLAIN, {"extension_left": band_values(design, BAND, "4 test welds of 2026-03-01")})
    assert changes
    written = parse_design(text)
    found = measured_band(written)
    assert found is not None
    for name, row in vars(BAND).items():
        assert getattr(found, name) == pytest.approx(row, abs=0.06 if name.endswith("mm") else 0.011), name
    assert written.digest() == design.digest()
    assert written.extension_left is not None
    assert written.extension_left.found_from == "4 test welds of 2026-03-01"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('gas = "M21"\ncontact', 'gas = "C1"\ncontact', "gas"),
        ('work = "12 mm"\nwire', 'work = "15 mm"\nwire', "contact-tip-to-work distance"),
        ('wire_diameter = "0.90 mm"', 'wire_diameter = "0.8 mm"', "wire"),
        ('ball = "1.2 mm"', 'ball = "1.2 mm"\nbraked = true', "brake of the drive"),
        ('ball = "1.2 mm"', 'ball = "1.2 mm"\nopen_circuit_voltage = "27 V"', "open-circuit voltage"),
        ('ball = "1.2 mm"', 'ball = "1.2 mm"\ncontactor_later = "9 ms"', "suppression of the contactor's coil"),
    ],
)
def test_a_band_of_another_process_is_named_and_not_used(old: str, new: str, words: str) -> None:
    text = PLAIN + MEASURED_BAND.replace(old, new)
    assert measured_band(parse_design(text)) is None
    assert stale_because(parse_design(text)) == (words,)
    last = said(text)[-1]
    assert (last.rule, last.severity) == ("extension-left-holds", Severity.WARNING)
    assert f"another {words} than the design has" in last.text


def test_check_reads_the_band_in_place_of_the_models_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "scatter", lambda *_: pytest.fail("the model was asked"))
    (good,) = said(MEASURED)
    assert good.severity is Severity.INFO
    assert "leaves 8.9 mm of wire to the end of the ball (nine times in ten 7.3 mm to 10.4 mm)" in good.text
    assert "3 test welds of 2026-03-01" in good.reason
    (bad,) = said(MEASURED.replace('setting = "130 ms"', 'setting = "40 ms"'))
    assert bad.severity is Severity.WARNING
    assert "55 % of welds end frozen in the puddle" in bad.text
    assert bad.remedies[0].text == "a burnback of 110 ms"
    hopeless = MEASURED.replace("10, 80, 99, 98 %", "0, 0, 1, 2 %").replace("90, 20, 1, 0 %", "100, 100, 99, 98 %")
    (none,) = said(hopeless.replace("0, 0, 0, 2 %", "0, 0, 0, 0 %"))
    assert none.severity is Severity.ERROR


@pytest.mark.parametrize("speeds", [True, False], ids=["a range of speeds", "one speed"])
def test_rules_that_a_band_does_not_answer_go_by_the_speed_that_is_set(speeds: bool) -> None:
    told = MEASURED if speeds else re.sub(r"(?m)^wire_feed_speed_(low|high) = .*\n", "", MEASURED)
    plain = told.replace(told[told.index("[extension_left]") :], "")
    ball, without_band = (
        [one for one in check(Project(design, load_board("uno"))) if one.rule == "ball-is-clipped"]
        for design in map(parse_design, (told, plain))
    )
    assert ball == without_band != []


def test_the_picture_shows_the_band_of_this_machine_where_there_is_one() -> None:
    for text, shown in ((PLAIN, False), (MEASURED, True)):
        design = parse_design(text)
        curve = burnback_curve(burnback_case(design), np.linspace(0.0, 0.3, 7), draws=64)
        assert ("on this machine, by its test welds" in burnback_svg("mine", curve, in_the_design(design))) is shown


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("20, 60, 110", "20, 20, 110"), "settings that do not rise"),
        (("9, 8.5, 7.5, 6 mm", "9, 8.5, 7.5 mm"), "3 numbers in low, 4 in settings"),
        (("9, 8.5, 7.5, 6 mm", "9, 8.5, 9.5, 6 mm"), "out of order: 9.5, 9, 10.5 mm"),
        (("10, 80, 99, 98 %", "10, 80, 50, 98 %"), "add up to 50 + 1 + 0 + 0 %"),
        (("9, 8.5, 7.5, 6 mm", "9; 8.5 mm"), "numbers parted by commas, then their unit"),
        (("9, 8.5, 7.5, 6 mm", f"{'9, ' * 70}9 mm"), "71 numbers"),
        (("9, 8.5, 7.5, 6 mm", "9, 8.5, 7.5, 600 mm"), "0 mm to 60 mm"),
        (('"9, 8.5, 7.5, 6 mm"', "9"), "numbers parted by commas, then their unit"),
    ],
)
def test_a_band_that_cannot_be_is_refused_in_words(change: tuple[str, str], words: str) -> None:
    with pytest.raises(DesignFileError) as caught:
        parse_design(MEASURED.replace(*change))
    assert words in str(caught.value)
