"""Preferred values: IEC 60063 series for resistors and capacitors, and the ratings that parts are sold in."""

from __future__ import annotations

import math
from collections.abc import Sequence

# IEC 60063:2015, E24 and its subsets; a test compares them with a reference library.
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""Preferred values, E24 (published: IEC 60063:2015, compared with a reference library in the tests)."""
E12 = E24[::2]
"""Every other one (published: IEC 60063:2015, compared with a reference library in the tests)."""
E6 = E12[::2]
"""Every fourth (published: IEC 60063:2015, compared with a reference library in the tests)."""
E3 = E6[::2]
"""Every eighth (published: IEC 60063:2015, compared with a reference library in the tests)."""

VOLTAGE_MARGIN = 1.05
"""What a voltage rating should stand above the highest voltage met (practice)."""
RESISTOR_RATINGS_W = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
"""Sizes on sale (practice)."""
RESISTOR_DERATING = 0.5
"""Share of its rating that a resistor is loaded with in a warm box (practice)."""
CAPACITOR_RATINGS_V = (6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 63.0, 80.0, 100.0, 160.0, 250.0, 400.0, 450.0)
"""Voltage ratings of electrolytic capacitors (practice: lists in open design software agree, seen)."""
REGULATOR_RATINGS_V = (24.0, 35.0, 40.0, 60.0, 75.0, 100.0)
"""Highest inputs of regulators on sale (practice)."""
VARISTOR_RATINGS_V = (
    14.0,
    17.0,
    20.0,
    25.0,
    30.0,
    35.0,
    40.0,
    50.0,
    60.0,
    75.0,
    95.0,
    130.0,
    150.0,
    175.0,
    230.0,
    275.0,
    320.0,
    385.0,
    420.0,
    460.0,
)
"""RMS voltage ratings of metal-oxide varistors (practice: a table of types agrees within 3 V, seen)."""
FILM_RATINGS_V = (63.0, 100.0, 250.0, 400.0, 630.0)
"""Dc voltage ratings of film capacitors (practice)."""
MOSFET_RATINGS_V = (60.0, 100.0, 200.0, 400.0, 600.0, 1000.0)
"""Voltages of isolated MOSFET outputs on sale (practice)."""
X2_RATINGS_V = (275.0, 310.0, 440.0)
"""RMS voltage ratings of capacitors across the line (practice)."""


def at_most(value: float, series: Sequence[int] = E12) -> float:
    """Return the largest preferred value that is not above `value` (> 0), in the unit of `value`."""
    return max(candidate for candidate in _around(value, series) if candidate <= value * (1.0 + 1e-9))


def at_least(value: float, series: Sequence[int] = E12) -> float:
    """Return the smallest preferred value that is not below `value` (> 0), in the unit of `value`."""
    return min(candidate for candidate in _around(value, series) if candidate >= value * (1.0 - 1e-9))


def nearest(value: float, series: Sequence[int] = E12) -> float:
    """Return the preferred value nearest to `value` (> 0) in ratio, in the unit of `value`."""
    return min(_around(value, series), key=lambda candidate: abs(math.log(candidate / value)))


def _around(value: float, series: Sequence[int]) -> list[float]:
    if not value > 0.0 or not math.isfinite(value):
        raise ValueError(f"{value!r} has no preferred value beside it; it must be above zero")
    decade = math.floor(math.log10(value))
    # Through text, so that 4.7 kohm is the float 4700.0 and not a neighbour of it.
    return [float(f"{step}e{power - 1}") for power in (decade - 1, decade, decade + 1) for step in series]


def rating_at_least(value: float, ratings: Sequence[float]) -> float | None:
    """Return the smallest rating on sale that is not below `value`, or None."""
    return next((rating for rating in ratings if rating >= value * (1.0 - 1e-9)), None)


def resistor_rating_w(dissipation_w: float) -> float:
    """Return the resistor size for a dissipation, derated; the largest on sale when none is enough."""
    return rating_at_least(dissipation_w / RESISTOR_DERATING, RESISTOR_RATINGS_W) or RESISTOR_RATINGS_W[-1]
