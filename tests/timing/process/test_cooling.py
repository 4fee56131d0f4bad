from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.process.cooling import (
    METALS,
    heat_input_j_per_mm,
    seam_solidification,
    spot_solidification_s,
    wire_end_dull_s,
)
from timing.process.errors import ProcessError
from timing.process.melting import MATERIALS


@given(heat=st.floats(20, 3000), plate=st.floats(0.5, 50))
def test_likely_solidification_lies_between_thick_and_thin(heat: float, plate: float) -> None:
    found = seam_solidification(heat, plate)
    low, high = sorted((found.thick_s, found.thin_s))
    assert low * (1 - 1e-9) <= found.likely_s <= high * (1 + 1e-9)


def test_thick_and_thin_plate_meet_between_the_two_criteria() -> None:
    """Both formulas give the same where relative thickness is 1: they are two limits of one thing."""
    heat = 500.0
    plate = 1 / math.sqrt(0.0044 * (1510 - 25) / heat)
    found = seam_solidification(heat, plate)
    assert found.relative_thickness == pytest.approx(1)
    assert found.thin_s == pytest.approx(found.thick_s)


def test_more_heat_and_thinner_sheet_freeze_later() -> None:
    assert seam_solidification(400, 3).likely_s > seam_solidification(300, 3).likely_s
    assert seam_solidification(300, 2).likely_s > seam_solidification(300, 3).likely_s
    assert spot_solidification_s(2000, 1.0, 2) > spot_solidification_s(2000, 1.0, 4)
    assert spot_solidification_s(2000, 1.0, 2) < spot_solidification_s(2000, 2.0, 2)


def test_short_spot_freezes_like_all_its_heat_at_once() -> None:
    """T - T0 = Q / (4 pi k h t), the instantaneous line of heat (textbook)."""
    heat_j, stack_mm = 1000.0, 2.0
    at_once_s = heat_j / (4 * math.pi * 0.028 * stack_mm * (1510 - 25))
    assert spot_solidification_s(heat_j / 0.001, 0.001, stack_mm) == pytest.approx(at_once_s, rel=0.001)


def test_long_and_thick_wire_ends_stay_hot_longer() -> None:
    assert wire_end_dull_s(0.9, 8) < wire_end_dull_s(0.9, 14)
    assert wire_end_dull_s(0.8, 8) < wire_end_dull_s(1.2, 8)
    assert wire_end_dull_s(1.0, 10, METALS["aluminium"]) < wire_end_dull_s(1.0, 10)


def test_every_wire_has_a_metal() -> None:
    assert set(METALS) == set(MATERIALS)


@pytest.mark.parametrize("speed", [0.0, -1.0, float("nan"), float("inf")])
def test_gun_that_does_not_travel_is_refused(speed: float) -> None:
    with pytest.raises(ProcessError, match="travel speed"):
        heat_input_j_per_mm(20, 115, speed)


@pytest.mark.parametrize(("power", "burning", "stack"), [(0.0, 1.0, 2.0), (2000.0, 0.0, 2.0), (2000.0, 1.0, 0.0)])
def test_spot_of_nothing_is_refused(power: float, burning: float, stack: float) -> None:
    with pytest.raises(ProcessError):
        spot_solidification_s(power, burning, stack)


@pytest.mark.parametrize(("heat", "plate"), [(0.0, 3.0), (300.0, 0.0), (float("nan"), 3.0)])
def test_plate_or_heat_of_nothing_is_refused(heat: float, plate: float) -> None:
    with pytest.raises(ProcessError):
        seam_solidification(heat, plate)
