"""From what test welds allow to the burnback setting: which to use, whether it is sure enough, which weld comes next.

Settings are those that the hand can make: the marks of the dial's plate, or any time where burnback is fixed in the
program. A setting is judged by how many welds come free, neither frozen in the puddle nor fused to the tip, on the
worst machine that the welds so far allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from timing.elementwise import Floats
from timing.process.burnback import QUICK_STEP_S
from timing.process.burnback_curve import TIE
from timing.process.case import HAND_SPREAD_MM, BurnbackCase
from timing.process.evidence import WeldEvidence, weld_scatter, wire_ends
from timing.process.lattice import normal_share
from timing.process.settable import DialMark, Settable
from timing.process.welds import TestWeld, WeldOutcome

ENOUGH_FREE = 0.95
"""Share of welds that shall come free on the worst machine allowed, before test welds may stop (choice)."""
MOST_LOST = 0.5
"""Share of the machines left for which a test weld may be too short (choice: simulated machines need the fewest welds
with it, of 0.25 to 0.5, and none is long for nothing)."""
STEP_ON = 1.2
"""After a weld that froze or fused the next setting is longer or shorter by this factor at least (choice)."""
SAME_SPEED = 0.1
"""A weld proves a setting at wire feed speeds within this share of its own (choice)."""
BETTER = 0.05
"""Share of welds by which a setting must be better to be worth a new dial (choice)."""


@dataclass(frozen=True)
class Machines:
    """Pairs of coast and drop-out that test welds leave, each of shape (pairs,)."""

    coast_s: Floats
    contactor_s: Floats
    weights: Floats
    """How likely each is; they add up to 1."""
    allowed: NDArray[np.bool_]
    """True within the region of 95 %."""

    @property
    def likeliest(self) -> Machines:
        """The one pair that is likeliest."""
        one = slice(int(self.weights.argmax()), int(self.weights.argmax()) + 1)
        return Machines(self.coast_s[one], self.contactor_s[one], np.ones(1), np.ones(1, dtype=np.bool_))


@dataclass(frozen=True)
class SettingShares:
    """What becomes of welds at each setting on each machine that is left, shape (settings, pairs)."""

    settable: Settable
    rest_mm: Floats
    scatter_mm: Floats
    """Standard deviation of the extension from weld to weld, shape (settings,)."""
    free: Floats
    """Share neither frozen nor fused."""
    good: Floats
    """Share that is not short either."""
    machines: Machines
    open: NDArray[np.bool_]
    """False where welds have ruled the setting out, shape (settings,)."""

    @cached_property
    def worst_free(self) -> Floats:
        """Share that comes free on the worst machine allowed, by setting; none where welds have ruled it out."""
        worst: Floats = np.where(self.open, self.free[:, self.machines.allowed].min(axis=1), 0.0)
        return worst

    @cached_property
    def mean_free(self) -> Floats:
        """Share that comes free over all machines allowed, each as likely as it is, by setting."""
        weights = np.where(self.machines.allowed, self.machines.weights, 0.0)
        mean: Floats = self.free @ (weights / weights.sum())
        return mean

    @property
    def sure(self) -> bool:
        """Whether the figures say that the setting to use is sure."""
        return bool(self.worst_free[self.best] >= ENOUGH_FREE)

    @cached_property
    def best(self) -> int:
        """Number of the setting to use.

        Of those that are sure, the one with the most good ends on the worst machine; while none is sure, the one with
        the most over all machines. Of settings alike in that (within TIE) the shortest: more burnback only grows the
        ball.
        """
        sure = self.worst_free >= ENOUGH_FREE
        worst_good = self.good[:, self.machines.allowed].min(axis=1)
        mean_good = self.good @ self.machines.weights
        score = np.where(sure, worst_good, -1.0) if sure.any() else np.where(self.open, mean_good, -1.0)
        return int(np.flatnonzero(score >= score.max() - TIE)[0])


def setting_shares(case: BurnbackCase, machines: Machines, settable: Settable, evidence: WeldEvidence) -> SettingShares:
    """Return what becomes of welds made by hand; `case` has the likeliest machine, by which welds scatter."""
    ball_mm = evidence.ball_mm
    ends = wire_ends(case, machines.coast_s, machines.contactor_s, np.array(settable.times_s), QUICK_STEP_S)
    spread = weld_scatter(case, np.array(settable.times_s), HAND_SPREAD_MM, QUICK_STEP_S).widened(evidence.model_mm)
    end = case.end
    beyond_mm = ends.rest_mm + ball_mm - (case.distance_mm - end.sticking_gap_mm)
    frozen = normal_share(beyond_mm / spread.gap_mm[:, None])
    fused = normal_share((end.fused_mm - ends.least_mm) / spread.least_mm[:, None])
    short = normal_share((end.short_mm - ends.rest_mm) / spread.rest_mm[:, None])
    return SettingShares(
        settable,
        ends.rest_mm,
        spread.rest_mm,
        free=np.clip(1 - frozen - fused, 0, 1),
        good=np.clip(1 - frozen - np.maximum(fused, short), 0, 1),
        machines=machines,
        open=_open(settable, evidence.welds),
    )


def _open(settable: Settable, welds: Sequence[TestWeld]) -> NDArray[np.bool_]:
    """Which settings welds have not ruled out; the last, or the first, where that would be none."""
    found = np.array([not _ruled_out(time_s, welds) for time_s in settable.times_s])
    if not found.any():
        found[-1 if any(weld.outcome is WeldOutcome.FROZEN for weld in welds) else 0] = True
    return found


def _ruled_out(time_s: float, welds: Sequence[TestWeld]) -> bool:
    """Tell whether welds rule a setting out, whatever a model makes of them.

    That is where one with as much burnback or more froze and none with less came free, or one with as much or less
    fused and none with more came free; and for STEP_ON further on, since a hand would take a larger step as well.
    """

    def made(outcome: WeldOutcome) -> list[float]:
        return [weld.burnback_s for weld in welds if weld.outcome is outcome]

    free = made(WeldOutcome.FREE)
    froze_s, fused_s = max(made(WeldOutcome.FROZEN), default=-1.0), min(made(WeldOutcome.FUSED), default=np.inf)
    froze = froze_s * STEP_ON > time_s and min(free, default=np.inf) > time_s
    fused = fused_s / STEP_ON < time_s and max(free, default=-1.0) < time_s
    return froze or fused


@dataclass(frozen=True)
class NextWeld:
    """The test weld to make next."""

    mark: DialMark
    predicted_mm: float
    """Extension to the end of the solid wire that is expected."""
    open_mm: float
    """Standard deviation of it over what the welds so far allow."""
    worth_making: bool
    """False where it would teach less than half of the error of one weld, and no setting is likely to be enough."""


def next_weld(shares: SettingShares, came_free: bool, reading_mm: float) -> NextWeld:
    """Return the weld to make next: at the setting that would do for all but MOST_LOST of the machines that are left.

    So it lies where the wire end matters, and seldom costs more than a wire end. Once a weld `came_free` it is made at
    the setting to use itself, and proves it. `reading_mm`: standard deviation of a reading.
    """
    weights = shares.machines.weights
    number = shares.best if came_free else _serves_most(shares)
    mean_mm = float(shares.rest_mm[number] @ weights)
    open_mm = float(((shares.rest_mm[number] - mean_mm) ** 2) @ weights) ** 0.5
    teaches = open_mm > float(np.hypot(reading_mm, shares.scatter_mm[number])) / 2
    worth = teaches or float(shares.mean_free[shares.best]) >= ENOUGH_FREE
    return NextWeld(shares.settable.marks[number], mean_mm, open_mm, worth)


def _serves_most(shares: SettingShares) -> int:
    """Number of the shortest setting, not ruled out, that is what 1 - MOST_LOST of the machines want, or longer."""
    wanted = (shares.good >= shares.good.max(axis=0) - TIE).argmax(axis=0)
    served = np.array([shares.machines.weights[wanted <= number].sum() for number in range(len(shares.open))])
    does = shares.open & (served >= 1 - MOST_LOST)
    return int(does.argmax()) if does.any() else int(np.where(shares.open, served, -1.0).argmax())


@dataclass(frozen=True)
class Settled:
    """The burnback setting that test welds lead to, and whether they are enough."""

    mark: DialMark
    dial: bool
    worst_free: float
    """Share of welds that come free there on the worst machine that the welds allow."""
    mean_free: float
    """The same over all machines allowed, each as likely as it is."""
    extension_mm: float
    """Extension to expect there, to the end of the solid wire."""
    proved: bool
    """True where test welds came free at that setting, or at a shorter and a longer one."""
    beyond: DialMark | None
    """A setting outside the dial that serves where none on it does."""

    @property
    def enough(self) -> bool:
        """Whether test welds may stop."""
        return self.proved and self.worst_free >= ENOUGH_FREE


def settled(shares: SettingShares, welds: Sequence[TestWeld], feed_mm_s: float, beyond: DialMark | None) -> Settled:
    """Return what the shares lead to; `welds` at the wire feed speed prove a setting, `beyond` is passed on."""
    best = shares.best
    mark = shares.settable.marks[best]
    free = [weld for weld in welds if weld.outcome is WeldOutcome.FREE and _at_speed(weld, feed_mm_s)]
    return Settled(
        mark=mark,
        dial=shares.settable.dial,
        worst_free=float(shares.worst_free[best]),
        mean_free=float(shares.mean_free[best]),
        extension_mm=float(shares.rest_mm[best] @ shares.machines.weights),
        proved=shares.settable.proved(mark, [weld.burnback_s for weld in free]),
        beyond=beyond,
    )


def _at_speed(weld: TestWeld, feed_mm_s: float) -> bool:
    return weld.feed_mm_s is None or abs(weld.feed_mm_s / feed_mm_s - 1) <= SAME_SPEED


def beyond_dial(case: BurnbackCase, shares: SettingShares, evidence: WeldEvidence) -> DialMark | None:
    """Return a setting outside the dial's range where the likeliest machine needs one; None while the dial serves."""
    likeliest = shares.machines.likeliest
    on_dial = float(np.where(shares.open, shares.free[:, int(shares.machines.weights.argmax())], 0.0).max())
    if not shares.settable.dial or on_dial >= ENOUGH_FREE:
        return None
    anywhere = setting_shares(case, likeliest, Settable.fixed(), evidence)
    wanted = anywhere.settable.marks[anywhere.best]
    inside = shares.settable.times_s[0] <= wanted.time_s <= shares.settable.times_s[-1]
    return None if inside or float(anywhere.worst_free[anywhere.best]) < on_dial + BETTER else wanted
