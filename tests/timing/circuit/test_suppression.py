"""Clamps, and what they do to the time in which a coil lets go."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.design import Design
from timing.design.suppression import added_delay_us, let_go_s, off_delay
from timing.formatting import energy_text

Changed = Callable[..., Design]


def test_a_plain_diode_delays_the_release_and_a_varistor_hastens_it() -> None:
    early, typical, late = added_delay_us("diode", 9.0, 0.006)
    assert 0 < early < typical < late < 10_000
    assert added_delay_us("zener", 9.0, 0.006) == (0, 0, 0)
    assert added_delay_us("varistor", 9.0, 0.006)[1] < 0


@given(st.floats(0.05, 0.9), st.floats(0.1, 100.0), st.floats(0.1, 100.0))
def test_a_higher_clamp_always_lets_go_sooner(share: float, clamp: float, more: float) -> None:
    assert let_go_s(0.006, 9.0, clamp + more, share) < let_go_s(0.006, 9.0, clamp, share)


def test_the_timing_model_gets_the_slower_release(changed: Changed) -> None:
    plain = changed(('coil = { hold = "0.6 A"', 'suppression = "diode"\ncoil = { hold = "0.6 A"')).feeder.contactor
    slow = off_delay(plain, 9.0)
    assert slow.min_us > plain.off_delay.min_us
    assert slow.typical_us - plain.off_delay.typical_us > 2_000
    assert slow.min_us <= slow.typical_us <= slow.max_us
    kept = changed().feeder.contactor
    assert off_delay(kept, 9.0) == kept.off_delay


@given(st.floats(1e-4, 50.0))
def test_what_a_coil_holds_is_told_in_plain_figures(energy_j: float) -> None:
    figure, unit = energy_text(energy_j).split()
    assert "e" not in figure
    assert float(figure) * {"J": 1.0, "mJ": 1e-3}[unit] == pytest.approx(energy_j, rel=0.051)
