"""What test welds say of a machine: how likely it is that it leaves just these wire ends.

A reading counts by how far the machine's wire end is from it; 'frozen' by how likely its wire end, scattered as welds
scatter, reached the puddle; 'fused' by how likely it reached the contact tip. So a weld that left nothing to measure
still says which machines are out of the question.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from timing.elementwise import Floats
from timing.process.ball import ball_length_mm
from timing.process.burnback import LONGEST_STEP_S, QUICK_STEP_S
from timing.process.case import BurnbackCase
from timing.process.lattice import normal_share
from timing.process.machines import Machines, WireEnds, wire_ends
from timing.process.welds import TestWeld, WeldOutcome

MISTAKEN_SHARE = 0.01
"""Share of welds whose outcome is told wrongly, or came about otherwise: no weld rules a machine out (choice)."""
BALL_DIAMETERS, BALL_SPREAD_DIAMETERS = 1.5, 0.3
"""Ball on a wire's end where it was not measured: diameter and standard deviation over that of the wire (practice)."""
BALL_WELD_DIAMETERS = 0.15
"""Standard deviation of that from weld to weld on one machine, over the wire's diameter (practice)."""
READ_TO_BALL = 0.85
"""How likely a reading of which nothing was said goes to the end of the ball: that is where the wire ends (choice)."""
ALIKE_SHARE, FAR_DEVIATIONS = 0.05, 4.0
"""Readings at settings that differ by no more than this share contradict each other from so many standard deviations
on (choice)."""
WELD_DRAWS = 400
"""Draws for the scatter from weld to weld (choice)."""
MODEL_MM = 0.2
"""Standard deviation of what the model itself gets wrong of wire ends, whatever the machine (choice: the error of
integration and a coast of another shape, near the settings that weld well)."""


@dataclass(frozen=True)
class WeldScatter:
    """Standard deviations from weld to weld, in mm, by setting."""

    rest_mm: Floats
    """Of the extension left."""
    least_mm: Floats
    """Of the least extension, which decides whether the wire fuses."""
    gap_mm: Floats
    """Of the gap between puddle and wire end: less than both where distance and extension go together."""


Scatters = tuple[WeldScatter, ...]
"""Of each group of welds, at their settings."""


def weld_scatter(
    machines: Machines,
    place: Floats,
    case: BurnbackCase,
    settings_s: Floats,
    hand_mm: float,
    step_s: float = LONGEST_STEP_S,
) -> WeldScatter:
    """Return the scatter of the one machine at `place` at rising settings; `hand_mm`: of the gun's distance."""
    one = np.repeat(place.reshape(1, -1), WELD_DRAWS, axis=0)
    drawn = machines.drawn(one, case, weld=True, hand_mm=hand_mm)
    ends = wire_ends(case.end, drawn, settings_s, step_s)
    gap_mm = drawn.plant.distance_mm - ends.rest_mm
    deviations = (ends.rest_mm.std(axis=1), ends.least_mm.std(axis=1), gap_mm.std(axis=1))
    return WeldScatter(*(np.hypot(deviation, MODEL_MM) for deviation in deviations))


@dataclass(frozen=True)
class Readings:
    """What the machines left make of the welds, in the order given."""

    predicted_mm: Floats
    """Reading to expect, over all of them."""
    deviation_mm: Floats
    """Standard deviation of it: rule, ball and weld-to-weld scatter."""
    misfits: Floats
    """How far each weld is from that: -2 ln of its likelihood up to a constant, for a reading the square of its
    distance in standard deviations."""


@dataclass(frozen=True)
class WeldEvidence:
    """Test welds on machines of a case, and how surely each was read."""

    machines: Machines
    welds: tuple[TestWeld, ...]
    rule_mm: float
    """Standard deviation of a reading."""
    hand_mm: float
    """Standard deviation of the gun's distance while test welds are made."""

    @property
    def case(self) -> BurnbackCase:
        """What the design says."""
        return self.machines.case

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

    def balls_mm(self, places: Floats) -> Floats:
        """How far the balls of each machine stand beyond the solid wire."""
        wire_mm = self.case.wire.diameter_mm
        diameters = BALL_DIAMETERS + BALL_SPREAD_DIAMETERS * self.machines.ball_places(places)
        return np.asarray(ball_length_mm(np.maximum(diameters, 1.0) * wire_mm, wire_mm))

    @cached_property
    def _ball_weld_mm(self) -> float:
        """Standard deviation from weld to weld of how far balls stand beyond the solid wire."""
        wire_mm = self.case.wire.diameter_mm
        ends = np.asarray(
            ball_length_mm(np.array([BALL_DIAMETERS, BALL_DIAMETERS + BALL_WELD_DIAMETERS]) * wire_mm, wire_mm)
        )
        return float(ends[1] - ends[0])

    def scatters(self, place: Floats) -> Scatters:
        """Return the scatter from weld to weld of the machine at `place`, for each group."""
        return tuple(
            weld_scatter(self.machines, place, case, self._settings(numbers), self.hand_mm, QUICK_STEP_S)
            for case, numbers in self.groups
        )

    def ends(self, places: Floats, step_s: float = QUICK_STEP_S) -> tuple[WireEnds, ...]:
        """What machines leave at the welds' settings, for each group."""
        return tuple(
            wire_ends(case.end, self.machines.drawn(places, case), self._settings(numbers), step_s)
            for case, numbers in self.groups
        )

    def log_likelihood(self, places: Floats, scatters: Scatters) -> Floats:
        """Return how likely machines leave what the welds left, one number for each of `places`.

        Where it was not said, whether readings go to the end of the ball is
        the same for all of them, and counts both ways.
        """
        told, to_ball, to_wire = self._log_likelihoods(places, scatters)
        either: Floats = np.logaddexp(math.log(READ_TO_BALL) + to_ball, math.log(1 - READ_TO_BALL) + to_wire)
        likely: Floats = told + either
        return likely

    def _log_likelihoods(self, places: Floats, scatters: Scatters) -> Floats:
        """Of welds told whole; of other readings if they go to the ball's end, and if they do not; (3, draws)."""
        found, balls_mm = np.zeros((3, len(places))), self.balls_mm(places)
        for (case, numbers), ends, spread in zip(self.groups, self.ends(places), scatters, strict=True):
            for row, number in enumerate(numbers):
                weld, rest_mm, scatter_mm = self.welds[number], ends.rest_mm[row], float(spread.rest_mm[row])
                if weld.outcome is not WeldOutcome.FREE:
                    found[0] += self._log_told(case, weld.outcome, ends, spread, row, balls_mm)
                elif weld.ball is None:
                    found[1] += self._log_read(weld, rest_mm, balls_mm, scatter_mm, ball=True)
                    found[2] += self._log_read(weld, rest_mm, balls_mm, scatter_mm, ball=False)
                else:
                    found[0] += self._log_read(weld, rest_mm, balls_mm, scatter_mm, ball=weld.ball)
        return found

    def readings(self, places: Floats, scatters: Scatters) -> Readings:
        """Return what machines make of the welds, all alike likely."""
        predicted, deviation, misfit = np.zeros((3, len(self.welds)))
        if not self.welds:
            return Readings(predicted, deviation, misfit)
        _, to_ball, to_wire = self._log_likelihoods(places, scatters)
        odds = math.log(READ_TO_BALL / (1 - READ_TO_BALL)) + to_ball - to_wire
        to_ball_share = float((1 / (1 + np.exp(-np.clip(odds, -50, 50)))).mean())
        balls_mm = self.balls_mm(places)
        for (case, numbers), ends, spread in zip(self.groups, self.ends(places), scatters, strict=True):
            for row, number in enumerate(numbers):
                weld = self.welds[number]
                ball_mm, ball_deviation_mm = self._ball(weld, balls_mm, ball=weld.ball is not False)
                share = to_ball_share if weld.ball is None else 1.0
                predicted[number] = (ends.rest_mm[row] + share * ball_mm).mean()
                deviation[number] = math.hypot(self.rule_mm, share * ball_deviation_mm, spread.rest_mm[row])
                if weld.outcome is WeldOutcome.FREE:
                    misfit[number] = ((predicted[number] - (weld.extension_mm or 0.0)) / deviation[number]) ** 2
                else:
                    likely = np.exp(self._log_told(case, weld.outcome, ends, spread, row, balls_mm))
                    misfit[number] = -2 * math.log(likely.mean())
        return Readings(predicted, deviation, misfit)

    def contradictory(self, deviation_mm: Floats) -> bool:
        """Tell whether two readings taken alike are too far from each other, whatever machine made them."""
        free = [number for number, weld in enumerate(self.welds) if weld.outcome is WeldOutcome.FREE]
        return any(
            self._alike(one, other) and self._far_apart(one, other, deviation_mm)
            for one, other in combinations(free, 2)
        )

    def _alike(self, one: int, other: int) -> bool:
        """Whether two welds were made and read in the same way, at settings that are nearly the same."""
        first, second = self.welds[one], self.welds[other]
        same = (first.distance_mm, first.feed_mm_s) == (second.distance_mm, second.feed_mm_s)
        return same and abs(first.burnback_s - second.burnback_s) <= ALIKE_SHARE * first.burnback_s

    def _far_apart(self, one: int, other: int, deviation_mm: Floats) -> bool:
        usual_mm = self.balls_mm(self.machines.likely())
        ends_mm = [
            (weld.extension_mm or 0.0) - (self._ball(weld, usual_mm, ball=True)[0][0] if weld.ball else 0.0)
            for weld in (self.welds[one], self.welds[other])
        ]
        expected_mm = math.hypot(deviation_mm[one], deviation_mm[other])
        return bool(abs(ends_mm[0] - ends_mm[1]) > FAR_DEVIATIONS * expected_mm)

    def _log_read(self, weld: TestWeld, rest_mm: Floats, balls_mm: Floats, scatter_mm: float, ball: bool) -> Floats:
        ball_mm, ball_deviation_mm = self._ball(weld, balls_mm, ball)
        deviation_mm = math.hypot(self.rule_mm, ball_deviation_mm, scatter_mm)
        off = (rest_mm + ball_mm - (weld.extension_mm or 0.0)) / deviation_mm
        # A reading that was mistaken may be anywhere up to the work.
        mistaken = MISTAKEN_SHARE * deviation_mm * math.sqrt(2 * math.pi) / self.case.distance_mm
        likely: Floats = np.logaddexp(-(off**2) / 2, math.log(mistaken)) - math.log(deviation_mm)
        return likely

    def _ball(self, weld: TestWeld, balls_mm: Floats, ball: bool) -> tuple[Floats, float]:
        """What a reading has of the ball beyond the solid wire on each machine, and the standard deviation of that."""
        wire_mm = self.case.wire.diameter_mm
        if not ball:
            return np.zeros_like(balls_mm), 0.0
        if weld.ball_mm is not None:
            measured = np.asarray(ball_length_mm(np.full_like(balls_mm, weld.ball_mm), wire_mm))
            return measured, self.rule_mm / 2
        return balls_mm, self._ball_weld_mm

    def _log_told(
        self, case: BurnbackCase, outcome: WeldOutcome, ends: WireEnds, spread: WeldScatter, row: int, balls_mm: Floats
    ) -> Floats:
        if outcome is WeldOutcome.FROZEN:
            beyond = ends.rest_mm[row] + balls_mm - (case.distance_mm - case.end.sticking_gap_mm)
            share = normal_share(beyond / math.hypot(spread.gap_mm[row], self._ball_weld_mm))
        else:
            share = normal_share((case.end.fused_mm - ends.least_mm[row]) / spread.least_mm[row])
        likely: Floats = np.log(MISTAKEN_SHARE + (1 - 2 * MISTAKEN_SHARE) * share)
        return likely


def _as_made(case: BurnbackCase, distance_mm: float, feed_mm_s: float) -> BurnbackCase:
    made = case.at_speed(feed_mm_s) if feed_mm_s else case
    return replace(made, distance_mm=distance_mm) if distance_mm else made
