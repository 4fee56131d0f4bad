"""A welding machine played by a script: what it hides, only test welds can tell.

The burnback model is its plant. The rest is its own: coast and drop-outs that no paper states, another shape of coast
than the design says, a ball on the wire that the model does not know, a puddle that catches nearer or further off, a
rule that is read wrong, and a hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np

from timing.elementwise import Floats
from timing.process.arc import Plant, settle
from timing.process.burnback import Release, run_burnback
from timing.process.case import BurnbackCase

SIXTEENTH_MM = 25.4 / 16
BRACED_MM, BY_HAND_MM = 0.3, 1.0
"""How far the gun strays with the hand on a block, and without one: standard deviations."""


@dataclass(frozen=True)
class Hidden:
    """What a machine is like, and the person who reads it."""

    coast_s: float
    friction: float
    """How it slows down: 0 dies away exponentially, as a shorted motor alone, a large one evenly, as dry friction."""
    wire_off_s: tuple[float, float]
    """Mean and standard deviation, as the next."""
    contactor_off_s: tuple[float, float]
    ball_diameters: tuple[float, float]
    """Over the wire's diameter."""
    reading_mm: float = 0.4
    rule_mm: float = 0.5
    """Readings are rounded to this, sixteenths of an inch are told as such."""
    catches_diameters: float = 0.6
    """A ball nearer to the puddle than this many wire diameters is caught."""
    tells_ball: str = ""
    """How the person says that the reading goes to the ball's end: 'ball', or 'ball size'; empty: it does not."""
    off: dict[str, float] = field(default_factory=dict)
    """Factors on the plant's figures, such as the open-circuit voltage: what survey and papers have wrong."""


@dataclass
class ScriptedMachine:
    """A machine that welds; `case` is what the design says of wire, gas and source."""

    case: BurnbackCase
    hidden: Hidden
    seed: int

    def __post_init__(self) -> None:
        self._random = np.random.default_rng(self.seed)

    def weld(self, burnback_s: float) -> str:
        """Make one test weld, the hand on a block, and say what became of the wire in the words of --weld."""
        rest, ball, frozen, fused = self._burn(burnback_s, 1, BRACED_MM)
        if fused[0] or frozen[0]:
            return "fused to the tip" if fused[0] else "frozen"
        hidden = self.hidden
        end_mm = float(rest[0]) + (float(self._beyond(ball)[0]) if hidden.tells_ball else 0.0)
        read_mm = end_mm + hidden.reading_mm * float(self._random.standard_normal())
        left = _as_read(max(round(read_mm / hidden.rule_mm), 1), hidden.rule_mm)
        said = {"": "", "ball": ", ball", "ball size": f", ball {float(ball[0]):.1f} mm"}
        return left + said[hidden.tells_ball]

    def share_free(self, burnback_s: float, welds: int = 1000) -> float:
        """Weld by hand, many times at one setting, and return the share that comes free of puddle and tip."""
        _, _, frozen, fused = self._burn(burnback_s, welds, BY_HAND_MM)
        return float(1 - (frozen | fused).mean())

    def _beyond(self, ball_mm: Floats) -> Floats:
        """How far a ball stands beyond the solid wire."""
        wire = self.case.wire.diameter_mm
        beyond: Floats = ball_mm / 2 + np.sqrt(np.maximum((ball_mm / 2) ** 2 - (wire / 2) ** 2, 0.0))
        return beyond

    def _burn(self, burnback_s: float, count: int, hand_mm: float) -> tuple[Floats, Floats, np.ndarray, np.ndarray]:
        hidden, random, wire = self.hidden, self._random, self.case.wire.diameter_mm
        plant = self._plant(count, hand_mm)
        point = settle(plant)
        shift = np.where(point.dip_v > 0, random.uniform(-1, 1, count) * point.arc_length_mm(plant), 0.0)
        release = Release(
            np.maximum(random.normal(*hidden.wire_off_s, count), 0.001),
            hidden.coast_s * np.exp(0.04 * random.standard_normal(count)),
            np.maximum(random.normal(*hidden.contactor_off_s, count), 0.002),
            np.full(count, hidden.friction),
            shift,
        )
        ball = np.maximum(random.normal(*hidden.ball_diameters, count), 1.0) * wire
        end = replace(self.case.end, fused_mm=0.5 * float(hidden.ball_diameters[0]) * wire)
        run = run_burnback(plant, point, release, end, np.array([burnback_s]))
        rest = run.extension_mm[0]
        fused = run.outcome[0] == 3
        gap = plant.distance_mm - rest - self._beyond(ball)
        return rest, ball, (gap <= hidden.catches_diameters * wire) & ~fused, fused

    def _plant(self, count: int, hand_mm: float) -> Plant:
        random = self._random
        plant = self.case.plant().repeated(count)
        distance = plant.distance_mm + hand_mm * np.clip(random.standard_normal(count), -3, 3)
        feed = plant.feed_mm_s * np.exp(0.01 * random.standard_normal(count))
        plant = replace(plant, distance_mm=np.maximum(distance, 5.0), feed_mm_s=feed)
        return replace(plant, **{name: getattr(plant, name) * factor for name, factor in self.hidden.off.items()})


def _as_read(divisions: int, rule_mm: float) -> str:
    """A reading in whole divisions of a rule, as its owner says it."""
    if rule_mm != SIXTEENTH_MM:
        return f"{divisions * rule_mm:g} mm"
    whole, sixteenths = divmod(divisions, 16)
    part = str(Fraction(sixteenths, 16)) if sixteenths else ""
    return f"{'-'.join(filter(None, [str(whole) if whole else '', part]))} in"
