"""Arguments that several commands take: quantities with their units, and steps of a trigger script."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from timing.sequence.core.script import Script


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
        from timing.design.units import QuantityError, Typed, format_quantity, parse_quantity

        try:
            number = parse_quantity(text, self.unit)
        except QuantityError as error:
            raise click.BadParameter(
                f"{error.found}: {error.hint}; for example {self.example!r}", param=param
            ) from None
        if not self.low <= number <= self.high:
            low, high = format_quantity(self.low, self.unit), format_quantity(self.high, self.unit)
            raise click.BadParameter(f"{text!r}: {low} to {high}, for example {self.example!r}", param=param)
        return Typed(number, text)


SPEED = QuantityOption("mm/s", "200 in/min", 10, 500)
"""Wire feed speed in mm/s, bounds as in the design file."""
SETTING = QuantityOption("us", "90 ms", 0, 60_000_000)
"""A time in microseconds, bounds as in the design file."""
READING = QuantityOption("mm", "0.5 mm", 0.05, 5)
"""Standard deviation of a length read by hand, in mm."""
SAMPLE_RATE = QuantityOption("Hz", "1 MHz", 100, 1e10)
"""Samples a second of an analyser."""


LARGEST_STEPS_BYTES = 200_000
"""Of a file of steps: some thousand of them."""


def read_steps(script: str | None, script_file: Path | None) -> Script | None:
    """Return the steps of --script or of the file ('-': standard input); None where neither is given.

    Raises click.UsageError for both at once, UnreadableFileError for a file that is no text, DesignFileError for steps
    that are none.
    """
    from timing.sequence.script_text import parse_script

    if script is not None and script_file is not None:
        raise click.UsageError("--script and --script-file exclude each other")
    if script_file is not None:
        return parse_script(_read(script_file), str(script_file))
    return None if script is None else parse_script(script, "--script")


def _read(path: Path) -> str:
    from timing.design.text_file import UnreadableFileError, decoded_text, read_text_file

    if str(path) != "-":
        return read_text_file(path, LARGEST_STEPS_BYTES)
    content = sys.stdin.buffer.read(LARGEST_STEPS_BYTES + 1)
    if len(content) > LARGEST_STEPS_BYTES:
        raise UnreadableFileError(path, "more and more on standard input", f"{LARGEST_STEPS_BYTES:,} bytes at most")
    return decoded_text(path, content)
