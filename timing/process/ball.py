"""The ball on the wire's end: how wire that was melted back hangs on, how far it stands out, when it lets go.

**Shape.** The melt hangs from the end of the solid wire as a part of a sphere that meets the wire's edge: a flat cap
at first, half a ball once two thirds of a wire radius have melted, then nearly a full ball that the wire pierces. Its
volume is that of the wire melted, so with the wire's radius r a length m of wire stands

    m = L/2 + L^3 / (6 r^2)

beyond the solid wire by L. The far end thus comes nearer to the puddle until the melt is half a ball, and only then
draws back, as was found for bonding wires melted back by an arc (J. Heat Transfer 2003, doi 10.1115/1.1576811: the end
drops until the radius of the melt is that of the wire). The ball's widest is L + r^2/L across.

**How it lets go.** While voltage is on, a ball that reaches the puddle is drawn into it (short-circuit transfer) and
the next begins. With an open arc it falls when weight and the magnetic force of its own current exceed what the
surface tension round the wire can hold: the static balance of forces used for drops in gas metal arc welding (Kim and
Eagar, Welding Journal 1993, 269-s), Tate's law of the drop's weight with the force of J. C. Amson (Br. J. Appl. Phys.
16, 1965, 1169) added. Neither happens late in a burnback: the arc grows longer than the ball, and the current falls.
Once the voltage is off nothing breaks a bridge any more: a ball that touches then freezes in.

What is left out: spatter, the ball's swinging, and that melt is some 4 % wider than the ball that it freezes to.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from timing.elementwise import Truths, Values, elementwise
from timing.formatting import percent_text

if TYPE_CHECKING:
    from timing.process.melting import WireConstants

STEEL_TENSION_N_PER_M = 1.59
"""Surface tension of molten steel. Oxygen and sulphur lower it; the ball of a burnback is the same at half of it, by a
test (published: Pichler and others, Int. J. Thermophysics 43, 2022, 66, for AISI 316L at its liquidus; seen quoted in
open software)."""
ALUMINIUM_TENSION_N_PER_M = 0.87
"""Surface tension of molten aluminium (published: Molina and others, The surface tension of liquid aluminium in high
vacuum; seen quoted)."""
PINCH_N_PER_A2 = 1e-7
"""Magnetic constant over 4 pi, which the force of a current on its own drop goes by (exact: to 1e-9)."""
WIDE_ARC = 0.1
"""What Amson's force has beside the logarithm of drop over wire diameter, with the arc on the drop's lower half or more
(derived: 0.14 at a half angle of 90 degrees, 0.07 at 150)."""
GRAVITY_M_S2 = 9.81
"""Standard gravity (exact: rounded)."""
STARTS_WELL_DIAMETERS = 1.5
"""Up to this many wire diameters a ball starts as well as a cut end (practice)."""
CLIP_DIAMETERS = 2.0
"""A ball larger than this many wire diameters is clipped off before the next start (practice: a wire end left balled
starts cold, the blob has to burn off first; that its end decides on a start: published, TWI report 327/1986)."""

MOST_WELDS_SHARE = 0.5
"""From this share of welds on the wire's end is clipped as a habit (choice)."""
LEAST_SHARE_TOLD = 0.01
"""Of fewer welds than this share nothing is said (choice)."""


@dataclass(frozen=True)
class WireMelt:
    """How the melt of one wire hangs at its end."""

    diameter_mm: float
    """Of the wire."""
    metal_share: float
    """Metal in the ball of that in solid wire: below 1 for tubular wire, whose powder weighs less."""
    weight_n_per_mm: float
    """Weight of a millimetre of wire."""
    hold_n: float
    """What surface tension round the wire can hold."""

    @staticmethod
    def of(wire: WireConstants, tension_n_per_m: float = STEEL_TENSION_N_PER_M) -> WireMelt:
        """Return the melt of a wire."""
        solid_g = wire.area_mm2 * wire.material.density_g_cm3 / 1000
        return WireMelt(
            diameter_mm=wire.diameter_mm,
            metal_share=wire.grams_per_mm / solid_g,
            weight_n_per_mm=wire.grams_per_mm / 1000 * GRAVITY_M_S2,
            hold_n=math.pi * wire.diameter_mm / 1000 * tension_n_per_m,
        )

    def length_mm(self, melted_mm: Values) -> Values:
        """How far the ball of a length of wire melted stands beyond the solid wire: the one real root of the cubic."""
        do, radius_mm = elementwise(melted_mm), self.diameter_mm / 2
        length_mm: Values = 2 * radius_mm * do.sinh(do.asinh(3 * self.metal_share * melted_mm / radius_mm) / 3)
        return length_mm

    def ball_mm(self, melted_mm: Values) -> Values:
        """Diameter of the ball of a length of wire melted; that of the wire until the melt is half a ball."""
        do, radius_mm = elementwise(melted_mm), self.diameter_mm / 2
        length_mm = do.maximum(self.length_mm(melted_mm), radius_mm)
        ball_mm: Values = length_mm + radius_mm**2 / length_mm
        return ball_mm

    def melted_mm(self, ball_mm: float) -> float:
        """Length of wire that a ball of this diameter was; none for a ball no thicker than the wire."""
        if ball_mm <= self.diameter_mm:
            return 0.0
        return float(self.filling_mm(ball_length_mm(ball_mm, self.diameter_mm)))

    def filling_mm(self, gap_mm: Values) -> Values:
        """Length of wire whose ball stands beyond the solid wire as far as `gap_mm`; below 0 for a gap below 0."""
        by_radius = 1 / (6 * (self.diameter_mm / 2) ** 2)
        filling_mm: Values = gap_mm * (0.5 + by_radius * gap_mm * gap_mm) / self.metal_share
        return filling_mm

    def falls(self, melted_mm: Values, current_a: Values) -> Truths:
        """Whether weight and the magnetic force of the current exceed what holds a ball."""
        do = elementwise(melted_mm)
        # For balls thicker than the wire this is the logarithm of ball over wire diameter within 0.1.
        widening = do.log1p(1.5 / self.diameter_mm * self.metal_share * melted_mm) / 3
        pinch_n = PINCH_N_PER_A2 * current_a * current_a * (widening + WIDE_ARC)
        falls: Truths = self.weight_n_per_mm * melted_mm + pinch_n > self.hold_n
        return falls

    def longest_hanging_mm(self, current_a: Values) -> Values:
        """Length of wire whose ball just hangs on at a current; 0 where the current alone tears any off."""
        do = elementwise(current_a)
        low, high = 0.0 * current_a, 0.0 * current_a + self.hold_n / self.weight_n_per_mm
        for _ in range(30):
            middle = (low + high) / 2
            falls = self.falls(middle, current_a)
            low, high = do.where(falls, low, middle), do.where(falls, middle, high)
        return low

    def next_hanging_mm(self, hanging_mm: Values, melted_mm: Values, gap_mm: Values, current_a: Values) -> Values:
        """Wire that hangs on after a step: `melted_mm` more than before, less what went into the puddle or fell.

        `gap_mm` is the way from the solid wire to the puddle after the step. What melts once a ball has touched
        begins the next.
        """
        do = elementwise(hanging_mm)
        hanging_mm = hanging_mm + melted_mm
        over_mm = hanging_mm - self.filling_mm(gap_mm)
        hanging_mm = do.where(over_mm >= 0, do.minimum(over_mm, melted_mm), hanging_mm)
        # Seldom: a look at the extremes spares the logarithm of every draw.
        if not do.any(self.falls(do.largest(hanging_mm), do.largest(current_a))):
            return hanging_mm
        left_mm: Values = do.where(self.falls(hanging_mm, current_a), 0.0, hanging_mm)
        return left_mm


WIRE_TENSION_N_PER_M = {"aluminium": ALUMINIUM_TENSION_N_PER_M}
"""By the names of timing.design.process.Wire, where it is not steel's (published: as above)."""


def wire_melt(name: str, wire: WireConstants) -> WireMelt:
    """Return how the melt of a wire of the design file hangs."""
    return WireMelt.of(wire, WIRE_TENSION_N_PER_M.get(name, STEEL_TENSION_N_PER_M))


def ball_length_mm(ball_mm: Values, wire_mm: float) -> Values:
    """Return how far a ball of a diameter stands beyond the solid wire: a sphere, pierced by the wire."""
    radius_mm = ball_mm / 2
    over_mm2 = elementwise(ball_mm).maximum(radius_mm * radius_mm - (wire_mm / 2) ** 2, 0.0)
    length_mm: Values = radius_mm + over_mm2**0.5
    return length_mm


Restart = Literal["starts well", "starts harder", "clip it"]


def restart(ball_mm: float, wire_mm: float) -> Restart:
    """Return what a ball does to the next start."""
    diameters = ball_mm / wire_mm
    if diameters <= STARTS_WELL_DIAMETERS:
        return "starts well"
    return "starts harder" if diameters <= CLIP_DIAMETERS else "clip it"


def clip_words(ball_mm: float, wire_mm: float, share_to_clip: float) -> str:
    """Say whether to clip a wire's end before the next start: by the usual ball, and the share of welds above it."""
    wide, share = f"{ball_mm / wire_mm:.1f} times as wide as the wire", percent_text(share_to_clip)
    if share_to_clip >= MOST_WELDS_SHARE:
        return (
            f"Clip the wire's end before the next start: its ball is {wide} as a rule, above {CLIP_DIAMETERS:g} times "
            f"after {share} of welds, and the next arc would have to melt that before it melts wire."
        )
    starts = "starts as well as a cut end"
    if restart(ball_mm, wire_mm) != "starts well":
        starts = "starts harder than a cut end"
    if share_to_clip >= LEAST_SHARE_TOLD:
        return f"A ball {wide} {starts}; one above {CLIP_DIAMETERS:g} times, after {share} of welds, is clipped off."
    return f"No need to clip the wire's end: a ball {wide} {starts}."
