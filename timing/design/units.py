"""Quantities as people write them ("250 ms", "200 in/min") to numbers in one unit, and back.

The units themselves are pint's. What stands in front of it is a strict grammar, one number and one unit,
because a general expression reader takes '1,5 s' for fifteen seconds and computes '9**9**9 s'.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

_GRAMMAR = re.compile(
    r"(?P<number>[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,2})?)\s*"
    r"(?P<unit>[A-Za-zµμΩ°%][A-Za-zµμΩ°%0-9 /*^.]{0,23})"
)
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_NUMBER_ONLY = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?")

# Ways to write a unit that the shop uses and pint does not, or reads as something else.
_SPELLINGS = {
    "ft3": "ft^3",
    "mm3": "mm^3",
    "cm3": "cm^3",
    "VAC": "V",
    "VDC": "V",
    "Ω": "ohm",
    "°C": "degC",
    "°F": "degF",
    "°": "deg",
    "μ": "µ",
}

# The unit each dimension is kept in, with the ways of writing it that a message offers first.
TRY_UNITS: dict[str, tuple[str, ...]] = {
    "us": ("ms", "s", "us", "min"),
    "mm": ("mm", "cm", "m", "in", "ft"),
    "mm/s": ("mm/s", "m/min", "in/min"),
    "L/min": ("L/min", "ft3/h"),
    "V": ("mV", "V"),
    "A": ("mA", "A"),
    "ohm": ("ohm", "kohm", "Mohm"),
    "F": ("nF", "uF", "F"),
    "H": ("uH", "mH", "H"),
    "V*A": ("VA", "W", "mW"),
    "W": ("mW", "W"),
    "Hz": ("Hz",),
    "deg": ("deg", "turn"),
    "V/A": ("mV/A", "V/A"),
    "%": ("%",),
    "degC": ("degC", "degF"),
    "g": ("g", "kg", "lb"),
    "L": ("L", "m^3", "ft3"),
    "mm^3": ("mm3", "cm3"),
    "1/h": ("1/h", "1/min"),
    "K/W": ("K/W",),
    "A^2*s": ("A^2*s",),
}


class QuantityError(ValueError):
    """A text that is no quantity of the wanted kind. `found` and `hint` are for the file's author."""

    def __init__(self, found: str, hint: str = "") -> None:
        super().__init__(found, hint)
        self.found = found
        self.hint = hint


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("ipm = inch / minute")
    registry.define("cfh = foot ** 3 / hour")
    registry.define("VA = volt * ampere")
    return registry


def _spelled(unit: str) -> str:
    for written, meant in _SPELLINGS.items():
        unit = unit.replace(written, meant)
    return unit.strip()


def parse_quantity(text: str, unit: str) -> float:
    """Return the number of `unit` in `text`, such as 250000.0 for "250 ms" in "us".

    Raises QuantityError, saying what was found and what was likely meant, when `text` is not one number with
    one unit, when the unit is unknown, or when it measures something else.
    """
    stripped = text.strip()
    match = _GRAMMAR.fullmatch(stripped)
    if match is None:
        raise QuantityError(repr(text), _grammar_hint(stripped, unit))
    import pint

    registry = _registry()
    try:
        given = registry.Quantity(float(match["number"]), registry.parse_units(_spelled(match["unit"])))
        return float(given.to(unit).magnitude)
    except pint.DimensionalityError:
        hint = f"{match['unit'].strip()!r} measures something else; write it in {_offer(unit)}"
    except Exception as error:  # pint raises several unrelated classes for text that is no unit
        if isinstance(error, KeyboardInterrupt | SystemExit):
            raise
        hint = f"{match['unit'].strip()!r} is not a unit known here; write it in {_offer(unit)}"
    raise QuantityError(repr(text), hint)


def _offer(unit: str) -> str:
    return " or ".join(TRY_UNITS.get(unit, (unit,)))


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
    for other in TRY_UNITS.get(unit, ()):
        candidate = f"{match['number']} {other}"
        if low <= parse_quantity(candidate, unit) <= high:
            return f"was {candidate!r} meant?"
    return ""


_DURATION_STEPS = ((60_000_000, "min"), (1_000_000, "s"), (1_000, "ms"), (1, "us"))


def format_duration(duration_us: int) -> str:
    """Return the shortest exact text for a duration, such as "250 ms"; parse_quantity reads it back."""
    for size_us, unit in _DURATION_STEPS:
        if duration_us == 0:
            return "0 ms"
        if abs(duration_us) >= size_us and duration_us % (size_us // 100 or 1) == 0 and unit != "min":
            return f"{duration_us / size_us:g} {unit}"
    return f"{duration_us} us"


def format_quantity(value: float, unit: str) -> str:
    """Return `value` (in `unit`) as text that parse_quantity reads back, to four figures for floats."""
    if unit == "us":
        return format_duration(round(value))
    symbol = {"V*A": "VA"}.get(unit, unit)
    return f"{value:.4g} {symbol}"
