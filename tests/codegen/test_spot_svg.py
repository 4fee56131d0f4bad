"""The picture of a spot without a hole: what it says, and that it stands in the advice and in nothing else's place."""

from __future__ import annotations

import re

import pytest

from codegen.charts.advice import advice_svg
from codegen.charts.spot import SPOT_HEIGHT, spot_setting, spot_svg
from tests.conftest import EXAMPLES
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.process.advice import advise
from timing.process.case import burnback_case
from timing.process.fused_spot import FusedSpot, fused_spot

TEXT = next(path for path in EXAMPLES if path.stem == "spot_stitch").read_text()
THICK_BACK = TEXT.replace('spot_diameter = "4 mm"', 'spot_diameter = "3 mm"\nback_sheet = "3 mm"')
PLUGS = TEXT.replace('spot_diameter = "4 mm"\n', "")


def made(text: str) -> tuple[Design, FusedSpot]:
    design = parse_design(text)
    return design, fused_spot(design, burnback_case(design), 0.8)


def words_of(svg: str) -> str:
    return " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", svg))


def test_picture_names_its_regions_the_start_and_what_to_look_for() -> None:
    design, spot = made(TEXT)
    said = words_of(spot_svg("Panels", spot, spot_setting(design)))
    for words in ("fused", "may burn through", "start with", "in the design", "wanted 4 mm", "on the face", "AWS D1.3"):
        assert words in said


def test_thick_back_sheet_has_no_region_of_burning_through() -> None:
    design, spot = made(THICK_BACK)
    assert "may burn through" not in words_of(spot_svg("Panels", spot, spot_setting(design)))


def test_nothing_lies_outside_the_picture() -> None:
    design, spot = made(TEXT)
    svg = spot_svg("Panels", spot, spot_setting(design))
    assert all(0 <= float(y) <= SPOT_HEIGHT for y in re.findall(r'\by="([-\d.]+)"', svg))


@pytest.mark.parametrize(("text", "drawn"), [(TEXT, True), (PLUGS, False)])
def test_advice_draws_the_spot_only_where_there_is_one_without_a_hole(text: str, drawn: bool) -> None:
    design = parse_design(text)
    assert ("The spot in depth" in advice_svg(design, advise(design, 100))) is drawn
