"""Shielding gas as shops name it: which group of ISO 14175 it is, what is asked again, what is refused."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from timing.design.gases import GAS_GROUPS, GasNameError, gas_readings, group_of
from timing.design.process import Gas


@pytest.mark.parametrize(
    ("name", "group"),
    [
        ("75/25", "M21"),
        ("75/25 argon CO2", "M21"),
        ("75 % argon, 25 % CO2", "M21"),
        ("argon with 25% CO2", "M21"),
        ("25% CO2", "M21"),
        ("80/20", "M21"),
        ("82 Ar 18 CO2", "M21"),
        ("90/10", "M20"),
        ("C25", "M21"),
        ("C10", "M20"),
        ("c8", "M20"),
        ("SG-AC-25", "M21"),
        ("ISO 14175-M21-ArC-18", "M21"),
        ("straight CO2", "C1"),
        ("CO2", "C1"),
        ("carbon dioxide", "C1"),
        ("100% CO2", "C1"),
        ("argon", "I1"),
        ("pure argon", "I1"),
        ("helium", "I2"),
        ("75/25 helium argon", "I3"),
        ("98/2 argon oxygen", "M13"),
        ("98/2 Ar/CO2", "M12"),
        ("95/5 argon O2", "M22"),
        ("50/50", "M31"),
        ("tri-mix of helium", "M12"),
        ("90/7.5/2.5 He Ar CO2", "M12"),
        ("93/5/2 argon CO2 O2", "M14"),
        ("M26", "M26"),
        ("m13", "M13"),
        ("no gas", "none"),
    ],
)
def test_a_gas_for_steel_is_read_as_shops_name_it(name, group):
    assert [one.group for one in gas_readings(name, "mild-steel")] == [group]


@pytest.mark.parametrize(
    ("name", "wire", "names"),
    [
        ("98/2", "stainless-steel", ["98/2 argon CO2", "98/2 argon oxygen"]),
        ("95/5", "mild-steel", ["95/5 argon CO2", "95/5 argon oxygen"]),
        ("75/25", "aluminium", ["75/25 argon helium", "75/25 helium argon"]),
        ("C2", "mild-steel", ["98/2 argon CO2", "C2"]),
        ("tri-mix", "stainless-steel", ["90/7.5/2.5 helium argon CO2", "90/8/2 argon CO2 oxygen"]),
    ],
)
def test_what_is_sold_in_two_ways_is_read_in_both(name, wire, names):
    assert [one.name for one in gas_readings(name, wire)] == names


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("argon CO2", "how much of each? such as '75/25 argon CO2'"),
        ("75", "a number of which gas? such as '25 % CO2 in argon', or C25"),
        ("75/20", "the parts make 95 %; all of them together are 100 %"),
        ("acetylene", "name the parts: argon, CO2, oxygen, helium; such as '75/25 argon CO2'"),
        ("80/20 argon oxygen", "no gas for wire is mixed so (ISO 14175); look at the cylinder's label again"),
        ("75/25 argon argon", "each part once, such as '75/25 argon CO2'"),
        ("", "name the parts: argon, CO2, oxygen, helium; such as '75/25 argon CO2'"),
    ],
)
def test_what_is_no_gas_is_answered_with_what_to_say(name, hint):
    with pytest.raises(GasNameError) as refused:
        gas_readings(name, "mild-steel")
    assert refused.value.hint == hint


def test_each_group_of_the_table_is_one_of_the_design_file_and_the_other_way_round():
    assert {*GAS_GROUPS, "none"} == set(get_args(Gas))


@given(co2=st.integers(0, 1000), oxygen=st.integers(0, 400), helium=st.integers(0, 1000))
def test_a_mixture_has_the_group_of_its_parts_and_helium_stands_for_argon(co2, oxygen, helium):
    assume(co2 + oxygen < 1000)
    sizes = {"CO2": co2 / 10, "oxygen": oxygen / 10}
    left = 100 - sum(sizes.values())
    group = group_of({**sizes, "argon": left})
    share = min(helium / 10, left)
    if group is not None and group[0] == "M":
        assert group_of({**sizes, "argon": left - share, "helium": share}) == group
    # More of what oxidises never makes the group's first number smaller.
    if group is not None and group[0] == "M" and (more := group_of({**sizes, "CO2": co2 / 10 + 1, "argon": left - 1})):
        assert more[:2] >= group[:2] or more[0] != "M"


@given(
    parts=st.permutations(["argon", "CO2", "oxygen", "helium"]).map(lambda order: order[:2]), size=st.integers(1, 99)
)
def test_a_reading_names_itself_so_that_it_is_read_in_no_other_way(parts, size):
    try:
        readings = gas_readings(f"{size}/{100 - size} {' '.join(parts)}")
    except GasNameError:
        return
    for reading in readings:
        assert [(one.group, dict(one.parts)) for one in gas_readings(reading.name)] == [
            (reading.group, dict(reading.parts))
        ]
        assert [(one.group, dict(one.parts)) for one in gas_readings(reading.words)] == [
            (reading.group, dict(reading.parts))
        ]


@given(text=st.text(alphabet="argonheliumco2xy 0123456789./%-", max_size=30))
def test_no_text_does_worse_than_a_reason(text):
    try:
        readings = gas_readings(text)
    except GasNameError as error:
        hint = error.hint
    else:
        hint = readings[0].name
    assert hint
