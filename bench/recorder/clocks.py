"""Two boards' clocks held against each other: how fast one runs by the other, where an instant of one lies on it.

A meeting is an instant that both boards told of, on each clock known to within a span. No line through all meetings
means that a clock did not run evenly; what is left then is how far it went astray.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

MOST_MEETINGS = 120
"""Meetings that a ratio is taken from: the sharpest of as many stretches of the run (choice: pairs of them are looked
at)."""
DRIFT = 20e-6
"""How far a board's clock may wander within one run, as its share: a crystal less, a ceramic resonator in a warming
room about this (choice)."""


@dataclass(frozen=True)
class Meeting:
    """One instant on both clocks, unwrapped microseconds."""

    recorder_from_us: float
    recorder_to_us: float
    board_from_us: float
    board_to_us: float

    @property
    def width_us(self) -> float:
        """How little it says."""
        return self.recorder_to_us - self.recorder_from_us + self.board_to_us - self.board_from_us


@dataclass(frozen=True)
class ClockRatio:
    """How fast the add-on's clock runs by the recorder's."""

    ratio: float
    """Microseconds of the add-on in one of the recorder."""
    uncertainty: float
    """It lies within so much, either way."""
    span_us: int
    """How long both were watched, on the recorder's clock."""

    @property
    def apart(self) -> float:
        """By what share the add-on's clock runs fast (positive) or slow."""
        return self.ratio - 1

    def agrees_with(self, other: ClockRatio) -> bool:
        """Tell whether both can be right, each clock wandering as it may."""
        return abs(self.ratio - other.ratio) <= self.uncertainty + other.uncertainty + DRIFT


def ratio_of(meetings: Sequence[Meeting]) -> ClockRatio | None:
    """Return the ratio of the clocks over the meetings; None where they say nothing: too few, or too close together."""
    sharp = _sharpest(meetings)
    least, most = 0.0, float("inf")
    for index, first in enumerate(sharp):
        for later in sharp[index + 1 :]:
            longest_us = later.recorder_to_us - first.recorder_from_us
            shortest_us = later.recorder_from_us - first.recorder_to_us
            if shortest_us > 0:
                most = min(most, (later.board_to_us - first.board_from_us) / shortest_us)
                least = max(least, (later.board_from_us - first.board_to_us) / longest_us)
    if most == float("inf"):
        return None
    span_us = round(sharp[-1].recorder_to_us - sharp[0].recorder_from_us)
    # Where no one ratio fits, the clocks wandered, or an account of them is wrong: the bounds then tell how far.
    open_share = (most - least) / 2 if most >= least else least - most
    return ClockRatio((least + most) / 2, open_share + DRIFT, span_us)


def _sharpest(meetings: Sequence[Meeting]) -> list[Meeting]:
    if len(meetings) <= MOST_MEETINGS:
        return sorted(meetings, key=lambda one: one.recorder_from_us)
    first_us = min(one.recorder_from_us for one in meetings)
    span_us = max(one.recorder_from_us for one in meetings) - first_us
    kept: dict[int, Meeting] = {}
    for one in meetings:
        stretch = int((one.recorder_from_us - first_us) / max(span_us, 1) * MOST_MEETINGS)
        if stretch not in kept or one.width_us < kept[stretch].width_us:
            kept[stretch] = one
    return [kept[stretch] for stretch in sorted(kept)]


@dataclass(frozen=True)
class ClockMap:
    """Where instants of the recorder lie on the add-on's clock, near an instant where both were asked."""

    recorder_us: float
    """The instant near which it holds."""
    board_us: float
    """The same on the add-on's clock."""
    within_us: float
    """How far off that may be."""
    ratio: float

    def to_board(self, recorder_us: float) -> float:
        """Return an instant of the recorder on the add-on's clock."""
        return self.board_us + (recorder_us - self.recorder_us) * self.ratio

    def from_board(self, board_us: float) -> float:
        """Return an instant of the add-on on the recorder's clock."""
        return self.recorder_us + (board_us - self.board_us) / self.ratio

    def narrowed(self, least_us: float, most_us: float) -> ClockMap | None:
        """Return the map that is between so much and so much later than this one; None where this rules it out."""
        least_us, most_us = max(least_us, -self.within_us), min(most_us, self.within_us)
        if least_us > most_us:
            return None
        return replace(self, board_us=self.board_us + (least_us + most_us) / 2, within_us=(most_us - least_us) / 2)


def map_of(meetings: Sequence[Meeting], ratio: ClockRatio, near_us: float) -> ClockMap:
    """Return where instants of the recorder lie on the add-on's clock, near one of the recorder's instants.

    meetings: at least one. What the ratio leaves open grows with the distance of a meeting from there.
    """
    spans = []
    for one in meetings:
        away_us = max(abs(one.recorder_from_us - near_us), abs(one.recorder_to_us - near_us))
        open_us = away_us * ratio.uncertainty
        spans.append(
            (
                one.board_from_us - (one.recorder_to_us - near_us) * ratio.ratio - open_us,
                one.board_to_us - (one.recorder_from_us - near_us) * ratio.ratio + open_us,
            )
        )
    least_us, most_us = max(span[0] for span in spans), min(span[1] for span in spans)
    return ClockMap(near_us, (least_us + most_us) / 2, abs(most_us - least_us) / 2, ratio.ratio)
