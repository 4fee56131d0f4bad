"""Commissioning of one design: its steps, where the walk stands by the logbook, and answers entered as they are given.

Terminal, scripts and page go through here. Nothing is kept but the logbook: after each entry the walk is folded anew,
so that whatever ends the session costs nothing, and two that go on at once see each other's entries.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from codegen.papers.dial_plate import settable_of
from timing.commission.reply import StepReply, read_step_reply, read_weld_reply
from timing.commission.step import CommissionStage, CommissionStep, WeldsAsked
from timing.commission.steps import CommissionPlan, commission_plan
from timing.commission.walk import CommissionWalk, step_values, walk_of
from timing.design.text_file import shown
from timing.design.times import TIME_KEYS
from timing.design.units import format_duration
from timing.logbook.entry import EntryKind, EntryValue
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.process.fit import Fit, check_welds, fit_machine
from timing.process.welds import TestWeld
from timing.project import Project
from timing.survey.question import ReplyError
from wirecue.logbooks import append_entry, logbook_path, read_logbook
from wirecue.projects import load_project
from wirecue.weld_log import as_made, entry_of_weld, welds_of

FIXED_WELDS = 2
"""Test welds with a time that no dial can change (choice)."""


@dataclass(frozen=True)
class WeldTurn:
    """The test weld to make next, or why there is none."""

    words: str
    """Where the dial stands for it."""
    set_to: str
    """The same as a weld's text begins: 'mark 130', or '130 ms' where there is no dial."""
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
        return cls.of_project(design, load_project(design), clock)

    @classmethod
    def of_project(cls, design: Path, project: Project, clock: Callable[[], str] | None = None) -> Commissioning:
        """Return the commissioning of a project that was read from `design`."""
        return cls(design, project, commission_plan(project), clock)

    @property
    def log(self) -> Path:
        """Where outcomes are kept."""
        return logbook_path(self.design)

    @property
    def walk(self) -> CommissionWalk:
        """Where the walk stands by the logbook as it is now. Raises UnreadableFileError."""
        return walk_of(self.plan, read_logbook(self.log))

    def settings_found(self) -> dict[str, str]:
        """Return the times found good that are not those of the design, as lines of the design file, by their names."""
        walk, found = self.walk, {}
        for name, setting in self.project.features.times.items():
            step = next((one for one in self.plan.of(CommissionStage.DIAL_MARKS) if one.key == f"mark.{name}"), None)
            time_us = None if step is None else walk.reading(step)
            if time_us is not None and round(time_us) != setting.setting_us:
                found[name] = f'{TIME_KEYS[name]}.setting = "{format_duration(round(time_us))}"'
        return found

    def enter(self, step: CommissionStep, reply: StepReply) -> None:
        """Enter an outcome, through to the disk. Raises OutputError, UnreadableFileError."""
        self._append(EntryKind.STEP, step_values(step, reply.outcome, reply.reading, self.project.design.digest()))

    def read(self, step: CommissionStep, text: str, turn: WeldTurn | None = None) -> StepReply | TestWeld:
        """Return what a text tells of: an outcome of the step, or a test weld. Raises ReplyError."""
        weld = self._read_weld(step, text, turn) if isinstance(step.ask, WeldsAsked) else None
        return read_step_reply(step, text) if weld is None else weld

    def _read_weld(self, step: CommissionStep, text: str, turn: WeldTurn | None) -> TestWeld | None:
        turn = turn or self.weld_turn()
        weld = read_weld_reply(step, text, turn.set_to, self.project.dials.get("burnback"))
        if weld is not None:
            self._check(weld)
        return weld

    def _check(self, weld: TestWeld) -> None:
        """Raise ReplyError for a weld that cannot be, as far as the model holds."""
        try:
            case = burnback_case(self.project.design)
        except ProcessError:
            return
        try:
            check_welds(case, [weld])
        except ProcessError as error:
            raise ReplyError(error.what, error.allowed, error.remedy) from None

    def enter_weld(self, weld: TestWeld) -> None:
        """Enter a test weld, through to the disk. Raises OutputError, UnreadableFileError."""
        design = self.project.design
        self._append(EntryKind.WELD, entry_of_weld(as_made(weld, design), design))

    def _append(self, kind: EntryKind, values: dict[str, EntryValue] | dict[str, str | bool]) -> None:
        append_entry(self.log, kind, values, None if self.clock is None else self.clock())

    def weld_turn(self) -> WeldTurn:
        """Return what the test welds so far say, and the one to make next."""
        design, dial = self.project.design, self.project.dials.get("burnback")
        logged = welds_of(read_logbook(self.log), design)
        welds = logged.welds
        try:
            fit = fit_machine(burnback_case(design), welds, settable_of(dial))
        except ProcessError as error:
            # Outside what the model holds for welds are made all the same, and a person judges them.
            set_to = format_duration(design.times.burnback.setting_us)
            told = (f"{error.what[0].upper()}{error.what[1:]}: {error.remedy}.",)
            return WeldTurn(f"burnback at {set_to}", set_to, told, enough=False)
        if dial is None:
            return self._fixed_turn(fit, len(welds))
        mark = fit.settled.mark if fit.next_weld is None else fit.next_weld.mark
        words = f"burnback dial at {mark.words}"
        unit_us, _ = dial.plate_unit
        says = (*fit.sentences, *_slip(self.design, logged.numbers))
        return WeldTurn(words, f"mark {mark.time_s * 1e6 / unit_us:.12g}", says, fit.next_weld is None)

    def _fixed_turn(self, fit: Fit, count: int) -> WeldTurn:
        """Without a dial every weld is made with the one time; another one is a build and an upload."""
        fixed = format_duration(self.project.design.times.burnback.setting_us)
        enough = fit.settled.enough or count >= FIXED_WELDS
        told = () if fit.settled.enough or not count else (
            f"Burnback is fixed in the program: `wirecue fit {self.design} --write`, build and flash; then these welds "
            "are asked for anew.",
        )  # fmt: skip
        return WeldTurn(f"burnback fixed at {fixed}", fixed, (*fit.sentences, *told), enough)


def _slip(design: Path, numbers: Sequence[int]) -> Iterator[str]:
    """Say how the latest weld is taken back."""
    if numbers:
        yield f"Was weld {numbers[-1]} mistyped? `wirecue fit {shown(design)} --leave-out {numbers[-1]}` takes it back."
