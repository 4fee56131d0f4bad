"""Machines that a design may stand for: all that nobody measured of one, drawn together, and the welds that they make.

A machine is told by its places: for each unknown, how many standard deviations it lies from what the design says. The
unknowns are those that `case.scatter` draws of a machine (wire, arc, source, drive), the coast once more, for a figure
of the survey is a guess, the drop-outs' means and the size of its ball. So machines round the ones that test welds make
likely are drawn as easily as any.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from timing.elementwise import Floats
from timing.process.burnback import LONGEST_STEP_S, WireEnd, run_burnback, wire_run_mm
from timing.process.case import HAND_SPREAD_MM, SEED, BurnbackCase, Scatter, SpreadS, scatter
from timing.process.lattice import GivenDraws, Lattice

COAST_GUESS = 0.6
"""Relative standard deviation of the coast beyond what `case.scatter` draws: with it a coast of the survey may be twice
as long, or half. One that test welds found is taken as a guess as well, or they would count twice (choice)."""
LEAST_COAST_S = 0.005
"""Coasts are compared as ratios from this on (choice)."""
LEAST_DROP_OUT_DEVIATION_S = 0.003
"""The mean of a drop-out is known no closer than this before test welds (choice)."""
BALL_SPREAD = 0.2
"""Relative standard deviation of how far balls stand beyond the solid wire, over machines: spatter takes of them, and
they hang askew (choice)."""
COAST_DRAWS = 512
"""Draws by which the spread of the coast is told (choice)."""
_MOST_UNKNOWNS, _FAR = 64, 4.0


@dataclass(frozen=True)
class WireEnds:
    """Where wires come to, all of shape (settings, draws), with no contact tip in their way."""

    rest_mm: Floats
    """Extension at rest; beyond the distance where the wire coasted on into the puddle."""
    least_mm: Floats
    """Extension when the arc went out; it may be below zero, behind the face of the tip."""
    ball_mm: Floats
    """How far the ball stands beyond the solid wire."""

    @property
    def read_mm(self) -> Floats:
        """Extension to the far side of the ball, as a rule reads it."""
        read: Floats = self.rest_mm + self.ball_mm
        return read


def wire_ends(
    end: WireEnd, drawn: Scatter, ball_factor: Floats, settings_s: Floats, step_s: float = LONGEST_STEP_S
) -> WireEnds:
    """Return the wire ends that draws leave at rising settings.

    `ball_factor`: how much further each one's balls stand out than computed, shape (draws,). `step_s`: longest step of
    the integration.
    """
    open_tip = replace(end, fused_mm=-np.inf)
    run = run_burnback(drawn.plant, drawn.point, drawn.release, open_tip, settings_s, step_s)
    after_arc_mm = run.fed_mm - wire_run_mm(drawn.release, drawn.plant.feed_mm_s, run.arc_out_s)
    ball_mm = ball_factor * (run.to_ball_end_mm - run.extension_mm)
    return WireEnds(run.extension_mm, run.extension_mm - after_arc_mm, ball_mm)


def mean_deviation_s(delay: SpreadS) -> float:
    """Return the standard deviation of a drop-out's mean before test welds: half of the range that the design states.

    In s.
    """
    return max((delay.max_s - delay.min_s) / 2, LEAST_DROP_OUT_DEVIATION_S)


@dataclass(frozen=True)
class Machines:
    """The machines of a design; places have the shape (draws, unknowns)."""

    case: BurnbackCase

    @cached_property
    def _drawn_of_case(self) -> int:
        """How many unknowns `case.scatter` draws."""
        counting = GivenDraws(np.zeros((1, _MOST_UNKNOWNS)))
        scatter(self.case, 1, machine=counting, weld=False)
        return counting.taken

    @property
    def unknowns(self) -> int:
        """Number of unknowns."""
        return self._drawn_of_case + 4

    @cached_property
    def coast_guess(self) -> float:
        """Standard deviation of the coast's logarithm before any test weld."""
        return float(np.log(self.coast_s(self.places(COAST_DRAWS))).std())

    def along_coast(self, count: int) -> Floats:
        """Places of machines that differ from the likely one in the coast alone, shortest first."""
        places = np.repeat(self.likely(), count, axis=0)
        places[:, self._drawn_of_case] = np.linspace(-_FAR, _FAR, count) * self.coast_guess / COAST_GUESS
        return places

    def likely(self) -> Floats:
        """Places of the one machine that is as the design says."""
        return np.zeros((1, self.unknowns))

    def places(self, draws: int, seed: int = SEED) -> Floats:
        """Return places of machines as they are before any test weld."""
        lattice = Lattice(draws, seed)
        return np.column_stack([lattice.normal() for _ in range(self.unknowns)])

    def drawn(
        self,
        places: Floats,
        case: BurnbackCase | None = None,
        *,
        weld: bool = False,
        hand_mm: float = HAND_SPREAD_MM,
        steady: bool = False,
    ) -> Scatter:
        """Return the machines at `places`, at another speed or distance where `case` has one.

        weld: each with a weld of its own, the gun held by hand (`hand_mm`), mains and source as they were an hour ago
        (`steady`) or not; else without what differs from weld to weld.
        """
        made = self.case if case is None else case
        made = replace(made, coast_s=max(made.coast_s, LEAST_COAST_S))
        known = scatter(made, len(places), machine=GivenDraws(places), weld=weld, hand_mm=hand_mm, steady=steady)
        coast, wire_off, contactor_off, _ = places[:, self._drawn_of_case :].T
        release = replace(
            known.release,
            coast_s=known.release.coast_s * np.exp(COAST_GUESS * coast),
            wire_off_s=np.maximum(known.release.wire_off_s + mean_deviation_s(made.wire_off) * wire_off, 0.0),
            contactor_off_s=np.maximum(
                known.release.contactor_off_s + mean_deviation_s(made.contactor_off) * contactor_off, 0.0
            ),
        )
        return replace(known, release=release)

    def coast_s(self, places: Floats) -> Floats:
        """Coast of each machine."""
        return np.asarray(self.drawn(places).release.coast_s)

    def contactor_off_s(self, places: Floats) -> Floats:
        """Mean drop-out of each machine's contactor."""
        return np.asarray(self.drawn(places).release.contactor_off_s)

    def ball_factor(self, places: Floats) -> Floats:
        """How much further each machine's balls stand beyond the solid wire than computed."""
        factor: Floats = np.exp(BALL_SPREAD * places[:, -1])
        return factor
