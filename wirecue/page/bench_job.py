"""A bench run in the background."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from bench.cases import Case, cases_of
from bench.compare import BenchReport, CaseResult
from bench.run import BenchObserver, run_session
from timing.project import Project
from timing.protocol.target import Target
from timing.protocol.target_of_design import target_of
from wirecue.bench_entry import enter_bench
from wirecue.firmware import VirtualKind, virtual_board
from wirecue.page.background import BackgroundJob

VIRTUAL = "virtual board"
SIMULATED = "firmware in a simulator"
KINDS: Mapping[str, VirtualKind] = {VIRTUAL: "model", SIMULATED: "avr"}
"""What may stand in place of a port, and which board of software it is."""


class StoppedError(Exception):
    """Somebody stopped the run."""

    def __str__(self) -> str:
        return "Stopped."


@dataclass
class BenchJob(BackgroundJob):
    """One run.

    port: address of a real board, VIRTUAL or SIMULATED.
    """

    project: Project
    port: str
    names: tuple[str, ...] = ()
    """Cases to run; empty: all."""
    design: Path | None = None
    """Where the design is saved: the test of a real board goes into the logbook beside it."""
    cases: list[Case] = field(init=False)
    preparing: str = ""
    """What is done before the first case and takes long."""
    running: str = ""
    """Title of the case that runs."""
    board: str = ""
    """What the board said it is."""
    request: str = ""
    """What the person at the bench is asked to do now; empty: nothing."""
    results: list[CaseResult] = field(default_factory=list)
    report: BenchReport | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        self._target: Target = target_of(self.project)
        self.cases = [case for case in cases_of(self._target) if not self.names or case.name in self.names]
        self._stop = threading.Event()

    def stop(self) -> None:
        """End after the case that runs now, or before the first one."""
        self._stop.set()

    @property
    def stopping(self) -> bool:
        """True from the wish to stop until the end."""
        return self._stop.is_set() and self.active

    @property
    def passed(self) -> bool:
        """True where it ran to its end and everything passed."""
        return self.report is not None and self.report.passed

    def _work(self) -> None:
        real = self.port not in KINDS
        observer = BenchObserver(self._found, self._begins, self._done, self._ask if real else None)
        try:
            with self._address() as address:
                self.report = run_session(address, self._target, self.cases, observer, real=real)
            if real and self.design is not None:
                enter_bench(self.design, self.report)
        finally:
            self.preparing = self.running = self.request = ""

    @contextlib.contextmanager
    def _address(self) -> Iterator[str]:
        if self.port not in KINDS:
            yield self.port
            return
        with virtual_board(KINDS[self.port], self.project, self._target, self._prepares) as address:
            yield address

    def _prepares(self, what: str) -> None:
        self.preparing = what

    def _found(self, identity: object) -> None:
        self.board = str(getattr(identity, "carries", ""))

    def _begins(self, case: Case) -> None:
        if self._stop.is_set():
            raise StoppedError
        self.running = case.title

    def _done(self, result: CaseResult) -> None:
        self.results.append(result)
        self.request = ""

    def _ask(self, text: str) -> None:
        self.request = text
