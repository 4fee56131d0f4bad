"""Quantities as options of a command: one number with its unit, such as "200 in/min"."""

from __future__ import annotations

from dataclasses import dataclass

import click


@dataclass(frozen=True)
class QuantityOption:
    """Reads a number in `unit` (see timing.design.units.UNITS) within bounds; for the callback of an option."""

    unit: str
    example: str
    low: float
    high: float

    def __call__(self, ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
        """Return the number, or None where the option is not given. Raises click.BadParameter."""
        return None if value is None else self.read(value, param)

    def read(self, text: str, param: click.Parameter | None = None) -> float:
        """Return the number in `text`. Raises click.BadParameter with what was found and what is allowed."""
        from timing.design.units import QuantityError, format_quantity, parse_quantity

        try:
            number = parse_quantity(text, self.unit)
        except QuantityError as error:
            raise click.BadParameter(
                f"{error.found}: {error.hint}; for example {self.example!r}", param=param
            ) from None
        if not self.low <= number <= self.high:
            low, high = format_quantity(self.low, self.unit), format_quantity(self.high, self.unit)
            raise click.BadParameter(f"{text!r}: {low} to {high}, for example {self.example!r}", param=param)
        return number


SPEED = QuantityOption("mm/s", "200 in/min", 10, 500)
"""Wire feed speed in mm/s, bounds as in the design file."""
SETTING = QuantityOption("us", "90 ms", 0, 60_000_000)
"""A time in microseconds, bounds as in the design file."""
READING = QuantityOption("mm", "0.5 mm", 0.05, 5)
"""Standard deviation of a length read by hand, in mm."""
EXTENSION = QuantityOption("mm", "9 mm", 0, 60)
"""Extension left: contact tip to wire end, in mm."""
SAMPLE_RATE = QuantityOption("Hz", "1 MHz", 100, 1e10)
"""Samples a second of an analyser."""
