"""Draws: what a machine not yet measured, and a hand that is no clamp, may do to a burnback case.

Two kinds of not knowing are kept apart. *Machine*: constants of wire, arc and source, the coast. They are the same
from weld to weld, and test welds find them. *Weld*: actuator delays, the distance the gun is held at, where in a
short-circuit cycle the release falls. They differ every time, and no measurement takes them away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from timing.process.arc import ARC_OUT_SPREAD_A, SHORTEST_EXTENSION_MM, OperatingPoint, Plant, settle
from timing.process.arrays import Floats
from timing.process.burnback import Release
from timing.process.case import BurnbackCase, SpreadS

DRAWS = 10_000
"""Draws of a burnback (choice)."""
SEED = 20_260_101
"""Makes draws repeatable (choice)."""
_WIDEST = 3.0
"""Normal draws are cut off at this many standard deviations: nature has tails, a workshop repairs them."""

# Standard deviations from common practice, no source, unless they stand beside the constants themselves.
FEED_SPREAD = 0.03
"""Relative standard deviation of the wire feed speed as read (practice)."""
OPEN_V_SPREAD_MEASURED = 0.02
"""The same of the open-circuit voltage, measured (practice)."""
OPEN_V_SPREAD_ASSUMED = 0.05
"""The same, assumed from the current (practice)."""
SLOPE_SPREAD = 0.20
"""The same of the power source's slope (practice)."""
INDUCTANCE_SPREAD = 0.30
"""The same of the inductance (practice)."""
COAST_SPREAD_MEASURED = 0.10
"""The same of a coast that test welds found (practice)."""
COAST_SPREAD_ASSUMED = 0.30
"""The same of a coast from the survey (practice)."""
HAND_SPREAD_MM = 1.0
"""Standard deviation of the distance with a gun held by hand, in mm (practice)."""


@dataclass(frozen=True)
class Scatter:
    """The draws of a case: plant, release and where each settles, all of shape (draws,)."""

    plant: Plant
    release: Release
    point: OperatingPoint
    causes: dict[str, Floats]
    """What was varied, by name, for telling which cause widens the band."""


def _between(random: np.random.Generator, spread: SpreadS, draws: int) -> Floats:
    """Triangular draws of a delay, in seconds."""
    if spread.max_s <= spread.min_s:
        return np.full(draws, spread.typical_s)
    return random.triangular(spread.min_s, spread.typical_s, spread.max_s, draws)


def scatter(
    case: BurnbackCase,
    draws: int = DRAWS,
    seed: int = SEED,
    *,
    machine: bool = True,
    weld: bool = True,
    hand_mm: float = HAND_SPREAD_MM,
) -> Scatter:
    """Return `draws` draws of a case, the same for the same seed.

    `machine` and `weld` choose which kind of not knowing is drawn; what is not drawn stays at its likely value.
    `hand_mm` is the standard deviation of the contact-tip-to-work distance from weld to weld.
    """
    random = np.random.default_rng(seed)

    def normal(deviation: float, wanted: bool) -> Floats:
        drawn = np.clip(random.standard_normal(draws), -_WIDEST, _WIDEST)
        return drawn * (deviation if wanted else 0.0)

    def factor(deviation: float, wanted: bool) -> Floats:
        return np.exp(normal(deviation, wanted))

    open_spread = OPEN_V_SPREAD_MEASURED if case.open_v_measured else OPEN_V_SPREAD_ASSUMED
    coast_spread = COAST_SPREAD_MEASURED if case.coast_measured else COAST_SPREAD_ASSUMED
    alpha, beta = factor(case.wire.material.alpha_spread, machine), factor(case.wire.material.beta_spread, machine)
    fall, gradient = normal(case.arc.fall_spread_v, machine), factor(case.arc.gradient_spread, machine)
    source = factor(open_spread, machine)
    slope, inductance = factor(SLOPE_SPREAD, machine), factor(INDUCTANCE_SPREAD, machine)
    feed, coast = factor(FEED_SPREAD, machine), factor(coast_spread, machine)
    hand, out = normal(hand_mm, weld), normal(ARC_OUT_SPREAD_A, weld)
    wire_off, contactor_off = _between(random, case.wire_off, draws), _between(random, case.contactor_off, draws)
    cycle = random.uniform(-1.0, 1.0, draws)
    if not weld:
        wire_off = np.full(draws, case.wire_off.typical_s)
        contactor_off = np.full(draws, case.contactor_off.typical_s)
        cycle = np.zeros(draws)

    base = case.plant().repeated(draws)
    least_mm = SHORTEST_EXTENSION_MM + 2 * case.wire.diameter_mm
    plant = Plant(
        feed_mm_s=base.feed_mm_s * feed,
        distance_mm=np.maximum(base.distance_mm + hand, least_mm),
        alpha_mm_per_a_s=base.alpha_mm_per_a_s * alpha,
        beta_per_a2_s=base.beta_per_a2_s * beta,
        wire_ohm_per_mm=base.wire_ohm_per_mm,
        fall_v=base.fall_v + fall,
        arc_ohm=base.arc_ohm,
        gradient_v_per_mm=base.gradient_v_per_mm * gradient,
        open_v=base.open_v * source,
        slope_ohm=base.slope_ohm * slope,
        inductance_h=base.inductance_h * inductance,
        arc_out_a=np.maximum(base.arc_out_a + out, 1.0),
        diameter_mm=base.diameter_mm,
    )
    point = settle(plant)
    shift = np.where(point.dip_v > 0, cycle * point.arc_length_mm(plant), 0.0)
    release = Release(wire_off, np.full(draws, case.coast_s) * coast, contactor_off, case.braked, shift)
    causes = {
        "distance the gun is held at": plant.distance_mm,
        "melting constants": alpha * beta**0.5,
        "arc voltage": fall,
        "arc gradient": gradient,
        "open-circuit voltage": plant.open_v,
        "coast": release.coast_s,
        "wire drive's drop-out": wire_off,
        "contactor's drop-out": contactor_off,
        "short-circuit cycle at the release": shift,
    }
    return Scatter(plant, release, point, causes)
