"""docs/faults.md: what the firmware did in each trial."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from timing.circuit.senses import contact_sense
from timing.design.board import Board
from timing.design.units import format_quantity
from timing.sequence.core import filters
from timing.sequence.core.table import Fault
from tools.faults import trials
from tools.faults.device import ROOT, DeviceUnderTest, load_device
from tools.faults.trials import Course, Flip, Outcome

PAGE = ROOT / "docs" / "faults.md"
GARBAGE_BYTES = 32_000
"""Of each kind of traffic; a long run of the tests sends 1,000,000."""

HEAD = """\
<!-- Made by `make docs` from runs of the firmware in a simulator; changes here are lost. -->

# What faults do to the firmware

The generated sketch of a design that has everything (spot, stitch, four-step by a switch, purge, inch, interlock, arc \
sensor, supply sense, five dials) is compiled for the ATmega328P and run as AVR code in a simulator. Each fault comes \
in the middle of the phase named. Trigger and buttons stay as they are for longer than hold-off, then open; a fresh \
press comes last. `tests/bench/avr/test_faults.py` runs all of it again.

The simulator is not the board: brown-out is injected as resets, and what floats during a reset counts as off, because \
each output has its resistor to off. Times are those of the board's own clock. No bootloader is in it: with an old one \
a watchdog reset ends in a loop of resets, outputs off, until the power is cut; \
[why, and what to do](flashing.md#the-old-bootloader-and-the-watchdog). That was tried, too.

An add-on timer is not a safety function. These trials say that the timing is not made worse by a fault; they replace \
no interlock, emergency stop or thermal cut-out.
"""

WATCH = """\
The clock that times the weld and the converter that reads dials and supply run from prescalers of their own: one is \
compared with the other, and the watchdog, which has an oscillator of its own, is served by that clock every 49 ms \
only. A clock at half its speed or less, or at twice its speed or more, and a converter that stops or goes at half its \
speed, switch everything off within the watchdog's time; the watchdog then makes a new start of it. Each lasts 100 ms \
here and then goes on: while it lasts the board starts over and over, with everything off.
"""
LOOKS = """\
Interlock and switches of the panel count once {looks} looks at them, {look_us} us apart, agree: what lasts less than \
{shortest} does nothing. These times count from the pin. The {pull_up} that wets a contact lifts the pin, with its \
100 nF, within {opening} of the contact's opening; that comes on top.
"""
REFRESH = """\
Registers of outputs and clock are written anew in every pass, those of contacts and converter with every reading. \
Here their bits are turned over once, and the run is compared with the same run undisturbed. (A clock register that is \
put right costs up to 1 ms in the simulator only: it begins that count anew.)
"""
AFTERWARDS = "nothing on until trigger and buttons were open; then a fresh press welds"


@dataclass(frozen=True)
class Results:
    """What came of all trials."""

    phases: Sequence[Outcome]
    power_up: Sequence[Outcome]
    cable: Outcome
    by_table: Sequence[Course]
    flips: Sequence[Flip]
    board: Board

    @property
    def outcomes(self) -> list[Outcome]:
        """All outcomes, in the order of the page."""
        return [*self.phases, *self.power_up, self.cable]


def run_all(device: DeviceUnderTest, garbage_bytes: int = GARBAGE_BYTES) -> Results:
    """Run every trial."""
    stories = [*trials.limit_stories(), *trials.arc_stories(), *trials.dial_stories()]
    stories += trials.traffic_stories(device, garbage_bytes)
    return Results(
        trials.in_every_phase(device),
        trials.power_up(device),
        trials.unplugged(device),
        [*trials.run_stories(device, stories), trials.clock_course(device)],
        trials.flipped(device),
        device.board,
    )


def page(results: Results) -> str:
    """Return the page."""
    off = _table(
        ("fault", "in", "all off after", "longest measured", "shown", "afterwards"),
        (_outcome_row(list(group)) for _, group in groupby(results.outcomes, lambda outcome: outcome.fault)),
    )
    table = _table(
        ("fault", "in", "edges off the model's by", "shown", "afterwards"),
        (_course_row(list(group)) for _, group in groupby(results.by_table, lambda course: course.fault)),
    )
    flips = _table(
        ("fault", "in", "outputs right again after", "longest measured", "later edges off by"),
        (_flip_row(list(group)) for _, group in groupby(results.flips, lambda flip: flip.fault)),
    )
    return (
        f"{HEAD}\n## All off, at once or within its bound\n\n{_looks(results.board)}\n{WATCH}\n{off}\n"
        f"## Put right while it runs\n\n{REFRESH}\n{flips}\n## Ends by the table\n\nA broken dial does not "
        "freeze the wire in a weld that is under way: the weld ends by the table, with the last good reading, and "
        "then the board goes to hold-off. Limits end as a release does. Traffic and the wrap of the clocks change "
        f"nothing. Every edge is compared with the model's. Traffic: {GARBAGE_BYTES:,} bytes of each kind at the "
        f"port's full pace.\n\n{table}"
    )


def _looks(board: Board) -> str:
    sense = contact_sense(board)
    return LOOKS.format(
        looks=filters.PANEL_LOOKS,
        look_us=filters.PANEL_LOOK_US,
        shortest=_ms(filters.PANEL_SHORTEST_US),
        pull_up=format_quantity(sense.pull_up_ohm, "ohm"),
        opening=_ms(round(sense.opening_us)),
    )


def _outcome_row(group: Sequence[Outcome]) -> tuple[str, ...]:
    first = group[0]
    measured = [outcome.off_after_us for outcome in group if outcome.off_after_us is not None]
    where = ", ".join(outcome.where for outcome in group) if len(group) < len(trials.WAYS) else "every phase"
    return (
        first.fault,
        where,
        first.bound if first.bound_us == 0 or not measured else f"{first.bound}: {_ms(first.bound_us)}",
        _ms(max(measured)) if measured else "-",
        _shown({outcome.shown for outcome in group}),
        _afterwards(not any(outcome.rose for outcome in group) and all(outcome.welded for outcome in group)),
    )


def _course_row(group: Sequence[Course]) -> tuple[str, ...]:
    where = ", ".join(course.where for course in group) if len(group) < len(trials.WAYS) else "every phase"
    same = all(course.same for course in group)
    worst_us = max(course.worst_us for course in group)
    return (
        group[0].fault,
        where,
        f"at most {_ms(worst_us)}" if same else "OTHER EDGES",
        _shown({course.shown for course in group}),
        _afterwards(all(course.welded for course in group)),
    )


def _flip_row(group: Sequence[Flip]) -> tuple[str, ...]:
    first = group[0]
    worst_us = [flip.worst_us for flip in group]
    right_us = max(flip.right_after_us for flip in group)
    return (
        first.fault,
        ", ".join(flip.where for flip in group) if len(group) < len(trials.WAYS) else "every phase",
        f"two passes: {_ms(first.bound_us)}",
        _ms(right_us) if right_us else "-",
        f"at most {_ms(max(worst_us))}" if min(worst_us) >= 0 else "OTHER EDGES",
    )


def _shown(faults: Iterable[Fault]) -> str:
    words = sorted(f"{fault.value} {fault.word}" if fault else "none" for fault in faults)
    return ", ".join(words)


def _afterwards(well: bool) -> str:
    return AFTERWARDS if well else "NOT AS IT SHOULD BE"


def _ms(time_us: int) -> str:
    """Microseconds in ms, rounded up to hundredths so that a pass more or less of the firmware does not show."""
    return f"{-(-time_us // 10) / 100:g} ms"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [f"| {' | '.join(cells)} |" for cells in (heads, ["---"] * len(heads), *rows)]
    return "\n".join(lines) + "\n"


def write(path: Path = PAGE) -> None:
    """Run the trials and write the page. Raises ToolchainError and SimulatorError."""
    path.write_text(page(run_all(load_device())), encoding="utf-8")
