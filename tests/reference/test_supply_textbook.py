"""Arithmetic, standards and textbook rules, each with its source; none is a maker's paper."""

from __future__ import annotations

from dataclasses import replace

import pytest

from timing.circuit.lists import GAUGES, Gauge
from timing.circuit.preferred import at_least, at_most
from timing.circuit.trigger_input import gap_us, led_needed_a
from timing.design.suppression import let_go_s
from timing.power.components import junction_deg_c
from timing.power.fuse import HIGH_BREAKING, LOW_BREAKING, RATINGS_A, FuseChoice, choose_fuse


def test_junction_temperature_is_air_plus_loss_times_resistance() -> None:
    """Arithmetic: (12 V - 5 V) x 0.5 A is 3.5 W; 65 K/W free-standing: 252 degC; 16 K/W with a heat sink: 81 degC."""
    loss_w = (12.0 - 5.0) * 0.5
    assert loss_w == pytest.approx(3.5)
    assert junction_deg_c(25.0, loss_w, 65.0) == pytest.approx(252.5)
    assert junction_deg_c(25.0, loss_w, 5.0, 1.0, 10.0) == pytest.approx(81.0)
    # 2 W through 16 K/W into air at 50 degC.
    assert junction_deg_c(50.0, 2.0, 5.0, 1.0, 10.0) == pytest.approx(82.0)


def test_an_optocoupler_needs_the_collector_current_over_its_transfer_ratio() -> None:
    """Arithmetic: 3.3 mA to sink at a transfer ratio of 15 % needs 22 mA. Below 5 mA the ratio falls with the current:
    what 2.5 mA then give at 50 % is 1.25 mA times 0.5 to the power of 0.3.
    """
    assert led_needed_a(3.3e-3, 0.15) == pytest.approx(22e-3)
    assert led_needed_a(0.5 * 2.5e-3 * 0.5**0.3, 0.50) == pytest.approx(2.5e-3)


def test_gap_of_an_ac_sense_is_the_time_under_its_threshold() -> None:
    """Arithmetic: a threshold of sin 9 degrees leaves the coupler on from 9 to 171 degrees, 9 ms of 10 ms."""
    import math

    gap = gap_us(1.0, math.sin(math.radians(9.0)), 50.0, ac_input=True)
    assert gap == pytest.approx(1_000.0)
    assert gap_us(1.0, math.sin(math.radians(9.0)), 50.0, ac_input=False) == pytest.approx(11_000.0)
    assert gap_us(1.0, 1.1, 50.0, ac_input=True) == 20_000.0


@pytest.mark.parametrize(
    ("rating_a", "least_a2s"), [(1.0, 1.0), (1.25, 1.5625), (3.15, 9.9225), (4.0, 32.0), (6.3, 79.38)]
)
def test_the_least_melting_integral_is_that_of_the_standards_gate(rating_a: float, least_a2s: float) -> None:
    """IEC 60127-2, sheet 5: 10 times the rated current opens no such fuse before 10 ms, from 4 A on before 20 ms.

    Sheet 3, from memory: from 125 mA on before 20 ms.
    """
    assert rating_a in RATINGS_A
    assert HIGH_BREAKING.least_melting_a2s(rating_a) == pytest.approx(least_a2s)
    assert LOW_BREAKING.least_melting_a2s(rating_a) == pytest.approx(2.0 * rating_a**2)


def test_fuse_choice_carries_survives_breaks_and_opens() -> None:
    """Own example by the gates of sheet 3: 0.19 A, 0.69 A^2 s, 20 A to 30 A prospective: T 1 A L, open within 0.3 s."""
    like = FuseChoice(0.0, 0.19, 0.69, 20.0, 30.0, 18.0)
    chosen = choose_fuse(like)
    assert (chosen.rating_a, chosen.marking, chosen.sheet.number) == (1.0, "T 1 A L", 3)
    assert (chosen.opens_in_s, chosen.fault_opens_in_s) == (0.3, 0.3)
    assert chosen.works
    assert not replace(chosen, rating_a=0.8).survives_inrush
    assert not replace(chosen, rating_a=0.3).carries
    assert replace(chosen, rating_a=5.0).opens_in_s == 3.0
    assert replace(chosen, rating_a=6.3).opens_in_s is None
    # Behind the resistor in the feed a short is weaker, and no promise may be made from the dead short.
    assert not replace(chosen, rating_a=1.0, fault_a=2.5).works


def test_a_short_beyond_35_a_asks_for_the_filled_fuse_whose_gates_differ() -> None:
    """Sheet 5 begins at 1 A and promises 0.1 s at ten times its rating; below 1 A nothing breaks more than 35 A."""
    strong = choose_fuse(FuseChoice(0.0, 0.19, 0.69, 45.0, 60.0, 45.0))
    assert (strong.rating_a, strong.marking, strong.sheet.number) == (1.25, "T 1.25 A H", 5)
    assert (strong.opens_in_s, strong.breaks) == (0.1, True)
    # What the load asks for is then 1 A as well, however small it is.
    assert choose_fuse(strong, inrush=False).marking == "T 1 A H"
    small = FuseChoice(0.5, 0.19, 0.1, 45.0, 60.0, 45.0)
    assert (small.marking, small.breaks, small.works) == ("T 0.5 A L", False, False)


def test_a_plain_diode_lengthens_release_several_times() -> None:
    """Common practice, no source: a plain diode lengthens release several times, a zener keeps it near the bare figure.
    The electrical part alone:"""
    bare = let_go_s(0.006, 9.0, 9.0 * 20, 0.35)
    zener = let_go_s(0.006, 9.0, 9.8, 0.35)
    diode = let_go_s(0.006, 9.0, 0.8, 0.35)
    assert bare < zener < diode
    assert 2.0 < diode / zener < 5.0


def test_wire_gauges_are_those_of_the_standard() -> None:
    """ASTM B258 fixes AWG 36 at 0.0050 in and 0000 at 0.4600 in, with 39 equal ratios between them."""
    assert Gauge(36, 0.01).diameter_in == pytest.approx(0.0050)
    assert Gauge(-3, 100.0).diameter_in == pytest.approx(0.4600)
    sixteen = next(gauge for gauge in GAUGES if gauge.awg == 16)
    assert sixteen.diameter_in == pytest.approx(0.0508, abs=5e-5)
    assert sixteen.current_a == pytest.approx(3.7, abs=0.05)
    assert Gauge(18, 1.0).diameter_in == pytest.approx(0.0403, abs=5e-5)
    assert Gauge(20, 0.5).diameter_in == pytest.approx(0.0320, abs=5e-5)


def test_the_metric_size_is_not_thinner_than_the_gauge() -> None:
    for gauge in GAUGES:
        assert gauge.metric_mm2 >= 0.9 * gauge.area_mm2


def test_at_most_and_at_least_on_the_examples_of_a_reference_library() -> None:
    """Its documentation: the next E12 value above 319 is 330."""
    assert at_least(319.0) == 330.0
    assert at_most(319.0) == 270.0
