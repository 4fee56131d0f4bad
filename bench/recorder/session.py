"""A whole witnessed run: wiring first, then cases, then the clocks; judged at the end by all that the run has told."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median

from bench.cases import Case
from bench.compare import BenchReport
from bench.link import require_bench_link, require_design
from bench.recorder.clock_check import ClockFinding, HostSpan, check_clocks
from bench.recorder.judging import JudgedCase, UsualLag, judge_case, sharper_presses, usual_lags
from bench.recorder.lags import PairLags
from bench.recorder.pair import LinkedPair
from bench.recorder.reading import CaseReading, Follows, pressed_contacts, read_case
from bench.recorder.wiring import WiringCheck, check_wiring
from bench.recorder.witness import WitnessBench
from bench.run import BenchObserver
from timing.protocol.target import Target
from timing.sequence.core.table import Output


@dataclass(frozen=True)
class Latency:
    """From a press, as the recorder stamped it, to an output that answers it at once, as the recorder saw it."""

    contact: str
    pressed: bool
    """False: let go."""
    output: Output
    on: bool
    filter_us: int
    """What of it is the contact's filter."""
    least_us: int
    typical_us: int
    most_us: int
    count: int


@dataclass(frozen=True)
class WitnessReport:
    """A witnessed run."""

    bench: BenchReport
    """Wiring, cases and clocks as results of a bench run."""
    recorder_port: str
    recorder_version: str
    wiring: WiringCheck
    cases: tuple[JudgedCase, ...]
    clocks: ClockFinding
    lags: tuple[UsualLag, ...]
    latencies: tuple[Latency, ...]
    left_out: tuple[str, ...]
    """Names of cases that need a press that does not arrive."""
    seed: int | None = None
    """Of random scripts."""

    @property
    def passed(self) -> bool:
        """True where nothing is wrong."""
        return self.bench.passed


def run_witnessed(
    pair: LinkedPair,
    target: Target,
    cases: Sequence[Case],
    lags: PairLags,
    observer: BenchObserver | None = None,
    *,
    real: bool = True,
    seed: int | None = None,
    spares: Iterator[Case] | None = None,
) -> WitnessReport:
    """Test the add-on of a pair with the recorder as witness. Raises BenchError where it cannot be tested.

    real: both boards' clocks are compared with the host's. seed: for the report, of the cases where they are random.
    spares: see WitnessBench.witness.
    """
    observer = observer or BenchObserver()
    require_design(pair.identity, pair.link.port, target.design, target.digest)
    require_bench_link(pair.link)
    observer.found(pair.identity)
    bench = WitnessBench(pair.link, target, begins=observer.begins, recorder_link=pair.recorder_link, lags=lags)
    readings: list[CaseReading] = []
    left: list[Case] = []
    with bench.held(), bench.recorder.pressing():
        bench.set_bridges()
        before = bench.three_clocks()
        wiring = check_wiring(bench)
        observer.done(wiring.result)
        if not wiring.troubles:
            bench.presses = wiring.presses

            def can_be_run(case: Case) -> bool:
                return not _needs(target, case) - set(wiring.presses)

            left = list(itertools.filterfalse(can_be_run, cases))
            readings = bench.witness(filter(can_be_run, cases), filter(can_be_run, spares or ()))
        hosts = _host_spans(before, bench.three_clocks()) if real else None
        meetings = bench.watched.meetings
    clocks = check_clocks(
        meetings, [one for reading in readings for one in reading.common], hosts, target.clock_tolerance_ppm
    )
    if (ratio := clocks.ratio) is not None:
        # With the ratio of the whole run what happened in each case is known more sharply than while it ran.
        lags = sharper_presses(readings, lags)
        readings = [read_case(target, reading.raw, ratio, lags) for reading in readings]
    usual = usual_lags(readings, lags)
    judged = tuple(judge_case(reading, usual, lags) for reading in readings)
    results = [wiring.result, *(one.result for one in judged), clocks.result]
    for result in results[1:]:
        observer.done(result)
    return WitnessReport(
        BenchReport(target.design, target.digest, target.board, pair.identity.version, pair.link.port, tuple(results)),
        pair.recorder_link.port,
        pair.recorder_identity.version,
        wiring,
        judged,
        clocks,
        usual,
        latencies(target, readings),
        tuple(case.name for case in left),
        seed,
    )


def _needs(target: Target, case: Case) -> set[str]:
    return {str(change.what) for change in case.script.changes} & set(pressed_contacts(target))


def _host_spans(before: tuple[float, int, int], after: tuple[float, int, int]) -> tuple[HostSpan, HostSpan] | None:
    host_s = after[0] - before[0]
    return None if host_s <= 0 else (HostSpan(host_s, after[1] - before[1]), HostSpan(host_s, after[2] - before[2]))


def latencies(target: Target, readings: Iterable[CaseReading]) -> tuple[Latency, ...]:
    """Return how long outputs take to answer presses, over all edges that follow one at once."""
    found: dict[tuple[str, bool, Output, bool], list[int]] = {}
    for reading in readings:
        for edge in reading.edges:
            if not edge.whole or edge.cause is Follows.FORCED or edge.on is None or reading.too_close:
                continue
            assert edge.expected is not None
            assert edge.seen is not None
            for press in reading.presses:
                filter_us = target.rig.filters_us[str(press.what)][0]
                if (
                    bool(press.value) == (edge.cause is Follows.PRESS)
                    and press.at_us + filter_us == edge.expected.at_us
                ):
                    kind = (str(press.what), bool(press.value), edge.output, edge.on)
                    found.setdefault(kind, []).append(edge.seen.at_us - press.at_us)
    return tuple(
        Latency(
            contact,
            pressed,
            output,
            on,
            target.rig.filters_us[contact][0],
            min(took),
            round(median(took)),
            max(took),
            len(took),
        )
        for (contact, pressed, output, on), took in sorted(
            found.items(), key=lambda one: (one[0][0], not one[0][1], one[0][2].value, not one[0][3])
        )
    )
