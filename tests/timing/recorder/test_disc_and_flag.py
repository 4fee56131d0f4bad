"""Disc and flag: as many sectors as a sensor can tell apart, and a flag that gas can move."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.process.ball import GRAVITY_M_S2
from timing.recorder.disc import DISC_MM, ROLL_MM, SECTOR_MM, disc_for
from timing.recorder.flag import FLAG_PAPER_KG_M2, SEEN_AT_MM, SENSOR_AWAY_MM, flag_for, flag_lag_us

SPOT = ROOT / "examples" / "spot_stitch.toml"


@given(roll=st.floats(*ROLL_MM), outer=st.none() | st.floats(*DISC_MM))
def test_no_sector_is_narrower_than_what_the_sensor_sees_and_one_more_would_be(roll, outer):
    disc = disc_for(roll, outer)
    assert disc.sector_mm >= SECTOR_MM
    assert disc.sectors / (disc.sectors + 1) * disc.sector_mm < SECTOR_MM
    assert disc.mm_per_slot(roll) * disc.sectors == pytest.approx(math.pi * roll)
    assert disc.fits


def test_a_bore_that_leaves_no_paper_does_not_fit():
    assert not disc_for(30.0, 40.0, 20.0).fits


def test_the_flag_is_pushed_by_the_momentum_of_the_gas():
    process = load_design(SPOT).process
    flag = flag_for(process)
    # 12 L/min of argon through 16 mm: 0.995 m/s; 1.66 kg/m3 x 0.2 L/s x 0.995 m/s.
    assert flag.push_n == pytest.approx(3.30e-4, rel=0.01)
    assert flag.mass_kg == pytest.approx(FLAG_PAPER_KG_M2 * flag.width_mm * flag.length_mm / 1e6)
    assert flag.swing_mm < flag.length_mm
    assert flag.reaches


def test_the_flags_lag_is_that_of_its_tip_under_steady_push():
    """Against the swing stepped through in time: a rod about its end, torque of push less that of weight."""
    process = load_design(SPOT).process
    flag, way_m = flag_for(process), (SENSOR_AWAY_MM - SEEN_AT_MM) / 1000.0
    length = flag.length_mm / 1000.0
    inertia, angle, rate, time_s, step_s = flag.mass_kg * length**2 / 3.0, 0.0, 0.0, 0.0, 1e-5
    while length * math.sin(angle) < way_m:
        torque = length / 2.0 * (flag.push_n * math.cos(angle) - flag.mass_kg * GRAVITY_M_S2 * math.sin(angle))
        rate += torque / inertia * step_s
        angle += rate * step_s
        time_s += step_s
    least, most = flag_lag_us(process)
    assert least < 1e6 * time_s < most


def test_without_gas_there_is_no_flag():
    with pytest.raises(ValueError, match="no gas"):
        flag_for(load_design(ROOT / "examples" / "gasless_four_step.toml").process)
