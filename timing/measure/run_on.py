"""How far the wire runs on, from the edges of a disc whose slots are coarser than what is to be found.

Each run stops somewhere between two edges, and where the disc stood when the drive let go is another place each time.
An edge that came says when the wire was there; one that did not come says that it never was. What every coast of
timing.process.coast makes of both is compared with what was seen, over all of them on a grid, and what fits is kept in
proportion to how well: median and limits are those of what is left. Before any run a coast is as likely to lie between
10 and 20 ms as between 20 and 40 ms, and its shape as usual with or without a brake.

Where the motor's own voltage hides when it was let go, that instant is found as well, for each run by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from timing.elementwise import Floats
from timing.measure.small_sample import LIMITS_HOLD
from timing.measure.turning import TurningWire
from timing.process.coast import Coast, UsualFriction

FIRST_COASTS_US = np.geomspace(2_000.0, 500_000.0, 240)
"""Coasts that are looked at first (choice: steps of 2.3 %)."""
FIRST_OFF_SHARE = 0.02
"""Edges' places are taken to be off by this share of the run-on as well at first, so that no step misses what fits
(choice: about a step)."""
FINER = 240
"""Coasts that are looked at then, between the ends of what fitted at first (choice)."""
COAST_SHAPES = 25
"""Shapes of the coast that are looked at, over three standard deviations to either side (choice)."""
CUT_SHARE = 1e-4
"""Share of what fits that is left out at either end when the grid is laid anew (choice)."""
MOST_APART = 6.0
"""An edge that is farther off than this many standard deviations is a speck on the disc, or a wire that springs back,
and speaks no more against a coast than that (choice)."""
LET_GO_PLACES, LET_GO_ROUNDS = 9, 6
"""How the instant of a hidden let-go is looked for: at so many places between what bounds it, in so many rounds, each
between the neighbours of the best (choice: to a tenth of a millisecond)."""
COAST_SCATTERS = np.array([0.0, 0.01, 0.02, 0.05, 0.10])
"""Relative standard deviations of the coast from one run to the next that are looked at (choice)."""


@dataclass(frozen=True)
class RunOn:
    """What the wire runs on, as time at full speed, in us."""

    median_us: float
    low_us: float
    high_us: float
    """With `low_us`: the coast lies between in 95 of 100 cases."""
    deviation_us: float
    """Standard deviation of what is left."""
    shape: float
    """Likely k of timing.process.coast."""
    let_go_us: Floats
    """When each run was let go: the instants of its motor's voltage, or those found."""
    last_edge_us: Floats
    """What each run had done by its last edge."""


def run_on(runs: Sequence[TurningWire], friction: UsualFriction, *, hidden: bool = False) -> RunOn:
    """Return the coast of some runs. Raises ValueError for none.

    hidden: the motor makes a voltage of its own while it runs on, so that nothing shows when it was let go.
    """
    if not runs:
        raise ValueError("no run")
    places = np.linspace(-3.0, 3.0, COAST_SHAPES)
    grid = _Grid(
        FIRST_COASTS_US, friction.median * np.exp(friction.spread * places), np.exp(-0.5 * places**2), FIRST_OFF_SHARE
    )
    posterior, shape_share, _ = grid.joined(runs, hidden)
    grid = grid.finer(posterior, shape_share, friction)
    posterior, shape_share, starts = grid.joined(runs, hidden)
    coasts_us, shapes = grid.coasts_us, grid.shapes
    share = np.cumsum(posterior)
    low, median, high = (
        float(np.interp(level, share, coasts_us)) for level in ((1 - LIMITS_HOLD) / 2, 0.5, (1 + LIMITS_HOLD) / 2)
    )
    mean = float(posterior @ coasts_us)
    deviation = float(np.sqrt(posterior @ (coasts_us - mean) ** 2))
    likely = int(np.argmin(np.abs(coasts_us - median))), int(np.argmax(shape_share))
    let_go_us = np.array([float(one[likely]) for one in starts])
    last_us = np.array([_last_us(run, at_us) for run, at_us in zip(runs, let_go_us, strict=True)])
    return RunOn(median, low, high, deviation, float(shapes[likely[1]]), let_go_us, last_us)


def _last_us(run: TurningWire, let_go_us: float) -> float:
    return run.due_us(len(run.edges_us) - 1) - let_go_us


@dataclass(frozen=True)
class _Grid:
    """Coasts and shapes that are looked at."""

    coasts_us: Floats
    shapes: Floats
    weights: Floats
    """How likely each shape is before any run."""
    off_share: float
    """Of the run-on: how far edges may be off beyond what they are."""

    def joined(self, runs: Sequence[TurningWire], hidden: bool) -> tuple[Floats, Floats, list[Floats]]:
        """Return how likely each coast and each shape is by all runs, and when each run was let go with either."""
        each = [self._likelihoods(run, hidden) for run in runs]
        step = float(np.log(self.coasts_us[1] / self.coasts_us[0]))
        totals = [
            _summed([_spread(one, scatter / step) for one, _ in each], self.weights)
            for scatter in COAST_SCATTERS
            if scatter / step < len(self.coasts_us) / 6
        ]
        most = max(float(total.max()) for total in totals)
        whole = np.sum([np.exp(total - most) for total in totals], axis=0)
        joint = whole / whole.sum()
        return joint.sum(axis=1), joint.sum(axis=0), [starts for _, starts in each]

    def finer(self, posterior: Floats, shape_share: Floats, friction: UsualFriction) -> _Grid:
        """Return a grid over what is left by the first."""
        low_us, high_us = _ends(self.coasts_us, posterior)
        low, high = _ends(self.shapes, shape_share)
        shapes = np.geomspace(low, high, COAST_SHAPES)
        places = np.log(shapes / friction.median) / friction.spread
        return _Grid(np.geomspace(low_us, high_us, FINER), shapes, np.exp(-0.5 * places**2), 0.0)

    def _likelihoods(self, run: TurningWire, hidden: bool) -> tuple[Floats, Floats]:
        cells = (len(self.coasts_us), len(self.shapes))
        if not hidden:
            start_us = np.full(cells, float(run.let_go_us))
            return self._logs(run, start_us), start_us
        low_us, high_us = np.full(cells, float(run.ended_us)), np.full(cells, float(run.let_go_us))
        for _ in range(LET_GO_ROUNDS):
            step_us = (high_us - low_us) / (LET_GO_PLACES - 1)
            tried = np.stack([self._logs(run, low_us + place * step_us) for place in range(LET_GO_PLACES)])
            best_us, best = low_us + tried.argmax(axis=0) * step_us, tried.max(axis=0)
            low_us, high_us = np.maximum(best_us - step_us, low_us), np.minimum(best_us + step_us, high_us)
        return best, best_us

    def _logs(self, run: TurningWire, let_go_us: Floats) -> Floats:
        """Return how likely the edges are, as a logarithm, shape (coasts, shapes), as is `let_go_us`."""
        coast = Coast.of(self.coasts_us[:, None] / 1e6, self.shapes[None, :])
        off_us = np.hypot(run.edge_us, self.off_share * self.coasts_us)[:, None]
        total = np.zeros(let_go_us.shape)
        for place in range(int(np.searchsorted(run.edges_us, run.ended_us)), len(run.edges_us)):
            after_us, due_us = run.edges_us[place] - let_go_us, run.due_us(place) - let_go_us
            done_us = 1e6 * np.asarray(coast.run_s(np.maximum(after_us, 0.0) / 1e6)) + np.minimum(after_us, 0.0)
            total -= 0.5 * np.minimum(((done_us - due_us) / off_us) ** 2, MOST_APART**2)
        never_us = run.due_us(len(run.edges_us)) - let_go_us
        kept = _below((never_us - self.coasts_us[:, None]) / off_us)
        return total + np.log(np.maximum(kept, np.exp(-0.5 * MOST_APART**2)))


def _ends(places: Floats, share: Floats) -> tuple[float, float]:
    """Return the places between which nearly all lies, one step wider."""
    whole = np.cumsum(share)
    first = max(int(np.searchsorted(whole, CUT_SHARE)) - 1, 0)
    last = min(int(np.searchsorted(whole, 1 - CUT_SHARE)) + 1, len(places) - 1)
    return float(places[first]), float(places[last])


def _below(place: Floats) -> Floats:
    """The normal distribution's share below, to what a grid asks for: a logistic curve of the same slope (practice)."""
    share: Floats = 1 / (1 + np.exp(-np.clip(1.702 * place, -50.0, 50.0)))
    return share


def _summed(each: Sequence[Floats], weights: Floats) -> Floats:
    total: Floats = np.sum(each, axis=0) + np.log(weights)[None, :]
    return total


def _spread(logs: Floats, places: float) -> Floats:
    """Return a likelihood over coasts where each run has a coast of its own, `places` of the grid about the common."""
    if places <= 0:
        return logs
    reach = int(3 * places) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / places) ** 2)
    kernel /= kernel.sum()
    most = logs.max()
    padded = np.pad(np.exp(logs - most), ((reach, reach), (0, 0)), mode="edge")
    moved = np.sum([padded[place : place + len(logs)] * share for place, share in enumerate(kernel)], axis=0)
    spread: Floats = np.log(np.maximum(moved, 1e-300)) + most
    return spread
