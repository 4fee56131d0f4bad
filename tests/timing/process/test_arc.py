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
from timing.process.melting import MATERIALS, balance_current_a, melting_rate_mm_s, wire_constants
from timing.process.source import usual_load_voltage_v


@given(
    feed=st.floats(1, 500),
    extension=st.floats(0.1, 40),
    diameter=st.sampled_from([0.6, 0.8, 0.9, 1.0, 1.2, 1.6]),
    wire=st.sampled_from(sorted(MATERIALS)),
)
def test_balance_current_melts_exactly_what_is_fed(feed: float, extension: float, diameter: float, wire: str) -> None:
    found = wire_constants(wire, diameter)
    current = balance_current_a(feed, extension, found.alpha_mm_per_a_s, found.beta_per_a2_s)
    assert melting_rate_mm_s(current, extension, found.alpha_mm_per_a_s, found.beta_per_a2_s) == pytest.approx(
        feed, rel=1e-9
    )


def test_balance_current_needs_no_resistive_term() -> None:
    assert balance_current_a(60.0, 10.0, 0.3, 0.0) == pytest.approx(200.0)


def test_thinner_wire_melts_faster_for_the_same_current() -> None:
    rates = []
    for diameter in (0.6, 0.8, 0.9, 1.0, 1.2, 1.6):
        wire = wire_constants("mild-steel", diameter)
        rates.append(melting_rate_mm_s(100.0, 10.0, wire.alpha_mm_per_a_s, wire.beta_per_a2_s))
    assert rates == sorted(rates, reverse=True)


@pytest.mark.parametrize("diameter", [0.0, -1.0, float("nan"), 0.3, 2.4])
def test_diameter_without_constants_is_refused_with_a_remedy(diameter: float) -> None:
    with pytest.raises(ProcessError) as caught:
        wire_constants("mild-steel", diameter)
    assert "wire diameter" in caught.value.what
    assert caught.value.remedy


def test_unknown_wire_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ProcessError, match=r"(?s)'copper'.*mild-steel.*aluminium"):
        wire_constants("copper", 0.9)


def test_every_material_says_where_its_constants_come_from() -> None:
    for material in MATERIALS.values():
        assert material.source
        assert 0 < material.alpha_spread < 1
        assert 0 < material.metal_share <= 1


@pytest.mark.parametrize("wire", sorted(MATERIALS))
@given(density=st.floats(20, 400), extension=st.floats(1, 40))
def test_at_one_current_density_every_diameter_melts_equally_fast(wire: str, density: float, extension: float) -> None:
    """Arc and resistance heat a volume in proportion to its cross-section: only the current density is left."""
    rates = []
    for diameter in (0.6, 0.9, 1.2, 1.6):
        found = wire_constants(wire, diameter)
        current = density * found.area_mm2
        rates.append(melting_rate_mm_s(current, extension, found.alpha_mm_per_a_s, found.beta_per_a2_s))
    assert rates == pytest.approx([rates[0]] * len(rates), rel=1e-9)


@pytest.mark.parametrize("wire", sorted(MATERIALS))
def test_the_current_runs_in_the_metal_of_the_wire_only(wire: str) -> None:
    """Resistance of a length is resistivity over the metal's area; the powder of a tubular wire has no part in it."""
    found, material = wire_constants(wire, 1.2), MATERIALS[wire]
    metal_mm2 = 3.14159265 / 4 * 1.2**2 * material.metal_share
    assert found.resistance_ohm_per_mm * metal_mm2 == pytest.approx(material.resistivity_ohm_mm, rel=1e-6)


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
