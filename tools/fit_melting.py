"""Fits the melting constants of steel wire to what was seen published: `python tools/fit_melting.py` prints them.

The law is that of timing/process/melting.py: rate = alpha (1.2/d)^2 (d/1.2)^p I + beta (1.2/d)^4 L I^2, and in
short-circuit transfer alpha counts for the share of the time that the arc burns, as in timing/process/arc.py, with the
mean voltage that is usual for the current. Every source
weighs the same, however many rows it has; errors are relative. The published sources give alpha and beta for any p;
p is the one whose alpha and beta come nearest to the shop rule, in steps of 0.1.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from timing.process.arc import ARCS
from timing.process.melting import MATERIALS, REFERENCE_DIAMETER_MM, circle_mm2
from timing.process.source import usual_load_voltage_v

DATA = Path(__file__).parent.parent / "tests" / "reference" / "melting_data.toml"
STEEL = MATERIALS["mild-steel"]
OPEN_ARC = "open arc"
POWERS = tuple(round(0.1 * step, 1) for step in range(-5, 11))


@dataclass(frozen=True)
class Row:
    """One melting rate as seen, in mm/s of wire."""

    source: str
    fitted: bool
    diameter_mm: float
    current_a: float
    extension_mm: float
    rate_mm_s: float
    gas: str

    @property
    def arc_share(self) -> float:
        """Share of the time in which an arc burns: the mean voltage lies between the arc's and the shorted wire's."""
        if self.gas == OPEN_ARC:
            return 1.0
        arc = ARCS[self.gas]
        wire_v = STEEL.resistivity_ohm_mm / circle_mm2(self.diameter_mm) * self.extension_mm * self.current_a
        shortest_v = arc.fall_v + arc.resistance_ohm * self.current_a + arc.gradient_v_per_mm * self.diameter_mm
        return min((usual_load_voltage_v(self.current_a) - wire_v) / shortest_v, 1.0)


@dataclass(frozen=True)
class Fit:
    """Constants for wire of 1.2 mm, and how far each source lies from them."""

    alpha_mm_per_a_s: float
    beta_per_a2_s: float
    power: float
    off: dict[str, float]
    """Root mean square of the relative error, by source."""

    @property
    def disagreement(self) -> float:
        """The same over all sources, each weighing the same."""
        return math.sqrt(sum(off**2 for off in self.off.values()) / len(self.off))


def rows() -> list[Row]:
    """Return every row of the data, fitted or not."""
    found = []
    for source in tomllib.loads(DATA.read_text(encoding="utf-8"))["source"]:
        for diameter, current, extension, melting in source["rows"]:
            grams_a_mm = circle_mm2(diameter) * STEEL.density_g_cm3 / 1000
            factor = {"mm/s": 1.0, "in/(min A)": 25.4 / 60 * current, "g/(A h)": current / 3600 / grams_a_mm}
            rate = melting * factor[source["unit"]]
            found.append(Row(source["name"], source["fitted"], diameter, current, extension, rate, source["gas"]))
    return found


def terms(row: Row, power: float) -> tuple[float, float]:
    """Return what alpha and beta of the reference wire are multiplied with to give the row's rate."""
    ratio = REFERENCE_DIAMETER_MM / row.diameter_mm
    return ratio ** (2 - power) * row.current_a * row.arc_share, ratio**4 * row.extension_mm * row.current_a**2


def with_power(every: list[Row], power: float) -> Fit:
    """Return the constants that fit the published rows best for one power of the diameter."""
    fitted = [row for row in every if row.fitted]
    count = {row.source: sum(one.source == row.source for one in fitted) for row in fitted}
    weight = np.array([count[row.source] ** -0.5 for row in fitted])
    relative = np.array([terms(row, power) for row in fitted]) / np.array([[row.rate_mm_s] for row in fitted])
    alpha, beta = (float(value) for value in np.linalg.lstsq(relative * weight[:, None], weight, rcond=None)[0])
    off: dict[str, list[float]] = {}
    for row in every:
        arc, resistive = terms(row, power)
        off.setdefault(row.source, []).append(math.log((alpha * arc + beta * resistive) / row.rate_mm_s))
    return Fit(
        alpha, beta, power, {name: math.sqrt(sum(x * x for x in some) / len(some)) for name, some in off.items()}
    )


def fit() -> Fit:
    """Return the constants."""
    every = rows()
    held_out = next(row.source for row in every if not row.fitted)
    return min((with_power(every, power) for power in POWERS), key=lambda one: one.off[held_out])


def main() -> None:
    """Print the fit."""
    found = fit()
    print(f"alpha {found.alpha_mm_per_a_s:.4g} mm/(A s), beta {found.beta_per_a2_s:.3g} 1/(A2 s), power {found.power}")
    for name, off in found.off.items():
        print(f"  {name}: {100 * off:.1f} %")
    print(f"  all: {100 * found.disagreement:.1f} %")


if __name__ == "__main__":
    main()
