"""The slotted disc on the drive roll: how long a turn takes, and where the wire is at each edge, as time at full speed.

No two slots are alike: they differ in width, and the disc sits off centre. But the same edge comes by once a turn.
While the roll turns steadily, what an edge is ahead of or behind the even pace is the same in every turn; so the place
of each edge while the wire starts or stops is that of the same edge one turn away, plus or minus one turn. Nothing
about the disc has to be known but its number of slots.

Where a run is too short for a turn (an arc-start limit ends it), a few slots stand in for the turn: that takes them for
alike, and their places are known the less for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from timing.elementwise import Floats
from timing.measure.lag import EARLY_US, BadRepeatError, by_itself
from timing.measure.repeats import SeenRepeat

EVEN_SHARE = 0.02
"""Two turns' ends that differ by more than this share of a turn are not steady (choice)."""
SETTLED_US = 250_000
"""From the motor's voltage on, a feed motor is nearly at full speed by then: three time constants (practice)."""
DISC_EDGE_US = 60.0
"""Standard deviation of an edge's place as it is known from the turn before, in time at full speed, at the least: two
looks of the recorder and what is left of the run-up. What the turns of a run differ by comes on top (choice)."""
LEAST_SLOTS = 4
"""So many slots at the least stand in for a turn that a run is too short for (choice)."""
UNEVEN_SHARE = 0.08
"""So much do a few slots differ from others as many: a disc that sits off centre by 2 % of its radius makes 4 % of
either sign (derived)."""
_TAUS_US = np.geomspace(2_000.0, 200_000.0, 400)


@dataclass(frozen=True)
class TurningWire:
    """One run as the disc shows it. Instants on the recorder's clock, in us."""

    edges_us: Floats
    """Every edge of the disc, in order."""
    turn_us: float | None
    """What a turn takes at full speed; None where the run was too short for one."""
    back: int
    """So many edges ago the same edge came by, or in place of a turn one of the same kind."""
    back_us: float
    """What that takes at full speed."""
    edge_us: float
    """Standard deviation of what is known of an edge's place, in time at full speed."""
    on_us: int
    """The motor's voltage came on."""
    let_go_us: int
    """The motor's voltage went off."""
    ended_us: float
    """The earliest that the motor can have been let go."""
    slots: int

    @property
    def likely_turn_us(self) -> float:
        """What a turn takes; of a run that is shorter, by the slots that it shows."""
        if self.turn_us is not None:
            return self.turn_us
        steady_us = self.edges_us[(self.edges_us > self.on_us + SETTLED_US) & (self.edges_us <= self.ended_us)]
        whole = (len(steady_us) - 1) // 2 * 2
        return float(steady_us[whole] - steady_us[0]) * 2 * self.slots / whole

    def settled(self, tau_us: float) -> TurningWire:
        """Return the run with every edge where it would be had the motor been at full speed all along.

        tau_us: the time constant of its coming up to speed; an edge t after the voltage is ahead by
        tau exp(-t / tau), which is taken off.
        """
        after_us = np.maximum(self.edges_us - self.on_us, 0.0)
        moved_us = np.where(self.edges_us < self.ended_us, tau_us * np.exp(-after_us / tau_us), 0.0)
        return replace(self, edges_us=self.edges_us + moved_us, **_pace(self, self.edges_us + moved_us))

    def due_us(self, place: int) -> float:
        """Return when an edge would have come at full speed, by one that came before; one may be to come."""
        return float(self.edges_us[place - self.back] + self.back_us)

    @property
    def turns(self) -> float:
        """Turns of the whole run, from standstill to standstill, to an edge."""
        return len(self.edges_us) / (2 * self.slots)


def turning_wire(repeat: SeenRepeat, slots: int, ended_us: float, motor: str = "motor") -> TurningWire:
    """Return one run as a disc of so many slots shows it; `ended_us`: when its pin went off. Raises BadRepeatError.

    Where the motor's voltage does not tell when it was let go (a motor that runs on), `let_go_us` is when it went off.
    """
    ons_us, offs_us = repeat.ons_us(motor), [at_us for at_us in repeat.offs_us(motor) if at_us > ended_us]
    if not ons_us or not offs_us:
        raise BadRepeatError("the motor's voltage was not seen to come and go")
    by_itself(repeat.of(motor), motor, ended_us - EARLY_US)
    edges_us = np.array([edge.at_us for edge in repeat.of("disc")], dtype=np.float64)
    steady_us = edges_us[(edges_us > ons_us[0] + SETTLED_US) & (edges_us <= ended_us)]
    late = len(edges_us) - int(np.searchsorted(edges_us, ended_us))
    back, whole = 2 * slots, len(steady_us) >= 2 * slots + 2
    if not whole:
        back = 2 * max(LEAST_SLOTS, late // 2 + 1)
    if len(steady_us) < back + 2:
        raise BadRepeatError(
            f"the disc showed {len(steady_us)} edges at full speed, {back + 2} are needed: let it run longer, or look "
            "whether every slot passes the light barrier"
        )
    backs_us = steady_us[back:] - steady_us[:-back]
    if np.ptp(backs_us) > (EVEN_SHARE if whole else UNEVEN_SHARE) * np.median(backs_us):
        raise BadRepeatError("one turn took longer than the next: edges are missing, or the wire slips or drags")
    bare = TurningWire(edges_us, None, back, 0.0, DISC_EDGE_US, ons_us[0], offs_us[0], ended_us, slots)
    return replace(bare, **_pace(bare, edges_us))


def _pace(run: TurningWire, edges_us: Floats) -> dict[str, Any]:
    """Return what a turn takes, or a few slots, by edges at full speed."""
    steady_us = edges_us[(edges_us > run.on_us + SETTLED_US) & (edges_us <= run.ended_us)]
    backs_us = steady_us[run.back :] - steady_us[: -run.back]
    if run.back == 2 * run.slots:
        back_us = float(np.mean(backs_us))
        return {"back_us": back_us, "turn_us": back_us, "edge_us": float(np.hypot(DISC_EDGE_US, np.std(backs_us)))}
    # The latest of them is the nearest to what comes.
    back_us = float(np.mean(backs_us[-run.back :]))
    return {"back_us": back_us, "edge_us": float(np.hypot(DISC_EDGE_US, UNEVEN_SHARE / 4 * back_us))}


def run_up_us(runs: Sequence[TurningWire]) -> tuple[float, ...]:
    """Return the time constant with which each run came up to speed, in us; a run that shows none is left out.

    A motor of the first order is ahead of where it would be, had it been at full speed all along, by tau exp(-t / tau)
    at the time t after its voltage.
    """
    found = []
    for run in runs:
        early = np.flatnonzero((run.edges_us > run.on_us) & (run.edges_us < run.on_us + SETTLED_US))
        early = early[early + run.back < np.searchsorted(run.edges_us, run.ended_us)]
        if len(early) < 2:
            continue
        after_us, later_us = (run.edges_us[early + moved] - run.on_us for moved in (0, run.back))
        ahead_us = later_us - run.back_us - after_us
        told_us = _ahead_us(after_us) - _ahead_us(later_us)
        found.append(float(_TAUS_US[int(np.argmin(((told_us - ahead_us) ** 2).sum(axis=1)))]))
    return tuple(found)


def _ahead_us(after_us: Floats) -> Floats:
    ahead: Floats = _TAUS_US[:, None] * np.exp(-after_us / _TAUS_US[:, None])
    return ahead


def at_full_speed(runs: Sequence[TurningWire]) -> tuple[TurningWire, ...]:
    """Return the runs with what is left of their coming up to speed taken off, as far as they show it."""
    found = run_up_us(runs)
    return tuple(run.settled(float(np.median(found))) for run in runs) if found else tuple(runs)


def lengths_text() -> str:
    """Return how the length of wire is measured, for the steps."""
    return (
        "Cut the wire off flush with the contact tip before each run and after it, and measure the piece, stretched "
        "along a rule, to a millimetre."
    )
