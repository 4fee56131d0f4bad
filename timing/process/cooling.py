"""Cooling: how long the crater stays molten and the wire's end glows, which is what postflow is for."""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.marks import Mark
from timing.process.errors import require_positive

AMBIENT_C = 25.0
"""Air and work before the weld, in degrees Celsius (choice)."""
ARC_EFFICIENCY = 0.8
"""Share of the arc's power that reaches the work in gas-shielded metal arc welding (published: EN 1011-1:2009, table
1, k = 0.8, seen quoted; DuPont and Marder, Welding Journal 74 (1995) 406-s, 0.84 measured, abstract seen)."""
THIN_BELOW, THICK_ABOVE = 0.6, 0.9
"""Relative plate thickness h sqrt(rho C (T - T0) / H) below which plate counts as thin, above which as thick; the two
formulas meet at 1 and are blended between these (choice)."""
STEFAN_BOLTZMANN = 5.670374419e-14
"""Stefan-Boltzmann constant in W/(mm^2 K^4) (exact: CODATA 2018, to the digits given)."""


@dataclass(frozen=True)
class Metal:
    """What heat does in a metal: means over the hot range."""

    conductivity_w_per_mm_k: float
    heat_capacity_j_per_mm3_k: float
    melting_c: float
    fusion_j_per_mm3: float
    emissivity: float
    dull_c: float
    """Below this the wire's end no longer takes up oxide that spoils the next start (practice)."""
    mark: Mark
    source: str


_STEEL = Metal(
    0.028, 0.0044, 1510.0, 2.0, 0.7, 700.0, "remembered",
    "AWS Welding Handbook, volume 1, heat flow; EN 1993-1-2, 3.4.1.3, has 0.0273 W/(mm K) above 800 degC (seen quoted)",
)  # fmt: skip
_DERIVED = "EN 1993-1-2, annex C: 0.0241 W/(mm K) at 750 degC (seen quoted); the rest after steel"
METALS: dict[str, Metal] = {
    "mild-steel": _STEEL,
    "flux-cored": _STEEL,
    "self-shielded": _STEEL,
    "stainless-steel": Metal(0.024, 0.0045, 1430.0, 2.0, 0.6, 450.0, "derived", _DERIVED),
    "aluminium": Metal(0.20, 0.0029, 650.0, 1.05, 0.2, 400.0, "derived", "data of the element, hot"),
}
"""By wire. Steel is the set of the handbook's worked example."""


def heat_input_j_per_mm(voltage_v: float, current_a: float, travel_mm_s: float) -> float:
    """Net heat in each millimetre of weld: efficiency V I / speed, in J/mm. Raises ProcessError at zero speed."""
    require_positive("the travel speed", travel_mm_s, "mm/s", "give the speed along the seam, about 6 mm/s by hand")
    return ARC_EFFICIENCY * voltage_v * current_a / travel_mm_s


@dataclass(frozen=True)
class Solidification:
    """Time from the end of heating until weld metal is solid, in s, with the limits of thick and thin plate."""

    thick_s: float
    thin_s: float
    relative_thickness: float

    @property
    def likely_s(self) -> float:
        """Thin below a relative thickness of 0.6, thick above 0.9, a geometric mean weighted in between."""
        share = (self.relative_thickness - THIN_BELOW) / (THICK_ABOVE - THIN_BELOW)
        share = min(max(share, 0.0), 1.0)
        return math.exp((1 - share) * math.log(self.thin_s) + share * math.log(self.thick_s))


def seam_solidification(
    heat_j_per_mm: float, plate_mm: float, metal: Metal = _STEEL, ambient_c: float = AMBIENT_C
) -> Solidification:
    """Return the solidification time at the end of a seam.

    Thick plate: L H / (2 pi k rho C (Tm - T0)^2) (as in the AWS Welding Handbook, volume 1). It is the latent heat
    over rho C times the cooling rate at the melting point, which for thin plate gives
    L H^2 / (2 pi k (rho C)^2 h^2 (Tm - T0)^3). Raises ProcessError for a plate or heat of nothing.
    """
    require_positive("the plate thickness", plate_mm, "mm", "measure the plate")
    require_positive("the heat input", heat_j_per_mm, "J/mm", "check voltage, current and travel speed")
    rise_k = metal.melting_c - ambient_c
    capacity = metal.heat_capacity_j_per_mm3_k
    spread = 2 * math.pi * metal.conductivity_w_per_mm_k * capacity
    thick_s = metal.fusion_j_per_mm3 * heat_j_per_mm / (spread * rise_k**2)
    thin_s = metal.fusion_j_per_mm3 * heat_j_per_mm**2 / (spread * capacity * plate_mm**2 * rise_k**3)
    return Solidification(thick_s, thin_s, plate_mm * math.sqrt(capacity * rise_k / heat_j_per_mm))


def spot_solidification_s(
    power_w: float, burning_s: float, stack_mm: float, metal: Metal = _STEEL, ambient_c: float = AMBIENT_C
) -> float:
    """Time after the arc until a spot has fallen to the melting point: a line of heat through a sheet, in s.

    A line source that burns for b leaves T - T0 = P / (4 pi k h) ln(t / (t - b)) at t after it began: the integral
    over b of the instantaneous line of heat P / (4 pi k h t); solved for t - b. Raises ProcessError for
    a spot of nothing.
    """
    require_positive("the thickness of the stack", stack_mm, "mm", "add up the sheets")
    require_positive("the power of the spot", power_w, "W", "check voltage and current")
    require_positive("the spot time", burning_s, "s", "give the time one spot burns")
    rise_k = metal.melting_c - ambient_c
    return burning_s / math.expm1(4 * math.pi * metal.conductivity_w_per_mm_k * stack_mm * rise_k / power_w)


def wire_end_dull_s(
    diameter_mm: float, extension_mm: float, metal: Metal = _STEEL, ambient_c: float = AMBIENT_C
) -> float:
    """Time for the wire's end to cool from melting to `metal.dull_c`, in s.

    The end loses heat along the wire to the contact tip, with the slowest time constant 4 x^2 / (pi^2 a) of a rod
    held cold at one end (Carslaw and Jaeger), and from its surface by radiation and by the gas, 100 W/(m^2 K)
    (practice).
    """
    require_positive("the wire diameter", diameter_mm, "mm", "measure the wire")
    diffusivity = metal.conductivity_w_per_mm_k / metal.heat_capacity_j_per_mm3_k
    along_s = 4 * max(extension_mm, diameter_mm) ** 2 / (math.pi**2 * diffusivity)
    surface = 4 / (diameter_mm * metal.heat_capacity_j_per_mm3_k)
    ambient_k, steps = ambient_c + 273.15, 200
    width_k = (metal.melting_c - metal.dull_c) / steps
    total_s = 0.0
    for number in range(steps):
        rise_k = metal.melting_c - ambient_c - (number + 0.5) * width_k
        radiated = metal.emissivity * STEFAN_BOLTZMANN * ((ambient_k + rise_k) ** 4 - ambient_k**4)
        total_s += width_k / (rise_k / along_s + surface * (radiated + 1e-4 * rise_k))
    return total_s
