"""The same attack with the firmware as AVR code beside it, in the simulator."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import initialize

from bench.avr.simulator import UART_DEFINES, ChipEvent, Cue, Simulator, Wiring, build_runner, said
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from tests.conftest import VERSION
from tests.support.attack.machine import GARBAGE, SETTLED_US, Attack
from tests.support.attack.panel import COUNTS, Feeder, as_script
from tests.support.attack.record import Disagreement, write_disagreement
from timing.project import Project
from timing.sequence.core import filters
from timing.sequence.core.engine import Edge, Timeline, run_script
from timing.sequence.core.script import Change, Dial, Script
from timing.sequence.core.table import Output

TOLERANCE_US = 250
"""A pass, the clock's step, and the phases of passes against what happens at the pins."""
PASS_US = 80
LOOK_US = filters.PANEL_LONGEST_US - filters.PANEL_USUAL_US + PASS_US
"""How much earlier or later than usual a contact of the panel may count."""
ROUND_US = 3_000
"""The converter's round over its channels, as often as a broken dial must be seen."""
REST_US = 20_000
"""Quiet on the link, so that a question finds it empty."""

Run = Callable[[Sequence[Cue]], list[ChipEvent]]


@contextmanager
def booted_firmware(feeder: Feeder, cache: Path) -> Iterator[tuple[Wiring, Run]]:
    """Compile the sketch, boot it with the panel at rest, and yield how to run scripts on copies of it."""
    files = sketch_files(Project(feeder.design, feeder.board), VERSION)
    program = compile_sketch(files, feeder.board, cache, UART_DEFINES[feeder.board.native_usb])
    wiring = Wiring(feeder.design, feeder.board)
    boot = [*wiring.quiet(feeder.counts_at_rest()), wiring.contact("trigger", False, SETTLED_US)]
    with Simulator(build_runner(cache), program, feeder.board).booted(boot) as run:
        yield wiring, run


class AvrAttack(Attack):
    """Model and core as in every attack; in the end the whole script goes to the firmware.

    A board sees its pins once a pass and its dials once a round: a script whose outcome hangs on less than that tells
    nothing about it. Such a script is not counted.
    """

    wiring: ClassVar[Wiring]
    run: ClassVar[Run]
    compared: ClassVar[int] = 0
    wanted_steps: ClassVar[int]
    """So many steps are compared; the scripts that are left then go to model and core alone."""
    edges: ClassVar[int] = 0
    waits_us = (3_000, 40_000, 3_000, 40_000, 120_000)
    # Slower than the converter's round and its three readings, so that each value is surely seen.
    noise_us = 5_000
    trouble_us = 12_000
    dial_travel = 0.06

    def __init__(self) -> None:
        super().__init__()
        self.sent: list[tuple[int, bytes]] = []
        self.steps_here = 0

    @initialize(settled=st.just(True), wraps_ms=st.integers(0, 5_000))
    def power_up(self, settled: bool, wraps_ms: int) -> None:
        """Switch on and wait: the firmware was booted beforehand."""
        super().power_up(settled, wraps_ms)

    def _count(self) -> None:
        super()._count()
        self.steps_here += 1

    def _ask(self) -> None:
        super()._ask()
        line = random.Random(self.now_us).choice(GARBAGE)
        self.sent.append((self.now_us, f"{line}\n".encode()))

    def teardown(self) -> None:
        """Run the script on the firmware and compare its edges, and the phase it ends in, with the model's."""
        super().teardown()
        if not self.steps_here or self.compared >= self.wanted_steps:
            return
        end_us = self.now_us + 2 * REST_US
        changes = counted(self.changes)
        if changes is None:
            return
        script = self._script(changes, end_us)
        wanted = run_script(self.feeder.target.rig, script)
        others = [run_script(self.feeder.target.rig, other) for other in delayed(script)]
        troubled = any(change.what in ("supply", "dial_fault") for change in script.changes)
        tolerance_us = (ROUND_US if troubled else 0) + TOLERANCE_US
        if not all(agree(self._wired(wanted), self._wired(other), tolerance_us) for other in others):
            return
        events = self.run(self._cues(end_us))
        got = self.wiring.edges(events, SETTLED_US)
        if not agree(self._wired(wanted), got, tolerance_us):
            self._part("edges differ", script, wanted, got)
        last = wanted.phases[-1]
        # The question goes out in the middle of the rest: the answer is known where nothing changes from then on.
        asked_us = self.now_us + REST_US - SETTLED_US
        ends = {(course.phases[-1].phase, course.phases[-1].fault) for course in (wanted, *others)}
        if len(ends) == 1 and all(course.phases[-1].at_us < asked_us - PASS_US for course in (wanted, *others)):
            answer, state = said(events).rstrip("\n"), f"{int(last.phase)},{int(last.fault)}"
            # A reset may have cut an answer short: then this one stands on the same line.
            if not answer.endswith(state):
                self._part(f"phase and fault {answer[-20:]!r}, expected {state!r}", script, wanted, got)
        type(self).compared += self.steps_here
        type(self).edges += len(got)

    def _script(self, changes: Sequence[Change], end_us: int) -> Script:
        moved = [Change(change.at_us - SETTLED_US, change.what, change.value) for change in changes]
        return as_script(self.feeder, moved, end_us - SETTLED_US)

    def _wired(self, timeline: Timeline) -> list[Edge]:
        gas = "gas_valve" in self.feeder.target.fitted
        return [edge for edge in timeline.edges if gas or edge.output is not Output.GAS]

    def _cues(self, end_us: int) -> list[Cue]:
        cues = [self._cue(change) for change in self.changes]
        cues += [self.wiring.serial(text, at_us) for at_us, text in self.sent]
        cues.append(self.wiring.serial(b"\nSEQ:STAT?\n", self.now_us + REST_US))
        return [*sorted(cues, key=lambda cue: cue.cycle), Cue(self.wiring.cycle(end_us), "end")]

    def _cue(self, change: Change) -> Cue:
        if change.what == "reset":
            return Cue(self.wiring.cycle(change.at_us), "reset")
        if change.what.startswith(COUNTS):
            return self.wiring.counts(change.what.removeprefix(COUNTS), change.value, change.at_us)
        early_us = filters.PANEL_USUAL_US if _looked_at(change.what) else 0
        return self.wiring.contact(change.what, bool(change.value), change.at_us - early_us)

    def _part(self, says: str, script: Script, wanted: Timeline, got: list[Edge]) -> None:
        write_disagreement(Disagreement(self.title, says, script, self._wired(wanted), got), self.folder)
        raise AssertionError(f"{says}; script and picture: {self.folder / self.title}.txt, .svg")


def _looked_at(role: str) -> bool:
    """Tell whether a contact counts only once looks at it agree."""
    return role in ("interlock", "four_step") or role.endswith("_switch")


def counted(changes: Sequence[Change]) -> list[Change] | None:
    """Return `changes` without flickers of the panel that count for nothing; None where one may count or not."""
    kept = []
    for index, change in enumerate(changes):
        if _looked_at(change.what):
            following = (other.at_us for other in changes[index + 1 :] if other.what == change.what)
            lasts_us = next(following, change.at_us + SETTLED_US) - change.at_us
            if lasts_us < filters.PANEL_SHORTEST_US - PASS_US:
                continue
            if lasts_us < filters.PANEL_LONGEST_US + 2 * PASS_US:
                return None
        kept.append(change)
    return kept


def delayed(script: Script) -> Iterator[Script]:
    """Return the script as a board may see it: closings, openings, readings each later by what it may take.

    Dials and supply are read in turn: of two that change at once either may be seen first.
    """
    for closing_us, opening_us, dial_us, supply_us, look_us in (
        (0, 0, ROUND_US, ROUND_US, 0),
        (0, 0, ROUND_US, 0, -LOOK_US),
        (0, 0, 0, ROUND_US, LOOK_US),
        (PASS_US, PASS_US, 0, 0, -LOOK_US),
        (PASS_US, 0, ROUND_US, ROUND_US, LOOK_US),
        (0, PASS_US, 0, 0, LOOK_US),
    ):
        moved = []
        for change in script.changes:
            contact_us = closing_us if change.value else opening_us
            dial = isinstance(change.what, Dial) or change.what == "dial_fault"
            later_us = dial_us if dial else supply_us if change.what == "supply" else contact_us
            later_us = look_us if filters.is_looked_at(change.what) else later_us
            moved.append(Change(max(change.at_us + later_us, 0), change.what, change.value))
        yield Script(tuple(sorted(moved, key=lambda change: change.at_us)), script.end_us)


def agree(some: Sequence[Edge], others: Sequence[Edge], tolerance_us: int) -> bool:
    """Tell whether the edges of each output are the same, within a tolerance."""

    def ordered(edges: Sequence[Edge]) -> list[Edge]:
        return sorted(edges, key=lambda edge: (edge.output.value, edge.at_us))

    return len(some) == len(others) and all(
        (a.output, a.on) == (b.output, b.on) and abs(a.at_us - b.at_us) <= tolerance_us
        for a, b in zip(ordered(some), ordered(others), strict=True)
    )
