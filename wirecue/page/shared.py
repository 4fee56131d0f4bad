"""What all tabs share: one design, what follows from it, one bench.

What is quick is computed at once, what is not in a worker. A slow result is kept under a key of all it depends on, so
that turning a time does not compute the supply anew.
"""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from codegen.charts.supply import supply_svg
from codegen.charts.timeline import usual_timeline_svg
from timing.checks.finding import DesignEdit, Finding
from timing.checks.remedies import asked_for
from timing.design.design import Design
from timing.once import once
from timing.power.record import SupplyReport
from timing.process.advice import design_curve
from timing.process.burnback_curve import BurnbackCurve
from timing.process.errors import ProcessError
from timing.project import Project
from wirecue.page.bench_job import BenchJob
from wirecue.page.document import Document
from wirecue.page.files import Folder

SlowResult = TypeVar("SlowResult")
_LOG = logging.getLogger("wirecue.page")

BAND_DRAWS = 500
"""Enough for a band that does not flicker; `wirecue burnback` takes eight times as many."""
RESULTS_KEPT = 32
"""Results that are kept of each kind: turning a dial back costs nothing."""


@dataclass(frozen=True)
class Checked:
    """What the rules say of a design, and of its supply in depth."""

    findings: Sequence[Finding]
    supply: SupplyReport
    remedies: Sequence[DesignEdit]
    """What would be changed first, of the supply."""


def checked_of(project: Project) -> Checked:
    """Check a design against every rule."""
    return Checked(project.findings, project.supply, asked_for(project))


def curve_of(project: Project) -> BurnbackCurve | str:
    """Return what each burnback leaves of the wire, or the sentence that says why it cannot be told."""
    try:
        return design_curve(project.design, BAND_DRAWS)
    except ProcessError as impossible:
        return str(impossible)


def supply_picture(project: Project) -> str:
    """Return the picture of the supply: its bars and courses."""
    return supply_svg(project.supply)


@once
def findings_key(project: Project) -> str:
    """Everything counts for the rules, `panel.made` as well, which the digest leaves out."""
    return json.dumps(project.design.model_dump(mode="json"), sort_keys=True)


def burnback_key(project: Project) -> str:
    """What the wire end depends on: not the supply, and not where a dial stands. The curve spans the whole dial."""
    content = _content(project.design, without=("supply", "board"))
    for setting in _time_tables(content):
        if setting["from_us"] is not None:
            del setting["setting_us"]
    return json.dumps(content, sort_keys=True)


def supply_key(project: Project) -> str:
    """What the supply depends on: neither the process nor any time."""
    content = _content(project.design, without=("process",))
    for setting in _time_tables(content):
        del setting["setting_us"]
    return json.dumps(content, sort_keys=True)


def _content(design: Design, without: tuple[str, ...]) -> dict[str, Any]:
    return design.model_dump(mode="json", exclude={"name", "title", "notes", *without})


def _time_tables(content: dict[str, Any]) -> list[dict[str, Any]]:
    places = [*content["times"].values(), (content["spot"] or {}).get("time"), (content["stitch"] or {}).get("pause")]
    return [place for place in places if place]


@dataclass
class Slow(Generic[SlowResult]):
    """One kind of slow result: computed in a thread, one at a time, for the latest project only.

    `show` gets every result that is still wanted, in the event loop.
    """

    key: Callable[[Project], str]
    work: Callable[[Project], SlowResult]
    show: Callable[[Project, SlowResult], None]

    def __post_init__(self) -> None:
        self._known: dict[str, SlowResult] = {}
        self._wanted: Project | None = None
        self._task: asyncio.Task[None] | None = None
        self._shown_key = ""

    @property
    def busy(self) -> bool:
        """True while something is being computed."""
        return self._task is not None and not self._task.done()

    def is_fresh(self, project: Project) -> bool:
        """Tell whether what was shown last holds for `project`."""
        return self._shown_key == self.key(project)

    def show_known(self, project: Project) -> None:
        """Show the result of `project` at once where it is known already; otherwise do nothing."""
        if self.key(project) in self._known:
            self.want(project)

    def want(self, project: Project) -> None:
        """Ask for the result of `project`; what was asked for before and has not begun is dropped."""
        key = self.key(project)
        if key in self._known:
            self._wanted = None
            self._give(project, key)
            return
        self._wanted = project
        if not self.busy:
            self._task = asyncio.get_running_loop().create_task(self._compute())

    async def settled(self) -> None:
        """Wait until nothing is wanted any more."""
        while self._task is not None and not self._task.done():
            await asyncio.wait([self._task])

    async def _compute(self) -> None:
        while (project := self._wanted) is not None:
            key = self.key(project)
            if key not in self._known:
                try:
                    self._known[key] = await asyncio.to_thread(self.work, project)
                except Exception:
                    # A fault of ours: it belongs on the terminal, and the rest of the page goes on.
                    _LOG.exception("a result could not be computed")
                    self._wanted = None if self._wanted is project else self._wanted
                    continue
                while len(self._known) > RESULTS_KEPT:
                    del self._known[next(iter(self._known))]
            # What it depends on beside the project, such as a logbook, may have changed meanwhile.
            if self._wanted is project and self.key(project) == key:
                self._wanted = None
                self._give(project, key)

    def _give(self, project: Project, key: str) -> None:
        self._shown_key = key
        self.show(project, self._known[key])


SETTLE_S = 0.2
"""Slow results wait until a slider has stood still for so long."""
NEXT_S = 0.03
"""The wire end follows the timeline after that, so that the timeline is on its way first."""


@dataclass
class Signal:
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
        self.changed, self.settled, self.found, self.curved, self.supplied, self.benched = (Signal() for _ in range(6))
        self.checked: Checked | None = None
        """None until the rules have run."""
        self.curve: BurnbackCurve | str | None = None
        """A sentence where no curve can be computed."""
        self.supply: str | None = None
        """Its picture."""
        self.timeline = usual_timeline_svg(document.project)
        self.job: BenchJob | None = None
        self.kept: dict[object, Any] = {}
        """Results that are worked out only while somebody looks (watched.py), by what works them out."""
        self._settling: asyncio.TimerHandle | None = None
        self._next: asyncio.TimerHandle | None = None
        self._curves = Slow(burnback_key, curve_of, self._curve_came)
        self._supplies = Slow(supply_key, supply_picture, self._supply_came)
        self._checks = Slow(findings_key, checked_of, self._check_came)
        self._slow = (self._curves, self._checks, self._supplies)
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
    def findings(self) -> Sequence[Finding] | None:
        """What the rules say; None until they have run."""
        return None if self.checked is None else self.checked.findings

    @property
    def check_is_fresh(self) -> bool:
        """False while the findings are those of an earlier state."""
        return self._checks.is_fresh(self.project)

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
        self.settled.tell()

    def start_bench(self, port: str) -> None:
        """Begin a bench run of the design as it is now."""
        saved = self.document.name and not self.document.dirty
        self.job = BenchJob(self.project, port, design=self.folder.root / self.document.name if saved else None)
        self.job.start()
        self.benched.tell()

    def _design_changed(self) -> None:
        self.timeline = usual_timeline_svg(self.project)
        loop = asyncio.get_running_loop()
        for waiting in (self._settling, self._next):
            if waiting is not None:
                waiting.cancel()
        self._settling = loop.call_later(SETTLE_S, self.compute)
        self._next = loop.call_later(NEXT_S, lambda: self._curves.show_known(self.project))
        self.changed.tell()

    def _check_came(self, project: Project, checked: Checked) -> None:
        self.checked = checked
        self.found.tell()

    def _curve_came(self, project: Project, curve: BurnbackCurve | str) -> None:
        self.curve = curve
        self.curved.tell()

    def _supply_came(self, project: Project, picture: str) -> None:
        self.supply = picture
        self.supplied.tell()
