"""Quantities as people write them: what is read, what is refused, and with which words."""

from __future__ import annotations

import copy
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.units import (
    UNITS,
    Measure,
    QuantityError,
    as_typed,
    format_duration,
    format_quantity,
    likely_meaning,
    parse_quantity,
)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("250 ms", "us", 250_000),
        ("0.25s", "us", 250_000),
        ("1 min", "us", 60_000_000),
        ("200 in/min", "mm/s", 200 * 25.4 / 60),
        ("200 ipm", "mm/s", 200 * 25.4 / 60),
        ("5 m/min", "mm/s", 5000 / 60),
        ("14 L/min", "L/min", 14),
        ("30 ft3/h", "L/min", 30 * 28.316846592 / 60),
        ("30 cfh", "L/min", 30 * 28.316846592 / 60),
        ("24 VAC", "V", 24),
        ("75 VA", "V*A", 75),
        ("25 mV/A", "V/A", 0.025),
        ("4.7 kohm", "ohm", 4700),
        ("4.7 kΩ", "ohm", 4700),
        ("1000 uF", "F", 1e-3),
        ("1000 µF", "F", 1e-3),
        ("0.035 in", "mm", 0.889),
        (".035 in", "mm", 0.889),
        ("35 thou", "mm", 0.889),
        ('1/2"', "mm", 12.7),
        ("3/8 in", "mm", 9.525),
        ('1-1/2"', "mm", 38.1),
        ("1 1/2 in", "mm", 38.1),
        ("10'", "mm", 3048),
        ("30 CFH", "L/min", 30 * 28.316846592 / 60),
        ("200 IPM", "mm/s", 200 * 25.4 / 60),
        ("60 %", "%", 60),
        ("40 degC", "degC", 40),
        ("104 °F", "degC", 40),
    ],
)
def test_shop_units_are_read(text, unit, value):
    # Inch 25.4 mm and cubic foot 28.316846592 L are exact by definition.
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("1/2 s", "a fraction goes with inches and feet, as in '3/8 in' or '1-1/2 in'"),
        ("1/2", "a number needs its unit: ms or s or us or min"),
        (". s", "one number and one unit, in ms or s or us or min"),
        ("1,5 s", "write a decimal point, not a comma"),
        ("250", "a number needs its unit: ms or s or us or min"),
        ("9**9**9 s", "one number and one unit, in ms or s or us or min"),
        ("", "one number and one unit, in ms or s or us or min"),
        ("ms", "one number and one unit, in ms or s or us or min"),
        ("250 mm", "'mm' measures something else; write it in ms or s or us or min"),
        ("250 mss", "'mss' is not a unit known here; write it in ms or s or us or min"),
        ("250 s*", "'s*' is not a unit known here; write it in ms or s or us or min"),
        ("nan s", "one number and one unit, in ms or s or us or min"),
        ("inf s", "one number and one unit, in ms or s or us or min"),
        ("0x10 s", "'x10 s' is not a unit known here; write it in ms or s or us or min"),
        ("1 ms 2 ms", "'ms 2 ms' is not a unit known here; write it in ms or s or us or min"),
    ],
)
def test_other_text_is_refused_with_the_way_out(text, hint):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "us")
    assert (caught.value.found, caught.value.hint) == (repr(text), hint)


@given(st.text(max_size=30))
def test_any_text_is_a_number_or_a_refusal(text):
    try:
        value = parse_quantity(text, "us")
    except QuantityError:
        return
    assert value == value


@given(st.integers(0, 10**10))
def test_durations_come_back_exactly(duration_us):
    assert round(parse_quantity(format_duration(duration_us), "us")) == duration_us


@pytest.mark.parametrize("unit", UNITS)
def test_formatted_quantities_come_back(unit):
    assert parse_quantity(format_quantity(12.0, unit), unit) == pytest.approx(12.0)
    if unit != "us":
        assert parse_quantity(format_quantity(0.0047, unit), unit) == pytest.approx(0.0047)


def test_likely_meaning_names_the_unit_that_fits():
    assert likely_meaning("300 s", "us", 0, 60_000_000) == "was '300 ms' meant?"
    assert likely_meaning("5 in/min", "mm/s", 10, 500) == "was '5 m/min' meant?"
    assert likely_meaning("nonsense", "us", 0, 1) == ""


@pytest.mark.parametrize(
    ("value", "unit", "text"), [(0.1, "F", "100000 uF"), (5e4, "mm", "50000 mm"), (1e5, "L", "100000 L")]
)
def test_large_quantities_are_written_without_a_power_of_ten(value, unit, text):
    assert format_quantity(value, unit) == text


@given(number=st.floats(0.5, 2.5), unit=st.sampled_from(["mm", "in", '"', "thou"]))
def test_a_quantity_computes_as_its_number_and_is_shown_as_it_was_typed(number, unit):
    size = {"mm": number, "thou": number / 0.0254}.get(unit, number / 25.4)
    text = f"{size:.6f} {unit}"
    read = Measure("mm", 0.4, 2.6, "0.9 mm").read(text)
    assert as_typed(read, "mm") == text
    assert read == parse_quantity(text, "mm")
    assert type(read + 0.0) is float
    assert as_typed(read + 0.0, "mm") == format_quantity(float(read), "mm")
    assert as_typed(copy.deepcopy(read), "mm") == as_typed(pickle.loads(pickle.dumps(read)), "mm") == text


def test_no_division_by_nothing():
    with pytest.raises(QuantityError, match="fraction"):
        parse_quantity("1/0 in", "mm")
