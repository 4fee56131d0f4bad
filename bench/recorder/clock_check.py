"""Both boards' clocks at the end of a run: against each other, and over a long run against this computer's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bench.compare import SHORTEST_HOST_SPAN_S, CaseResult, clock_tolerance
from bench.recorder.clocks import ClockRatio, Meeting, ratio_of

CLOCKS_CASE = "clocks"
"""Name of this check among the cases."""
RECORDER_CLOCK_PPM = 5_000
"""Worst error of a recorder's clock: a ceramic resonator (practice)."""


@dataclass(frozen=True)
class HostSpan:
    """How long one and the same time was on the host's clock and on a board's."""

    host_s: float
    board_us: int

    @property
    def ratio(self) -> float:
        """Board time over host time."""
        return self.board_us / 1e6 / self.host_s

    def is_off(self, tolerance_ppm: int) -> bool:
        """Tell whether the board's clock is off by more than its oscillator and the link can be."""
        return self.host_s >= SHORTEST_HOST_SPAN_S and abs(self.ratio - 1) > clock_tolerance(tolerance_ppm, self.host_s)


@dataclass(frozen=True)
class ClockFinding:
    """What the clocks came to."""

    asked: ClockRatio | None
    """From questions to both boards in turn; None where the run was too short to tell anything."""
    pressed: ClockRatio | None
    """From presses: the recorder's stamps, and the instants at which the board says that it saw them."""
    board_host: HostSpan | None
    """None where neither board follows this computer's clock."""
    recorder_host: HostSpan | None
    tolerance_ppm: int
    """Of the add-on's clock."""

    @property
    def ratio(self) -> ClockRatio | None:
        """The sharper of the two where they agree; what was asked where they do not, for that rests on no claim."""
        if self.asked is None or self.pressed is None:
            return self.asked or self.pressed
        sharper = min(self.asked, self.pressed, key=lambda one: one.uncertainty)
        return sharper if self.asked.agrees_with(self.pressed) else self.asked

    @property
    def allowed(self) -> float:
        """How far the ratio may lie from 1 by both oscillators' tolerances."""
        return (self.tolerance_ppm + RECORDER_CLOCK_PPM) / 1e6

    @property
    def troubles(self) -> tuple[str, ...]:
        """What is wrong, a sentence each."""
        found = []
        ratio = self.ratio
        if ratio is not None and abs(ratio.apart) - ratio.uncertainty > self.allowed:
            found.append(
                f"The clock: the board counts {'more' if ratio.apart > 0 else 'less'} than the recorder by "
                f"{_percent(abs(ratio.apart))} (known to {_percent(ratio.uncertainty)}); both oscillators together may "
                f"be {_percent(self.allowed)} apart. {self._which()}"
            )
        if self.asked is not None and self.pressed is not None and not self.asked.agrees_with(self.pressed):
            found.append(
                "The clock: by the instants at which the board says that it saw the presses, it counts "
                f"{_percent(self.pressed.apart)} more than the recorder; asked for its time, "
                f"{_percent(self.asked.apart)}. What it tells of the presses is not what happened."
            )
        return tuple(found)

    def _which(self) -> str:
        if self.board_host is not None and self.board_host.is_off(self.tolerance_ppm):
            return (
                "This computer's clock says that it is the board's: all its times are off by as much. Another "
                "oscillator than the sketch was built for, or a sketch that was changed."
            )
        if self.recorder_host is not None and self.recorder_host.is_off(RECORDER_CLOCK_PPM):
            return "This computer's clock says that it is the recorder's: flash it for the board that it is."
        return "Run more cases: over a longer time this computer's clock tells which of the two is off."

    @property
    def result(self) -> CaseResult:
        """The clocks as one result of a bench run."""
        took_us = 0 if self.ratio is None else self.ratio.span_us
        return CaseResult(CLOCKS_CASE, "board's clock against the recorder's", self.troubles, 1, took_us=took_us)


def _percent(share: float) -> str:
    return f"{share * 100:.3f} %"


def check_clocks(
    meetings: Sequence[Meeting],
    presses: Sequence[Meeting],
    hosts: tuple[HostSpan, HostSpan] | None,
    tolerance_ppm: int,
) -> ClockFinding:
    """Return what the clocks came to.

    meetings, presses: see ClockFinding.asked and .pressed. hosts: the add-on's and the recorder's, where they follow.
    """
    board, recorder = hosts or (None, None)
    return ClockFinding(ratio_of(meetings), ratio_of(presses), board, recorder, tolerance_ppm)
