"""Units of measure as exact factors: what a unit's name is worth, and what it measures.

The factors are fractions, so that a number written in any unit comes out as the nearest float there is. All are exact
by definition: SI and its prefixes (SI Brochure, 9th edition), inch, foot, pound-force (ISO 80000, NIST SP 811).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

Dimension = tuple[int, ...]
"""Powers of second, metre, kilogram, ampere, kelvin and of the full turn, which is kept apart from plain numbers."""


@dataclass(frozen=True)
class Unit:
    """A number in it times `factor`, plus `offset`, is the number in SI units."""

    factor: Fraction
    dimension: Dimension
    offset: Fraction = Fraction(0)

    def __mul__(self, other: Unit) -> Unit:
        powers = tuple(one + two for one, two in zip(self.dimension, other.dimension, strict=True))
        return Unit(self.factor * other.factor, powers)

    def __pow__(self, power: int) -> Unit:
        return Unit(self.factor**power, tuple(power * each for each in self.dimension))


def _of(factor: Fraction | int | str, *powers: int) -> Unit:
    return Unit(Fraction(factor), (*powers, *(0,) * (6 - len(powers))))


_INCH = Fraction("0.0254")
_VOLT, _AMPERE, _WATT = _of(1, -3, 2, 1, -1), _of(1, 0, 0, 0, 1), _of(1, -3, 2, 1)
_PASCAL = _of(1, -2, -1, 1)
_POUND_FORCE_N = Fraction("0.45359237") * Fraction("9.80665")

# Names that take an SI prefix, each with the words that mean the same.
_PREFIXED = {
    ("s", "second", "seconds"): _of(1, 1),
    ("m", "meter", "meters", "metre", "metres"): _of(1, 0, 1),
    ("L", "l", "liter", "liters", "litre", "litres"): _of("0.001", 0, 3),
    ("bar",): _of(100_000, -2, -1, 1),
    ("Pa", "pascal"): _PASCAL,
    ("V", "volt", "volts"): _VOLT,
    ("A", "amp", "amps", "ampere", "amperes"): _AMPERE,
    ("ohm", "ohms", "Ohm"): _VOLT * _AMPERE**-1,
    ("F", "farad"): _of(1, 4, -2, -1, 2),
    ("H", "henry"): _of(1, -2, 2, 1, -2),
    ("W", "watt", "watts"): _WATT,
    ("VA",): _WATT,
    ("Hz", "hertz"): _of(1, -1),
    # Kept in no field, but known for what it is, so that a mistake is told as one.
    ("g", "gram", "grams"): _of("0.001", 0, 0, 1),
}
_PLAIN = {
    ("min", "minute", "minutes"): _of(60, 1),
    ("h", "hour", "hours"): _of(3_600, 1),
    ("in", "inch", "inches"): _of(_INCH, 0, 1),
    ("ft", "foot", "feet"): _of(12 * _INCH, 0, 1),
    ("psi",): _of(_POUND_FORCE_N / _INCH**2, -2, -1, 1),
    ("ipm",): _of(_INCH / 60, -1, 1),
    ("cfh",): _of((12 * _INCH) ** 3 / 3_600, -1, 3),
    ("deg", "degree", "degrees"): _of(Fraction(1, 360), 0, 0, 0, 0, 0, 1),
    ("turn", "turns", "revolution", "revolutions"): _of(1, 0, 0, 0, 0, 0, 1),
    ("%", "percent"): _of("0.01"),
    ("K", "kelvin"): _of(1, 0, 0, 0, 0, 1),
}
# Temperatures with a zero of their own: nothing is multiplied or divided by them.
_TEMPERATURES = {
    "degC": Unit(Fraction(1), _of(1, 0, 0, 0, 0, 1).dimension, Fraction("273.15")),
    "degF": Unit(Fraction(5, 9), _of(1, 0, 0, 0, 0, 1).dimension, Fraction("459.67") * Fraction(5, 9)),
}
_PREFIXES = {
    "p": "1e-12", "n": "1e-9", "u": "1e-6", "µ": "1e-6", "m": "1e-3", "c": "1e-2", "d": "1e-1",
    "k": "1e3", "M": "1e6", "G": "1e9",
    "nano": "1e-9", "micro": "1e-6", "milli": "1e-3", "centi": "1e-2", "kilo": "1e3", "mega": "1e6",
}  # fmt: skip
_FACTOR = re.compile(r"(?P<name>[A-Za-zµ%]+)(?:\^?(?P<power>[1-9]))?")
_POWER = re.compile(r"\s*(?:\*\*|\^)\s*")
_SIGNS = re.compile(r"\s*([*/])\s*|\s+")


@cache
def _names() -> dict[str, Unit]:
    found = {name: unit for names, unit in (_PREFIXED | _PLAIN).items() for name in names}
    for names, unit in _PREFIXED.items():
        for name in names:
            for prefix, factor in _PREFIXES.items():
                # Words go with words. 'min' is a minute and 'ft' a foot, whatever prefixes could make of them.
                if len(name) > (2 if len(prefix) > 1 else 0) and (len(prefix) > 1 or len(name) <= 3):
                    found.setdefault(prefix + name, Unit(unit.factor * Fraction(factor), unit.dimension))
    return found


def _factor(text: str) -> Unit | None:
    match = _FACTOR.fullmatch(text)
    unit = None if match is None else _names().get(match["name"])
    return None if match is None or unit is None else unit ** int(match["power"] or 1)


@cache
def unit_named(text: str) -> Unit | None:
    """Return the unit of an expression such as 'mm/s', 'A^2*s', '1/h'; None where it is none known here.

    Names are multiplied by * or a space and divided by /, each by what stands next to it, from left to right.
    """
    if text in _TEMPERATURES:
        return _TEMPERATURES[text]
    pieces = _SIGNS.split(_POWER.sub("^", text.strip()))
    signs, names = pieces[1::2], pieces[::2]
    found = _of(1) if names[0] == "1" and signs[:1] == ["/"] else _factor(names[0])
    for sign, name in zip(signs, names[1:], strict=True):
        factor = _factor(name)
        if found is None or factor is None:
            return None
        found = found * (factor**-1 if sign == "/" else factor)
    return found
