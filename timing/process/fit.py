"""Fit to the machine: coast and contactor drop-out from test welds, with their limits.

The wire drive's drop-out and the coast act nearly alike, and so do the coast and the contactor's drop-out once the
wire has stopped before the cut: then a longer coast and an earlier cut leave the same wire. So the fit is
not a single number but the whole region that the test welds allow, computed on a grid of both unknowns (every grid
point is a draw of the burnback computation), with limits by profile likelihood, and the next weld is the one
whose outcome the region still disagrees about most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from timing.elementwise import Floats
from timing.formatting import in_ms
from timing.process.arc import OperatingPoint
from timing.process.burnback import FROZEN, FUSED, Release, run_burnback
from timing.process.case import SEED, BurnbackCase, scatter
from timing.process.errors import ProcessError
from timing.process.welds import OUTCOME_WORDS, TestWeld

RULE_MM = 0.5
"""Standard deviation of an extension read with a steel rule (practice)."""
BRACED_MM = 0.3
"""Standard deviation of the distance with the gun rested on a block, as test welds should be made (practice)."""
COAST_RANGE_S = (0.0, 0.4)
"""Coasts that a fit looks among (choice)."""
CONTACTOR_RANGE_S = (0.0, 0.12)
"""Contactor drop-outs that a fit looks among (choice)."""
GRID = 61
"""Points for each unknown of two (choice)."""
HELD_GRID = 401
"""Points where one unknown is held (choice)."""
LIMIT_CHI2 = 3.841
"""Change of chi^2 that bounds 95 % limits of one parameter (exact: chi^2 distribution, 1 degree of freedom)."""
Z_95 = 1.96
"""95 % limits of a normal distribution, in standard deviations (exact: to the digits given)."""
MEASURED_SHARE, MEASURED_LEAST_S = 0.15, 0.003
"""The coast counts as measured when its standard deviation is within this share of it, or within 3 ms (choice: what
the narrow band of a measured coast can carry)."""
APART_CORRELATION = 0.9
"""Above this correlation of the two, the welds do not tell them apart (choice)."""
MISFIT_CHI2_PER_WELD = 4.0
"""A fit worse than this for each weld is reported as a misfit (choice: two standard deviations)."""


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
class NextWeld:
    """The test weld to make next."""

    burnback_s: float
    predicted_mm: float
    disagreement_mm: float
    """Standard deviation of its wire end over what the welds so far allow."""
    worth_making: bool
    """False where it would teach less than the reading error of one weld."""


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
    """False where the welds contradict the model or each other."""
    next_weld: NextWeld
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
        """Values for the design file, by dotted key; what the welds do not bound is left out."""
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


def _check(case: BurnbackCase, welds: Sequence[TestWeld]) -> None:
    if len(welds) < 2:
        raise ProcessError(
            f"{len(welds)} test weld{'s' if len(welds) != 1 else ''}",
            "two at least, better four, with burnback settings well apart",
            "weld on scrap with two settings and measure the extension left with a rule",
        )
    for number, weld in enumerate(welds, 1):
        if not 0 <= weld.burnback_s <= 60:
            raise ProcessError(
                f"test weld {number}: burnback {weld.burnback_s:g} s",
                "0 s to 60 s",
                "give the burnback time that was set",
            )
        if weld.extension_mm is None:
            raise ProcessError(
                f"test weld {number}: {OUTCOME_WORDS[weld.outcome]}", "a wire that came free", "leave it out"
            )
        if not 0 < weld.extension_mm < case.distance_mm + 10:
            raise ProcessError(
                f"test weld {number}: {weld.extension_mm:g} mm extension left at a distance of {case.distance_mm:g} mm",
                f"above 0 mm and below {case.distance_mm + 10:g} mm",
                "measure from the contact tip to the wire's end; leave out welds that fused to the tip",
            )


@dataclass(frozen=True)
class _Region:
    """The grid of both unknowns: axes, and chi^2 of shape (coasts, contactors)."""

    coast_s: Floats
    contactor_s: Floats
    chi2: Floats

    def weights(self) -> Floats:
        likely = np.exp(-(self.chi2 - self.chi2.min()) / 2)
        weights: Floats = likely / likely.sum()
        return weights

    def flat(self) -> tuple[Floats, Floats]:
        coast, contactor = np.meshgrid(self.coast_s, self.contactor_s, indexing="ij")
        return coast.ravel(), contactor.ravel()


def _predict(case: BurnbackCase, coast_s: Floats, contactor_s: Floats, settings_s: Floats) -> tuple[Floats, Floats]:
    """Extension and outcome codes for pairs of unknowns, shape (settings, pairs)."""
    draws = coast_s.shape[0]
    release = Release(np.full(draws, case.wire_off.typical_s), coast_s, contactor_s, case.braked, np.zeros(draws))
    plant = case.plant().repeated(draws)
    point = case.operating_point()
    point = OperatingPoint(**{name: np.full(draws, value) for name, value in vars(point).items()})
    run = run_burnback(plant, point, release, case.end, settings_s)
    return run.extension_mm, run.outcome.astype(np.float64)


def _region(
    case: BurnbackCase, welds: Sequence[TestWeld], deviation_mm: Floats, coast_s: Floats, contactor_s: Floats
) -> _Region:
    order = np.argsort([weld.burnback_s for weld in welds], kind="stable")
    settings = np.array([welds[i].burnback_s for i in order])
    measured = np.array([welds[i].extension_mm or 0.0 for i in order])
    region = _Region(coast_s, contactor_s, np.zeros((coast_s.size, contactor_s.size)))
    predicted, _ = _predict(case, *region.flat(), settings)
    off = (predicted - measured[:, None]) / deviation_mm[order][:, None]
    return replace(region, chi2=(off**2).sum(axis=0).reshape(region.chi2.shape))


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


def _next_weld(case: BurnbackCase, region: _Region, reading_mm: float) -> NextWeld:
    """Among settings that will hardly freeze or fuse, the one the region disagrees about most."""
    weights = region.weights().ravel()
    keep = np.flatnonzero(weights > weights.max() * 1e-4)
    weights = weights[keep] / weights[keep].sum()
    coast, contactor = region.flat()
    settings = np.concatenate([np.arange(0.0, 0.2, 0.01), np.arange(0.2, 0.61, 0.05)])
    extension, outcome = _predict(case, coast[keep], contactor[keep], settings)
    mean = extension @ weights
    deviation = np.sqrt(np.maximum(((extension - mean[:, None]) ** 2) @ weights, 0.0))
    lost = ((outcome == FROZEN) | (outcome == FUSED)).astype(np.float64) @ weights
    safe = np.where(lost <= max(0.2, float(lost.min())), deviation, -1.0)
    best = int(safe.argmax())
    worth = bool(deviation[best] > reading_mm / 2)
    return NextWeld(float(settings[best]), float(mean[best]), float(deviation[best]), worth)


def _limits_text(limits: FitLimits) -> str:
    if limits.low is None and limits.high is None:
        return "no limits from these welds"
    if limits.high is None:
        return f"{in_ms(limits.low or 0.0)} or more"
    if limits.low is None:
        return f"{in_ms(limits.high)} or less"
    return f"{in_ms(limits.low)} to {in_ms(limits.high)}"


def _sentences(fit: Fit) -> tuple[str, ...]:
    parts = [
        f"Coast {in_ms(fit.coast_s)} (95 %: {_limits_text(fit.coast_limits_s)}), contactor drop-out "
        f"{in_ms(fit.contactor_off_s)} (95 %: {_limits_text(fit.contactor_off_limits_s)})."
    ]
    if not fit.fits_well:
        parts.append("The welds do not agree with each other or with the model: check settings and measurements.")
    if not fit.told_apart:
        parts.append(
            "These welds do not tell the two apart: a longer coast with a later drop-out fits as well. With the "
            f"contactor's drop-out left as the design has it, the coast is {in_ms(fit.coast_held_s)} "
            f"(95 %: {_limits_text(fit.coast_held_limits_s)}); that serves near the settings welded."
        )
    if not fit.coast_measured:
        parts.append("The coast is not yet bounded closely enough to count as measured.")
    weld = fit.next_weld
    if weld.worth_making:
        parts.append(
            f"Next test weld: burnback {in_ms(weld.burnback_s)}; expect {weld.predicted_mm:.1f} mm, and the welds so "
            f"far leave {weld.disagreement_mm:.1f} mm open."
        )
    elif fit.told_apart:
        parts.append("Another test weld would teach little against its own reading error.")
    else:
        parts.append(
            "No further weld that leaves a free wire end would tell them apart: measure the contactor's drop-out, or "
            "leave it at that."
        )
    return tuple(parts)


def fit_machine(
    case: BurnbackCase, welds: Sequence[TestWeld], rule_mm: float = RULE_MM, hand_mm: float = BRACED_MM
) -> Fit:
    """Find coast and contactor drop-out from test welds made at the case's wire feed speed and distance.

    `rule_mm` is the standard deviation of the measurement, `hand_mm` that of the distance from weld to weld.
    The figures take up what the model gets wrong, so they serve this model first. Raises
    ProcessError for fewer than two welds and for extensions that cannot be.
    """
    _check(case, welds)
    if not rule_mm > 0:
        raise ProcessError(f"a rule that errs by {rule_mm:g} mm", "above 0 mm, for example 0.5 mm", "leave it out")
    order = np.argsort([weld.burnback_s for weld in welds], kind="stable")
    settings = np.array([welds[i].burnback_s for i in order])
    drawn = scatter(case, 400, SEED, machine=False, hand_mm=hand_mm)
    by_order = run_burnback(drawn.plant, drawn.point, drawn.release, case.end, settings).extension_mm.std(axis=1)
    weld_to_weld = np.empty(len(welds))
    weld_to_weld[order] = by_order
    deviation = np.hypot(rule_mm, weld_to_weld)

    coarse = _region(case, welds, deviation, np.linspace(*COAST_RANGE_S, GRID), np.linspace(*CONTACTOR_RANGE_S, GRID))
    region = _region(case, welds, deviation, *_narrowed(coarse))
    coast_at, contactor_at = np.unravel_index(int(region.chi2.argmin()), region.chi2.shape)
    coast, contactor = float(region.coast_s[coast_at]), float(region.contactor_s[contactor_at])
    at_best, _ = _predict(case, np.array([coast]), np.array([contactor]), settings)
    predicted = np.empty(len(welds))
    predicted[order] = at_best[:, 0]
    coast_limits = _limits(region.coast_s, region.chi2.min(axis=1), COAST_RANGE_S)
    contactor_limits = _limits(region.contactor_s, region.chi2.min(axis=0), CONTACTOR_RANGE_S)
    correlation = _correlation(region)
    apart = coast_limits.closed and contactor_limits.closed and abs(correlation) < APART_CORRELATION
    chi2 = float(region.chi2.min())
    held_contactor = np.array([case.contactor_off.typical_s])
    held = _region(case, welds, deviation, np.linspace(*COAST_RANGE_S, HELD_GRID), held_contactor)
    held_profile = held.chi2[:, 0]
    fit = Fit(
        coast_s=coast,
        coast_limits_s=coast_limits,
        contactor_off_s=contactor,
        contactor_off_limits_s=contactor_limits,
        correlation=correlation,
        told_apart=apart,
        coast_held_s=float(held.coast_s[int(held_profile.argmin())]),
        coast_held_limits_s=_limits(held.coast_s, held_profile, COAST_RANGE_S),
        weld_deviation_mm=deviation,
        predicted_mm=predicted,
        chi2=chi2,
        fits_well=chi2 <= MISFIT_CHI2_PER_WELD * max(len(welds) - 2, 1),
        next_weld=_next_weld(case, region, float(np.hypot(rule_mm, weld_to_weld.min()))),
        sentences=(),
    )
    return replace(fit, sentences=_sentences(fit))
