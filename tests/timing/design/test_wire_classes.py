"""Classes on a spool's label: which wire they stand for, and whether it takes gas."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.process import Gas, Wire
from timing.design.wire_classes import wire_class, wire_reading


@pytest.mark.parametrize(
    ("label", "kind", "gas", "no_gas"),
    [
        ("ER70S-6", "mild-steel", "M21", "none"),
        ("er70s6", "mild-steel", "C1", "none"),
        ("AWS A5.18 ER70S-6", "mild-steel", "C1", "none"),
        ("ER80S-D2", "mild-steel", "M21", "none"),
        ("E70C-6M", "flux-cored", "M21", "C1"),
        ("E70C-6C", "flux-cored", "C1", "M21"),
        ("E71T-1C", "flux-cored", "C1", "M21"),
        ("E71T-1M", "flux-cored", "M21", "C1"),
        ("E71T-1C/1M", "flux-cored", "M21", "none"),
        ("E71T-9C-H8", "flux-cored", "C1", "M21"),
        ("E81T1-Ni1C", "flux-cored", "C1", "M21"),
        ("E91T1-K2M", "flux-cored", "M21", "C1"),
        ("E71T-11", "self-shielded", None, "M21"),
        ("E71T-GS", "self-shielded", None, "C1"),
        ("E71T8-Ni1", "self-shielded", None, "C1"),
        ("E71T11-AZ-CS3", "self-shielded", None, "C1"),
        ("E308LT1-1", "flux-cored", "C1", "M21"),
        ("E308LT1-4", "flux-cored", "M21", "C1"),
        ("E308LT0-3", "self-shielded", None, "C1"),
        ("ER308LSi", "stainless-steel", "M12", "C1"),
        ("ER316L", "stainless-steel", "M13", "C1"),
        ("ER2209", "stainless-steel", "M12", "C1"),
        ("ER4043", "aluminium", "I1", "M21"),
        ("ER5356", "aluminium", "I3", "C1"),
        ("S Al 4043", "aluminium", "I1", "C1"),
        ("G 42 4 M21 3Si1", "mild-steel", "M21", "C1"),
        ("ISO 14341-A: G 38 3 C1 3Si1", "mild-steel", "C1", "M21"),
        ("G 19 9 L Si", "stainless-steel", "M12", "C1"),
        ("T 46 4 P M 1 H5", "flux-cored", "M21", "C1"),
        ("T 42 Z Y N 1", "self-shielded", None, "M21"),
        ("T 19 9 L P M21 1", "flux-cored", "M21", "C1"),
    ],
)
def test_a_class_tells_the_wire_and_its_gas(label, kind, gas, no_gas):
    found = wire_class(label)
    assert found is not None
    assert found.kind == kind
    assert found.self_shielded == (gas is None)
    assert gas is None or gas in found.gases
    assert no_gas not in found.gases
    assert found.kind in get_args(Wire)
    assert set(found.gases) <= set(get_args(Gas))


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        ("solid", "mild-steel"),
        ("mild steel", "mild-steel"),
        ("flux core", "flux-cored"),
        ("metal cored", "flux-cored"),
        ("gasless flux core", "self-shielded"),
        ("Stainless 308L", "stainless-steel"),
        ("aluminum", "aluminium"),
    ],
)
def test_plain_words_do_as_well(words, kind):
    found = wire_reading(words)
    assert found is not None
    assert found.kind == kind
    assert found.standard == ""


@pytest.mark.parametrize("label", ["E71T-G", "E7018", "E6013", "copper", "", "ERCuSi-A", "ER999"])
def test_what_tells_nothing_is_not_guessed(label):
    assert wire_reading(label) is None


@given(text=st.text(alphabet="ERGT0123456789SLCM- /", max_size=20))
def test_any_label_is_read_or_left_alone(text):
    found = wire_reading(text)
    assert found is None or found.kind in get_args(Wire)
