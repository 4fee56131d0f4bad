"""Runs cases on a board: forces its inputs, reads its trace, compares it with the model.

All pacing is by the board's own clock, which is asked all the time and compared with the host's: a simulated board may
run as fast as it likes, and none makes the bench wait for ever. The model is given the inputs at the instants at which
the board says they took effect.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from bench.cases import Case
from bench.compare import (
    DIAL_FAULT_READINGS,
    EDGE_TOLERANCE,
    SHORTEST_HOST_SPAN_S,
    BenchReport,
    CaseResult,
    Record,
    clock_tolerance,
    compare,
    observe,
    reading_window_us,
)
from bench.errors import BenchError, LapsingError
from bench.forcing import ForcedInputs, change_as_forced, grouped, is_contact, quiet_inputs, rig_as_forced
from bench.link import PATIENCE_S, Link, connected, require_bench_link, require_design
from bench.message import Answer, Identity, message
from bench.monitor import BoardMonitor
from bench.real_trigger import watch_press
from timing.protocol.target import OUTPUT_BIT, Target
from timing.sequence.core.engine import run_script
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Fault, Output, Phase

PAIR_US = 10_000
"""Contacts that change this soon after another go out in one write: an answer in between could take longer."""
REST_PATIENCE_US = 1_000_000
"""How much longer than hold-off a board at rest may take to get to idle."""
TRIES = 4
CLOCK_CASE = "clock"
LAPSED = "The forced contacts lapsed in the middle: the computer was busy for over a second. Run it again."


@dataclass
class Bench:
    """One board under test. Use `with bench.held():` around everything that forces."""

    link: Link
    target: Target
    begins: Callable[[Case], None] = lambda _: None
    done: Callable[[CaseResult], None] = lambda _: None
    _monitor: BoardMonitor = field(init=False)
    _inputs: ForcedInputs = field(init=False)

    @contextlib.contextmanager
    def held(self) -> Iterator[None]:
        """Take over the inputs; give them back at the end, whatever happens. Raises NotFittedError."""
        require_bench_link(self.link)
        self._monitor = self._watch()
        self._inputs = quiet_inputs(self.target)
        try:
            yield
        except BaseException:
            with contextlib.suppress(BenchError):
                self.link.command("release")
            raise
        self.link.command("release")

    def run(self, cases: Iterable[Case]) -> list[CaseResult]:
        """Run cases in order. Raises BenchError when the board cannot be talked to."""
        results = []
        for case in cases:
            self.begins(case)
            results.append(self._run_unhindered(case))
            self.done(results[-1])
        return results

    def both_clocks(self) -> tuple[float, int]:
        """Return the host's clock in seconds and the board's in microseconds, read together."""
        return self.link.host_s(), self._monitor.now_us()

    def compare_clocks(self, before: tuple[float, int]) -> CaseResult | None:
        """Compare the board's clock with the host's since `before`; None where that is too short a time."""
        now_s, board_us = self.both_clocks()
        span_s = now_s - before[0]
        return None if span_s < SHORTEST_HOST_SPAN_S else self._clock_result(span_s, board_us - before[1])

    def run_case(self, case: Case) -> CaseResult:
        """Run one case. Raises BenchError when the board cannot be talked to."""
        if (trouble := self.come_to_rest()) is not None:
            return CaseResult(case.name, case.title, (trouble,))
        start = self._monitor.start()
        windows = self._play(case.script, start)
        rig = rig_as_forced(self.target)
        script = Script(tuple(change for change, _ in windows), case.script.end_us)
        predicted = run_script(rig, script, fault=start.fault)
        records, troubles = self._watch_to(start, predicted.end_us)
        seen = observe(replace(start, at_us=0), records, self._outputs())
        comparison = compare(predicted, windows, seen, EDGE_TOLERANCE)
        return CaseResult(
            case.name,
            case.title,
            (*troubles, *map(str, comparison.differences)),
            comparison.compared,
            comparison.earliest_us,
            comparison.latest_us,
            self._monitor.latest_us - start.at_us,
            predicted,
            seen,
        )

    def _watch(self) -> BoardMonitor:
        """Return what follows the board."""
        return BoardMonitor(self.link)

    def _watch_to(self, start: Record, end_us: int) -> tuple[list[Record], list[str]]:
        """Watch up to so long after the start; return all records, counted from it, and what makes them worthless."""
        self._monitor.poll_until(start.at_us + end_us)
        troubles = self._finish()
        if start.levels & self._outputs_mask():
            troubles.append("An output is on at rest.")
        return [replace(record, at_us=record.at_us - start.at_us) for record in self._monitor.records], troubles

    def _run_unhindered(self, case: Case) -> CaseResult:
        """Run a case again, a few times at most, where the computer was elsewhere: that says nothing of the board."""
        for _ in range(TRIES):
            result = self.run_case(case)
            if LAPSED not in result.troubles:
                return result
        raise LapsingError(self.link.port, TRIES)

    def come_to_rest(self) -> str | None:
        """Force everything quiet and wait for idle. Return a sentence where it does not come."""
        self._force(quiet_inputs(self.target))
        phase, fault = self._wait_for_idle()
        if phase is not Phase.IDLE:
            self.link.command("reset")
            self._force(self._inputs)
            phase, fault = self._wait_for_idle()
        if phase is Phase.IDLE:
            return None
        why = "" if fault is Fault.NONE else f" with fault {fault.value} ({fault.word})"
        return f"The board does not come to rest: it stays in {phase.word}{why} with everything open and all well."

    def _outputs(self) -> list[Output]:
        # A gas output without a valve has no pin, and its bit says nothing.
        return [Output(bit) for role, bit in OUTPUT_BIT.items() if role in self.target.fitted]

    def _outputs_mask(self) -> int:
        return sum(output.value for output in self._outputs())

    def _wait_for_idle(self) -> tuple[Phase, Fault]:
        settings = self.target.rig.settings
        return self._monitor.wait_for(Phase.IDLE, settings.settle_us + settings.open_us + REST_PATIENCE_US)

    def _play(self, script: Script, start: Record) -> list[tuple[Change, int]]:
        """Force every change at its time; return each as it took effect, and how much later that may have been."""
        windows: list[tuple[Change, int]] = []
        groups = self._groups(script)
        while groups:
            batch = [groups.pop(0)]
            while groups and len(batch) < 2 and self._pairs(batch[0], groups[0]):
                batch.append(groups.pop(0))
            self._monitor.poll_until(start.at_us + batch[0][0].at_us)
            for changes, (at_us, window_us) in zip(batch, self._apply(batch), strict=False):
                windows += [
                    (replace(change_as_forced(self.target, change), at_us=at_us - start.at_us), window_us)
                    for change in changes
                ]
        return windows

    def _groups(self, script: Script) -> list[list[Change]]:
        """Return changes in the groups that are done together, in order."""
        return grouped(script.changes)

    def _pairs(self, first: Sequence[Change], second: Sequence[Change]) -> bool:
        """Tell whether two groups go out in one write."""
        both = is_contact(first[0]) and is_contact(second[0])
        return both and second[0].at_us - first[0].at_us < PAIR_US

    def _apply(self, batch: Sequence[Sequence[Change]]) -> list[tuple[int, int]]:
        """Do one or two groups of changes; return instant and window of each, or nothing where others tell of them."""
        first = batch[0][0]
        if first.what == "reset":
            return [self._reset()]
        messages = []
        for changes in batch:
            for change in changes:
                self._inputs, latest = self._inputs.with_change(change)
            messages.append(latest)
        if is_contact(first):
            answers = self.link.ask_lines([(forcing, message("forced_contacts")) for forcing in messages])
            return [(self._monitor.forced_us(answer), 0) for (answer,) in answers]
        before, after = self.link.order(message("clock"), messages[0], message("clock"))
        at_us, window_us = self._window(before, after)
        readings = DIAL_FAULT_READINGS if first.what == "dial_fault" else 1
        return [(at_us, window_us + reading_window_us(len(self._inputs.counts), readings))]

    def _reset(self) -> tuple[int, int]:
        (before,) = self.link.order(message("clock"), message("reset"))
        self._force(self._inputs)
        return self._window(before, self.link.query("clock"))

    def _window(self, before: Answer, after: Answer) -> tuple[int, int]:
        at_us = self._monitor.read_clock(before)
        return at_us, self._monitor.read_clock(after) - at_us

    def _force(self, inputs: ForcedInputs) -> None:
        self._inputs = inputs
        for forcing in inputs.messages():
            self.link.order(forcing)

    def _finish(self) -> list[str]:
        """Take over what is left of the trace; return what makes it worthless."""
        self._monitor.drain()
        lost, forced = self.link.ask(message("trace_lost"), message("forced_contacts"))
        troubles = []
        if lost.number("records"):
            troubles.append(f"The edge trace lost {lost.number('records')} records.")
        if not forced.number("forced"):
            troubles.append(LAPSED)
        return troubles

    def _clock_result(self, host_span_s: float, board_span_us: int) -> CaseResult:
        ratio = board_span_us / 1e6 / host_span_s
        allowed = clock_tolerance(self.target.clock_tolerance_ppm, host_span_s)
        troubles: tuple[str, ...] = ()
        if abs(ratio - 1) > allowed:
            troubles = (
                f"The board's clock runs {'fast' if ratio > 1 else 'slow'} against this computer's: "
                f"{abs(ratio - 1) * 100:.2f} % over {host_span_s:.0f} s, allowed {allowed * 100:.2f} %. All its times "
                "are off by as much.",
            )
        return CaseResult(CLOCK_CASE, "board's clock against this computer's", troubles, 1, took_us=board_span_us)


@dataclass(frozen=True)
class BenchObserver:
    """Who is told of what while a bench runs."""

    found: Callable[[Identity], None] = lambda _: None
    begins: Callable[[Case], None] = lambda _: None
    done: Callable[[CaseResult], None] = lambda _: None
    ask: Callable[[str], None] | None = None
    """Shows a request to the person at the bench; None: nobody is there, and the real trigger is left out."""


def run_session(
    port: str,
    target: Target,
    cases: Sequence[Case],
    observer: BenchObserver | None = None,
    *,
    real: bool = True,
    patience_s: float = PATIENCE_S,
) -> BenchReport:
    """Test the board behind `port` and return the report. Raises BenchError when there is no board to test.

    real: the board's clock is compared with the host's, all the time. A virtual one need not follow it.
    """
    observer = observer or BenchObserver()
    with connected(port, patience_s, follows_host=real) as (link, identity):
        require_design(identity, port, target.design, target.digest)
        require_bench_link(link)
        observer.found(identity)
        bench = Bench(link, target, begins=observer.begins, done=observer.done)
        with bench.held():
            before = bench.both_clocks()
            results = bench.run(cases)
            clocks = bench.compare_clocks(before) if real else None
        if clocks is not None:
            results.append(clocks)
            observer.done(clocks)
        if observer.ask is not None:
            results.append(watch_press(link, target, observer.ask))
            observer.done(results[-1])
    return BenchReport(target.design, target.digest, target.board, identity.version, port, tuple(results))
