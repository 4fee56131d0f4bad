"""What all tabs share: one design, one set of results, one bench."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field

from timing.checks.finding import Finding
from timing.process.burnback_curve import BurnbackCurve
from timing.project import Project
from wirecue.page.bench_job import BenchJob
from wirecue.page.folder import Folder
from wirecue.page.results import (
    Slow,
    burnback_key,
    curve_of,
    findings_key,
    findings_of,
    supply_key,
    supply_picture,
    timeline_picture,
)
from wirecue.page.state import Document

SETTLE_S = 0.2
"""Slow results wait until a slider has stood still for so long."""
NEXT_S = 0.03
"""The wire end follows the timeline after that, so that the timeline is on its way first."""


@dataclass
class Topic:
    """Something that changes, and who wants to know."""

    _listeners: list[Callable[[], None]] = field(default_factory=list)

    def follow(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Call `listener` after every change; return what ends that."""
        self._listeners.append(listener)

        def end() -> None:
            if listener in self._listeners:
                self._listeners.remove(listener)

        return end

    def tell(self) -> None:
        """It has changed."""
        for listener in list(self._listeners):
            listener()


class Shared:
    """The design in work with everything computed of it."""

    def __init__(self, document: Document, folder: Folder) -> None:
        self.document, self.folder = document, folder
        self.changed, self.found, self.curved, self.supplied, self.benched = Topic(), Topic(), Topic(), Topic(), Topic()
        self.findings: list[Finding] | None = None
        """None until the rules have run."""
        self.curve: BurnbackCurve | str | None = None
        """A sentence where no curve can be computed."""
        self.supply: str | None = None
        """Its picture."""
        self.timeline = timeline_picture(document.project.design)
        self.job: BenchJob | None = None
        self._settling: asyncio.TimerHandle | None = None
        self._next: asyncio.TimerHandle | None = None
        self._curves = Slow(burnback_key, curve_of, self._curve_came)
        self._supplies = Slow(supply_key, supply_picture, self._supply_came)
        self._slow = (self._curves, Slow(findings_key, findings_of, self._findings_came), self._supplies)
        document.on_change(self._design_changed)

    @property
    def project(self) -> Project:
        """The design on its board."""
        return self.document.project

    @property
    def busy(self) -> bool:
        """True while a slow result is on its way."""
        return self._settling is not None or any(slow.busy for slow in self._slow)

    @property
    def curve_is_fresh(self) -> bool:
        """False while the curve is that of an earlier state."""
        return self._curves.is_fresh(self.project)

    @property
    def supply_is_fresh(self) -> bool:
        """False while the supply is that of an earlier state."""
        return self._supplies.is_fresh(self.project)

    def compute(self) -> None:
        """Ask for every slow result of the design as it is now."""
        self._settling = None
        for slow in self._slow:
            slow.want(self.project)
        self.found.tell()

    def start_bench(self, port: str) -> None:
        """Begin a bench run of the design as it is now."""
        self.job = BenchJob(self.project, port)
        self.job.start()
        self.benched.tell()

    def _design_changed(self) -> None:
        self.timeline = timeline_picture(self.project.design)
        loop = asyncio.get_running_loop()
        for waiting in (self._settling, self._next):
            if waiting is not None:
                waiting.cancel()
        self._settling = loop.call_later(SETTLE_S, self.compute)
        self._next = loop.call_later(NEXT_S, lambda: self._curves.show_known(self.project))
        self.changed.tell()

    def _findings_came(self, project: Project, findings: list[Finding]) -> None:
        self.findings = findings
        self.found.tell()

    def _curve_came(self, project: Project, curve: BurnbackCurve | str) -> None:
        self.curve = curve
        self.curved.tell()

    def _supply_came(self, project: Project, picture: str) -> None:
        self.supply = picture
        self.supplied.tell()
