"""Commissioning of one design: its steps, where the walk stands by the logbook, and answers entered as they are given.

Terminal, scripts and page go through here. Nothing is kept but the logbook: after each entry the walk is folded anew,
so that whatever ends the session costs nothing, and two that go on at once see each other's entries.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from timing.commission.reply import StepReply
from timing.commission.setup import mark
from timing.commission.step import CommissionStep, WeldsAsked
from timing.commission.steps import CommissionPlan, commission_plan
from timing.commission.walk import CommissionWalk, step_values, walk_of
from timing.design.units import format_duration
from timing.logbook.entry import EntryKind, EntryValue
from timing.process.welds import TestWeld, WeldError, WeldOutcome, weld_of_values, weld_values
from timing.project import Project
from wirecue.logbooks import append_entry, logbook_path, read_logbook
from wirecue.projects import load_project

if TYPE_CHECKING:
    from timing.process.fit import Fit

MOST_WELDS = 8
"""After so many test welds the walk goes on whatever the fit says (choice)."""


@dataclass(frozen=True)
class WeldTurn:
    """The test weld to make next, or why there is none."""

    words: str
    """Where the dial stands for it."""
    set_to: str
    """The same as a weld's text begins: 'mark 130' or '130 ms'."""
    sentences: tuple[str, ...]
    """What the welds so far tell."""
    enough: bool


@dataclass
class Commissioning:
    """One design on its way to the hand-over."""

    design: Path
    project: Project
    plan: CommissionPlan
    clock: Callable[[], str] | None = None
    """Time to enter, ISO 8601 with its offset; None: the machine's own."""

    @classmethod
    def of(cls, design: Path, clock: Callable[[], str] | None = None) -> Commissioning:
        """Return the commissioning of a design file. Raises DesignFileError."""
        project = load_project(design)
        return cls(design, project, commission_plan(project), clock)

    @property
    def log(self) -> Path:
        """Where outcomes are kept."""
        return logbook_path(self.design)

    @property
    def walk(self) -> CommissionWalk:
        """Where the walk stands by the logbook as it is now. Raises UnreadableFileError."""
        return walk_of(self.plan, read_logbook(self.log))

    def enter(self, step: CommissionStep, reply: StepReply) -> None:
        """Enter an outcome, through to the disk. Raises OutputError, UnreadableFileError."""
        self._append(EntryKind.STEP, step_values(step, reply.outcome, reply.reading, self.project.design.digest()))

    def enter_weld(self, step: CommissionStep, weld: TestWeld) -> None:
        """Enter a test weld, through to the disk. Raises OutputError, UnreadableFileError."""
        self._append(EntryKind.WELD, {**weld_values(weld), "holds_for": step.fingerprint})

    def _append(self, kind: EntryKind, values: dict[str, EntryValue] | dict[str, str | bool]) -> None:
        append_entry(self.log, kind, values, None if self.clock is None else self.clock())

    def welds(self, step: CommissionStep) -> tuple[TestWeld, ...]:
        """Return the test welds made for a step as it is now; those entered by `fit` count too."""
        found = []
        for entry in read_logbook(self.log).of(EntryKind.WELD):
            if entry.values.get("holds_for", step.fingerprint) == step.fingerprint:
                try:
                    found.append(weld_of_values(entry.values))
                except WeldError:
                    continue
        return tuple(found)

    def weld_turn(self, step: CommissionStep) -> WeldTurn:
        """Return what the test welds so far ask for next."""
        asked = step.ask
        assert isinstance(asked, WeldsAsked)
        welds = self.welds(step)
        free = [weld for weld in welds if weld.outcome is WeldOutcome.FREE]
        if len(free) < 2 and len(welds) < MOST_WELDS:
            return self._turn(_shifted(asked, welds), (), enough=False)
        if len(free) < 2:
            told = "Too few of these welds came free: see what `wirecue advise` says of the dial's ends."
            return self._turn(asked.first_us[0], (told,), enough=True)
        fit = self._fit(free)
        wanted_us = min(max(round(fit.next_weld.burnback_s * 1e6), asked.low_us), asked.high_us)
        enough = not fit.next_weld.worth_making or len(welds) >= MOST_WELDS or asked.low_us == asked.high_us
        return self._turn(wanted_us, fit.sentences, enough=enough)

    def _fit(self, welds: list[TestWeld]) -> Fit:
        from timing.process.case import burnback_case
        from timing.process.fit import fit_machine

        return fit_machine(burnback_case(self.project.design), welds)

    def _turn(self, burnback_us: int, sentences: tuple[str, ...], *, enough: bool) -> WeldTurn:
        dial = self.project.dials.get("burnback")
        if dial is None:
            fixed = format_duration(burnback_us)
            return WeldTurn(f"burnback fixed at {fixed}", fixed, sentences, enough)
        at = mark(dial, burnback_us)
        return WeldTurn(f"burnback dial at {at}", f"mark {at.split()[0]}", sentences, enough)


def _shifted(asked: WeldsAsked, welds: tuple[TestWeld, ...]) -> int:
    """The first settings in turn; after a weld that froze or fused, half the way to the end of the dial that helps."""
    if welds and welds[-1].outcome is not WeldOutcome.FREE:
        last_us = round(welds[-1].burnback_s * 1e6)
        towards_us = asked.high_us if welds[-1].outcome is WeldOutcome.FROZEN else asked.low_us
        return (last_us + towards_us) // 2
    return asked.first_us[min(len(welds), len(asked.first_us) - 1)]
