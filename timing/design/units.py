"""Quantities as people write them ("250 ms", "200 in/min") to numbers in one unit, and back.

The grammar is strict, one number and one unit: a general reader of expressions takes '1,5 s' for fifteen seconds and
computes '9**9**9 s'. What the units are worth stands in unit_table.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from timing.design.unit_table import unit_named

_GRAMMAR = re.compile(
    r"(?P<number>[+-]?[0-9]{1,40}(?:\.[0-9]{1,40})?(?:[eE][+-]?[0-9]{1,2})?)\s*"
    r"(?P<unit>(?:1/)?[A-Za-zµμΩ°%][A-Za-zµμΩ°%0-9 /*^.]{0,23})"
)
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_NUMBER_ONLY = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?")

# Other ways to write a unit.
_SPELLINGS = {"VAC": "V", "VDC": "V", "Ω": "ohm", "°C": "degC", "°F": "degF", "°": "deg", "μ": "µ"}


@dataclass(frozen=True)
class UnitFacts:
    """What is known of a unit that quantities are kept in."""

    suffix: str
    """Ending of the names of fields and keys that hold a number of it."""
    written: tuple[str, ...]
    """Ways to write the dimension in a design file; messages offer them, the likeliest first."""


UNITS = {
    "us": UnitFacts("us", ("ms", "s", "us", "min")),
    "mm": UnitFacts("mm", ("mm", "cm", "m", "in", "ft")),
    "mm/s": UnitFacts("mm_s", ("mm/s", "m/min", "in/min")),
    "L/min": UnitFacts("l_min", ("L/min", "ft3/h")),
    "bar": UnitFacts("bar", ("bar", "psi", "kPa")),
    "V": UnitFacts("v", ("mV", "V")),
    "A": UnitFacts("a", ("mA", "A")),
    "ohm": UnitFacts("ohm", ("ohm", "kohm", "Mohm")),
    "F": UnitFacts("f", ("nF", "uF", "F")),
    "H": UnitFacts("h", ("uH", "mH", "H")),
    "V*A": UnitFacts("va", ("VA", "W", "mW")),
    "W": UnitFacts("w", ("mW", "W")),
    "Hz": UnitFacts("hz", ("Hz",)),
    "deg": UnitFacts("deg", ("deg", "turn")),
    "V/A": UnitFacts("v_per_a", ("mV/A", "V/A")),
    "%": UnitFacts("percent", ("%",)),
    "degC": UnitFacts("deg_c", ("degC", "degF")),
    "L": UnitFacts("l", ("L", "m^3", "ft3")),
    "mm^3": UnitFacts("mm3", ("mm3", "cm3")),
    "1/h": UnitFacts("per_h", ("1/h", "1/min")),
    "K/W": UnitFacts("k_per_w", ("K/W",)),
    "A^2*s": UnitFacts("a2s", ("A^2*s",)),
}
"""Every unit that a field of the design file may be kept in."""


class QuantityError(ValueError):
    """A text that is no quantity of the wanted kind. `found` and `hint` are for the file's author."""

    def __init__(self, found: str, hint: str = "") -> None:
        super().__init__(found, hint)
        self.found = found
        self.hint = hint


def _spelled(unit: str) -> str:
    for written, meant in _SPELLINGS.items():
        unit = unit.replace(written, meant)
    return unit.strip()


@lru_cache(maxsize=1024)
def parse_quantity(text: str, unit: str) -> float:
    """Return the number of `unit` in `text`, such as 250000.0 for "250 ms" in "us".

    Raises QuantityError, saying what was found and what was likely meant, when `text` is not one number with
    one unit, when the unit is unknown, or when it measures something else.
    """
    stripped = text.strip()
    match = _GRAMMAR.fullmatch(stripped)
    if match is None:
        raise QuantityError(repr(text), _grammar_hint(stripped, unit))
    given, wanted = unit_named(_spelled(match["unit"])), unit_named(unit)
    if given is None or wanted is None:
        raise QuantityError(
            repr(text), f"{match['unit'].strip()!r} is not a unit known here; write it in {_offer(unit)}"
        )
    if given.dimension != wanted.dimension:
        raise QuantityError(
            repr(text), f"{match['unit'].strip()!r} measures something else; write it in {_offer(unit)}"
        )
    si = Fraction(match["number"]) * given.factor + given.offset
    return float((si - wanted.offset) / wanted.factor)


def _offer(unit: str) -> str:
    return " or ".join(UNITS[unit].written)


def _grammar_hint(text: str, unit: str) -> str:
    if _DECIMAL_COMMA.match(text):
        return "write a decimal point, not a comma"
    if _NUMBER_ONLY.fullmatch(text):
        return f"a number needs its unit: {_offer(unit)}"
    return f"one number and one unit, in {_offer(unit)}"


def likely_meaning(text: str, unit: str, low: float, high: float) -> str:
    """Name the unit that would bring an out-of-range number into range ('ms' where 's' was meant), or ''."""
    match = _GRAMMAR.fullmatch(text.strip())
    if match is None:
        return ""
    for other in UNITS[unit].written:
        candidate = f"{match['number']} {other}"
        if low <= parse_quantity(candidate, unit) <= high:
            return f"was {candidate!r} meant?"
    return ""


def format_duration(duration_us: int) -> str:
    """Return the exact text for a duration of 0 or more, such as "250 ms"; parse_quantity reads it back."""
    size_us, digits, unit = (1_000_000, 6, "s") if duration_us >= 1_000_000 else (1_000, 3, "ms")
    whole, rest = divmod(duration_us, size_us)
    fraction = f"{rest:0{digits}d}".rstrip("0")
    return f"{whole}.{fraction} {unit}" if fraction else f"{whole} {unit}"


# Units whose numbers are read better with a prefix: factors and how they are written, the largest first.
_PREFIXED = {
    "F": ((1e-6, "uF"), (1e-9, "nF")),
    "H": ((1e-3, "mH"), (1e-6, "uH")),
    "ohm": ((1e6, "Mohm"), (1e3, "kohm"), (1.0, "ohm")),
    "V/A": ((1e-3, "mV/A"),),
    "A": ((1.0, "A"), (1e-3, "mA")),
    "V*A": ((1.0, "VA"),),
}


def format_quantity(value: float, unit: str) -> str:
    """Return `value` (in `unit`) as text that parse_quantity reads back, to four figures for floats."""
    if unit == "us":
        return format_duration(round(value))
    scales = _PREFIXED.get(unit, ((1.0, unit),))
    factor, symbol = next((scale for scale in scales if abs(value) >= scale[0]), scales[-1])
    return f"{_four_figures(value / factor)} {symbol}"


def _four_figures(number: float) -> str:
    text = f"{number:.4g}"
    return f"{float(text):.0f}" if "e+" in text else text
