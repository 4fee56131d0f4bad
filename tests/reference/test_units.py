"""Our table of units against pint, a general library of units, and against published factors."""

from __future__ import annotations

import pint
import pytest

from timing.design.units import UNITS, QuantityError, parse_quantity, unit_named

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
REGISTRY.define("ipm = inch / minute")
REGISTRY.define("cfh = foot ** 3 / hour")
REGISTRY.define("VA = volt * ampere")

WRITTEN = sorted({(written, unit) for unit, facts in UNITS.items() for written in facts.written})
MORE = [
    ("milliseconds", "us"), ("seconds", "us"), ("µs", "us"), ("h", "us"), ("inches", "mm"), ("foot", "mm"),
    ("m / s", "mm/s"), ("ipm", "mm/s"), ("ft/min", "mm/s"), ("cfh", "L/min"), ("m^3/h", "L/min"), ("mL/s", "L/min"),
    ("dm^3/min", "L/min"), ("MPa", "bar"), ("mbar", "bar"), ("kV", "V"), ("millivolts", "V"), ("uA", "A"),
    ("Gohm", "ohm"), ("kiloohm", "ohm"), ("V/A", "ohm"), ("pF", "F"), ("millihenry", "H"), ("V*A", "W"), ("kW", "W"),
    ("J/s", "W"), ("kHz", "Hz"), ("1/s", "Hz"), ("ohm", "V/A"), ("mm ** 3", "mm^3"), ("in^3", "mm^3"), ("1/s", "1/h"),
    ("ampere", "A"), ("A^2 s", "A^2*s"), ("A*A*ms", "A^2*s"), ("kelvin/watt", "K/W"), ("feet", "mm"), ("um", "mm"),
]  # fmt: skip


@pytest.mark.parametrize(("written", "unit"), WRITTEN + MORE)
@pytest.mark.parametrize("number", ["1", "0.0047", "123.456"])
def test_every_unit_is_worth_what_pint_says(written: str, unit: str, number: str) -> None:
    spelled = {"ft3": "ft^3", "mm3": "mm^3", "cm3": "cm^3", "ft3/h": "ft^3/h"}.get(written, written)
    if written == "J/s":
        # No joule in the shop: what is not in the table is refused, not guessed.
        with pytest.raises(QuantityError, match="not a unit known here"):
            parse_quantity(f"{number} {written}", unit)
        return
    expected = REGISTRY.Quantity(float(number), REGISTRY.parse_units(spelled)).to(unit).magnitude
    assert parse_quantity(f"{number} {written}", unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        # Exact by definition (NIST Special Publication 811, appendix B.8): inch, foot, cubic foot, psi.
        ("1 in", "mm", 25.4),
        ("1 ft", "mm", 304.8),
        ("1 ft3", "L", 28.316846592),
        ("100 psi", "bar", 6.894757293168361),
        ("212 degF", "degC", 100.0),
        ("0.1 s", "us", 100_000.0),
        ("0.035 in", "mm", 0.889),
    ],
)
def test_exact_factors_come_out_as_the_nearest_float(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == value


@pytest.mark.parametrize(
    "name", ["", "x", "ms ms2 x", "s**", "m^", "1", "mmin", "kft", "degC/s", "ms/", "/s", "2 s", "kilov", "mmeter"]
)
def test_what_is_no_unit_is_none(name: str) -> None:
    assert unit_named(name) is None
