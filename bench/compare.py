"""Predicted beside observed: every phase, fault and edge, within tolerance."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from bench.tolerance import Tolerance
from bench.trace import Observation, output_word
from timing.sequence.core.engine import PhaseChange, Timeline
from timing.sequence.core.script import Change
from timing.sequence.core.table import Fault, Phase


@dataclass(frozen=True)
class Event:
    """Something that happens on one track at one instant: 'weld begins', 'comes on'."""

    at_us: int
    what: str


@dataclass(frozen=True)
class Difference:
    """One thing that is not as predicted. One of the two events may be missing."""

    track: str
    """Phase, or the output's name."""
    expected: Event | None
    seen: Event | None
    tolerance: Tolerance

    def __str__(self) -> str:
        if self.seen is None or self.expected is None:
            return self._one_sided()
        if self.expected.what != self.seen.what:
            return (
                f"{self.track}: {self.expected.what} expected at {_ms(self.expected.at_us)}; instead "
                f"{self.seen.what} at {_ms(self.seen.at_us)}"
            )
        error_us = self.seen.at_us - self.expected.at_us
        return (
            f"{self.track}: {self.seen.what} at {_ms(self.seen.at_us)}, expected at {_ms(self.expected.at_us)}: "
            f"{_ms(abs(error_us))} {'late' if error_us > 0 else 'early'} "
            f"(allowed {_ms(self.tolerance.early_us)} early to {_ms(self.tolerance.late_us)} late)"
        )

    def _one_sided(self) -> str:
        if self.seen is not None:
            return f"{self.track}: {self.seen.what} at {_ms(self.seen.at_us)}, which is not expected"
        if self.expected is not None:
            return f"{self.track}: {self.expected.what} expected at {_ms(self.expected.at_us)}, did not happen"
        return f"{self.track}: as expected"


@dataclass(frozen=True)
class Comparison:
    """What comparing came to."""

    differences: tuple[Difference, ...]
    compared: int
    """Events compared, over all tracks."""
    earliest_us: int
    """Error of the earliest event (negative: early); 0 with none."""
    latest_us: int
    """Error of the latest event, beyond what the instant of the inputs leaves open."""


def compare(
    predicted: Timeline, windows: Sequence[tuple[Change, int]], seen: Observation, tolerance: Tolerance
) -> Comparison:
    """Compare what a board did with the prediction.

    windows: each change of an input as predicted with, and how much later it may have taken effect.
    """
    resets_us = [change.at_us for change, _ in windows if change.what == "reset"]
    tracks = {"phase": (_phase_events(predicted.phases, resets_us), _phase_events(seen.phases, resets_us))}
    for output, edges in seen.edges.items():
        expected = predicted.edges_of(output)
        tracks[output_word(output)] = (
            [Event(edge.at_us, _switches(edge.on)) for edge in expected],
            [Event(edge.at_us, _switches(edge.on)) for edge in edges],
        )
    differences: list[Difference] = []
    errors_us = [0]
    for track, (expected_events, seen_events) in tracks.items():
        for wanted, got in zip_longest(expected_events, seen_events):
            at_us = min(event.at_us for event in (wanted, got) if event is not None)
            window_us = _window_us(windows, at_us)
            allowed = tolerance.later(window_us)
            if wanted is None or got is None or wanted.what != got.what:
                differences.append(Difference(track, wanted, got, allowed))
                break  # Beyond the first one that differs in kind, the rest says nothing.
            error_us = got.at_us - wanted.at_us
            errors_us.append(min(error_us, max(error_us - window_us, 0)))
            if not allowed.allows(error_us):
                differences.append(Difference(track, wanted, got, allowed))
    compared = sum(len(expected_events) for expected_events, _ in tracks.values())
    return Comparison(tuple(differences), compared, min(errors_us), max(errors_us))


def _window_us(windows: Sequence[tuple[Change, int]], at_us: int) -> int:
    return max((window_us for change, window_us in windows if change.at_us <= at_us), default=0)


def _switches(on: bool) -> str:
    return "comes on" if on else "goes off"


def _phase_events(phases: Iterable[PhaseChange], resets_us: Iterable[int]) -> list[Event]:
    events: list[Event] = []
    for change in _without_bare_faults(phases, sorted(resets_us)):
        what = f"{change.phase.word} begins" if change.fault is Fault.NONE else _with_fault(change)
        if not events or events[-1].what != what:
            events.append(Event(change.at_us, what))
    # How things stood at the start is part of the prediction already.
    return events[1:]


def _with_fault(change: PhaseChange) -> str:
    return f"{change.phase.word} with fault {change.fault.value} ({change.fault.word})"


def _without_bare_faults(phases: Iterable[PhaseChange], resets_us: Sequence[int]) -> Iterable[PhaseChange]:
    """Take out the faults that a bare board shows after a reset, when for an instant its own pins count."""
    pending, bare = list(resets_us), False
    for change in phases:
        if pending and change.at_us >= pending[0] and change.phase is Phase.HOLD_OFF:
            bare = True
            pending.pop(0)
        bare = bare and change.phase in (Phase.HOLD_OFF, Phase.IDLE)
        yield PhaseChange(change.at_us, change.phase, Fault.NONE) if bare else change


def _ms(time_us: int) -> str:
    return f"{time_us / 1000:.3f} ms" if abs(time_us) < 1_000_000 else f"{time_us / 1e6:.6f} s"
