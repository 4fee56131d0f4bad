"""Quantities as people write them ("250 ms", "200 in/min") to numbers in one unit, and back.

The grammar is strict, one number and one unit: a general reader of expressions takes '1,5 s' for fifteen seconds and
computes '9**9**9 s'. Inches and feet may be fractions, as tapes have them: '3/8 in', '1-1/2 in', '1/2"'.

Units are exact factors, as fractions, so that a number written in any unit comes out as the nearest float there is.
All are exact by definition: SI and its prefixes (SI Brochure, 9th edition), inch, foot, pound-force (ISO 80000, NIST
SP 811).

A field of the design file is text with a unit outside and a number in one fixed unit inside. Its name ends in the unit
of its number (`filter_us`, `gas_flow_l_min`); its key in the file is the same name without that ending (`filter`,
`gas_flow`). Time is an integer count of microseconds; everything else is a float, which remembers how it was written:
computing sees the number alone, and who shows it again shows what was typed (`as_typed`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

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
    ("s", "second", "seconds", "sec"): _of(1, 1),
    ("m", "meter", "meters", "metre", "metres"): _of(1, 0, 1),
    ("L", "l", "liter", "liters", "litre", "litres"): _of("0.001", 0, 3),
    ("bar",): _of(100_000, -2, -1, 1),
    ("Pa", "pascal"): _PASCAL,
    ("V", "volt", "volts", "v"): _VOLT,
    ("A", "amp", "amps", "ampere", "amperes", "a"): _AMPERE,
    ("ohm", "ohms", "Ohm"): _VOLT * _AMPERE**-1,
    ("F", "farad"): _of(1, 4, -2, -1, 2),
    ("H", "henry"): _of(1, -2, 2, 1, -2),
    ("W", "watt", "watts"): _WATT,
    ("VA", "va"): _WATT,
    ("Hz", "hz", "hertz"): _of(1, -1),
    # Kept in no field, but known for what it is, so that a mistake is told as one.
    ("g", "gram", "grams"): _of("0.001", 0, 0, 1),
}
_PLAIN = {
    ("min", "minute", "minutes"): _of(60, 1),
    ("h", "hour", "hours", "hr"): _of(3_600, 1),
    ("in", "inch", "inches"): _of(_INCH, 0, 1),
    ("thou",): _of(_INCH / 1000, 0, 1),
    ("ft", "foot", "feet"): _of(12 * _INCH, 0, 1),
    ("psi",): _of(_POUND_FORCE_N / _INCH**2, -2, -1, 1),
    ("ipm", "IPM"): _of(_INCH / 60, -1, 1),
    ("cfh", "CFH", "scfh", "SCFH"): _of((12 * _INCH) ** 3 / 3_600, -1, 3),
    ("lpm", "LPM"): _of(Fraction("0.001") / 60, -1, 3),
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
def _names() -> dict[str, tuple[Unit, str]]:
    """Every name with its unit and its prefix, to be multiplied where the name is used: a design uses few of them."""
    found = {name: (unit, "") for names, unit in (_PREFIXED | _PLAIN).items() for name in names}
    for names, unit in _PREFIXED.items():
        for name in names:
            for prefix in _PREFIXES:
                # Words go with words. 'min' is a minute and 'ft' a foot, whatever prefixes could make of them.
                if len(name) > (2 if len(prefix) > 1 else 0) and (len(prefix) > 1 or len(name) <= 3):
                    found.setdefault(prefix + name, (unit, prefix))
    return found


def _factor(text: str) -> Unit | None:
    match = _FACTOR.fullmatch(text)
    known = None if match is None else _names().get(match["name"])
    if match is None or known is None:
        return None
    unit, prefix = known
    named = Unit(unit.factor * Fraction(_PREFIXES[prefix]), unit.dimension) if prefix else unit
    return named ** int(match["power"] or 1)


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


_GRAMMAR = re.compile(
    r"(?:(?:(?P<whole>[0-9]{1,4})[- ])?(?P<over>[0-9]{1,4})/(?P<under>[0-9]{1,4})"
    r"|(?P<number>[+-]?[0-9]{0,40}(?:(?<=[0-9])|(?=\.))(?:\.[0-9]{1,40})?(?:[eE][+-]?[0-9]{1,2})?))\s*"
    r"(?P<unit>(?:1/)?[A-Za-zµμΩ°%][A-Za-zµμΩ°%0-9 /*^.]{0,23}|[\"″'′])"
)
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_NUMBER_ONLY = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+|(?:[0-9]+[- ])?[0-9]+/[0-9]+)(?:[eE][+-]?[0-9]+)?")

# Other ways to write a unit.
_SPELLINGS = {
    "VAC": "V", "VDC": "V", "Vac": "V", "Vdc": "V", "vac": "V", "vdc": "V",
    "Ω": "ohm", "°C": "degC", "°F": "degF", "°": "deg", "μ": "µ",
    '"': "in", "″": "in", "'": "ft", "′": "ft",
}  # fmt: skip
_TAPE_UNITS = ("in", "inch", "inches", "ft", "foot", "feet")
"""Units whose numbers may be fractions."""


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


_UNIT_OF = {name: unit for name in UNITS if (unit := unit_named(name)) is not None}


class Typed(float):
    """A number that remembers how somebody wrote it; whatever is computed from it is a plain number again."""

    written: str

    def __new__(cls, number: float, written: str) -> Typed:
        """Keep `written` with `number`."""
        one = super().__new__(cls, number)
        one.written = written
        return one

    def __reduce__(self) -> tuple[type[Typed], tuple[float, str]]:
        """Give what a copy is made from."""
        return Typed, (float(self), self.written)


def as_typed(value: float, unit: str) -> str:
    """Return a quantity as it was typed, where it was, else as `format_quantity` writes it."""
    return value.written if isinstance(value, Typed) else format_quantity(value, unit)


def speed_text(speed_mm_s: float) -> str:
    """Return a wire feed speed as shops give it: '5.1 m/min (200 in/min)', what was typed first."""
    metres, inches = f"{speed_mm_s * 60 / 1000:.1f} m/min", f"{speed_mm_s * 60 / 25.4:.0f} in/min"
    if not isinstance(speed_mm_s, Typed):
        return f"{metres} ({inches})"
    typed = speed_mm_s.written
    return f"{typed} ({inches if typed.endswith('m/min') else metres})"


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
    given, wanted = unit_named(_spelled(match["unit"])), _UNIT_OF[unit]
    if given is None:
        raise QuantityError(
            repr(text), f"{match['unit'].strip()!r} is not a unit known here; write it in {_offer(unit)}"
        )
    if given.dimension != wanted.dimension:
        raise QuantityError(
            repr(text), f"{match['unit'].strip()!r} measures something else; write it in {_offer(unit)}"
        )
    if match["over"] and (_spelled(match["unit"]) not in _TAPE_UNITS or not int(match["under"])):
        raise QuantityError(repr(text), "a fraction goes with inches and feet, as in '3/8 in' or '1-1/2 in'")
    si = _number(match) * given.factor + given.offset
    return float((si - wanted.offset) / wanted.factor)


def _number(match: re.Match[str]) -> Fraction:
    if match["over"]:
        return int(match["whole"] or 0) + Fraction(int(match["over"]), int(match["under"]))
    return Fraction(match["number"])


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
    if match is None or (match["over"] and not int(match["under"])):
        return ""
    number = text.strip()[: match.start("unit")].strip()
    for other in UNITS[unit].written:
        candidate = f"{number} {other}"
        if match["over"] and other not in _TAPE_UNITS:
            continue
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
_SHOWN_AS = {
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
    scales = _SHOWN_AS.get(unit, ((1.0, unit),))
    factor, symbol = next((scale for scale in scales if abs(value) >= scale[0]), scales[-1])
    return f"{_four_figures(value / factor)} {symbol}"


def _four_figures(number: float) -> str:
    text = f"{number:.4g}"
    return f"{float(text):.0f}" if "e+" in text else text


_ROUNDING = 1e-9
_SUFFIX = re.compile("_(?:" + "|".join(sorted((unit.suffix for unit in UNITS.values()), key=len, reverse=True)) + ")$")


def key_of(field_name: str) -> str:
    """Return the key in the design file for a field: its name without the unit."""
    return _SUFFIX.sub("", field_name)


def _plain(number: float | int | None) -> float | int | None:
    return float(number) if isinstance(number, Typed) else number


@dataclass(frozen=True)
class Measure:
    """Marks a field as a quantity: `Annotated[int, Measure("us", 0, 10e6, "250 ms")]`.

    `low` and `high` bound the number, in `unit`, both inclusive; `example` is a text that would do.
    """

    unit: str
    low: float
    high: float
    example: str
    why: str = ""
    """Why it may not be more, for the hint; empty where that needs no word."""

    @property
    def allowed(self) -> str:
        """The range in words, such as '0 ms to 10 s, for example "250 ms"'."""
        low, high = format_quantity(self.low, self.unit), format_quantity(self.high, self.unit)
        return f'{low} to {high}, for example "{self.example}"'

    def read(self, value: object) -> float | int:
        """Return the number for a text of the design file. Raises PydanticCustomError that says what is allowed."""
        if not isinstance(value, str):
            hint = f'a number needs its unit and quotes, for example "{self.example}"'
            raise self._refuse(repr(value), hint)
        try:
            number = parse_quantity(value, self.unit)
        except QuantityError as error:
            raise self._refuse(error.found, error.hint) from None
        if self.unit == "us":
            number = round(number)
        # A hair of slack: 10 uF is 9.999999999999999e-06 F after the conversion.
        if not self.low * (1 - _ROUNDING) <= number <= self.high * (1 + _ROUNDING):
            why = self.why if number > self.high else ""
            likely = likely_meaning(value, self.unit, self.low, self.high)
            raise self._refuse(repr(value), "; ".join(filter(None, (likely, why))))
        return number if self.unit == "us" else Typed(number, value.strip())

    def _refuse(self, found: str, hint: str) -> PydanticCustomError:
        context = {"found": found, "allowed": self.allowed, "hint": hint}
        return PydanticCustomError("quantity", "{found}: {allowed}", context)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validate from text only; the model keeps the number, with how it was written, and dumps the number."""
        return core_schema.no_info_plain_validator_function(
            self.read,
            serialization=core_schema.plain_serializer_function_ser_schema(_plain),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Describe the text form, for editors."""
        return {"type": "string", "examples": [self.example], "description": self.allowed}
