"""Fit to the machine: coast and contactor drop-out from test welds, with their limits, and the burnback that follows.

The wire drive's drop-out and the coast act nearly alike, and so do the coast and the contactor's drop-out once the
wire has stopped before the cut: then a longer coast and an earlier cut leave the same wire. So the fit is
not a single number but the whole region that the test welds allow, computed on a grid of both unknowns (every grid
point is a draw of the burnback computation), with limits by profile likelihood. What the design says of both
beforehand counts as well, so that a single weld already narrows it. The setting, and the weld to make next, are
found over the whole region.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from timing.design.times import LONGEST_BURNBACK_US
from timing.design.units import format_duration
from timing.elementwise import Floats
from timing.formatting import in_ms
from timing.process.burnback import LONGEST_STEP_S, QUICK_STEP_S
from timing.process.case import BurnbackCase
from timing.process.errors import ProcessError
from timing.process.evidence import Prior, WeldEvidence
from timing.process.fit_words import fit_sentences
from timing.process.settable import Settable
from timing.process.settling import (
    ENOUGH_FREE,
    Machines,
    NextWeld,
    Settled,
    beyond_dial,
    next_weld,
    setting_shares,
    settled,
)
from timing.process.welds import SETTING_KEY, TestWeld, WeldOutcome

RULE_MM = 0.5
"""Standard deviation of an extension read with a steel rule (practice)."""
BRACED_MM = 0.3
"""Standard deviation of the distance with the gun rested on a block, as test welds should be made (practice)."""
MODEL_MM = 0.7
"""Standard deviation of what the model gets wrong of wire ends from one setting to another, until wire, arc and source
are fitted as well (measured: simulated machines whose constants are off as the design's spreads have it)."""
COAST_RANGE_S = (0.0, 0.4)
"""Coasts that a fit looks among, up to COAST_TIMES the design's where that is longer (choice)."""
COAST_TIMES = 3.0
"""Longest coast looked for, over the design's (choice)."""
CONTACTOR_RANGE_S = (0.0, 0.12)
"""Contactor drop-outs that a fit looks among (choice)."""
GRID = 61
"""Points for each unknown of two (choice)."""
HELD_GRID = 401
"""Points where one unknown is held (choice)."""
LIMIT_CHI2 = 3.841
"""Change of chi^2 that bounds 95 % limits of one parameter (exact: chi^2 distribution, 1 degree of freedom)."""
REGION_CHI2 = 5.991
"""The same for both parameters at once (exact: chi^2 distribution, 2 degrees of freedom)."""
Z_95 = 1.96
"""95 % limits of a normal distribution, in standard deviations (exact: to the digits given)."""
MEASURED_SHARE, MEASURED_LEAST_S = 0.15, 0.003
"""The coast counts as measured when its standard deviation is within this share of it, or within 3 ms (choice: what
the narrow band of a measured coast can carry)."""
APART_CORRELATION = 0.9
"""Above this correlation of the two, the welds do not tell them apart (choice)."""
APART_SHARE = 0.5
"""The welds tell of the drop-out when they narrow what the design says of it to this share (choice)."""
MISFIT_CHI2_PER_WELD = 4.0
"""A fit worse than this for each weld is reported as a misfit: it takes more than another coast or contactor, and
neither is written (choice: two standard deviations)."""
CONTRADICTION_CHI2_PER_WELD = 16.0
"""Welds further off than this are mistaken: nothing is written at all (choice: four standard deviations)."""
FAR_MM = 10.0
"""No wire end is left further beyond the work than this (choice)."""
_LEAST_WEIGHT = 1e-4
"""Machines less likely than this share of the likeliest are left out of what is to be expected."""


@dataclass(frozen=True)
class FitLimits:
    """95 % limits; None where the welds set no bound within the range searched."""

    low: float | None
    high: float | None

    @property
    def closed(self) -> bool:
        """True where both ends are known."""
        return self.low is not None and self.high is not None

    @property
    def deviation_s(self) -> float:
        """Standard deviation that goes with them: a quarter of their distance; infinite where an end is open."""
        return float("inf") if self.low is None or self.high is None else (self.high - self.low) / (2 * Z_95)


@dataclass(frozen=True)
class Fit:
    """What the test welds say of the machine."""

    coast_s: float
    coast_limits_s: FitLimits
    contactor_off_s: float
    """Typical drop-out of the contactor, from command to no voltage at the arc."""
    contactor_off_limits_s: FitLimits
    correlation: float
    """Of the two over the region allowed, -1 to 1."""
    told_apart: bool
    """True where both have limits and are not merely known in combination."""
    coast_held_s: float
    """Coast that fits best when the contactor's drop-out is taken as the design has it."""
    coast_held_limits_s: FitLimits
    weld_deviation_mm: Floats
    """Standard deviation expected of each weld: rule and weld-to-weld scatter together."""
    predicted_mm: Floats
    """Extension of each test weld by the fit, in the order given."""
    chi2: float
    fits_well: bool
    """False where the welds are not what the model makes of any coast and drop-out."""
    contradicts: bool
    """True where the welds are so far off that one at least must be mistaken."""
    misfits: Floats
    """How far each weld is from the fit, as WeldEvidence.misfits."""
    settled: Settled
    """The burnback setting to use."""
    next_weld: NextWeld | None
    """The test weld to make next; None where there were enough, or another would tell nothing."""
    sentences: tuple[str, ...]
    """The result in plain words."""

    @property
    def sentence(self) -> str:
        """All sentences in one."""
        return " ".join(self.sentences)

    @property
    def coast_measured(self) -> bool:
        """Whether the welds bound the coast closely enough to call it measured."""
        coast_s = self.coast_s if self.told_apart else self.coast_held_s
        limits = self.coast_limits_s if self.told_apart else self.coast_held_limits_s
        return limits.deviation_s <= max(MEASURED_SHARE * coast_s, MEASURED_LEAST_S)

    def applied(self, case: BurnbackCase) -> BurnbackCase:
        """The case with the fitted figures; the contactor's spread keeps its width.

        Where the welds do not tell the two apart, the contactor stays as it was and the coast is the one that goes
        with it: half of a pair would be worse than neither.
        """
        if not self.told_apart:
            return replace(case, coast_s=self.coast_held_s, coast_measured=self.coast_measured)
        return replace(
            case,
            coast_s=self.coast_s,
            coast_measured=self.coast_measured,
            contactor_off=case.contactor_off.moved_to(self.contactor_off_s),
        )

    def design_values(self, case: BurnbackCase) -> dict[str, str | dict[str, str] | bool]:
        """Values for the design file, by dotted key; what the welds do not bound is left out.

        Where they do not fit the model, the setting alone is left, if they prove it.
        """
        values: dict[str, str | dict[str, str] | bool] = {}
        if self.fits_well:
            values |= self._machine_values(case)
        if self.settled.enough or (self.fits_well and self.settled.worst_free >= ENOUGH_FREE):
            values[SETTING_KEY] = format_duration(round(self.settled.mark.time_s * 1e6))
        return {} if self.contradicts else values

    def _machine_values(self, case: BurnbackCase) -> dict[str, str | dict[str, str] | bool]:
        fitted = self.applied(case)
        values: dict[str, str | dict[str, str] | bool] = {}
        if self.told_apart or self.coast_held_limits_s.closed:
            values["feeder.wire_drive.coast"] = in_ms(fitted.coast_s)
            values["feeder.wire_drive.coast_measured"] = fitted.coast_measured
        if self.told_apart:
            # The design states the delay without what the suppression adds.
            spread = fitted.contactor_off.moved_to(fitted.contactor_off.typical_s - case.contactor_later_s)
            values["feeder.contactor.off_delay"] = {
                "min": in_ms(spread.min_s),
                "typical": in_ms(spread.typical_s),
                "max": in_ms(spread.max_s),
            }
        return values


def check_welds(case: BurnbackCase, welds: Sequence[TestWeld]) -> None:
    """Raise ProcessError for a weld that cannot be, by its number from 1."""
    for number, weld in enumerate(welds, 1):
        if not 0 <= weld.burnback_s <= LONGEST_BURNBACK_US / 1e6:
            raise ProcessError(
                f"test weld {number}: burnback {weld.burnback_s:g} s",
                f"0 s to {LONGEST_BURNBACK_US / 1e6:g} s",
                "give the burnback time that was set",
            )
        if weld.outcome is not WeldOutcome.FREE:
            continue
        distance_mm = weld.distance_mm or case.distance_mm
        if not 0 < (weld.extension_mm or 0.0) < distance_mm + FAR_MM:
            raise ProcessError(
                f"test weld {number}: {weld.extension_mm or 0.0:g} mm extension left at a distance of "
                f"{distance_mm:g} mm",
                f"above 0 mm and below {distance_mm + FAR_MM:g} mm",
                "measure from the contact tip to the wire's end, before the wire is cut; a gun held further off is "
                "told as '15 mm away'",
            )


@dataclass(frozen=True)
class _Region:
    """The grid of both unknowns: axes, and chi^2 of welds and design together, of shape (coasts, contactors)."""

    coast_s: Floats
    contactor_s: Floats
    chi2: Floats

    @property
    def best(self) -> tuple[int, int]:
        """Place of the likeliest pair."""
        coast, contactor = np.unravel_index(int(self.chi2.argmin()), self.chi2.shape)
        return int(coast), int(contactor)

    def weights(self) -> Floats:
        likely = np.exp(-(self.chi2 - self.chi2.min()) / 2)
        weights: Floats = likely / likely.sum()
        return weights

    def flat(self) -> tuple[Floats, Floats]:
        coast, contactor = np.meshgrid(self.coast_s, self.contactor_s, indexing="ij")
        return coast.ravel(), contactor.ravel()

    def machines(self) -> Machines:
        """The pairs that are left, every other one of each axis: settings need no finer grid."""
        thin = _Region(self.coast_s[::2], self.contactor_s[::2], self.chi2[::2, ::2])
        weights, chi2 = thin.weights().ravel(), thin.chi2.ravel()
        allowed = chi2 - chi2.min() <= REGION_CHI2
        keep = allowed | (weights > weights.max() * _LEAST_WEIGHT)
        coast, contactor = thin.flat()
        return Machines(coast[keep], contactor[keep], weights[keep] / weights[keep].sum(), allowed[keep])


def _region(
    evidence: WeldEvidence, prior: Prior, coast_s: Floats, contactor_s: Floats, step_s: float = LONGEST_STEP_S
) -> _Region:
    region = _Region(coast_s, contactor_s, np.zeros((coast_s.size, contactor_s.size)))
    flat = region.flat()
    chi2 = evidence.misfits(*flat, step_s).sum(axis=0) + prior.misfit(*flat)
    return replace(region, chi2=chi2.reshape(region.chi2.shape))


def _limits(axis: Floats, profile: Floats, outer: tuple[float, float]) -> FitLimits:
    """Limits of one unknown from its profile chi^2: where it crosses LIMIT_CHI2 above the least, interpolated."""
    above = profile - profile.min() - LIMIT_CHI2
    best = int(profile.argmin())

    def crossing(step: int) -> float | None:
        at = best
        while 0 <= at + step < axis.size and above[at] <= 0:
            at += step
        if above[at] <= 0:
            # The axis ends inside the region. At zero that is a bound of nature, elsewhere none at all.
            return 0.0 if step < 0 and axis[at] <= outer[0] else None
        inner = at - step
        share = above[inner] / (above[inner] - above[at])
        return float(axis[inner] + share * (axis[at] - axis[inner]))

    return FitLimits(crossing(-1), crossing(+1))


def _narrowed(region: _Region) -> tuple[Floats, Floats]:
    """Axes that hold the region the welds allow, with a margin."""
    inside = region.chi2 - region.chi2.min() <= 3 * LIMIT_CHI2

    def axis(values: Floats, flags: np.ndarray) -> Floats:
        where = np.flatnonzero(flags)
        low, high = max(int(where[0]) - 1, 0), min(int(where[-1]) + 1, values.size - 1)
        return np.linspace(values[low], values[high], GRID)

    return axis(region.coast_s, inside.any(axis=1)), axis(region.contactor_s, inside.any(axis=0))


def _correlation(region: _Region) -> float:
    weights = region.weights().ravel()
    coast, contactor = region.flat()
    coast = coast - (weights * coast).sum()
    contactor = contactor - (weights * contactor).sum()
    both = (weights * coast * contactor).sum()
    spread = ((weights * coast**2).sum() * (weights * contactor**2).sum()) ** 0.5
    return float(both / spread) if spread > 0 else 0.0


def fit_machine(
    case: BurnbackCase,
    welds: Sequence[TestWeld],
    settable: Settable | None = None,
    rule_mm: float = RULE_MM,
    hand_mm: float = BRACED_MM,
    model_mm: float = MODEL_MM,
) -> Fit:
    """Find coast and contactor drop-out from test welds, the setting that follows, and the weld to make next.

    settable: what burnback can be set to; None: any time. `rule_mm` is the standard deviation of the measurement,
    `hand_mm` that of the distance from weld to weld, `model_mm` that of the model from setting to setting. The figures
    take up what the model gets wrong, so they serve this model first. Without a weld it says where to begin. Raises
    ProcessError for extensions that cannot be.
    """
    check_welds(case, welds)
    if not rule_mm > 0:
        raise ProcessError(f"a rule that errs by {rule_mm:g} mm", "above 0 mm, for example 0.5 mm", "leave it out")
    evidence, prior = WeldEvidence(case, tuple(welds), rule_mm, hand_mm, model_mm), Prior.of(case)
    coasts = (COAST_RANGE_S[0], max(COAST_RANGE_S[1], COAST_TIMES * case.coast_s))
    contactors = (CONTACTOR_RANGE_S[0], max(CONTACTOR_RANGE_S[1], COAST_TIMES * case.contactor_off.typical_s))
    coarse = _region(evidence, prior, np.linspace(*coasts, GRID), np.linspace(*contactors, GRID), QUICK_STEP_S)
    region = _region(evidence, prior, *_narrowed(coarse))
    coast_at, contactor_at = region.best
    coast, contactor = float(region.coast_s[coast_at]), float(region.contactor_s[contactor_at])
    misfits = evidence.misfits(np.array([coast]), np.array([contactor]))[:, 0]
    contactor_limits = _limits(region.contactor_s, region.chi2.min(axis=0), contactors)
    correlation = _correlation(region)
    held = _region(evidence, prior, np.linspace(*coasts, HELD_GRID), np.array([case.contactor_off.typical_s]))
    held_profile = held.chi2[:, 0]
    likeliest = replace(case, coast_s=coast, contactor_off=case.contactor_off.moved_to(contactor))
    shares = setting_shares(likeliest, region.machines(), settable or Settable.fixed(), evidence)
    found = settled(shares, welds, case.feed_mm_s, beyond_dial(likeliest, shares, evidence))
    fit = Fit(
        coast_s=coast,
        coast_limits_s=_limits(region.coast_s, region.chi2.min(axis=1), coasts),
        contactor_off_s=contactor,
        contactor_off_limits_s=contactor_limits,
        correlation=correlation,
        told_apart=contactor_limits.deviation_s <= APART_SHARE * prior.contactor_deviation_s
        and abs(correlation) < APART_CORRELATION,
        coast_held_s=float(held.coast_s[int(held_profile.argmin())]),
        coast_held_limits_s=_limits(held.coast_s, held_profile, coasts),
        weld_deviation_mm=evidence.deviation_mm,
        predicted_mm=evidence.predicted_mm(coast, contactor),
        chi2=float(misfits.sum()),
        fits_well=bool(misfits.sum() <= MISFIT_CHI2_PER_WELD * max(len(welds) - 2, 1)),
        contradicts=evidence.contradictory or bool(misfits.sum() > CONTRADICTION_CHI2_PER_WELD * max(len(welds), 1)),
        misfits=misfits,
        settled=found,
        next_weld=None,
        sentences=(),
    )
    if not found.enough or fit.contradicts:
        weld = next_weld(shares, any(weld.outcome is WeldOutcome.FREE for weld in welds), rule_mm)
        fit = replace(fit, next_weld=weld if weld.worth_making or not found.proved else None)
    return replace(fit, sentences=fit_sentences(fit, welds))
