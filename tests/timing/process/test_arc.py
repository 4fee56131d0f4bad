from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from timing.design.gases import GAS_GROUPS, INERT
from timing.design.process import Gas
from timing.process.arc import (
    ARCS,
    HELIUM_FALL_V,
    PUBLISHED_ARC,
    Plant,
    arc_constants,
    operating_point,
    regime,
    settle,
)
from timing.process.case import BurnbackCase, burnback_case
from timing.process.errors import ProcessError
from timing.process.melting import melting_rate_mm_s, wire_constants
from timing.process.source import usual_load_voltage_v


def plant_of(feed: float = 85.0, distance: float = 12.0, open_v: float = 26.0, diameter: float = 0.9) -> Plant:
    wire, arc = wire_constants("mild-steel", diameter), ARCS["M21"]
    values = (feed, distance, wire.alpha_mm_per_a_s, wire.beta_per_a2_s, wire.resistance_ohm_per_mm)
    values += (arc.fall_v, arc.resistance_ohm, arc.gradient_v_per_mm, open_v, 0.025, 3e-4, 15.0, diameter)
    return Plant(*values)


def test_open_arc_balances_wire_and_volts() -> None:
    plant = plant_of()
    point = operating_point(plant)
    assert regime(point) == "open arc"
    current, extension = float(point.current_a), float(point.extension_mm)
    melted = melting_rate_mm_s(current, extension, float(plant.alpha_mm_per_a_s), float(plant.beta_per_a2_s))
    assert melted == pytest.approx(85.0, rel=1e-9)
    around = 15.7 + (0.025 + 0.022 + float(plant.wire_ohm_per_mm) * extension) * current
    around += 1.2 * (12.0 - extension)
    assert around == pytest.approx(26.0, abs=1e-6)


def test_low_voltage_is_named_short_circuit_and_still_melts_what_is_fed() -> None:
    point = operating_point(plant_of(open_v=22.0))
    assert regime(point) == "short-circuit"
    assert float(point.dip_v) > 0
    assert float(point.arc_length_mm(plant_of())) == pytest.approx(0.9)


def test_the_arc_heats_the_wire_for_the_time_that_no_short_takes() -> None:
    """The mean voltage lies between the arc's and that of the shorted wire, by the share of the time."""
    plant = plant_of(open_v=21.5)
    point = operating_point(plant)
    current, share, wire = float(point.current_a), float(point.short_share), wire_constants("mild-steel", 0.9)
    drop_v = float(plant.wire_ohm_per_mm) * float(point.extension_mm) * current
    arc_v = 15.7 + 0.022 * current + 1.2 * 0.9 + drop_v
    assert share * drop_v + (1 - share) * arc_v == pytest.approx(float(point.voltage_v), abs=1e-4)
    melted = melting_rate_mm_s(
        current, float(point.extension_mm), (1 - share) * wire.alpha_mm_per_a_s, wire.beta_per_a2_s
    )
    assert melted == pytest.approx(85.0, rel=1e-6)
    assert 0.1 < share < 0.4


def test_an_open_arc_heats_the_wire_all_the_time() -> None:
    assert operating_point(plant_of()).short_share == 0


def test_less_voltage_shorts_the_wire_for_longer_and_takes_more_current() -> None:
    points = [settle(plant_of(open_v=volts)) for volts in (24.0, 23.0, 22.0, 21.0)]
    for values in ([float(one.short_share) for one in points], [float(one.current_a) for one in points]):
        assert values == sorted(values)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"feed": 0.0}, "wire feed speed is 0 mm/s"),
        ({"feed": float("nan")}, "wire feed speed is nan"),
        ({"distance": 2.0}, "no room for an arc"),
        ({"open_v": 16.0}, "no arc is possible"),
        ({"open_v": 60.0}, "climbs into the contact tip"),
        ({"feed": 5.0}, "too little to keep an arc"),
    ],
)
def test_impossible_arc_gets_a_sentence_with_a_way_out(changes: dict[str, float], words: str) -> None:
    with pytest.raises(ProcessError) as caught:
        operating_point(plant_of(**changes))
    assert words in caught.value.what
    assert caught.value.allowed
    assert caught.value.remedy
    assert str(caught.value).count("\n") == 2


def test_voltage_that_the_refusal_asks_for_is_accepted() -> None:
    with pytest.raises(ProcessError) as caught:
        operating_point(plant_of(open_v=16.0))
    asked = float(caught.value.allowed.split(" of ")[1].split(" V")[0])
    operating_point(plant_of(open_v=asked + 0.1))


@settings(max_examples=200)
@given(
    feed=st.floats(1, 500),
    distance=st.floats(4, 40),
    open_v=st.floats(12, 60),
    diameter=st.sampled_from([0.6, 0.9, 1.2, 1.6]),
)
def test_any_machine_settles_to_numbers_or_is_refused(
    feed: float, distance: float, open_v: float, diameter: float
) -> None:
    plant = plant_of(feed, distance, open_v, diameter)
    try:
        point = operating_point(plant)
    except ProcessError as refusal:
        point, said = None, str(refusal)
    if point is None:
        assert "nan" not in said
        return
    assert np.isfinite([point.current_a, point.extension_mm, point.dip_v, point.voltage_v]).all()
    assert 0 < float(point.extension_mm) < distance


def test_more_voltage_makes_a_longer_arc() -> None:
    lengths = [float(settle(plant_of(open_v=v)).arc_length_mm(plant_of())) for v in (25, 26, 27, 28)]
    assert lengths == sorted(lengths)


def test_every_gas_of_the_design_file_has_an_arc() -> None:
    assert set(ARCS) == set(Gas.__args__)  # type: ignore[attr-defined]
    for arc in ARCS.values():
        assert arc.source


@pytest.mark.parametrize("gas", sorted(GAS_GROUPS))
def test_every_gas_burns_somewhere_near_the_voltage_that_a_machine_is_set_to(gas: str, changed) -> None:
    wire = "aluminium" if gas in INERT else "mild-steel"
    design = changed(
        ('gas = "M21"', f'gas = "{gas}"'), ('"mild-steel"', f'"{wire}"'), ('open_circuit_voltage = "23 V"\n', "")
    )
    point = burnback_case(design).operating_point()
    assert usual_load_voltage_v(float(point.current_a)) - 4 < float(point.voltage_v) < 26


@pytest.mark.parametrize(
    ("group", "mixture", "helium"),
    [("M12", "90/7.5/2.5 helium argon CO2", 90), ("I3", "75/25 helium argon", 75), ("M21", "75/25", 0)],
)
def test_helium_in_a_mixture_takes_more_volts(group, mixture, helium, changed) -> None:
    named = changed(('gas = "M21"', f'gas = "{group}"\ngas_mixture = "{mixture}"')).process
    assert named.helium_percent == helium
    argon = ARCS["I1" if group == "I3" else group]
    assert arc_constants(group, helium).fall_v == pytest.approx(argon.fall_v + HELIUM_FALL_V * helium / 100)


def test_argon_with_helium_and_no_figures_is_half_of_each() -> None:
    half = arc_constants("I3", 50)
    assert half.fall_v == pytest.approx(ARCS["I3"].fall_v)
    assert half.gradient_v_per_mm == pytest.approx(ARCS["I3"].gradient_v_per_mm)


def test_gradient_used_lies_within_its_spread_of_the_published_one() -> None:
    ratio = ARCS["M21"].gradient_v_per_mm / PUBLISHED_ARC.gradient_v_per_mm
    assert abs(np.log(ratio)) < PUBLISHED_ARC.gradient_spread


def test_faster_wire_gets_more_voltage_as_a_welder_turns_it(case: BurnbackCase) -> None:
    assert case.at_speed(case.feed_mm_s * 1.5).open_v > case.open_v > case.at_speed(case.feed_mm_s * 0.7).open_v
    assert case.at_speed(case.feed_mm_s) == replace(case)


def test_the_voltage_told_is_what_a_meter_at_the_terminals_reads() -> None:
    """The source's: its open-circuit voltage less its slope's; the load's: arc and wire. They are one and the same."""
    plant = plant_of()
    point = operating_point(plant)
    current, extension, volts = (float(value) for value in (point.current_a, point.extension_mm, point.voltage_v))
    assert volts == pytest.approx(26.0 - 0.025 * current, rel=1e-9)
    load = 15.7 + 0.022 * current + 1.2 * (12.0 - extension) + float(plant.wire_ohm_per_mm) * extension * current
    assert volts == pytest.approx(load, abs=1e-6)
