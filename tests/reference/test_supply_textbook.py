"""Worked examples and tables from outside, each with its source."""

from __future__ import annotations

import pytest

from timing.supply.fuse import RATINGS_A, FuseChoice, choose, least_melting_a2s
from timing.supply.preferred import E6, at_least, at_most
from timing.supply.regulator import junction_deg_c
from timing.supply.snubber import capacitor_f, leakage_a, resistor_ohm
from timing.supply.suppression import let_go_s
from timing.supply.trigger_sense import gap_us, led_needed_a, series_resistor_ohm
from timing.supply.wires import GAUGES, Gauge


def test_junction_temperature_of_the_textbook_regulator() -> None:
    """12 V to 5 V at 0.5 A: 3.5 W. TO-220 free-standing 65 K/W: 252 degC. With a heat sink, 5 + 1 + 10 K/W: 81 degC
    (published example: an engineering newsletter on heat in power circuits, newsletter.onedfrk.com, seen)."""
    loss_w = (12.0 - 5.0) * 0.5
    assert loss_w == pytest.approx(3.5)
    assert junction_deg_c(25.0, loss_w, 65.0) == pytest.approx(252.5)
    assert junction_deg_c(25.0, loss_w, 5.0, 1.0, 10.0) == pytest.approx(81.0)
    # A second one, on choosing regulators (en.heromicro.com, seen): 2 W, 16 K/W, air at 50 degC gives 82 degC.
    assert junction_deg_c(50.0, 2.0, 5.0, 1.0, 10.0) == pytest.approx(82.0)


def test_optocoupler_resistor_of_two_published_examples() -> None:
    """(a) A question-and-answer page on a dual optocoupler (electronica.guru, seen): 3.3 mA to sink at CTR 15 %
    needs 22 mA of LED current; from 12 V less 1.7 V the resistor must not exceed 468 ohm.
    (b) A question on sensing 230 V (seen): 47.8 V at nine degrees, LED 1.65 V at 1 mA: 46.1 kohm at most, E12: 39 kohm.
    """
    needed = led_needed_a(3.3e-3, 0.15)
    assert needed == pytest.approx(22e-3)
    assert (12.0 - 1.7) / needed == pytest.approx(468.0, rel=0.001)
    assert series_resistor_ohm(12.0, 1.7, needed) == 390.0
    assert series_resistor_ohm(47.8, 1.65, 1e-3) == 39e3


def test_gap_of_the_published_ac_sense_example() -> None:
    """The same example (b): a threshold of sin 9 degrees leaves the coupler on from 9 to 171 degrees, 9 ms of 10 ms."""
    import math

    gap = gap_us(1.0, math.sin(math.radians(9.0)), 50.0, ac_input=True)
    assert gap == pytest.approx(1_000.0)
    assert gap_us(1.0, math.sin(math.radians(9.0)), 50.0, ac_input=False) == pytest.approx(11_000.0)
    assert gap_us(1.0, 1.1, 50.0, ac_input=True) == 20_000.0


# A data sheet of time-lag 5 x 20 mm fuses to IEC 60127-2 sheet 5 (dtsheet.com 945678, seen): rated current, melting
# integral at 10 times the rated current or under 10 ms, whichever is smaller, in A^2 s.
MELTING_A2S = {1.0: 1.7, 1.25: 3.0, 1.6: 5.4, 2.0: 9.7, 2.5: 17.4, 3.15: 31.0, 4.0: 56.0, 5.0: 101.0, 6.3: 181.0}


def test_the_assumed_least_melting_integral_is_below_every_real_one() -> None:
    for rating_a, melting_a2s in MELTING_A2S.items():
        assert rating_a in RATINGS_A
        assert 0.2 * melting_a2s < least_melting_a2s(rating_a) < melting_a2s


def test_fuse_choice_carries_survives_and_opens() -> None:
    """Own example by the standard's gates: 0.19 A, 0.69 A^2 s, 23.5 A prospective: T 1.25 A, open within 100 ms."""
    chosen = choose(0.19, 0.69, 23.5)
    assert chosen.rating_a == 1.25
    assert chosen.opens_in_s == 0.1
    assert not choose(0.19, 0.69, 23.5).rating_a < 1.25
    assert not FuseChoice(1.0, 0.19, 0.69, 23.5).survives_inrush
    assert not FuseChoice(0.3, 0.19, 0.01, 23.5).carries
    assert FuseChoice(5.0, 0.19, 0.69, 23.5).opens_in_s == 5.0
    assert FuseChoice(6.3, 0.19, 0.69, 23.5).opens_in_s is None


def test_snubber_of_the_published_example() -> None:
    """Rule of C. C. Bates, C = I^2 / 10 uF, R = V / (10 I (1 + 50 / V)); worked in an instrument's manual, appendix on
    protecting relay contacts (manualshive.com, seen): 0.1 A at 110 V gives 0.001 uF and about 76 ohm, fitted with
    100 ohm."""
    assert capacitor_f(0.1) == pytest.approx(0.001e-6)
    assert resistor_ohm(110.0, 0.1) == pytest.approx(76.0, abs=0.5)
    assert at_least(resistor_ohm(110.0, 0.1), E6) == 100.0


def test_snubber_leakage_is_voltage_over_reactance() -> None:
    """0.1 uF and 100 ohm at 120 V, 60 Hz leak about 4.5 mA (textbook: V 2 pi f C)."""
    assert leakage_a(120.0, 60.0, 0.1e-6, 100.0) == pytest.approx(4.52e-3, rel=0.01)
    # An inductive coil in series makes it more, never less.
    assert leakage_a(120.0, 60.0, 0.1e-6, 100.0, 5_000.0) > leakage_a(120.0, 60.0, 0.1e-6, 100.0)


def test_a_plain_diode_lengthens_release_several_times() -> None:
    """Relay makers' application notes: a plain diode lengthens release several times, a zener keeps it near the bare
    figure (practice; up to five times on one page, roboternetz.de, seen). The electrical part alone:"""
    bare = let_go_s(0.006, 9.0, 9.0 * 20, 0.35)
    zener = let_go_s(0.006, 9.0, 9.8, 0.35)
    diode = let_go_s(0.006, 9.0, 0.8, 0.35)
    assert bare < zener < diode
    assert 2.0 < diode / zener < 5.0


def test_wire_gauges_are_those_of_the_published_tables() -> None:
    """AWG 16: 0.0508 in and 3.7 A by 700 circular mils an ampere (reference.com, seen); AWG 18 0.0403 in, AWG 20 0.0320
    in (wire size chart, seen)."""
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
