"""What a board did, beside what was predicted: every phase, fault and edge, within tolerance.

A board's edge trace becomes phases and edges; how far they may lie from the prediction is computed from what is known.
Everything is measured on the board's own clock, by which it also counts its times: the error of its oscillator drops
out here, and is looked at by comparing with the host's clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from bench.message import Answer
from timing.formatting import exact_ms
from timing.protocol.target import LEVEL_BIT, OUTPUT_BIT
from timing.sequence.core.engine import Edge, PhaseChange, Timeline
from timing.sequence.core.script import Change
from timing.sequence.core.table import Fault, Output, Phase


@dataclass(frozen=True)
class Record:
    """One record: how things stood after a pass. Time on the unwrapped clock, or counted from a case's start."""

    at_us: int
    levels: int
    phase: Phase
    fault: Fault

    def sees(self, contact: str) -> bool:
        """Tell whether the sequence saw that contact closed (see SEEN of timing.protocol.target)."""
        return bool(self.levels & LEVEL_BIT[contact])


def record_of(answer: Answer, at_us: int) -> Record:
    """Return the record in an answer to the trace query. Raises ValueError for a phase or fault that is not."""
    return Record(at_us, answer.number("levels"), Phase(answer.number("phase")), Fault(answer.number("fault")))


@dataclass(frozen=True)
class Observation:
    """What a board did in one case, times counted from the case's start."""

    phases: tuple[PhaseChange, ...]
    edges: Mapping[Output, tuple[Edge, ...]]


def observe(start: Record, records: Iterable[Record], outputs: Iterable[Output]) -> Observation:
    """Return the changes from `start` on of phase, fault and those `outputs`."""
    phases = [PhaseChange(start.at_us, start.phase, start.fault)]
    edges: dict[Output, list[Edge]] = {output: [] for output in outputs}
    levels = start.levels
    for record in records:
        if (record.phase, record.fault) != (phases[-1].phase, phases[-1].fault):
            phases.append(PhaseChange(record.at_us, record.phase, record.fault))
        for output, found in edges.items():
            if (record.levels ^ levels) & output.value:
                found.append(Edge(record.at_us, output, bool(record.levels & output.value)))
        levels = record.levels
    return Observation(tuple(phases), {output: tuple(found) for output, found in edges.items()})


OUTPUT_NAMES = {Output(bit): name for name, bit in OUTPUT_BIT.items()}
"""Outputs by the names of their roles."""


def output_word(output: Output) -> str:
    """Return an output as people write it: 'gas valve'."""
    return OUTPUT_NAMES[output].replace("_", " ")


LONGEST_PASS_US = 80
"""Longest pass of the firmware's loop with the serial link busy: what the firmware promises (measured: by the tests in
the simulator)."""
CLOCK_STEP_US = 4
"""The clock of the boards' core steps 4 us at 16 MHz; finer elsewhere (exact)."""
READING_US = 200
"""One analog channel is read in this time: a conversion of 104 us on an 8-bit board, 13 clocks at 125 kHz, and the
pass that fetches it (published: ATmega328P data sheet, ADC prescaler, seen quoted)."""
DIAL_FAULT_READINGS = 3
"""Bad readings of a dial, one after the other, that the firmware takes for a broken wire (choice)."""
HOST_LATENCY_S = 0.05
"""How long an answer may lie in drivers and hubs before the host sees it: 16 ms, doubled and more (practice)."""
SHORTEST_HOST_SPAN_S = 5.0
"""A shorter run says too little of the board's clock (choice)."""


@dataclass(frozen=True)
class Tolerance:
    """An edge may come this much before and after its prediction."""

    early_us: int
    late_us: int

    def allows(self, error_us: int) -> bool:
        """Tell whether an error (positive: late) is within."""
        return -self.early_us <= error_us <= self.late_us

    def later(self, window_us: int) -> Tolerance:
        """Return the tolerance where a change of an input may have taken effect that much later."""
        return Tolerance(self.early_us, self.late_us + window_us)


EDGE_TOLERANCE = Tolerance(
    # A contact that opens was last seen closed up to one pass before.
    early_us=LONGEST_PASS_US + CLOCK_STEP_US,
    # One pass until a forced contact is read, one in which its filter ends, one in which the phase's time ends.
    # Passes do not add up beyond that: a phase counts from the instant that its forerunner was due.
    late_us=3 * LONGEST_PASS_US + 2 * CLOCK_STEP_US,
)
"""How far an edge may be from the prediction (derived)."""


def reading_window_us(channels: int, readings: int = 1) -> int:
    """Return how late the firmware may notice a change of a reading, with that many channels read in turn."""
    return channels * READING_US * readings


def clock_tolerance(clock_tolerance_ppm: int, host_span_s: float) -> float:
    """Return how far board time over host time may lie from 1, for a run of `host_span_s`."""
    return clock_tolerance_ppm / 1e6 + 2 * HOST_LATENCY_S / host_span_s


@dataclass(frozen=True)
class CaseResult:
    """One case on one board."""

    name: str
    title: str
    troubles: tuple[str, ...]
    """What is wrong, a sentence each; empty: passed."""
    compared: int = 0
    """Edges and phase changes that were compared."""
    earliest_us: int = 0
    """Error of the earliest of them; negative is early."""
    latest_us: int = 0
    took_us: int = 0
    """How long it took on the board's clock."""
    predicted: Timeline | None = None
    seen: Observation | None = None

    @property
    def passed(self) -> bool:
        """True where nothing is wrong."""
        return not self.troubles


@dataclass(frozen=True)
class BenchReport:
    """A whole bench run."""

    design: str
    digest: str
    board: str
    firmware: str
    """Version that the board's sketch was made with."""
    port: str
    results: tuple[CaseResult, ...]

    @property
    def passed(self) -> bool:
        """True where there were cases and all passed."""
        return bool(self.results) and all(result.passed for result in self.results)

    @property
    def failures(self) -> int:
        """How many failed."""
        return sum(not result.passed for result in self.results)


@dataclass(frozen=True)
class Event:
    """Something that happens on one track at one instant: 'weld begins', 'comes on'."""

    at_us: int
    kind: tuple[Phase, Fault] | bool
    """What it is, to be compared: phase and fault, or whether an output comes on."""
    what: str
    """The same for people."""


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
        if self.expected.kind != self.seen.kind:
            return (
                f"{self.track}: {self.expected.what} expected at {exact_ms(self.expected.at_us)}; instead "
                f"{self.seen.what} at {exact_ms(self.seen.at_us)}"
            )
        error_us = self.seen.at_us - self.expected.at_us
        return (
            f"{self.track}: {self.seen.what} at {exact_ms(self.seen.at_us)}, expected at "
            f"{exact_ms(self.expected.at_us)}: {exact_ms(abs(error_us))} {'late' if error_us > 0 else 'early'} "
            f"(allowed {exact_ms(self.tolerance.early_us)} early to {exact_ms(self.tolerance.late_us)} late)"
        )

    def _one_sided(self) -> str:
        if self.seen is not None:
            return f"{self.track}: {self.seen.what} at {exact_ms(self.seen.at_us)}, which is not expected"
        if self.expected is not None:
            return f"{self.track}: {self.expected.what} expected at {exact_ms(self.expected.at_us)}, did not happen"
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
            [Event(edge.at_us, edge.on, _switches(edge.on)) for edge in expected],
            [Event(edge.at_us, edge.on, _switches(edge.on)) for edge in edges],
        )
    differences: list[Difference] = []
    errors_us = [0]
    for track, (expected_events, seen_events) in tracks.items():
        for wanted, got in zip_longest(expected_events, seen_events):
            at_us = min(event.at_us for event in (wanted, got) if event is not None)
            window_us = _window_us(windows, at_us)
            allowed = tolerance.later(window_us)
            if wanted is None or got is None or wanted.kind != got.kind:
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
        kind = change.phase, change.fault
        if not events or events[-1].kind != kind:
            events.append(Event(change.at_us, kind, what))
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
