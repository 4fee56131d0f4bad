"""Machines drawn from all of the model's own spreads, their test welds as people make and read them, and what holds.

A machine is one of those that a fit believes in beforehand; its welds scatter as the model has it, a rule reads them to
the end of the ball, and the next one is made where the fit asks for it. Over many such machines it can be counted how
often the truth lies where the fit says that it does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from timing.elementwise import Floats
from timing.process.case import BurnbackCase
from timing.process.evidence import WeldEvidence
from timing.process.extension_band import made_welds
from timing.process.fit import BRACED_MM, RULE_MM, Fit, fit_machine
from timing.process.machines import Machines
from timing.process.settable import DialMark, Settable
from timing.process.welds import TestWeld, WeldOutcome

DIAL = Settable(tuple(DialMark(ms / 1000, f"mark {ms} ms") for ms in range(20, 301, 10)), dial=True)
FACTORS = np.linspace(0.5, 2.0, 16)
"""Of the settings welded, where a band is held against the truth."""
LEAST_WELDS, MOST_WELDS = 2, 4
MANY_WELDS = 400
WIDEST = 3.0


class SyntheticMachine:
    """One machine, and the person at it."""

    def __init__(self, case: BurnbackCase, seed: int) -> None:
        self._random = np.random.default_rng(seed)
        self._evidence = WeldEvidence(Machines(case), (), RULE_MM, BRACED_MM)
        unknowns = self._evidence.machines.unknowns
        self.place = np.clip(self._random.standard_normal((1, unknowns)), -WIDEST, WIDEST)

    @property
    def coast_s(self) -> float:
        """Its coast, which nobody knows."""
        return float(self._evidence.machines.coast_s(self.place)[0])

    def weld(self, setting_s: float, ball: bool | None) -> TestWeld:
        """Make a test weld with the gun on a block, and say what became of it; `ball`: what is said of the ball."""
        places = np.repeat(self.place, MANY_WELDS, axis=0)
        made = made_welds(self._evidence, places, np.array([setting_s]), BRACED_MM, steady=True)
        one = int(self._random.integers(MANY_WELDS))
        if made.fused[0, one] or made.frozen[0, one]:
            return TestWeld(setting_s, outcome=WeldOutcome.FUSED if made.fused[0, one] else WeldOutcome.FROZEN)
        read_mm = float(made.read_mm[0, one]) + RULE_MM * float(self._random.standard_normal())
        return TestWeld(setting_s, max(round(2 * read_mm) / 2, 0.5), ball=ball)

    def reads_mm(self, settings_s: Floats) -> Floats:
        """Where many welds made by hand really end, shape (settings, welds)."""
        return made_welds(self._evidence, np.repeat(self.place, MANY_WELDS, axis=0), settings_s).read_mm

    def fitted(self, case: BurnbackCase, ball: bool | None) -> Fit:
        """Make the welds that the fit asks for, some at the setting to use where it asks for no more."""
        welds: list[TestWeld] = []
        fit = fit_machine(case, welds, DIAL)
        while len(welds) < LEAST_WELDS or (fit.next_weld is not None and len(welds) < MOST_WELDS):
            mark = fit.settled.mark if fit.next_weld is None else fit.next_weld.mark
            welds.append(self.weld(mark.time_s, ball))
            fit = fit_machine(case, welds, DIAL)
        self.welded_s = float(np.mean([weld.burnback_s for weld in welds]))
        return fit


@dataclass(frozen=True)
class Coverage:
    """How often claims hold, over many machines."""

    coast: float
    """Share of the machines whose coast lies within its 95 % limits."""
    band: Floats
    """Share of welds within the 90 % band, by FACTORS."""
    effective: float
    """Least number of effective draws of all fits."""


def coverage(case: BurnbackCase, seeds: Iterable[int], ball: bool | None) -> Coverage:
    """Return how often limits and bands hold; readings go to the ball's end, `ball` is what is said of that."""
    coasts, inside, effective = [], [], []
    for seed in seeds:
        machine = SyntheticMachine(case, seed)
        fit = machine.fitted(case, ball)
        coasts.append(fit.coast_limits_s.low <= machine.coast_s <= fit.coast_limits_s.high)
        settings_s = machine.welded_s * FACTORS
        low, high = (np.interp(settings_s, fit.band.settings_s, mm) for mm in (fit.band.low_mm, fit.band.high_mm))
        reads_mm = machine.reads_mm(settings_s)
        within = ((reads_mm >= low[:, None]) & (reads_mm <= high[:, None])).mean(axis=1)
        # Beyond its ends a dial does not go.
        on_dial = (settings_s >= DIAL.times_s[0]) & (settings_s <= DIAL.times_s[-1])
        inside.append(np.where(on_dial, within, np.nan))
        effective.append(fit.effective_draws)
    return Coverage(float(np.mean(coasts)), np.nanmean(inside, axis=0), min(effective))
