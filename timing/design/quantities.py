"""The field type of the design file: text with a unit outside, a number in one fixed unit inside.

A field's name ends in the unit of its number (`filter_us`, `gas_flow_l_min`); its key in the file is the same
name without that ending (`filter`, `gas_flow`). Time is an integer count of microseconds; everything else is a
float.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from timing.design.units import UNITS, QuantityError, format_quantity, likely_meaning, parse_quantity

_ROUNDING = 1e-9
_SUFFIX = re.compile("_(?:" + "|".join(sorted((unit.suffix for unit in UNITS.values()), key=len, reverse=True)) + ")$")


def key_of(field_name: str) -> str:
    """Return the key in the design file for a field: its name without the unit."""
    return _SUFFIX.sub("", field_name)


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
        return number

    def _refuse(self, found: str, hint: str) -> PydanticCustomError:
        context = {"found": found, "allowed": self.allowed, "hint": hint}
        return PydanticCustomError("quantity", "{found}: {allowed}", context)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validate from text only; the number itself is what the model keeps and dumps."""
        return core_schema.no_info_plain_validator_function(
            self.read,
            serialization=core_schema.plain_serializer_function_ser_schema(lambda number: number),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Describe the text form, for editors."""
        return {"type": "string", "examples": [self.example], "description": self.allowed}
