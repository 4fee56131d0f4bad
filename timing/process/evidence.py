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
BALL_WELD_SPREAD = 0.1
"""Relative standard deviation of how far balls stand beyond the solid wire, from weld to weld (choice)."""
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
    """Of the extension left, to the end of the solid wire."""
    read_mm: Floats
    """Of the same to the end of the ball."""
    least_mm: Floats
    """Of the least extension, which decides whether the wire fuses."""
    gap_mm: Floats
    """Of the gap between puddle and ball: less than both where distance and extension go together."""


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
    """Return the scatter of the one machine at `place` at rising settings; `hand_mm`: of the gun's distance.

    Mains and source are steady: where they stand belongs to the machine that the welds tell of.
    """
    one = np.repeat(place.reshape(1, -1), WELD_DRAWS, axis=0)
    drawn = machines.drawn(one, case, weld=True, hand_mm=hand_mm, steady=True)
    ends = wire_ends(case.end, drawn, machines.ball_factor(one), settings_s, step_s)
    ball_weld_mm = BALL_WELD_SPREAD * ends.ball_mm.mean(axis=1)
    gap_mm = drawn.plant.distance_mm - ends.read_mm
    return WeldScatter(
        rest_mm=np.hypot(ends.rest_mm.std(axis=1), MODEL_MM),
        read_mm=np.hypot(ends.read_mm.std(axis=1), np.hypot(MODEL_MM, ball_weld_mm)),
        least_mm=np.hypot(ends.least_mm.std(axis=1), MODEL_MM),
        gap_mm=np.hypot(gap_mm.std(axis=1), np.hypot(MODEL_MM, ball_weld_mm)),
    )


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

    def scatters(self, place: Floats) -> Scatters:
        """Return the scatter from weld to weld of the machine at `place`, for each group."""
        return tuple(
            weld_scatter(self.machines, place, case, self._settings(numbers), self.hand_mm, QUICK_STEP_S)
            for case, numbers in self.groups
        )

    def _ends(self, places: Floats) -> tuple[WireEnds, ...]:
        """What machines leave at the welds' settings, each with its own balls, for each group."""
        factor = self.machines.ball_factor(places)
        return tuple(
            wire_ends(case.end, self.machines.drawn(places, case), factor, self._settings(numbers), QUICK_STEP_S)
            for case, numbers in self.groups
        )

    def log_likelihood(self, places: Floats, scatters: Scatters) -> Floats:
        """Return how likely machines leave what the welds left, one number for each of `places`.

        Where it was not said, whether readings go to the end of the ball is the same for all of them, and counts both
        ways.
        """
        told, to_ball, to_wire = self._log_likelihoods(places, scatters)
        either: Floats = np.logaddexp(math.log(READ_TO_BALL) + to_ball, math.log(1 - READ_TO_BALL) + to_wire)
        likely: Floats = told + either
        return likely

    def _log_likelihoods(self, places: Floats, scatters: Scatters) -> Floats:
        """Of welds told whole; of other readings if they go to the ball's end, and if they do not; (3, draws)."""
        found = np.zeros((3, len(places)))
        for (case, numbers), ends, spread in zip(self.groups, self._ends(places), scatters, strict=True):
            for row, number in enumerate(numbers):
                weld = self.welds[number]
                if weld.outcome is not WeldOutcome.FREE:
                    found[0] += _log_told(case, weld.outcome, ends, spread, row)
                elif weld.ball is None:
                    found[1] += self._log_read(weld, *self._expected(weld, ends, spread, row, ball=True))
                    found[2] += self._log_read(weld, *self._expected(weld, ends, spread, row, ball=False))
                else:
                    found[0] += self._log_read(weld, *self._expected(weld, ends, spread, row, ball=weld.ball))
                if weld.ball_mm is not None:
                    found[0] += self._log_ball(weld, ends.ball_mm[row])
        return found

    def _log_ball(self, weld: TestWeld, ball_mm: Floats) -> Floats:
        """How likely a ball that was measured is that of each machine."""
        measured_mm = self._measured_ball_mm(weld)
        deviation_mm = math.hypot(self.rule_mm / 2, BALL_WELD_SPREAD * measured_mm)
        likely: Floats = np.logaddexp(-(((ball_mm - measured_mm) / deviation_mm) ** 2) / 2, math.log(MISTAKEN_SHARE))
        return likely

    def _expected(
        self, weld: TestWeld, ends: WireEnds, spread: WeldScatter, row: int, *, ball: bool
    ) -> tuple[Floats, float]:
        """The reading to expect of each machine, to the ball's end or not, and the standard deviation of one."""
        rest_mm, rest_deviation_mm = ends.rest_mm[row], math.hypot(self.rule_mm, spread.rest_mm[row])
        if not ball:
            return rest_mm, rest_deviation_mm
        if weld.ball_mm is None:
            return ends.read_mm[row], math.hypot(self.rule_mm, spread.read_mm[row])
        return rest_mm + self._measured_ball_mm(weld), math.hypot(rest_deviation_mm, self.rule_mm / 2)

    def _measured_ball_mm(self, weld: TestWeld) -> float:
        """How far a ball whose diameter was measured stands beyond the solid wire; 0 where none was."""
        return 0.0 if weld.ball_mm is None else float(ball_length_mm(weld.ball_mm, self.case.wire.diameter_mm))

    def _log_read(self, weld: TestWeld, expected_mm: Floats, deviation_mm: float) -> Floats:
        off = (expected_mm - (weld.extension_mm or 0.0)) / deviation_mm
        # A reading that was mistaken may be anywhere up to the work.
        mistaken = MISTAKEN_SHARE * deviation_mm * math.sqrt(2 * math.pi) / self.case.distance_mm
        likely: Floats = np.logaddexp(-(off**2) / 2, math.log(mistaken)) - math.log(deviation_mm)
        return likely

    def readings(self, places: Floats, scatters: Scatters) -> Readings:
        """Return what machines make of the welds, all alike likely."""
        predicted, deviation, misfit = np.zeros((3, len(self.welds)))
        if not self.welds:
            return Readings(predicted, deviation, misfit)
        _, to_ball, to_wire = self._log_likelihoods(places, scatters)
        odds = math.log(READ_TO_BALL / (1 - READ_TO_BALL)) + to_ball - to_wire
        to_ball_share = float((1 / (1 + np.exp(-np.clip(odds, -50, 50)))).mean())
        for (case, numbers), ends, spread in zip(self.groups, self._ends(places), scatters, strict=True):
            for row, number in enumerate(numbers):
                weld = self.welds[number]
                ball = to_ball_share > 0.5 if weld.ball is None else weld.ball
                expected_mm, deviation[number] = self._expected(weld, ends, spread, row, ball=ball)
                predicted[number] = expected_mm.mean()
                if weld.outcome is WeldOutcome.FREE:
                    misfit[number] = ((predicted[number] - (weld.extension_mm or 0.0)) / deviation[number]) ** 2
                else:
                    likely = np.exp(_log_told(case, weld.outcome, ends, spread, row))
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
        first, second = ((weld.distance_mm, weld.feed_mm_s, weld.ball) for weld in (self.welds[one], self.welds[other]))
        first_s, second_s = self.welds[one].burnback_s, self.welds[other].burnback_s
        return first == second and abs(first_s - second_s) <= ALIKE_SHARE * first_s

    def _far_apart(self, one: int, other: int, deviation_mm: Floats) -> bool:
        ends_mm = [
            (weld.extension_mm or 0.0) - self._measured_ball_mm(weld) for weld in (self.welds[one], self.welds[other])
        ]
        expected_mm = math.hypot(deviation_mm[one], deviation_mm[other])
        return bool(abs(ends_mm[0] - ends_mm[1]) > FAR_DEVIATIONS * expected_mm)


def frozen_share(case: BurnbackCase, ends: WireEnds, spread: WeldScatter) -> Floats:
    """Share of each machine's welds that freeze in the puddle, shape (settings, machines)."""
    beyond_mm = ends.read_mm - (case.distance_mm - case.end.sticking_gap_mm)
    return normal_share(beyond_mm / spread.gap_mm[:, None])


def fused_share(case: BurnbackCase, ends: WireEnds, spread: WeldScatter) -> Floats:
    """Share of each machine's welds that fuse to the contact tip, shape (settings, machines)."""
    return normal_share((case.end.fused_mm - ends.least_mm) / spread.least_mm[:, None])


def _log_told(case: BurnbackCase, outcome: WeldOutcome, ends: WireEnds, spread: WeldScatter, row: int) -> Floats:
    share = (frozen_share if outcome is WeldOutcome.FROZEN else fused_share)(case, ends, spread)[row]
    likely: Floats = np.log(MISTAKEN_SHARE + (1 - 2 * MISTAKEN_SHARE) * share)
    return likely


def _as_made(case: BurnbackCase, distance_mm: float, feed_mm_s: float) -> BurnbackCase:
    made = case.at_speed(feed_mm_s) if feed_mm_s else case
    return replace(made, distance_mm=distance_mm) if distance_mm else made
