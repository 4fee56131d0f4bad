"""From what test welds allow to the burnback setting: which to use, whether it is sure enough, which weld comes next.

Settings are those that the hand can make: the marks of the dial's plate, or any time where burnback is fixed in the
program. A setting is judged by how many welds come free, neither frozen in the puddle nor fused to the tip, on nearly
every machine that the welds so far allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from timing.elementwise import Floats, percentiles
from timing.process.burnback import QUICK_STEP_S
from timing.process.burnback_curve import TIE
from timing.process.case import HAND_SPREAD_MM, BurnbackCase
from timing.process.evidence import WeldEvidence, frozen_share, fused_share, weld_scatter
from timing.process.lattice import normal_share
from timing.process.machines import wire_ends
from timing.process.settable import DialMark, Settable
from timing.process.welds import TestWeld, WeldOutcome

ENOUGH_FREE = 0.95
"""Share of welds that shall come free on the worst machine allowed, before test welds may stop (choice)."""
ALLOWED = 0.95
"""The worst machine allowed: this share of those that test welds leave does as well there, or better (choice)."""
MOST_LOST = 0.5
"""Share of the machines left for which a test weld may be too short (choice: simulated machines need the fewest welds
with it, of 0.25 to 0.5, and none is long for nothing)."""
STEP_ON = 1.2
"""After a weld that froze or fused the next setting is longer or shorter by this factor at least (choice)."""
SAME_SPEED = 0.1
"""A weld proves a setting at wire feed speeds within this share of its own (choice)."""
BETTER = 0.05
"""Share of welds by which a setting must be better to be worth a new dial (choice)."""
HIGHER_V = (1.0, 2.0, 3.0, 4.0)
"""How much higher a voltage is tried where no burnback serves (choice)."""


@dataclass(frozen=True)
class MachinesLeft:
    """The machines that test welds leave, all alike likely."""

    evidence: WeldEvidence
    places: Floats
    """Shape (machines, unknowns)."""
    near: Floats
    """The one in the middle of them, shape (1, unknowns): welds scatter as on it."""

    @property
    def middle(self) -> MachinesLeft:
        """That one alone."""
        return replace(self, places=self.near)


@dataclass(frozen=True)
class SettingShares:
    """What becomes of welds at each setting on each machine that is left, shape (settings, machines)."""

    settable: Settable
    read_mm: Floats
    """Extension left, to the end of the ball."""
    scatter_mm: Floats
    """Standard deviation of the extension from weld to weld, shape (settings,)."""
    free: Floats
    """Share neither frozen nor fused."""
    good: Floats
    """Share that is not short either."""
    open: NDArray[np.bool_]
    """False where welds have ruled the setting out, shape (settings,)."""

    @cached_property
    def worst_free(self) -> Floats:
        """Share that comes free on the worst machine allowed, by setting; none where welds have ruled it out."""
        worst: Floats = np.where(self.open, _worst(self.free), 0.0)
        return worst

    @cached_property
    def mean_free(self) -> Floats:
        """Share that comes free over all machines left, by setting."""
        mean: Floats = self.free.mean(axis=1)
        return mean

    @cached_property
    def best(self) -> int:
        """Number of the setting to use.

        Of those that are sure, the one with the most good ends on the worst machine; while none is sure, the one with
        the most over all machines. Of settings alike in that (within TIE) the shortest: more burnback only grows the
        ball.
        """
        sure = self.worst_free >= ENOUGH_FREE
        mean_good = self.good.mean(axis=1)
        score = np.where(sure, _worst(self.good), -1.0) if sure.any() else np.where(self.open, mean_good, -1.0)
        return int(np.flatnonzero(score >= score.max() - TIE)[0])


def _worst(shares: Floats) -> Floats:
    """The share on the worst machine allowed, by setting."""
    worst: Floats = percentiles(shares, (100 * (1 - ALLOWED),))[0]
    return worst


def setting_shares(left: MachinesLeft, settable: Settable, case: BurnbackCase | None = None) -> SettingShares:
    """Return what becomes of welds made by hand on the machines left; `case`: at another voltage than the design's."""
    evidence, settings_s = left.evidence, np.array(settable.times_s)
    made = evidence.case if case is None else case
    machines, ball_factor = evidence.machines, evidence.machines.ball_factor(left.places)
    ends = wire_ends(made.end, machines.drawn(left.places, made), ball_factor, settings_s, QUICK_STEP_S)
    spread = weld_scatter(machines, left.near, made, settings_s, HAND_SPREAD_MM, QUICK_STEP_S)
    frozen, fused = frozen_share(made, ends, spread), fused_share(made, ends, spread)
    short = normal_share((made.end.short_mm - ends.rest_mm) / spread.rest_mm[:, None])
    return SettingShares(
        settable,
        ends.read_mm,
        spread.read_mm,
        free=np.clip(1 - frozen - fused, 0, 1),
        good=np.clip(1 - frozen - np.maximum(fused, short), 0, 1),
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
    """Extension to expect, to the end of the ball."""
    open_mm: float
    """Standard deviation of it over what the welds so far allow."""
    worth_making: bool
    """False where it would teach less than half of the error of one weld, and no setting is likely to be enough."""


def next_weld(shares: SettingShares, came_free: bool, reading_mm: float) -> NextWeld:
    """Return the weld to make next: at the setting that would do for all but MOST_LOST of the machines that are left.

    So it lies where the wire end matters, and seldom costs more than a wire end. Once a weld `came_free` it is made at
    the setting to use itself, and proves it. `reading_mm`: standard deviation of a reading.
    """
    number = shares.best if came_free else _serves_most(shares)
    mean_mm, open_mm = float(shares.read_mm[number].mean()), float(shares.read_mm[number].std())
    teaches = open_mm > float(np.hypot(reading_mm, shares.scatter_mm[number])) / 2
    worth = teaches or float(shares.mean_free[shares.best]) >= ENOUGH_FREE
    return NextWeld(shares.settable.marks[number], mean_mm, open_mm, worth)


def _serves_most(shares: SettingShares) -> int:
    """Number of the shortest setting, not ruled out, that is what 1 - MOST_LOST of the machines want, or longer."""
    wanted = (shares.good >= shares.good.max(axis=0) - TIE).argmax(axis=0)
    served = np.array([(wanted <= number).mean() for number in range(len(shares.open))])
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
    """The same over all machines left."""
    extension_mm: float
    """Extension to expect there, to the end of the ball."""
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
        extension_mm=float(shares.read_mm[best].mean()),
        proved=shares.settable.proved(mark, [weld.burnback_s for weld in free]),
        beyond=beyond,
    )


def _at_speed(weld: TestWeld, feed_mm_s: float) -> bool:
    return weld.feed_mm_s is None or abs(weld.feed_mm_s / feed_mm_s - 1) <= SAME_SPEED


def beyond_dial(shares: SettingShares, left: MachinesLeft) -> DialMark | None:
    """Return a setting outside the dial's range where the middle machine needs one; None while the dial serves."""
    if not shares.settable.dial:
        return None
    on_dial = float(np.where(shares.open, setting_shares(left.middle, shares.settable).free[:, 0], 0.0).max())
    if on_dial >= ENOUGH_FREE:
        return None
    anywhere = setting_shares(left.middle, Settable.fixed())
    wanted = anywhere.settable.marks[anywhere.best]
    inside = shares.settable.times_s[0] <= wanted.time_s <= shares.settable.times_s[-1]
    return None if inside or float(anywhere.worst_free[anywhere.best]) < on_dial + BETTER else wanted


def higher_voltage_v(left: MachinesLeft) -> float | None:
    """Return by how many volts more most welds come free where no burnback does it at the design's voltage.

    None where one does, or where no voltage helps either.
    """

    def best_free(more_v: float) -> float:
        case = left.evidence.case
        shares = setting_shares(left.middle, Settable.fixed(), case.turned_up(more_v))
        return float(shares.good.max())

    if best_free(0.0) >= ENOUGH_FREE:
        return None
    return next((more_v for more_v in HIGHER_V if best_free(more_v) >= ENOUGH_FREE), None)
