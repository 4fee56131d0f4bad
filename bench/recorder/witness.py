"""Runs cases on the pair: the recorder presses, all else is forced over the link, both boards tell what happened."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain

from bench.cases import Case
from bench.errors import LapsingError
from bench.forcing import ForcedInputs, grouped
from bench.link import Link
from bench.message import message
from bench.recorder.clocks import ClockRatio, ratio_of
from bench.recorder.lags import PairLags
from bench.recorder.monitor import RecorderMonitor
from bench.recorder.pair import PairMonitor
from bench.recorder.reading import CaseReading, RawCase, expected_course, read_case
from bench.run import LAPSED, TRIES, Bench
from timing.protocol.recorder import RECORDER_RECORDS
from timing.protocol.target import OUTPUT_BIT, RAW_BIT
from timing.sequence.core.script import Change, Script

UNKNOWN_RATIO = ClockRatio(1.0, 0.02, 0)
"""Before both clocks were watched for a while: no two boards that work are further apart (choice)."""


@dataclass
class WitnessBench(Bench):
    """A board under test with a recorder beside it. Use `with bench.held():` around everything that forces or presses.

    presses: contacts that the recorder presses; the others are forced.
    """

    recorder_link: Link = field(kw_only=True)
    lags: PairLags = field(kw_only=True)
    presses: tuple[str, ...] = field(kw_only=True, default=())
    recorder: RecorderMonitor = field(init=False)
    watched: PairMonitor = field(init=False)
    _pressed: frozenset[str] = field(init=False, default=frozenset())

    def witness(self, cases: Iterable[Case], spares: Iterator[Case] | None = None) -> list[CaseReading]:
        """Run cases in order, each again where the computer was away or the outcome is too close. Raises BenchError.

        spares: what is run in the place of a case whose outcome stays too close.
        """
        readings = []
        for case in cases:
            self.begins(case)
            reading = self._witness_unhindered(case)
            while reading.too_close and spares is not None and (spare := next(spares, None)) is not None:
                self.begins(spare)
                reading = self._witness_unhindered(spare)
            readings.append(reading)
        return readings

    def weld_forced(self, case: Case) -> CaseReading:
        """Run a case with nothing pressed: trigger and purge are forced like all the rest. Raises BenchError."""
        before, self.presses = self.presses, ()
        try:
            return self._witness_unhindered(case)
        finally:
            self.presses = before

    def keep_for(self, duration_us: int) -> None:
        """Let so long go by on the add-on's clock; what is forced and pressed stays. Raises BenchError."""
        self.watched.poll_until(self.watched.latest_us + duration_us)

    def ratio(self) -> ClockRatio:
        """Return the ratio of the clocks as far as the run has come."""
        found = ratio_of(self.watched.meetings)
        return UNKNOWN_RATIO if found is None or found.uncertainty > UNKNOWN_RATIO.uncertainty else found

    def three_clocks(self) -> tuple[float, int, int]:
        """Return the host's clock in seconds, the add-on's and the recorder's in microseconds, read together."""
        host_s, board_us = self.both_clocks()
        return host_s, board_us, self.recorder.now_us()

    def set_bridges(self) -> None:
        """Let the recorder pass over what is no edge at an output. Raises BenchError."""
        for role, bit in OUTPUT_BIT.items():
            lag = next((lag for output, lag in self.lags.outputs.items() if output.value == bit), None)
            if lag is not None:
                self.recorder.set_bridge(role, lag.bridge_us)

    def _witness_unhindered(self, case: Case) -> CaseReading:
        for _ in range(TRIES):
            raw = self._witness_case(case)
            reading = read_case(self.target, raw, self.ratio(), self.lags)
            if LAPSED not in raw.troubles and not reading.too_close:
                return reading
        if LAPSED in raw.troubles:
            raise LapsingError(self.link.port, TRIES)
        return reading

    def _witness_case(self, case: Case) -> RawCase:
        trouble = self.come_to_rest()
        before = len(self.watched.meetings)
        start = self._monitor.start()
        raw = RawCase(case, start, (), (), (), (), 0, () if trouble is None else (trouble,))
        if trouble is None:
            raw = replace(raw, forced=tuple(self._play(case.script, start)))
        # Two looks: what was pressed last has its edge by then, and the clocks have met.
        self._monitor.poll()
        self._monitor.poll()
        raw = self._told(raw, before)
        if trouble is not None:
            return raw
        end_us = expected_course(self.target, raw, self.ratio()).end_us
        records, troubles = self._watch_to(start, end_us)
        return replace(self._told(raw, before), records=tuple(records), troubles=tuple(troubles))

    def _told(self, raw: RawCase, before: int) -> RawCase:
        """Return a case with all that the recorder and the clocks have told by now."""
        return replace(
            raw,
            edges=tuple(self.recorder.edges),
            meetings=tuple(self.watched.meetings[before:]),
            took_us=self._monitor.latest_us - raw.start.at_us,
        )

    def come_to_rest(self) -> str | None:
        """Let go, force everything quiet and wait for idle. Return a sentence where it does not come."""
        self._press(frozenset())
        return super().come_to_rest()

    def _watch(self) -> PairMonitor:
        self.recorder = RecorderMonitor(self.recorder_link)
        self.watched = PairMonitor(self.link, recorder=self.recorder)
        return self.watched

    def _force(self, inputs: ForcedInputs) -> None:
        super()._force(inputs)
        if self.presses:
            self.link.order(message("leave_contacts", sum(RAW_BIT[what] for what in self.presses)))

    def _groups(self, script: Script) -> list[list[Change]]:
        parts = ([self._not_pressed(group), self._to_press(group)] for group in grouped(script.changes))
        return [part for part in chain.from_iterable(parts) if part]

    def _to_press(self, changes: Sequence[Change]) -> list[Change]:
        return [change for change in changes if change.what in self.presses]

    def _not_pressed(self, changes: Sequence[Change]) -> list[Change]:
        return [change for change in changes if change.what not in self.presses]

    def _pairs(self, first: Sequence[Change], second: Sequence[Change]) -> bool:
        return super()._pairs(first, second) and bool(self._to_press(first)) == bool(self._to_press(second))

    def _apply(self, batch: Sequence[Sequence[Change]]) -> list[tuple[int, int]]:
        if not self._to_press(batch[0]):
            return super()._apply(batch)
        steps = []
        for changes in batch:
            for change in changes:
                what = frozenset({str(change.what)})
                self._pressed = self._pressed | what if change.value else self._pressed - what
            steps.append(self._pressed)
        self.recorder.press_in_turn(steps)
        return []  # The recorder tells when it pressed.

    def _press(self, keys: frozenset[str]) -> None:
        self._pressed = keys
        if self.presses:
            self.recorder.press(*keys)

    def _finish(self) -> list[str]:
        troubles = super()._finish()
        self.recorder.drain()
        if self.recorder.lapsed:
            troubles.append(LAPSED)
        if lost := self.recorder.lost():
            troubles.append(
                f"The recorder lost {lost} edges: more than {RECORDER_RECORDS} came before they could be read. A "
                "contact that chatters, ac on an input, or a computer that is too busy?"
            )
        return troubles
