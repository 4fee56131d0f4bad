"""Mutated serial lines: no output moves, and virtual board, laptop and AVR code queue the same errors."""

from __future__ import annotations

import random
import re

import pytest

from bench.avr.simulator import UART_DEFINES, Cue, Simulator, Wiring, build_runner, said
from bench.virtual.board import VirtualBoard
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from tests.conftest import CACHE, ROOT, SOAK, VERSION
from tests.support.host_core import compile_core
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.commands import COMMANDS
from timing.protocol.status import ERRORS
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board

LINES = 500 * (10 if SOAK else 1)
READINGS = 3
"""A dial and the supply count as the middle of this many."""
SETTLED_US = 700_000
ASK = "SYST:ERR?\n"
ASKED = 5
"""More often than the queue is long."""
LINE_US = 45_000
"""From one line to the next on the simulated port: line, questions and answers."""
NUMBERS = ("0", "1", "255", "2047", "1023", "-1", "4294967296", "9" * 12, "3.2e1", "#HFF", "0.5")
_ERROR = re.compile(r'-?[0-9]+,"[A-Za-z ]+"')


def mutated_lines(seed: int, count: int) -> list[str]:
    """Return lines that were commands once; no NUL, which ends a text in C on the laptop."""
    rng = random.Random(seed)
    return [_mutated(rng) for _ in range(count)]


def _mutated(rng: random.Random) -> str:
    command = rng.choice(COMMANDS)
    values = rng.choices(
        ("0", "1", "255", "2047", "1023", "-1", "4294967296", "9" * 12, "3.2e1", "#HFF", "0.5"), k=len(command.takes)
    )
    text = rng.choice(command.headers) + (" " + ",".join(values) if values else "")
    text = rng.choice((text, re.sub("[a-z]", "", text), text.lower()))
    for _ in range(rng.randrange(1, 4)):
        at = rng.randrange(len(text) + 1)
        until = min(at + rng.choice((0, 1, 1, 3)), len(text))
        new = rng.choice(
            (
                "",
                text[at:until] * 2,
                chr(rng.randrange(1, 256)),
                ";",
                ",",
                ":",
                "*",
                "?",
                "\n",
                "\r",
                " ",
                "7" * 20,
                "Z" * 50,
            )
        )
        text = text[:at] + new + text[until:]
    return text + "\n"


def errors_in(answers: str) -> list[str]:
    """Return the errors among the answers, each on its line or between semicolons."""
    return _ERROR.findall(answers)


@pytest.fixture(scope="module")
def design():
    return load_design(ROOT / "examples" / "shop_two_step.toml")


@pytest.fixture(scope="module")
def board(design):
    return load_board(design.board.type)


@pytest.fixture(scope="module")
def wanted(design, board):
    """For each line, the errors that the virtual board has in its queue afterwards."""
    virtual = VirtualBoard(target_of(Project(design, board)), version=VERSION, bench_link=False)
    found = []
    for line in mutated_lines(1, LINES):
        answers = virtual.receive(line.encode("latin-1")) + virtual.receive(ASK.encode() * ASKED)
        found.append(errors_in(answers.decode("latin-1")))
        assert virtual.machine.pins == 0
        assert virtual.machine.forced_contacts is None
        assert not virtual.machine.forced_counts
    return found


def test_the_lines_provoke_every_error(wanted):
    numbers = {int(error.partition(",")[0]) for errors in wanted for error in errors}
    elsewhere = {"QUEUE_OVERFLOW", "OVERRUN", "FRAMING"}
    assert numbers >= {error.number for error in ERRORS if error.name not in elsewhere}
    assert all(errors[-1] == '0,"No error"' for errors in wanted)


@pytest.mark.debian("gcc")
def test_the_generated_link_has_the_same_errors_and_moves_nothing(design, board, wanted):
    compiled = compile_core(design, board, VERSION, CACHE).board(bench_link=False)
    # As many readings as count for one.
    for _ in range(READINGS):
        for channel in range(3):
            compiled.reading(channel, 500, 0)
        compiled.reading(3, 400, 0)
    now_us = 0
    while now_us < SETTLED_US:
        assert compiled.run_pass(0, now_us) == 0
        now_us += 500
    for line, errors in zip(mutated_lines(1, LINES), wanted, strict=True):
        answers = compiled.ask(line + ASK * ASKED, now_us=now_us, passes=1_500, pass_us=10)
        assert errors_in(answers) == errors, repr(line)
        now_us += 15_000
        assert compiled.run_pass(0, now_us) == 0
        assert not compiled.hung
    assert compiled.ask("BENC:CONT?;:SEQ:STAT?\n", now_us=now_us) == "0,0,0;1,0\n"


@pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")
def test_the_firmware_has_the_same_errors_and_moves_nothing(design, board, wanted):
    program = compile_sketch(
        sketch_files(Project(design, board), VERSION), board, CACHE, UART_DEFINES[board.native_usb]
    )
    wiring, target = Wiring(design, board), target_of(Project(design, board))
    assert target.supply is not None
    counts = {name: scale.counts_for(target.rig.times_us[name]) for name, scale in target.scales.items()}
    boot = [*wiring.quiet(counts | {"supply": target.supply.good}), wiring.contact("trigger", False, SETTLED_US)]
    lines = mutated_lines(1, LINES)
    scripts = [_script(wiring, lines[first : first + LINES // 2]) for first in (0, LINES // 2)]
    runs = Simulator(build_runner(CACHE), program, board).run_each(boot, scripts)
    for events, expected in zip(runs, (wanted[: LINES // 2], wanted[LINES // 2 :]), strict=True):
        assert wiring.edges(events, 0) == []
        # The first copy begins without the power-on event and nothing else that errors hang on.
        assert errors_in(said(events)) == [error for errors in expected for error in errors]


def _script(wiring: Wiring, lines: list[str]) -> list[Cue]:
    cues = []
    for number, line in enumerate(lines):
        at_us = SETTLED_US + number * LINE_US
        cues.append(wiring.serial(line.encode("latin-1"), at_us))
        # What the port's buffer holds goes out at the port's pace: questions come when it is empty.
        cues += [wiring.serial(ASK.encode(), at_us + 15_000 + 5_000 * ask) for ask in range(ASKED)]
    return [*cues, Cue(wiring.cycle(SETTLED_US + len(lines) * LINE_US + 50_000), "end")]
