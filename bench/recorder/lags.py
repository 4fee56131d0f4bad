"""How much later the recorder sees what a pin of the add-on does, and how much later the add-on sees a press."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bench.random_course import SLACK_US
from timing.project import Project
from timing.protocol.target import OUTPUT_BIT
from timing.recorder.fitting import RecorderWish, recorder_circuits
from timing.sequence.core.table import Output


@dataclass(frozen=True)
class LagSpan:
    """A lag that is the same each time, but for its spread; which it is, is measured in the run."""

    least_us: int
    most_us: int
    spread_us: int = 0
    """From one time to the next, either way."""

    def plus(self, other: LagSpan) -> LagSpan:
        """Return the lag of one behind the other."""
        return LagSpan(self.least_us + other.least_us, self.most_us + other.most_us, self.spread_us + other.spread_us)


@dataclass(frozen=True)
class OutputLag:
    """From a pin of the add-on to the recorder's input at its terminals."""

    on: LagSpan
    off: LagSpan
    bridge_us: int = 0
    """Openings that are no edge: a relay's bounce, the zeros of ac."""

    def of(self, on: bool) -> LagSpan:
        """Return the lag of one direction."""
        return self.on if on else self.off


@dataclass(frozen=True)
class PairLags:
    """All lags between the two boards."""

    press: LagSpan
    """From the recorder's pin to the closed contact at the add-on's input."""
    release: LagSpan
    outputs: Mapping[Output, OutputLag]


SOLID_SPREAD_US = 60
"""Of couplers and photo-relays, from one time to the next, either way (choice: they have no moving parts)."""
RELAY_SPREAD_US = 1_500
"""Of a relay, its bounce with it (practice)."""
CLOCKS_APART_US = 2_000
"""How far the boards' clocks may stay apart by questions over two serial links (practice: an answer takes a few ms)."""
_RELAY, _TRIAC, _MOSFET = LagSpan(0, 20_000, RELAY_SPREAD_US), LagSpan(0, 10_500, 10_500), LagSpan(0, 400, 100)
DRIVE_LAGS = {
    "relay": OutputLag(_RELAY, _RELAY, bridge_us=6_000),
    "opto-triac": OutputLag(_TRIAC, _TRIAC, bridge_us=12_000),
    "mosfet": OutputLag(_MOSFET, _MOSFET),
}
"""What the add-on's own drives add: small relays take up to 15 ms and bounce for up to 5 ms; a triac waits for a zero
of the line (practice)."""
NO_DRIVE = OutputLag(LagSpan(0, 0), LagSpan(0, 0))
"""An adapter on the board's pin itself (exact)."""


def lags_between(project: Project, *, at_pins: bool = False) -> PairLags:
    """Return what lies between the add-on of a project and a recorder with the adapters that suit it, lamps for loads.

    at_pins: the adapters lie on the board's pins, not on the terminals behind its drives.
    """
    circuits = recorder_circuits(project, project.board, RecorderWish())
    press = circuits.presses["trigger"]
    spread_us = RELAY_SPREAD_US if press.by_module else SOLID_SPREAD_US
    found = {}
    for role, bit in OUTPUT_BIT.items():
        if (actuator := getattr(project.design.feeder, role)) is None:
            continue
        drive = NO_DRIVE if at_pins else DRIVE_LAGS[actuator.drive]
        # Where the machine's own circuit is not for an adapter, the lamp's is: like that of any other output.
        adapter = circuits.adapters.get(role) or next(iter(circuits.adapters.values()))
        on = _span(adapter.steady_lag.on_us, SOLID_SPREAD_US)
        off = _span(adapter.steady_lag.off_us, SOLID_SPREAD_US)
        found[Output(bit)] = OutputLag(drive.on.plus(on), drive.off.plus(off), drive.bridge_us)
    return PairLags(_span(press.lag.on_us, spread_us), _span(press.lag.off_us, spread_us), found)


def _span(lag_us: tuple[float, float], spread_us: int) -> LagSpan:
    least_us, most_us = lag_us
    return LagSpan(round(least_us), round(most_us), spread_us)


def random_slack_us(lags: PairLags) -> int:
    """Return how much earlier or later an input of a random script may come with no other outcome.

    Presses have their lag; what is forced lies as far off as two links leave the clocks apart.
    """
    return SLACK_US + max(lags.press.most_us, lags.release.most_us) + CLOCKS_APART_US
