from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.process.ball import WireMelt, ball_length_mm, restart, wire_melt
from timing.process.burnback import GOOD, QUICK_STEP_S, run_burnback
from timing.process.case import BurnbackCase, run_likely, scatter
from timing.process.melting import DIAMETER_RANGE_MM, circle_mm2, wire_constants

SETTINGS_S = np.array([0.05, 0.09, 0.13, 0.2, 0.3])
wires_mm = st.floats(*DIAMETER_RANGE_MM)
STEEL = WireMelt.of(wire_constants("mild-steel", 0.9))


@given(wire_mm=wires_mm, melted_mm=st.floats(0.01, 30.0))
def test_the_ball_holds_what_was_melted(wire_mm: float, melted_mm: float) -> None:
    """Against a sum over thin slices of the sphere that meets the wire's edge."""
    melt = WireMelt.of(wire_constants("mild-steel", wire_mm))
    length_mm = float(melt.length_mm(melted_mm))
    sphere_mm = (length_mm**2 + (wire_mm / 2) ** 2) / (2 * length_mm)
    heights_mm = (np.arange(20_000) + 0.5) / 20_000 * length_mm
    slices_mm2 = math.pi * (sphere_mm**2 - (heights_mm - length_mm + sphere_mm) ** 2)
    volume_mm3 = float(slices_mm2.mean()) * length_mm
    assert volume_mm3 == pytest.approx(circle_mm2(wire_mm) * melted_mm, rel=1e-6)


@given(wire_mm=wires_mm, melted_mm=st.floats(0.0, 30.0))
def test_size_length_and_filling_of_a_ball_agree(wire_mm: float, melted_mm: float) -> None:
    melt = WireMelt.of(wire_constants("flux-cored", wire_mm))
    ball_mm, length_mm = float(melt.ball_mm(melted_mm)), float(melt.length_mm(melted_mm))
    assert float(melt.filling_mm(length_mm)) == pytest.approx(melted_mm, abs=1e-9)
    if length_mm > wire_mm / 2 * 1.001:
        assert ball_length_mm(ball_mm, wire_mm) == pytest.approx(length_mm, rel=1e-6)
        assert melt.melted_mm(ball_mm) == pytest.approx(melted_mm, rel=1e-5)
    else:
        assert ball_mm == pytest.approx(wire_mm, rel=1e-5)


def test_four_to_six_millimetres_of_thin_wire_make_a_ball_of_two_wire_diameters() -> None:
    assert STEEL.ball_mm(np.array([4.0, 6.0])) / 0.9 == pytest.approx([1.9, 2.15], abs=0.03)
    assert STEEL.melted_mm(0.8) == 0


def test_a_ball_that_reaches_the_puddle_goes_into_it_and_what_melts_after_begins_the_next() -> None:
    full_mm = float(STEEL.filling_mm(1.0))
    assert STEEL.next_hanging_mm(full_mm - 0.3, 0.2, 1.0, 100.0) == pytest.approx(full_mm - 0.1)
    assert STEEL.next_hanging_mm(full_mm - 0.1, 0.2, 1.0, 100.0) == pytest.approx(0.1)
    # A wire that stands in the puddle keeps nothing but what has just melted.
    assert STEEL.next_hanging_mm(3.0, 0.2, -0.5, 100.0) == pytest.approx(0.2)


def test_a_ball_falls_at_the_weight_that_its_neck_cannot_hold_and_sooner_at_a_high_current() -> None:
    currents_a = np.array([0.0, 100.0, 200.0, 300.0])
    longest_mm = np.asarray(STEEL.longest_hanging_mm(currents_a))
    assert longest_mm[0] * STEEL.weight_n_per_mm == pytest.approx(STEEL.hold_n, rel=1e-6)
    assert (np.diff(longest_mm) < 0).all()
    assert longest_mm[3] < 2 < longest_mm[1]
    hung = STEEL.next_hanging_mm(longest_mm - 0.05, np.full(4, 0.1), np.full(4, 30.0), currents_a)
    assert np.asarray(hung) == pytest.approx(0)


def test_longer_burnback_leaves_a_larger_ball_and_never_more_than_was_melted(case: BurnbackCase) -> None:
    drawn = scatter(case, 1000)
    run = run_burnback(drawn.plant, drawn.point, drawn.release, case.end, SETTINGS_S)
    largest_drop_mm = case.end.melt.filling_mm(2 * np.asarray(drawn.point.arc_length_mm(drawn.plant)))
    assert (run.hanging_mm <= run.melted_mm + largest_drop_mm).all()
    assert (np.diff(np.median(run.ball_mm, axis=1)) > 0).all()
    # Once the arc is long nothing drains any more.
    late = run.hanging_mm[3] - run.hanging_mm[2] - (run.melted_mm[3] - run.melted_mm[2])
    free = (run.outcome[2] == GOOD) & (run.outcome[3] == GOOD)
    assert np.abs(late[free]).max() < 0.01
    assert run.to_ball_end_mm == pytest.approx(run.extension_mm + case.end.melt.length_mm(run.hanging_mm))


def test_the_ball_depends_neither_on_the_step_nor_on_the_surface_tension(case: BurnbackCase) -> None:
    drawn = scatter(case, 1000)

    def middle_mm(tension: float, step_s: float) -> np.ndarray:
        end = replace(case.end, melt=WireMelt.of(case.wire, tension))
        run = run_burnback(drawn.plant, drawn.point, drawn.release, end, SETTINGS_S, step_s)
        return np.percentile(run.ball_mm, (5, 50, 95), axis=1)

    usual = middle_mm(1.59, 2e-3)
    assert np.abs(middle_mm(1.59, 1e-4) - usual).max() < 0.03
    assert np.abs(middle_mm(1.59, QUICK_STEP_S) - usual).max() < 0.05
    assert np.abs(middle_mm(0.8, 2e-3) - usual).max() < 0.03


def test_a_wire_end_without_a_ball_may_rest_nearer_to_the_work(case: BurnbackCase) -> None:
    rest = run_likely(case, [0.13])[0]
    assert rest.to_ball_end_mm - rest.extension_mm == pytest.approx(ball_length_mm(rest.ball_mm, 0.9))
    assert 1.7 < rest.ball_mm < 2.2


def test_aluminium_hangs_less_tightly_and_weighs_a_third() -> None:
    melt = wire_melt("aluminium", wire_constants("aluminium", 0.9))
    assert melt.hold_n < STEEL.hold_n
    assert melt.weight_n_per_mm / STEEL.weight_n_per_mm == pytest.approx(2.7 / 7.85)


@pytest.mark.parametrize(
    ("ball_mm", "says"), [(0.9, "starts well"), (1.35, "starts well"), (1.7, "starts harder"), (1.9, "clip it")]
)
def test_what_a_ball_does_to_the_next_start(ball_mm: float, says: str) -> None:
    assert restart(ball_mm, 0.9) == says
