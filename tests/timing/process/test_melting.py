"""What melts the wire: constants by material, diameter and polarity."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.process.errors import ProcessError
from timing.process.melting import (
    DIAMETER_RANGE_MM,
    MATERIALS,
    NEGATIVE_ARC,
    balance_current_a,
    melting_rate_mm_s,
    wire_constants,
)


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
def test_the_current_runs_in_the_metal_of_the_wire_only(wire: str) -> None:
    """Resistance of a length is resistivity over the metal's area; the powder of a tubular wire has no part in it."""
    found, material = wire_constants(wire, 1.2), MATERIALS[wire]
    metal_mm2 = 3.14159265 / 4 * 1.2**2 * material.metal_share
    assert found.resistance_ohm_per_mm * metal_mm2 == pytest.approx(material.resistivity_ohm_mm, rel=1e-6)


@pytest.mark.parametrize("wire", sorted(MATERIALS))
@given(density=st.floats(20, 400), extension=st.floats(1, 40))
def test_resistance_heats_a_volume_in_proportion_to_its_cross_section(
    wire: str, density: float, extension: float
) -> None:
    """At one current density the resistive part of the rate is the same in every wire."""
    rates = []
    for diameter in (0.6, 0.9, 1.2, 1.6):
        found = wire_constants(wire, diameter)
        rates.append(melting_rate_mm_s(density * found.area_mm2, extension, 0.0, found.beta_per_a2_s))
    assert rates == pytest.approx([rates[0]] * len(rates), rel=1e-9)


@pytest.mark.parametrize("wire", sorted(MATERIALS))
def test_the_arc_melts_more_of_a_thick_wire_for_each_ampere_but_not_of_its_length(wire: str) -> None:
    found = [wire_constants(wire, diameter) for diameter in (0.6, 0.9, 1.2, 1.6)]
    lengths = [one.alpha_mm_per_a_s for one in found]
    grams = [one.alpha_mm_per_a_s * one.grams_per_mm for one in found]
    assert lengths == sorted(lengths, reverse=True)
    assert grams == pytest.approx(sorted(grams))


def test_self_shielded_wire_runs_negative_and_all_others_positive() -> None:
    assert {name: wire_constants(name, 0.9).polarity for name in MATERIALS} == {
        name: "electrode-negative" if name == "self-shielded" else "electrode-positive" for name in MATERIALS
    }


@pytest.mark.parametrize("wire", sorted(MATERIALS))
def test_electrode_negative_melts_faster_by_the_arc_term_alone(wire: str) -> None:
    negative = wire_constants(wire, 0.9, "electrode-negative")
    positive = wire_constants(wire, 0.9, "electrode-positive")
    assert negative.alpha_mm_per_a_s == pytest.approx(NEGATIVE_ARC * positive.alpha_mm_per_a_s)
    assert negative.beta_per_a2_s == positive.beta_per_a2_s


def test_both_ends_of_the_diameters_have_constants() -> None:
    for diameter in DIAMETER_RANGE_MM:
        assert wire_constants("mild-steel", diameter).alpha_mm_per_a_s > 0
