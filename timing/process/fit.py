"""Fit to the machine: what test welds leave of all that nobody measured, and the burnback that follows.

Test welds tell little of any one figure. A longer coast with a later drop-out leaves the same wire, and so do a quicker
melting wire, a higher voltage, a larger ball under the rule. So the fit is not a few numbers but all machines that the
welds allow, each as likely as it is (`posterior.py`): limits are what 95 % of them have, and the setting, the weld to
make next and the band of the extension left are found over all of them. What the design says of a machine beforehand
counts as well, so that a single weld already narrows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from timing.design.times import LONGEST_BURNBACK_US
from timing.design.units import format_duration
from timing.elementwise import Floats
from timing.formatting import in_ms
from timing.process.case import BurnbackCase
from timing.process.errors import ProcessError
from timing.process.evidence import Scatters, WeldEvidence
from timing.process.extension_band import band_settings_s, extension_band
from timing.process.fit_words import fit_sentences
from timing.process.machines import Machines, mean_deviation_s
from timing.process.measured_band import ExtensionBand
from timing.process.posterior import Weighted, posterior
from timing.process.settable import Settable
from timing.process.settling import (
    ENOUGH_FREE,
    MachinesLeft,
    NextWeld,
    Settled,
    beyond_dial,
    higher_voltage_v,
    next_weld,
    setting_shares,
    settled,
)
from timing.process.welds import RULE_MM, SETTING_KEY, TestWeld, WeldOutcome

BRACED_MM = 0.3
"""Standard deviation of the distance with the gun rested on a block, as test welds should be made (practice)."""
LEFT_MACHINES = 1024
"""Machines by which settings are judged (choice)."""
LIMIT_SHARES = (0.025, 0.5, 0.975)
"""95 % limits, and the middle between them (exact: by definition)."""
HELD_GRID = 401
"""Coasts looked at with everything else as the design has it (choice)."""
MEASURED_SHARE, MEASURED_LEAST_S = 0.15, 0.003
"""The coast counts as measured when its standard deviation is within this share of it, or within 3 ms (choice: what
the narrow band of a measured coast can carry)."""
APART_CORRELATION = 0.9
"""Above this correlation of the two, the welds do not tell them apart (choice)."""
APART_SHARE = 0.5
"""The welds tell of the drop-out when they narrow what the design says of it to this share (choice)."""
TOLD_SHARE = 0.75
"""They tell of the coast when they narrow what is known of it, by ratio, to this share (choice)."""
MISFIT_CHI2_PER_WELD = 4.0
"""A fit worse than this for each weld is reported as a misfit: it takes more than another machine, and no figure of it
is written (choice: two standard deviations)."""
CONTRADICTION_CHI2_PER_WELD = 16.0
"""Welds further off than this are mistaken: nothing is written at all (choice: four standard deviations)."""
FAR_MM = 10.0
"""No wire end is left further beyond the work than this (choice)."""


@dataclass(frozen=True)
class FitLimits:
    """95 % limits."""

    low: float
    high: float


@dataclass(frozen=True)
class Fit:
    """What the test welds say of the machine."""

    coast_s: float
    coast_limits_s: FitLimits
    contactor_off_s: float
    """Typical drop-out of the contactor, from command to no voltage at the arc."""
    contactor_off_limits_s: FitLimits
    correlation: float
    """Of the two over the machines left, -1 to 1."""
    told_apart: bool
    """True where the welds tell of the drop-out by itself, not merely in combination."""
    coast_told: bool
    """True where the welds narrow what is known of the coast."""
    coast_measured: bool
    """True where they bound it closely enough to call it measured."""
    coast_held_s: float
    """Coast that fits best with everything else as the design has it: it makes up for what is otherwise there."""
    weld_deviation_mm: Floats
    """Standard deviation expected of each weld: rule and weld-to-weld scatter together."""
    predicted_mm: Floats
    """Reading of each test weld to expect by the fit, in the order given."""
    effective_draws: float
    """How many draws of equal weight would tell as much."""
    chi2: float
    fits_well: bool
    """False where the welds are not what the model makes of any coast and drop-out."""
    contradicts: bool
    """True where the welds are so far off that one at least must be mistaken."""
    misfits: Floats
    """How far each weld is from the fit, as WeldEvidence.misfits."""
    settled: Settled
    """The burnback setting to use."""
    more_voltage_v: float | None
    """By how much to turn the voltage up where no burnback serves without; None where it is not the voltage."""
    band: ExtensionBand
    """The extension left over the dial."""
    band_told: bool
    """True where the welds tell enough of it for the design file."""
    next_weld: NextWeld | None
    """The test weld to make next; None where there were enough, or another would tell nothing."""
    sentences: tuple[str, ...]
    """The result in plain words."""

    @property
    def sentence(self) -> str:
        """All sentences in one."""
        return " ".join(self.sentences)

    def applied(self, case: BurnbackCase) -> BurnbackCase:
        """The case with the figures to go on with; the contactor's spread keeps its width.

        The coast is the one that goes with everything else as the design has it: half of a pair would be worse than
        neither.
        """
        contactor = case.contactor_off.moved_to(self.contactor_off_s) if self.told_apart else case.contactor_off
        return replace(case, coast_s=self.coast_held_s, coast_measured=self.coast_measured, contactor_off=contactor)

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
        if self.coast_told:
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


def _limits(found: Weighted, values: Floats) -> tuple[FitLimits, float]:
    """95 % limits of one figure over the machines left, and the middle of it."""
    low, middle, high = map(float, found.quantiles(values, LIMIT_SHARES))
    return FitLimits(low, high), middle


def _moments(found: Weighted, one: Floats, other: Floats) -> tuple[float, float, float]:
    """Standard deviations of two figures over the machines left, and their correlation."""
    first, second = (values - found.weights @ values for values in (one, other))
    deviations = (float(found.weights @ first**2) ** 0.5, float(found.weights @ second**2) ** 0.5)
    both = float(found.weights @ (first * second))
    return *deviations, both / (deviations[0] * deviations[1]) if all(deviations) else 0.0


def _coast_held_s(machines: Machines, evidence: WeldEvidence, scatters: Scatters) -> float:
    """The coast that fits best with everything else as the design has it."""
    places = machines.along_coast(HELD_GRID)
    likely = evidence.log_likelihood(places, scatters) - (places**2).sum(axis=1) / 2
    return float(machines.coast_s(places)[int(likely.argmax())])


def fit_machine(
    case: BurnbackCase,
    welds: Sequence[TestWeld],
    settable: Settable | None = None,
    rule_mm: float = RULE_MM,
    hand_mm: float = BRACED_MM,
) -> Fit:
    """Find what test welds leave of the machine, the setting that follows, and the weld to make next.

    settable: what burnback can be set to; None: any time. `rule_mm` is the standard deviation of the measurement,
    `hand_mm` that of the distance from weld to weld. Without a weld it says where to begin. Raises ProcessError for
    extensions that cannot be.
    """
    check_welds(case, welds)
    if not rule_mm > 0:
        raise ProcessError(f"a rule that errs by {rule_mm:g} mm", "above 0 mm, for example 0.5 mm", "leave it out")
    machines = Machines(case)
    evidence = WeldEvidence(machines, tuple(welds), rule_mm, hand_mm)
    found = _explored(machines, evidence)
    scatters = evidence.scatters(found.mean)
    coast_s, contactor_off_s = machines.coast_s(found.places), machines.contactor_off_s(found.places)
    coast_limits_s, coast = _limits(found, coast_s)
    contactor_limits_s, contactor = _limits(found, contactor_off_s)
    coast_deviation_s, contactor_deviation_s, correlation = _moments(found, coast_s, contactor_off_s)
    narrowed = _moments(found, np.log(coast_s), contactor_off_s)[0] / machines.coast_guess
    left = MachinesLeft(evidence, found.even(LEFT_MACHINES), found.mean)
    readings = evidence.readings(left.places, scatters)
    shares = setting_shares(left, settable or Settable.fixed())
    lead = settled(shares, welds, case.feed_mm_s, beyond_dial(shares, left))
    misfit = float(readings.misfits.sum())
    fits_well = misfit <= MISFIT_CHI2_PER_WELD * max(len(welds) - 2, 1)
    came_free = any(weld.outcome is WeldOutcome.FREE for weld in welds)
    fit = Fit(
        coast_s=coast,
        coast_limits_s=coast_limits_s,
        contactor_off_s=contactor,
        contactor_off_limits_s=contactor_limits_s,
        correlation=correlation,
        told_apart=contactor_deviation_s <= APART_SHARE * mean_deviation_s(case.contactor_off)
        and abs(correlation) < APART_CORRELATION,
        coast_told=came_free and narrowed <= TOLD_SHARE,
        coast_measured=coast_deviation_s <= max(MEASURED_SHARE * coast, MEASURED_LEAST_S),
        coast_held_s=_coast_held_s(machines, evidence, scatters),
        weld_deviation_mm=readings.deviation_mm,
        predicted_mm=readings.predicted_mm,
        effective_draws=found.effective,
        chi2=misfit,
        fits_well=fits_well,
        contradicts=evidence.contradictory(readings.deviation_mm)
        or misfit > CONTRADICTION_CHI2_PER_WELD * max(len(welds), 1),
        misfits=readings.misfits,
        settled=lead,
        more_voltage_v=higher_voltage_v(left) if welds and lead.mean_free < ENOUGH_FREE else None,
        band=extension_band(left, band_settings_s(shares.settable, lead.mark.time_s)),
        band_told=came_free and fits_well,
        next_weld=None,
        sentences=(),
    )
    if not lead.enough or fit.contradicts:
        weld = next_weld(shares, came_free, rule_mm)
        fit = replace(fit, next_weld=weld if weld.worth_making or not lead.proved else None)
    return replace(fit, sentences=fit_sentences(fit, welds))


def _explored(machines: Machines, evidence: WeldEvidence) -> Weighted:
    """The machines that the welds allow.

    Welds scatter as on the one in the middle of them, which is known after a first look.
    """
    if not evidence.welds:
        return posterior(lambda places: np.zeros(len(places)), machines.unknowns, ())
    scatters = evidence.scatters(machines.likely())
    first = posterior(partial(evidence.log_likelihood, scatters=scatters), machines.unknowns, ())
    scatters = evidence.scatters(first.mean)
    return posterior(partial(evidence.log_likelihood, scatters=scatters), machines.unknowns)
