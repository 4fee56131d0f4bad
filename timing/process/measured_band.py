"""The extension left that test welds found, over the burnback dial: in numbers, from the design file and into it.

It stands there as its own table and counts in place of the model's draws, as long as the design is what the welds were
made with.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from timing.design.design import Design
from timing.design.extension_left import SHARES, row_text
from timing.design.suppression import off_delay_of
from timing.design.units import as_typed, format_duration
from timing.elementwise import Floats
from timing.formatting import in_ms, percent_text

SAME_DISTANCE_MM = 0.5
"""A band holds for distances that differ by no more than this (choice: what a rule tells)."""
SAME_SPEED_SHARE, SAME_VOLTAGE_SHARE = 0.03, 0.02
"""The same for wire feed speed and open-circuit voltage, by share (choice: what is known of them no closer)."""
SAME_DELAY_US = 2_000
"""The same for what the suppression adds to the contactor's drop-out (choice)."""


@dataclass(frozen=True)
class ExtensionBand:
    """Extension left at each of some burnback settings, to the end of the ball, as a rule reads it; shape (settings,).

    Nine welds of ten lie from low to high: on any machine that the test welds allow, made by hand.
    """

    settings_s: Floats
    """Rising."""
    low_mm: Floats
    middle_mm: Floats
    high_mm: Floats
    """Beyond the distance where the wire runs into the puddle."""
    good: Floats
    """Share of welds that end good; the others are frozen in the puddle, too short, or fused to the tip."""
    frozen: Floats
    short: Floats
    fused: Floats
    ball_mm: float
    """How far the ball stands beyond the end of the solid wire, counted in what is left."""

    def at(self, setting_s: float) -> ExtensionBand:
        """Return the band at one setting, in a straight line between two; at the ends beyond them."""
        rows = {
            name: np.array([np.interp(setting_s, self.settings_s, row)])
            for name, row in vars(self).items()
            if name not in ("settings_s", "ball_mm")
        }
        return ExtensionBand(np.array([setting_s]), **rows, ball_mm=self.ball_mm)

    def covers(self, setting_s: float) -> bool:
        """Whether a setting lies within the band's."""
        return bool(self.settings_s[0] - 1e-6 <= setting_s <= self.settings_s[-1] + 1e-6)

    def expected_at(self, setting_s: float) -> str:
        """Return what to expect at a setting, in words: the middle, and where nine welds of ten lie."""
        one = self.at(setting_s)
        return (
            f"{one.middle_mm[0]:.1f} mm of wire to the end of the ball (nine times in ten {one.low_mm[0]:.1f} mm to "
            f"{one.high_mm[0]:.1f} mm)"
        )

    def rows(self) -> Iterator[tuple[str, str, str, str, str]]:
        """Yield what it says in words, a line a setting: setting, middle, nine of ten, good, and what else becomes."""
        for row, setting_s in enumerate(self.settings_s):
            troubles = {"frozen": self.frozen[row], "short": self.short[row], "fused": self.fused[row]}
            yield (
                in_ms(float(setting_s)),
                f"{self.middle_mm[row]:.1f} mm",
                f"{self.low_mm[row]:.1f} to {self.high_mm[row]:.1f} mm",
                percent_text(float(self.good[row])),
                ", ".join(f"{percent_text(share)} {name}" for name, share in troubles.items() if share >= 0.005),
            )


def band_values(design: Design, band: ExtensionBand, found_from: str) -> dict[str, str | bool]:
    """Return the values of [extension_left], by their keys in it, for a band that was found for the design.

    found_from: the test welds, in words.
    """
    process = design.process
    # Rounded so that they add up: good is what the others leave.
    troubles = {name: np.round(100 * getattr(band, name)) for name in ("frozen", "short", "fused")}
    percents = {"good": 100 - sum(troubles.values()), **troubles}
    lengths = {"low": band.low_mm, "middle": band.middle_mm, "high": band.high_mm}
    settings_ms = [round(1000 * float(setting_s), 3) for setting_s in band.settings_s]
    values: dict[str, str | bool] = {"found_from": found_from, "settings": row_text(settings_ms, "ms")}
    values |= {key: row_text([round(float(mm), 1) for mm in row], "mm") for key, row in lengths.items()}
    values |= {key: row_text(list(row), "%") for key, row in percents.items()}
    values |= {
        "ball": f"{band.ball_mm:.1f} mm",
        "wire": process.wire,
        "wire_diameter": as_typed(process.wire_diameter_mm, "mm"),
        "gas": process.gas,
        "contact_tip_to_work": as_typed(process.contact_tip_to_work_mm, "mm"),
        "wire_feed_speed": as_typed(process.wire_feed_speed_mm_s, "mm/s"),
        "braked": design.feeder.wire_drive.braked,
        "contactor_later": format_duration(_contactor_later_us(design)),
    }
    if process.open_circuit_voltage_v is not None:
        values["open_circuit_voltage"] = as_typed(process.open_circuit_voltage_v, "V")
    return values


def measured_band(design: Design) -> ExtensionBand | None:
    """Return the band that test welds found for the design as it is; None where there is none, or it holds no more."""
    found = design.extension_left
    if found is None or stale_because(design):
        return None
    shares = {key.removesuffix("_percent"): np.array(getattr(found, key)) / 100 for key in SHARES}
    return ExtensionBand(
        settings_s=np.array(found.settings_us) / 1e6,
        low_mm=np.array(found.low_mm),
        middle_mm=np.array(found.middle_mm),
        high_mm=np.array(found.high_mm),
        **shares,
        ball_mm=found.ball_mm,
    )


def stale_because(design: Design) -> tuple[str, ...]:
    """Return in what the design is otherwise than its test welds had it, in words; none where it is the same."""
    found, process = design.extension_left, design.process
    if found is None:
        return ()
    volts, now_v = found.open_circuit_voltage_v, process.open_circuit_voltage_v
    same = {
        "wire": found.wire == process.wire and abs(found.wire_diameter_mm - process.wire_diameter_mm) < 0.01,
        "gas": found.gas == process.gas,
        "contact-tip-to-work distance": abs(found.contact_tip_to_work_mm - process.contact_tip_to_work_mm)
        <= SAME_DISTANCE_MM,
        "wire feed speed": _near(found.wire_feed_speed_mm_s, process.wire_feed_speed_mm_s, SAME_SPEED_SHARE),
        "open-circuit voltage": None in (volts, now_v) or _near(volts or 0.0, now_v or 0.0, SAME_VOLTAGE_SHARE),
        "brake of the drive": found.braked == design.feeder.wire_drive.braked,
        "suppression of the contactor's coil": abs(found.contactor_later_us - _contactor_later_us(design))
        <= SAME_DELAY_US,
    }
    return tuple(name for name, holds in same.items() if not holds)


def _near(one: float, other: float, share: float) -> bool:
    return abs(one - other) <= share * one


def _contactor_later_us(design: Design) -> int:
    """What the suppression of its coil adds to the contactor's drop-out."""
    contactor = design.feeder.contactor
    return round(off_delay_of(design, contactor).typical_us - contactor.off_delay.typical_us)
