"""The paper flag at the nozzle: gas pushes it to a reflex sensor; how long that takes.

A jet pushes with its flow of momentum, density times flow times speed; the speed is the flow over the nozzle's area. A
strip that hangs by its upper edge has a third of its mass, as seen at its tip, and a push or its weight in its middle
counts half there: its tip gains speed at one and a half times force over mass (published: textbooks of mechanics).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.design.process import Process
from timing.process.ball import GRAVITY_M_S2

ARGON_KG_M3 = 1.66
"""Argon at 20 degC and the air's pressure: 39.95 g/mol; CO2 has a tenth more (published: ideal gas law)."""
FLAG_PAPER_KG_M2 = 0.040
"""Thin paper such as wrapping or baking paper; a copier's has twice that (practice)."""
OVER_BORE_MM, LONG_IN_BORES = 6.0, 1.6
"""How much wider than the nozzle's bore the flag is, and its length in bores (choice)."""
SENSOR_AWAY_MM, SEEN_AT_MM = 8.0, 3.0
"""From the hanging flag to the sensor, and the distance at which the sensor surely sees white paper (choice)."""
TIP_GAIN = 1.5
"""Of a hanging strip: acceleration of the tip over force by mass (derived)."""
SWING_SPREAD = (0.5, 2.0)
"""Least and most of the computed time: a jet that spreads, paper that is heavier or bent (choice)."""


@dataclass(frozen=True)
class Flag:
    """A flag, in mm."""

    width_mm: float
    length_mm: float
    push_n: float
    mass_kg: float

    @property
    def swing_mm(self) -> float:
        """How far its tip comes out of the vertical when gas flows: the push over the weight is the tangent."""
        return self.length_mm * math.sin(math.atan2(self.push_n, self.mass_kg * GRAVITY_M_S2))

    @property
    def reaches(self) -> bool:
        """True where the tip surely comes near enough to the sensor."""
        return self.swing_mm >= SENSOR_AWAY_MM - SEEN_AT_MM


def flag_for(process: Process) -> Flag:
    """Return the flag for a nozzle and its flow. Raises ValueError without gas."""
    if process.gas_flow_l_min is None:
        raise ValueError("no gas, no flag")
    bore = process.nozzle_bore_mm
    flow_m3_s = process.gas_flow_l_min / 60e3
    speed_m_s = flow_m3_s / (math.pi * (bore / 2000.0) ** 2)
    width, length = bore + OVER_BORE_MM, LONG_IN_BORES * bore
    return Flag(width, length, ARGON_KG_M3 * flow_m3_s * speed_m_s, FLAG_PAPER_KG_M2 * width * length / 1e6)


def flag_lag_us(process: Process) -> tuple[float, float]:
    """Return how long after the gas at the nozzle the sensor sees the flag, least and most (us).

    s = a t^2 / 2 (exact). Raises ValueError without gas.
    """
    flag = flag_for(process)
    way_m = (SENSOR_AWAY_MM - SEEN_AT_MM) / 1000.0
    typical_us = 1e6 * math.sqrt(2.0 * way_m * flag.mass_kg / (TIP_GAIN * flag.push_n))
    return SWING_SPREAD[0] * typical_us, SWING_SPREAD[1] * typical_us
