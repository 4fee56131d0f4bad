"""What test welds say of coast and contactor drop-out: how well each pair of the two explains them.

A reading counts by how far the model's wire end is from it; 'frozen' by how likely the model's wire end, scattered as
welds scatter, reached the puddle; 'fused' by how likely it reached the contact tip. So a weld that left nothing to
measure still says which coasts are too short, or too long.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from timing.elementwise import Floats
from timing.process.arc import OperatingPoint, Plant
from timing.process.burnback import LONGEST_STEP_S, Release, WireEnd, run_burnback, wire_run_mm
from timing.process.case import SEED, BurnbackCase, scatter
from timing.process.lattice import normal_share
from timing.process.welds import TestWeld, WeldOutcome

MISTAKEN_SHARE = 0.01
"""Share of welds whose outcome is told wrongly, or came about otherwise: no weld rules a machine out (choice)."""
BALL_DIAMETERS, BALL_SPREAD_DIAMETERS = 1.5, 0.3
"""Ball on a wire's end where it was not measured: diameter and standard deviation over that of the wire (practice)."""
ALIKE_SHARE, FAR_DEVIATIONS = 0.05, 4.0
"""Readings at settings that differ by no more than this share contradict each other from so many standard deviations
on (choice)."""
WELD_DRAWS = 400
"""Draws for the scatter from weld to weld (choice)."""
COAST_PRIOR_FACTOR = 2.0
"""A coast that the design states may be this much longer or shorter (one standard deviation): a figure of the survey is
a guess, and one that test welds found shall not count twice (choice)."""
LEAST_COAST_S = 0.005
"""Coasts are compared as ratios from this on (choice)."""
LEAST_CONTACTOR_DEVIATION_S = 0.003
"""The contactor is known no closer than this before test welds (choice)."""


@dataclass(frozen=True)
class WireEnds:
    """Where wires come to, both of shape (settings, pairs), with no contact tip in their way."""

    rest_mm: Floats
    """Extension at rest; beyond the distance where the wire coasted on into the puddle."""
    least_mm: Floats
    """Extension when the arc went out; it may be below zero, behind the face of the tip."""


def wire_ends(
    case: BurnbackCase, coast_s: Floats, contactor_s: Floats, settings_s: Floats, step_s: float = LONGEST_STEP_S
) -> WireEnds:
    """Return the wire ends that pairs of coast and drop-out leave at rising settings, everything else being likely.

    `step_s` is the longest step of the integration.
    """
    pairs = coast_s.shape[0]
    friction = case.friction.median
    release = Release(np.full(pairs, case.wire_off.typical_s), coast_s, contactor_s, friction, np.zeros(pairs))
    point = case.operating_point()
    points = OperatingPoint(**{name: np.full(pairs, value) for name, value in vars(point).items()})
    return _ends(case.end, case.plant().repeated(pairs), points, release, settings_s, step_s)


def _ends(
    end: WireEnd, plant: Plant, point: OperatingPoint, release: Release, settings_s: Floats, step_s: float
) -> WireEnds:
    run = run_burnback(plant, point, release, replace(end, fused_mm=-np.inf), settings_s, step_s)
    after_arc_mm = run.fed_mm - wire_run_mm(release, plant.feed_mm_s, run.arc_out_s)
    return WireEnds(run.extension_mm, run.extension_mm - after_arc_mm)


@dataclass(frozen=True)
class WeldScatter:
    """Standard deviations from weld to weld, in mm, by setting."""

    rest_mm: Floats
    """Of the extension left."""
    least_mm: Floats
    """Of the least extension, which decides whether the wire fuses."""
    gap_mm: Floats
    """Of the gap between puddle and wire end: less than both where distance and extension go together."""

    def widened(self, by_mm: float) -> WeldScatter:
        """The same with an independent error more."""
        return WeldScatter(*(np.hypot(deviation, by_mm) for deviation in vars(self).values()))


def weld_scatter(case: BurnbackCase, settings_s: Floats, hand_mm: float, step_s: float = LONGEST_STEP_S) -> WeldScatter:
    """Return the scatter of a known machine at rising settings; `hand_mm`: of the gun's distance."""
    drawn = scatter(case, WELD_DRAWS, SEED, machine=False, hand_mm=hand_mm)
    ends = _ends(case.end, drawn.plant, drawn.point, drawn.release, settings_s, step_s)
    gap_mm = drawn.plant.distance_mm - ends.rest_mm
    return WeldScatter(ends.rest_mm.std(axis=1), ends.least_mm.std(axis=1), gap_mm.std(axis=1))


def ball_length_mm(ball_mm: float, wire_mm: float) -> float:
    """Return how far a ball stands beyond the end of the solid wire in it: a sphere, pierced by a cylinder."""
    radius = ball_mm / 2
    return radius + math.sqrt(max(radius**2 - (wire_mm / 2) ** 2, 0.0))


@dataclass(frozen=True)
class WeldEvidence:
    """Test welds on a case, and how surely each was read."""

    case: BurnbackCase
    welds: tuple[TestWeld, ...]
    rule_mm: float
    """Standard deviation of a reading."""
    hand_mm: float
    """Standard deviation of the gun's distance while test welds are made."""
    model_mm: float
    """Standard deviation of what the model gets wrong from one setting to another."""

    @cached_property
    def ball_mm(self) -> float:
        """How far balls stand beyond the solid wire: as told, a usual one where nothing was said.

        A reading may leave the ball out; the puddle does not.
        """
        usual_mm = self._ball(TestWeld(0.0, ball=True))[0]
        lengths = [usual_mm if weld.ball is None else self._ball(weld)[0] for weld in self.welds]
        return float(np.mean(lengths)) if lengths else usual_mm

    def _ball(self, weld: TestWeld) -> tuple[float, float]:
        """Length of a weld's ball beyond the solid wire, and its standard deviation, in mm."""
        wire_mm = self.case.wire.diameter_mm
        if not weld.ball:
            return 0.0, 0.0
        if weld.ball_mm is not None:
            return ball_length_mm(weld.ball_mm, wire_mm), self.rule_mm / 2
        return ball_length_mm(BALL_DIAMETERS * wire_mm, wire_mm), BALL_SPREAD_DIAMETERS * wire_mm

    def solid_mm(self, weld: TestWeld) -> float:
        """Extension left to the end of the solid wire."""
        return (weld.extension_mm or 0.0) - self._ball(weld)[0]

    @cached_property
    def groups(self) -> tuple[tuple[BurnbackCase, tuple[int, ...]], ...]:
        """Welds by distance and wire feed speed, each with its case; their numbers by rising setting."""
        found: dict[tuple[float, float], list[int]] = {}
        for number, weld in enumerate(self.welds):
            found.setdefault((weld.distance_mm or 0.0, weld.feed_mm_s or 0.0), []).append(number)
        return tuple(
            (_as_made(self.case, *made), tuple(sorted(numbers, key=lambda number: self.welds[number].burnback_s)))
            for made, numbers in found.items()
        )

    def _settings(self, numbers: Sequence[int]) -> Floats:
        return np.array([self.welds[number].burnback_s for number in numbers])

    @cached_property
    def scatters(self) -> tuple[WeldScatter, ...]:
        """Scatter from weld to weld, and of the model, for each group."""
        return tuple(
            weld_scatter(case, self._settings(numbers), self.hand_mm).widened(self.model_mm)
            for case, numbers in self.groups
        )

    @cached_property
    def deviation_mm(self) -> Floats:
        """Standard deviation expected of each weld, in the order given: rule, ball and weld-to-weld scatter."""
        found = np.empty(len(self.welds))
        for (_, numbers), spread in zip(self.groups, self.scatters, strict=True):
            for row, number in enumerate(numbers):
                found[number] = np.hypot(np.hypot(self.rule_mm, self._ball(self.welds[number])[1]), spread.rest_mm[row])
        return found

    @cached_property
    def contradictory(self) -> bool:
        """Whether two readings taken alike are too far from each other, whatever machine made them."""
        free = [number for number, weld in enumerate(self.welds) if weld.outcome is WeldOutcome.FREE]
        return any(self._alike(one, other) and self._far_apart(one, other) for one, other in combinations(free, 2))

    def _alike(self, one: int, other: int) -> bool:
        """Whether two welds were made in the same way, at settings where the model errs alike."""
        first, second = self.welds[one], self.welds[other]
        same = (first.distance_mm, first.feed_mm_s) == (second.distance_mm, second.feed_mm_s)
        return same and abs(first.burnback_s - second.burnback_s) <= ALIKE_SHARE * first.burnback_s

    def _far_apart(self, one: int, other: int) -> bool:
        expected_mm = np.sqrt((self.deviation_mm[[one, other]] ** 2 - self.model_mm**2).sum())
        apart_mm = abs(self.solid_mm(self.welds[one]) - self.solid_mm(self.welds[other]))
        return bool(apart_mm > FAR_DEVIATIONS * expected_mm)

    def predicted_mm(self, coast_s: float, contactor_s: float) -> Floats:
        """Extension that would be read of each weld by one machine, balls included, in the order given."""
        found = np.empty(len(self.welds))
        for case, numbers in self.groups:
            ends = wire_ends(case, np.array([coast_s]), np.array([contactor_s]), self._settings(numbers))
            found[list(numbers)] = ends.rest_mm[:, 0] + [self._ball(self.welds[number])[0] for number in numbers]
        return found

    def misfits(self, coast_s: Floats, contactor_s: Floats, step_s: float = LONGEST_STEP_S) -> Floats:
        """How far each weld is from what pairs of coast and drop-out make of it, shape (welds, pairs).

        Each is -2 ln of its likelihood, up to a constant: for a reading the square of its distance in standard
        deviations. `step_s` is the longest step of the integration.
        """
        found = np.empty((len(self.welds), coast_s.shape[0]))
        for (case, numbers), spread in zip(self.groups, self.scatters, strict=True):
            ends = wire_ends(case, coast_s, contactor_s, self._settings(numbers), step_s)
            for row, number in enumerate(numbers):
                found[number] = self._misfit(case, number, row, ends, spread)
        return found

    def _misfit(self, case: BurnbackCase, number: int, row: int, ends: WireEnds, spread: WeldScatter) -> Floats:
        weld = self.welds[number]
        if weld.outcome is WeldOutcome.FREE:
            off: Floats = (ends.rest_mm[row] - self.solid_mm(weld)) / self.deviation_mm[number]
            return off**2
        if weld.outcome is WeldOutcome.FROZEN:
            beyond = ends.rest_mm[row] + self.ball_mm - (case.distance_mm - case.end.sticking_gap_mm)
            share = normal_share(beyond / spread.gap_mm[row])
        else:
            share = normal_share((case.end.fused_mm - ends.least_mm[row]) / spread.least_mm[row])
        likely: Floats = -2 * np.log(MISTAKEN_SHARE + (1 - 2 * MISTAKEN_SHARE) * share)
        return likely


def _as_made(case: BurnbackCase, distance_mm: float, feed_mm_s: float) -> BurnbackCase:
    made = case.at_speed(feed_mm_s) if feed_mm_s else case
    return replace(made, distance_mm=distance_mm) if distance_mm else made


@dataclass(frozen=True)
class Prior:
    """What the design says of coast and drop-out before any weld: likely values and standard deviations."""

    coast_s: float
    contactor_s: float
    contactor_deviation_s: float

    @staticmethod
    def of(case: BurnbackCase) -> Prior:
        """The design's coast, and its contactor within half of its range."""
        off = case.contactor_off
        deviation_s = max((off.max_s - off.min_s) / 2, LEAST_CONTACTOR_DEVIATION_S)
        return Prior(max(case.coast_s, LEAST_COAST_S), off.typical_s, deviation_s)

    def misfit(self, coast_s: Floats, contactor_s: Floats) -> Floats:
        """How far pairs are from it, as WeldEvidence.misfits."""
        ratio = np.log(np.maximum(coast_s, LEAST_COAST_S) / self.coast_s) / np.log(COAST_PRIOR_FACTOR)
        off = (contactor_s - self.contactor_s) / self.contactor_deviation_s
        misfit: Floats = ratio**2 + off**2
        return misfit
