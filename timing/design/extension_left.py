"""[extension_left]: what test welds found of the extension left over the burnback dial, and what that holds for."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, StrictBool, model_validator
from pydantic_core import CoreSchema, core_schema

from timing.design.process import Gas, Wire
from timing.design.section import Section, Title, refuse
from timing.design.times import LONGEST_BURNBACK_US
from timing.design.units import Measure

LONGEST_EXTENSION_MM = 60.0
"""Longest extension that a reading may claim (choice: no gun is held so far away)."""
MOST_PLACES = 60
"""A row has at most as many numbers (choice)."""
_ROW = re.compile(r"\s*(?P<numbers>[0-9.]{1,12}(?:\s*,\s*[0-9.]{1,12})*)\s*(?P<unit>\S{1,8})\s*")
SHARES_OFF_PERCENT = 3.0
"""Rounded shares may miss 100 % by so much together (choice)."""


@dataclass(frozen=True)
class Quantities(Measure):
    """Marks a field as a row of quantities of one unit, as one text: "20, 60, 110 ms"."""

    def read(self, value: object) -> Any:
        """Return the numbers. Raises PydanticCustomError that says what is allowed."""
        found = _ROW.fullmatch(value) if isinstance(value, str) else None
        if found is None:
            hint = f'numbers parted by commas, then their unit, for example "{self.example}"'
            raise self._refuse(repr(value)[:80], hint)
        numbers = found["numbers"].split(",")
        if len(numbers) > MOST_PLACES:
            raise self._refuse(f"{len(numbers)} numbers", f"{MOST_PLACES} at most")
        read = (super(Quantities, self).read(f"{number.strip()} {found['unit']}") for number in numbers)
        return tuple(number if self.unit == "us" else float(number) for number in read)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """Validate from text only; the model keeps the numbers."""
        return core_schema.no_info_plain_validator_function(self.read)


def row_text(numbers: list[float], unit: str) -> str:
    """Return a row as it stands in the design file: "20, 60, 110 ms"."""
    return f"{', '.join(f'{number:g}' for number in numbers)} {unit}"


Lengths = Annotated[tuple[float, ...], Quantities("mm", 0, LONGEST_EXTENSION_MM, "9.5, 8.2, 7.6 mm")]
Percents = Annotated[tuple[float, ...], Quantities("%", 0, 100, "60, 97, 99 %")]


class ExtensionLeft(Section):
    """Extension left on this machine over the burnback dial, by its test welds; `wirecue fit --write` puts it here.

    From the contact tip to the end of the ball, as a rule reads it: nine welds of ten lie between low and high.
    """

    found_from: Title = Field(description='What it was found from: "4 test welds of 2026-03-01".')

    settings_us: Annotated[tuple[int, ...], Quantities("us", 0, LONGEST_BURNBACK_US, "20, 60, 110 ms")] = Field(
        description="Burnback settings that the rows below are for, rising."
    )
    low_mm: Lengths = Field(description="One weld of twenty leaves less than this.")
    middle_mm: Lengths = Field(description="Half of the welds leave less than this.")
    high_mm: Lengths = Field(
        description="One weld of twenty leaves more than this; more than the distance is wire in the puddle."
    )
    good_percent: Percents = Field(description="Welds that end good.")
    frozen_percent: Percents = Field(description="Welds that freeze in the puddle.")
    short_percent: Percents = Field(description="Welds that leave too little extension to start again.")
    fused_percent: Percents = Field(description="Welds that fuse to the contact tip.")
    ball_mm: Annotated[float, Measure("mm", 0, 10, "1.2 mm")] = Field(
        description="How far the ball stands beyond the end of the solid wire; it is counted in what is left."
    )
    wire: Wire = Field(description="Wire that the test welds were made with.")
    wire_diameter_mm: Annotated[float, Measure("mm", 0.5, 2.5, "0.9 mm")] = Field(description="Its diameter.")
    gas: Gas = Field(description="Shielding gas that they were made with.")
    contact_tip_to_work_mm: Annotated[float, Measure("mm", 4, 40, "12 mm")] = Field(
        description="Contact-tip-to-work distance that this holds for."
    )
    wire_feed_speed_mm_s: Annotated[float, Measure("mm/s", 10, 500, "200 in/min")] = Field(
        description="Wire feed speed that this holds for."
    )
    open_circuit_voltage_v: Annotated[float, Measure("V", 12, 60, "24 V")] | None = Field(
        None, description="Open-circuit voltage that this holds for; left out: nobody measured it."
    )
    braked: StrictBool = Field(False, description="Whether the drive had its brake.")
    contactor_later_us: Annotated[int, Measure("us", 0, 1_000_000, "9 ms")] = Field(
        0, description="How much later the suppression of its coil let the contactor drop out."
    )

    @model_validator(mode="after")
    def _rows_go_together(self) -> ExtensionLeft:
        rows = {name: getattr(self, name) for name in ("low_mm", "middle_mm", "high_mm", *SHARES)}
        count = len(self.settings_us)
        uneven = next((name for name, row in rows.items() if len(row) != count), None)
        if uneven is not None:
            key = uneven.rpartition("_")[0]
            raise refuse(f"{len(rows[uneven])} numbers in {key}, {count} in settings", "one for each setting")
        if any(later <= earlier for earlier, later in zip(self.settings_us, self.settings_us[1:], strict=False)):
            raise refuse("settings that do not rise", "each longer than the one before")
        for low, middle, high in zip(self.low_mm, self.middle_mm, self.high_mm, strict=True):
            if not low <= middle <= high:
                raise refuse(f"low, middle and high out of order: {low:g}, {middle:g}, {high:g} mm", "rising")
        for shares in zip(*(rows[name] for name in SHARES), strict=True):
            if abs(sum(shares) - 100) > SHARES_OFF_PERCENT:
                told = " + ".join(f"{share:g}" for share in shares)
                raise refuse(f"good, frozen, short and fused add up to {told} %", "100 % at each setting")
        return self


SHARES = ("good_percent", "frozen_percent", "short_percent", "fused_percent")
"""The rows of shares (choice)."""
