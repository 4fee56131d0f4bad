"""What melts the wire: constants by material and diameter, the melting rate, and the current that it needs.

Melting rate of the wire: MR = alpha I + beta L I^2, with constants by wire material and diameter. The first term is
the heat of the arc at the wire's end, the second the resistive heat of the extension L (Lesnewich 1958; in this form
in Norrish, Advanced Welding Processes). The constants are stated for wire of 1.2 mm and are carried to other diameters
with the cross-section A: the arc's heat melts a volume, so alpha goes as 1/A; the resistive heat of a length goes as
I^2/A and melts a volume again, so beta goes as 1/A^2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.elementwise import Values
from timing.marks import Mark
from timing.process.errors import ProcessError, require_positive

REFERENCE_DIAMETER_MM = 1.2
"""Wire diameter for which the constants are stated (exact: by definition)."""


@dataclass(frozen=True)
class WireMaterial:
    """Constants of one wire material, at a diameter of 1.2 mm."""

    alpha_mm_per_a_s: float
    """Arc term: mm/s of wire for each ampere."""
    beta_per_a2_s: float
    """Resistive term: mm/s of wire for each mm of extension and A^2."""
    resistivity_ohm_mm: float
    """Mean of the hot extension, from the contact tip to the melting end."""
    density_g_cm3: float
    metal_share: float
    """Share of the wire's circle that is metal: 1 for solid wire, less for tubular wire (sheath and powder)."""
    alpha_spread: float
    """Relative standard deviation of alpha for a machine not yet measured."""
    beta_spread: float
    """Relative standard deviation of beta for a machine not yet measured."""
    mark: Mark
    source: str


_NORRISH = "Norrish, Advanced Welding Processes"

MATERIALS: dict[str, WireMaterial] = {
    "mild-steel": WireMaterial(0.30, 5.0e-5, 1.0e-3, 7.85, 1.0, 0.08, 0.15, "remembered", _NORRISH),
    # Nickel-chromium steel begins with five times the resistivity of plain steel and ends alike: over the whole
    # extension about a third more, hence the resistive term.
    "stainless-steel": WireMaterial(0.29, 6.7e-5, 1.15e-3, 7.9, 1.0, 0.12, 0.25, "derived", _NORRISH),
    # The resistive term of aluminium is small enough to be left out in the books; kept here for its resistivity.
    "aluminium": WireMaterial(0.75, 4.0e-6, 8.0e-5, 2.7, 1.0, 0.15, 0.50, "remembered", _NORRISH),
    # Tubular wire: the current runs in the sheath, so it melts faster for the same current.
    "flux-cored": WireMaterial(0.33, 8.0e-5, 1.5e-3, 7.85, 0.80, 0.15, 0.30, "derived", "steel, sheath of 0.8 of A"),
    "self-shielded": WireMaterial(0.30, 8.0e-5, 1.5e-3, 7.85, 0.80, 0.20, 0.30, "derived", "steel, sheath of 0.8 of A"),
}
"""By the names of timing.design.process.Wire."""

DIAMETER_RANGE_MM = (0.5, 1.7)
"""Where scaling with the cross-section was compared with shop practice; beyond it they are a guess (choice)."""


@dataclass(frozen=True)
class WireConstants:
    """Constants of one wire: a material at a diameter."""

    material: WireMaterial
    diameter_mm: float
    alpha_mm_per_a_s: float
    beta_per_a2_s: float
    resistance_ohm_per_mm: float

    @property
    def area_mm2(self) -> float:
        """Cross-section of the wire's circle."""
        return circle_mm2(self.diameter_mm)

    @property
    def grams_per_mm(self) -> float:
        """Mass of a millimetre of wire."""
        share = self.material.metal_share
        # The powder of a tubular wire weighs about half of what steel in its place would (practice).
        return self.area_mm2 * (share + 0.5 * (1 - share)) * self.material.density_g_cm3 / 1000


def circle_mm2(diameter_mm: float) -> float:
    """Area of a circle, in mm^2."""
    return math.pi / 4 * diameter_mm**2


def wire_constants(wire: str, diameter_mm: float) -> WireConstants:
    """Return the constants for a wire material of the design file and a diameter in mm.

    Raises ProcessError for a material or diameter for which there are none.
    """
    material = MATERIALS.get(wire)
    if material is None:
        raise ProcessError(f"no melting constants for wire {wire!r}", ", ".join(MATERIALS), "choose the nearest one")
    require_positive("the wire diameter", diameter_mm, "mm", "measure the wire with a micrometer")
    low, high = DIAMETER_RANGE_MM
    if not low <= diameter_mm <= high:
        raise ProcessError(
            f"the wire diameter is {diameter_mm:g} mm",
            f"{low:g} mm to {high:g} mm: the melting constants hold there",
            "set burnback by test welds alone, or choose another wire",
        )
    ratio = (REFERENCE_DIAMETER_MM / diameter_mm) ** 2
    metal_mm2 = circle_mm2(diameter_mm) * material.metal_share
    return WireConstants(
        material=material,
        diameter_mm=diameter_mm,
        alpha_mm_per_a_s=material.alpha_mm_per_a_s * ratio,
        beta_per_a2_s=material.beta_per_a2_s * ratio**2,
        resistance_ohm_per_mm=material.resistivity_ohm_mm / metal_mm2,
    )


def melting_rate_mm_s(current_a: Values, extension_mm: Values, alpha: Values, beta: Values) -> Values:
    """Length of wire melted in a second: alpha I + beta L I^2 (Lesnewich 1958), in mm/s."""
    return (alpha + beta * extension_mm * current_a) * current_a


def balance_current_a(feed_mm_s: Values, extension_mm: Values, alpha: Values, beta: Values) -> Values:
    """Current at which the wire melts as fast as it is fed, in A.

    The positive root of beta L I^2 + alpha I = feed, in the form that also holds for beta = 0.
    """
    root: Values = (alpha**2 + 4 * beta * extension_mm * feed_mm_s) ** 0.5
    return 2 * feed_mm_s / (alpha + root)
