"""Spots without a hole: what the rules say of spot times and dials that are too cold or burn through."""

from __future__ import annotations

import pytest

from tests.conftest import EXAMPLES
from timing.checks import spots
from timing.checks.finding import Severity
from timing.checks.remedies import applied
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

TEXT = next(path for path in EXAMPLES if path.stem == "spot_stitch").read_text()
TIME = 'time = { from = "200 ms", to = "2 s", setting = "450 ms"'


def project_with(time: str, process: str = 'spot_diameter = "4 mm"') -> Project:
    assert TIME in TEXT
    design = parse_design(TEXT.replace(TIME, time).replace('spot_diameter = "4 mm"', process))
    return Project(design, load_board(design.board.type))


def said(project: Project) -> dict[str, Severity]:
    found = [*spots.fuses_the_back_sheet(project), *spots.does_not_burn_through(project)]
    return {one.rule: one.severity for one in found}


@pytest.mark.parametrize(
    ("time", "process", "says"),
    [
        ('time = { from = "200 ms", to = "800 ms", setting = "400 ms"', 'spot_diameter = "4 mm"', {}),
        (
            'time = { from = "60 ms", to = "800 ms", setting = "80 ms"',
            'spot_diameter = "4 mm"',
            {"spot-fuses-the-back-sheet": Severity.WARNING},
        ),
        (
            'time = { from = "40 ms", to = "70 ms", setting = "60 ms"',
            'spot_diameter = "4 mm"',
            {"spot-fuses-the-back-sheet": Severity.ERROR},
        ),
        (TIME, 'spot_diameter = "4 mm"', {"spot-burns-through": Severity.INFO}),
        (
            'time = { from = "200 ms", to = "2 s", setting = "1.8 s"',
            'spot_diameter = "4 mm"',
            {"spot-burns-through": Severity.WARNING},
        ),
        (
            'time = { from = "1.6 s", to = "2.4 s", setting = "1.8 s"',
            'spot_diameter = "4 mm"',
            {"spot-burns-through": Severity.ERROR},
        ),
        # A plug has a hole to fill, not a sheet to melt through.
        ('time = { from = "60 ms", to = "120 ms", setting = "80 ms"', "", {}),
        # The thicker back sheet carries the heat away: too cold, and nothing burns through it.
        (TIME, 'spot_diameter = "4 mm"\nback_sheet = "12 mm"', {"spot-fuses-the-back-sheet": Severity.ERROR}),
    ],
)
def test_rules_speak_of_what_is_far_off(time: str, process: str, says: dict[str, Severity]) -> None:
    assert said(project_with(time, process)) == says


def test_remedy_writes_a_time_of_which_the_rules_say_nothing() -> None:
    cold = project_with('time = { from = "60 ms", to = "800 ms", setting = "80 ms"')
    (finding,) = spots.fuses_the_back_sheet(cold)
    text = TEXT.replace(TIME, 'time = { from = "60 ms", to = "800 ms", setting = "80 ms"')
    mended = parse_design(applied(text, finding.remedies[0].changes))
    assert said(Project(mended, cold.board)) == {}
