"""What melts the wire: constants by material, diameter and polarity, the melting rate, and the current that it needs.

Melting rate of the wire: MR = alpha I + beta L I^2. The first term is the heat of the arc at the wire's end, the
second the resistive heat of the extension L (Lesnewich 1958). The constants are stated for wire of 1.2 mm. The
resistive heat of a length goes as I^2/A and melts a volume, so beta goes with the cross-section as 1/A^2. The arc's
heat melts a volume, so alpha would go as 1/A; what was published asks for a little less, see `FITTED_POWER`. In
short-circuit transfer the arc term counts for the share of the time that the arc burns (timing/process/arc.py): with
that share the published rates agree with each other and with the law far better than without.

Steel is fitted to published melting (tests/reference/melting_data.toml says what was seen, tools/fit_melting.py fits
it, a test compares it). The spread of a machine not yet measured is what those sources disagree by.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from timing.elementwise import Values
from timing.marks import Mark
from timing.process.errors import ProcessError, require_positive

if TYPE_CHECKING:
    from timing.design.process import Polarity

REFERENCE_DIAMETER_MM = 1.2
"""Wire diameter for which the constants are stated (exact: by definition)."""
FITTED_ALPHA_MM_PER_A_S, FITTED_BETA_PER_A2_S = 0.335, 4.97e-5
"""Arc term and resistive term of solid steel wire, electrode positive (derived: fitted to three sources seen quoted, in
tests/reference/melting_data.toml)."""
FITTED_POWER = 0.3
"""Power of the diameter that the arc term gains over the cross-section's: thicker wire wastes less of the arc's heat
(derived: the fit that comes nearest to the shop rule for wires of 0.58 mm to 1.14 mm)."""
DISAGREEMENT = 0.076
"""How far the sources lie from the fit, shop rule included: a relative standard deviation (derived: the same fit)."""
NEGATIVE_ARC = 1.3
"""How much faster the arc's heat melts the wire with the electrode negative. That it is faster was seen published
(Harwig, Cranfield thesis 2003, abstract); no figure was, and the spread of self-shielded wire covers 1.1 to 1.5
(choice)."""


@dataclass(frozen=True)
class WireMaterial:
    """Constants of one wire material, at a diameter of 1.2 mm and the polarity that it runs with."""

    alpha_mm_per_a_s: float
    """Arc term: mm/s of wire for each ampere."""
    beta_per_a2_s: float
    """Resistive term: mm/s of wire for each mm of extension and A^2."""
    arc_power: float
    """Power of the diameter that the arc term gains over the cross-section's."""
    resistivity_ohm_mm: float
    """Mean of the hot extension, from the contact tip to the melting end."""
    density_g_cm3: float
    metal_share: float
    """Share of the wire's circle that is metal: 1 for solid wire, less for tubular wire (sheath and powder)."""
    alpha_spread: float
    """Relative standard deviation of alpha for a machine not yet measured."""
    beta_spread: float
    """Relative standard deviation of beta for a machine not yet measured: twice that of alpha, because published rates
    show the resistive term less."""
    polarity: Polarity
    """How the wire is run, unless a design says otherwise; the constants are stated for it."""
    fitted: bool
    """Whether the constants are fitted to melting rates of this material."""
    mark: Mark
    source: str

    @property
    def weight_share(self) -> float:
        """Mass of the wire over that of a solid one."""
        return _weight_share(self.metal_share)


def _weight_share(metal_share: float) -> float:
    # The powder of a tubular wire weighs about half of what steel in its place would (practice).
    return metal_share + 0.5 * (1 - metal_share)


_SHEATH = 0.8
_TUBE_ALPHA = FITTED_ALPHA_MM_PER_A_S / _weight_share(_SHEATH)
_TUBE_BETA = FITTED_BETA_PER_A2_S / (_SHEATH * _weight_share(_SHEATH))
_TUBE = "steel's, for a sheath of 0.8 of A that carries the current, and 0.9 of its weight to melt"
_FIT = "fitted: tests/reference/melting_data.toml"

# fmt: off
MATERIALS: dict[str, WireMaterial] = {
    "mild-steel": WireMaterial(
        FITTED_ALPHA_MM_PER_A_S, FITTED_BETA_PER_A2_S, FITTED_POWER, 1.0e-3, 7.85, 1.0,
        DISAGREEMENT, 2 * DISAGREEMENT, "electrode-positive", True, "derived", _FIT,
    ),
    # A volume of it takes as much heat as one of plain steel, within 3 % (timing.process.cooling.METALS). It begins
    # with five times the resistivity and ends alike: over the whole extension about a third more.
    "stainless-steel": WireMaterial(
        FITTED_ALPHA_MM_PER_A_S, FITTED_BETA_PER_A2_S * 4 / 3, FITTED_POWER, 1.15e-3, 7.9, 1.0,
        0.12, 0.25, "electrode-positive", False, "derived", "plain steel's; resistive term by resistivity",
    ),
    # The resistive term of aluminium is small enough to be left out in the books; kept here for its resistivity.
    "aluminium": WireMaterial(
        0.75, 4.0e-6, 0.0, 8.0e-5, 2.7, 1.0,
        0.15, 0.50, "electrode-positive", False, "remembered", "Norrish, Advanced Welding Processes",
    ),
    "flux-cored": WireMaterial(
        _TUBE_ALPHA, _TUBE_BETA, FITTED_POWER, 1.5e-3, 7.85, _SHEATH,
        0.15, 0.30, "electrode-positive", False, "derived", _TUBE,
    ),
    # The flux that makes its gas takes up what the electrode's being negative adds: no figure was seen for either.
    "self-shielded": WireMaterial(
        _TUBE_ALPHA, _TUBE_BETA, FITTED_POWER, 1.5e-3, 7.85, _SHEATH,
        0.20, 0.30, "electrode-negative", False, "derived", f"{_TUBE}; stated for electrode negative",
    ),
}
# fmt: on
"""By the names of timing.design.process.Wire."""

DIAMETER_RANGE_MM = (0.58, 1.6)
"""Wires that the data behind the constants cover (derived: tests/reference/melting_data.toml)."""


@dataclass(frozen=True)
class WireConstants:
    """Constants of one wire: a material at a diameter."""

    material: WireMaterial
    diameter_mm: float
    polarity: Polarity
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
        return self.area_mm2 * self.material.weight_share * self.material.density_g_cm3 / 1000


def circle_mm2(diameter_mm: float) -> float:
    """Area of a circle, in mm^2."""
    return math.pi / 4 * diameter_mm**2


def arc_factor(material: WireMaterial, polarity: Polarity) -> float:
    """What the arc term is multiplied with for a polarity: 1 for the one that the wire is run with."""
    if polarity == material.polarity:
        return 1.0
    return NEGATIVE_ARC if polarity == "electrode-negative" else 1 / NEGATIVE_ARC


def wire_constants(wire: str, diameter_mm: float, polarity: Polarity | None = None) -> WireConstants:
    """Return the constants for a wire material of the design file and a diameter in mm.

    Without a polarity the wire runs as it usually does: self-shielded wire negative, all others positive.
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
    polarity = polarity or material.polarity
    arc = arc_factor(material, polarity) * ratio ** (1 - material.arc_power / 2)
    return WireConstants(
        material=material,
        diameter_mm=diameter_mm,
        polarity=polarity,
        alpha_mm_per_a_s=material.alpha_mm_per_a_s * arc,
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
