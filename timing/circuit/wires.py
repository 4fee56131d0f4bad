"""Wire gauges by current."""

from __future__ import annotations

from dataclasses import dataclass

CIRCULAR_MILS_PER_A = 700.0
"""A cautious rule for wires in a bundle (practice: the PCB calculator of an open design suite uses it, seen)."""


@dataclass(frozen=True)
class Gauge:
    """A wire size; the metric one is the size sold in its place (practice), never thinner than 0.9 of it."""

    awg: int
    metric_mm2: float

    @property
    def diameter_in(self) -> float:
        """Diameter of the solid wire, ASTM B258: 0.005 in x 92^((36 - n) / 39) (exact)."""
        return float(0.005 * 92.0 ** ((36 - self.awg) / 39))

    @property
    def area_mm2(self) -> float:
        """Cross-section of that diameter."""
        return 3.141592653589793 / 4.0 * (self.diameter_in * 25.4) ** 2

    @property
    def current_a(self) -> float:
        """Current it carries by the rule."""
        return (1000.0 * self.diameter_in) ** 2 / CIRCULAR_MILS_PER_A

    def __str__(self) -> str:
        return f"AWG {self.awg} / {self.metric_mm2:g} mm2"


GAUGES = (Gauge(24, 0.25), Gauge(22, 0.34), Gauge(20, 0.5), Gauge(18, 1.0), Gauge(16, 1.5), Gauge(14, 2.5),
          Gauge(12, 4.0), Gauge(10, 6.0), Gauge(8, 10.0))  # fmt: skip
"""Gauges with the metric size sold in their place (practice)."""
THINNEST_SIGNAL = GAUGES[0]
"""Thinnest wire for signals (choice)."""
THINNEST_POWER = GAUGES[2]
"""Thinner wires break at screw terminals (practice)."""


def gauge_for(current_a: float, thinnest: Gauge = THINNEST_SIGNAL) -> Gauge:
    """Return the thinnest gauge that carries a current (A, continuous), not thinner than `thinnest`.

    Raises ValueError above what the thickest listed carries.
    """
    for gauge in GAUGES[GAUGES.index(thinnest) :]:
        if gauge.current_a >= current_a:
            return gauge
    raise ValueError(f"{current_a:g} A is more than {GAUGES[-1]} carries ({GAUGES[-1].current_a:.1f} A)")
