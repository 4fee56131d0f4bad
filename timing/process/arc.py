"""Arc and source: where a constant-voltage machine settles.

The mean voltages around the circuit: the source gives U0 - s I; the extension takes R I; the arc takes
U_fall + R_arc I + E l. The wire feed speed fixes the current (it must melt what is fed), the voltage fixes the
arc length. A mean model has no drops and no short circuits. Where the voltage is too low for an open arc, the wire
touches the puddle many times a second (short-circuit transfer); the mean voltage is then lower than an arc's by a
share that the shorts take. That share, `dip_v`, fades out as the arc grows longer than two wire diameters. While the
wire is shorted no arc heats its end: the arc term of the melting rate counts for the rest of the time only. The share
of the time follows from the mean voltage, which lies between the arc's and the wire's own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from timing.elementwise import Values, elementwise
from timing.marks import Mark
from timing.process.errors import ProcessError
from timing.process.melting import balance_current_a

Regime = Literal["open arc", "short-circuit"]


@dataclass(frozen=True)
class ArcConstants:
    """Mean voltage of the arc: fall + resistance I + gradient l."""

    fall_v: float
    resistance_ohm: float
    gradient_v_per_mm: float
    fall_spread_v: float
    """Standard deviation of the fall for a machine not yet measured."""
    gradient_spread: float
    """Relative standard deviation of the gradient."""
    mark: Mark
    source: str


_NAIDU = "Naidu, Ozcelik, Moore, Modeling, Sensing and Control of GMAW, 2003"
_SHIFT = f"{_NAIDU}; shifted by what shops add or take off for this gas"
PUBLISHED_ARC = ArcConstants(15.7, 0.022, 1.5, 1.0, 0.3, "remembered", _NAIDU)
"""The set used in control studies, for wire of 1.2 mm in argon mixtures at some 200 A."""
# Its gradient is a high one; a longer arc at small current is better served by less.
_MIXED = replace(PUBLISHED_ARC, gradient_v_per_mm=1.2, mark="derived", source=f"{_NAIDU}; gradient lowered")

HELIUM_FALL_V = 5.0
"""What helium alone adds to the fall that argon has; a mixture adds its share (practice)."""
_LEAN = replace(_MIXED, fall_v=15.2, source=_SHIFT, mark="practice")
# Between 25 % of carbon dioxide and all of it.
_RICH = replace(_MIXED, fall_v=16.3, fall_spread_v=1.3, source=_SHIFT, mark="practice")
_CARBON_DIOXIDE = replace(_MIXED, fall_v=17.2, fall_spread_v=1.3, source=_SHIFT, mark="practice")
_ARGON = replace(_MIXED, fall_v=14.5, gradient_v_per_mm=0.9, fall_spread_v=1.5, source=_SHIFT, mark="practice")

ARCS: dict[str, ArcConstants] = {
    **dict.fromkeys(("M12", "M13", "M14", "M22", "M23"), _LEAN),
    **dict.fromkeys(("M20", "M21", "M24", "M25", "M26", "M27", "M32", "M34"), _MIXED),
    **dict.fromkeys(("M31", "M33", "M35"), _RICH),
    **dict.fromkeys(("C1", "C2"), _CARBON_DIOXIDE),
    "I1": _ARGON,
    "I2": replace(_ARGON, fall_v=_ARGON.fall_v + HELIUM_FALL_V, gradient_v_per_mm=1.5, fall_spread_v=2.0),
    "I3": replace(_MIXED, fall_v=17.0, gradient_v_per_mm=1.2, fall_spread_v=1.5, source=_SHIFT, mark="practice"),
    "none": replace(_MIXED, fall_v=14.0, fall_spread_v=1.8, source=_SHIFT, mark="practice"),
}
"""By the gas groups of timing.design.process.Gas (ISO 14175); none is self-shielded wire."""


def arc_constants(gas: str, helium_percent: float = 0.0) -> ArcConstants:
    """Return the constants for a gas group, and for the helium in it where its mixture is known.

    I3 without a mixture is taken as half argon, half helium, or nearly so.
    """
    if not helium_percent:
        return ARCS[gas]
    base = ARCS["I1"] if gas in ("I1", "I2", "I3") else ARCS[gas]
    share = helium_percent / 100
    gradient = base.gradient_v_per_mm + share * max(ARCS["I2"].gradient_v_per_mm - base.gradient_v_per_mm, 0.0)
    spread = max(base.fall_spread_v, ARCS["I3"].fall_spread_v)
    fall = base.fall_v + share * HELIUM_FALL_V
    return replace(base, fall_v=fall, gradient_v_per_mm=gradient, fall_spread_v=spread, source=_SHIFT, mark="practice")


ARC_OUT_A = 15.0
"""Current below which the model calls the arc of a thin wire out (choice: from 8 A to 25 A the advice is the same, by
a test)."""
ARC_OUT_SPREAD_A = 3.0
"""Standard deviation of that (choice)."""
SHORTEST_EXTENSION_MM = 1.0
"""Nearer to the contact tip than this there is no steady arc to speak of (choice)."""
MOST_DIP_V = 6.0
"""Where the shorts must take more than this from the mean voltage, the wire stubs and no arc holds (practice)."""
MOST_SHORT_SHARE = 0.4
"""Share of the time that shorts take at most, in this model: `MOST_DIP_V` ends it before (choice)."""


@dataclass(frozen=True)
class Plant:
    """Wire, arc and source: every field one number, or one for each draw."""

    feed_mm_s: Values
    distance_mm: Values
    """Contact-tip-to-work distance."""
    alpha_mm_per_a_s: Values
    beta_per_a2_s: Values
    wire_ohm_per_mm: Values
    fall_v: Values
    arc_ohm: Values
    gradient_v_per_mm: Values
    open_v: Values
    slope_ohm: Values
    """Slope of the source, V/A."""
    inductance_h: Values
    arc_out_a: Values
    diameter_mm: Values
    capacitance_f: Values = 0.0
    """Bank behind the source's rectifier; 0: none."""
    ripple_v: Values = 0.0
    """Amplitude of the source's ripple, unloaded."""
    ripple_hz: Values = 0.0

    def repeated(self, times: int) -> Plant:
        """Return a plant of `times` equal draws, from a plant of single numbers."""
        # Draws are arrays; what computes with single numbers alone shall not wait for numpy at start-up.
        import numpy as np

        return Plant(**{name: np.full(times, value) for name, value in vars(self).items()})


@dataclass(frozen=True)
class OperatingPoint:
    """Where the arc burns while the wire is fed: one number each, or one for each draw."""

    current_a: Values
    extension_mm: Values
    dip_v: Values
    """What short circuits take from the mean voltage; 0 with an open arc."""
    voltage_v: Values
    """Mean voltage at the source's terminals."""
    short_share: Values
    """Share of the time in which the wire is shorted and no arc heats its end; 0 with an open arc."""

    def arc_length_mm(self, plant: Plant) -> Values:
        """Mean distance from the wire's end to the puddle."""
        return plant.distance_mm - self.extension_mm


def _voltage_left_v(plant: Plant, extension_mm: Values) -> Values:
    """Source voltage left over at the balance current when the wire's end stands at `extension_mm`."""
    current = balance_current_a(plant.feed_mm_s, extension_mm, plant.alpha_mm_per_a_s, plant.beta_per_a2_s)
    return _left_v(plant, extension_mm, current)


def _left_v(plant: Plant, extension_mm: Values, current: Values) -> Values:
    loop = plant.slope_ohm + plant.arc_ohm + plant.wire_ohm_per_mm * extension_mm
    return plant.open_v - plant.fall_v - loop * current - plant.gradient_v_per_mm * (plant.distance_mm - extension_mm)


def dip_length_mm(plant: Plant) -> Values:
    """Mean arc length below which a drop bridges the gap: one wire diameter (practice)."""
    return plant.diameter_mm


SECANTS, SETTLED_V = 6, 1e-6
"""Steps towards the operating point, and volts left over that count as none (choice: real arcs need no more, by a
test)."""
SHARE_HALVINGS = 20
"""Halvings that find the share of the shorts, to a millionth (choice)."""


def settle(plant: Plant) -> OperatingPoint:
    """Solve the operating point of every draw; draws without one rest at the nearest end.

    The current comes from melting what is fed, the extension from the voltages around the circuit. Raises nothing:
    see `operating_point` for the one that complains.
    """
    do = elementwise(plant.distance_mm)
    longest = plant.distance_mm - dip_length_mm(plant)
    least = do.minimum(SHORTEST_EXTENSION_MM, longest)
    least_v, longest_v = _voltage_left_v(plant, least), _voltage_left_v(plant, longest)
    dip_v = do.maximum(-longest_v, 0.0)
    extension = _balanced_mm(plant, least, least_v, longest, longest_v)
    extension = do.where(dip_v > 0, longest, do.where(least_v > 0, least, extension))
    current = balance_current_a(plant.feed_mm_s, extension, plant.alpha_mm_per_a_s, plant.beta_per_a2_s)
    share = 0.0 * current
    if do.any(dip_v > 0):
        share = do.where(dip_v > 0, _short_share(plant, extension), 0.0)
        current = _current_a(plant, extension, share)
        dip_v = do.where(dip_v > 0, -_left_v(plant, extension, current), 0.0)
    return OperatingPoint(current, extension, dip_v, plant.open_v - plant.slope_ohm * current, share)


def _balanced_mm(plant: Plant, low: Values, low_v: Values, high: Values, high_v: Values) -> Values:
    """Extension with no volts left over, between one with too few and one with too many.

    Secants, since the volts rise nearly straight with the extension; by halves where they do not.
    """
    do = elementwise(low)
    before, before_v, extension, left_v = low, low_v, high, high_v
    for _ in range(SECANTS):
        run, rise_v = extension - before, left_v - before_v
        step = left_v * run / do.where(rise_v == 0, 1.0, rise_v)
        before, before_v, extension = extension, left_v, do.minimum(do.maximum(extension - step, low), high)
        left_v = _voltage_left_v(plant, extension)
    lost = (low_v < 0) & (high_v > 0) & (do.maximum(left_v, -left_v) > SETTLED_V)
    if not do.any(lost):
        return extension
    for _ in range(40):
        middle = (low + high) / 2
        above = _voltage_left_v(plant, middle) > 0
        high, low = do.where(above, middle, high), do.where(above, low, middle)
    halved: Values = do.where(lost, (low + high) / 2, extension)
    return halved


def _current_a(plant: Plant, extension_mm: Values, short_share: Values) -> Values:
    """Balance current with the arc heating the wire's end for the time that no short takes."""
    alpha = plant.alpha_mm_per_a_s * (1.0 - short_share)
    return balance_current_a(plant.feed_mm_s, extension_mm, alpha, plant.beta_per_a2_s)


def _short_share(plant: Plant, extension_mm: Values) -> Values:
    """Share of the time that shorts take: by halves, since less arc asks for more current, and that for more shorts."""
    do = elementwise(plant.distance_mm)
    arc_v = plant.fall_v + plant.gradient_v_per_mm * (plant.distance_mm - extension_mm)
    low, high = 0.0 * extension_mm, 0.0 * extension_mm + MOST_SHORT_SHARE
    for _ in range(SHARE_HALVINGS):
        middle = (low + high) / 2
        current = _current_a(plant, extension_mm, middle)
        more = -_left_v(plant, extension_mm, current) > middle * (arc_v + plant.arc_ohm * current)
        low, high = do.where(more, middle, low), do.where(more, high, middle)
    return (low + high) / 2


def operating_point(plant: Plant) -> OperatingPoint:
    """Return where a plant of single numbers settles.

    Raises ProcessError when no steady arc is possible: zero wire feed speed, a distance too short to hold an arc, a
    voltage too low (the wire stubs) or too high (the arc climbs into the contact tip).
    """
    feed, distance, diameter = float(plant.feed_mm_s), float(plant.distance_mm), float(plant.diameter_mm)
    if not 0 < feed < float("inf"):
        raise ProcessError(
            f"the wire feed speed is {feed:g} mm/s", "a wire feed speed above 0 mm/s", "measure it: run wire for 6 s"
        )
    needed = SHORTEST_EXTENSION_MM + 2 * diameter
    if not distance > needed:
        raise ProcessError(
            f"the contact-tip-to-work distance is {distance:g} mm: no room for an arc and a wire end",
            f"more than {needed:.1f} mm with wire of {diameter:g} mm",
            "hold the gun further off, 8 mm to 15 mm for thin wire",
        )
    point = settle(plant)
    current, voltage, dip = float(point.current_a), float(point.voltage_v), float(point.dip_v)
    open_v = float(plant.open_v)
    if current < plant.arc_out_a:
        raise ProcessError(
            f"no arc is possible: {feed:.0f} mm/s of wire of {diameter:g} mm melts at {current:.0f} A, too little to "
            "keep an arc",
            f"a wire feed speed that takes more than {float(plant.arc_out_a):.0f} A",
            "turn the wire feed speed up",
        )
    if dip > MOST_DIP_V:
        lowest = open_v + dip - MOST_DIP_V
        raise ProcessError(
            f"no arc is possible: melting {feed:.0f} mm/s of wire needs {current:.0f} A, and the power source is down "
            f"to {voltage:.1f} V there",
            f"an open-circuit voltage of {lowest:.1f} V or more at this wire feed speed",
            "turn the voltage up or the wire feed speed down, and measure the open-circuit voltage again",
        )
    spare = float(_voltage_left_v(plant, SHORTEST_EXTENSION_MM))
    if spare > 0:
        raise ProcessError(
            f"the arc climbs into the contact tip: {open_v:.1f} V is more than {feed:.0f} mm/s of wire can use",
            f"an open-circuit voltage below {open_v - spare:.1f} V at this wire feed speed",
            "turn the voltage down or the wire feed speed up",
        )
    return point


def regime(point: OperatingPoint) -> Regime:
    """Name what kind of arc a plant of single numbers burns with."""
    return "short-circuit" if point.dip_v > 0 else "open arc"


REGIME_NOTES: dict[Regime, str] = {
    "open arc": "The arc is open: the mean model covers it.",
    "short-circuit": (
        "Short-circuit transfer: the wire touches the puddle many times a second, which a mean model does not follow. "
        "Where in that cycle the release falls is drawn at random, one mean arc length up or down, and widens the band."
    ),
}
"""What the regime does to the band, for people."""
