"""A host that streams far ahead of the board: what is lost is told, and no value is accepted that was not sent."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from bench.avr.simulator import UART_DEFINES, Cue, Simulator, Wiring, build_runner, said
from bench.virtual.board import VirtualBoard
from bench.virtual.machine import Faults
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from tests.conftest import CACHE, ROOT, SOAK, VERSION
from tests.support.host_core import compile_core
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.commands import ERROR_QUEUE, RECEIVE_BUFFER, RECEIVE_ROOM
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board

BURSTS = 120 * (10 if SOAK else 1)
CHARACTER_US = 87
# Longer ones overtake the simulator's own buffer, which is none of the board's.
LONGEST_BURST = 480
QUIET_US = 60_000
"""From the end of a burst until the board has done everything that it kept."""
ASK = "SYST:ERR?\n" * (ERROR_QUEUE + 1)
ASK_US = 60_000
NO_ERROR = '0,"No error"'
OVERRUN = '-363,"Input buffer overrun"'
FRAMING = '-362,"Framing error in program message"'
OVERFLOW = '-350,"Queue overflow"'


@dataclass(frozen=True)
class Burst:
    """Lines that each make two settings and ask for both. The second hangs on the first, so that a splice shows."""

    pairs: tuple[tuple[int, int], ...]
    blanks: int

    @property
    def text(self) -> str:
        gap = " " * self.blanks
        return "".join(f"*ESE {a};{gap}*SRE {b};*ESE?;*SRE?\n" for a, b in self.pairs)


def bursts(seed: int, count: int) -> list[Burst]:
    rng = random.Random(seed)
    made = []
    for _ in range(count):
        firsts = rng.sample(range(256), rng.randrange(1, 16))
        # The master summary bit, 64, is not kept by *SRE.
        burst = Burst(tuple((a, (a * 167 + 13) % 256 & ~64) for a in firsts), rng.randrange(4))
        while len(burst.text) > LONGEST_BURST:
            burst = Burst(burst.pairs[:-1], burst.blanks)
        made.append(burst)
    return made


def judge(burst: Burst, answers: str) -> int:
    """Hold what a board answered to a burst, and then to ASK, against what was sent; return how many lines it lost."""
    lines = answers.splitlines()
    errors, accepted = lines[-ERROR_QUEUE - 1 :], lines[: -ERROR_QUEUE - 1]
    rest = iter(burst.pairs)
    for line in accepted:
        assert any(line == f"{a};{b}" for a, b in rest), f"{line} was never sent, or not in this order: {burst.text!r}"
    lost = len(burst.pairs) - len(accepted)
    assert errors[-1] == NO_ERROR
    assert set(errors) <= {NO_ERROR, OVERRUN, OVERFLOW}, "nothing but losses: no line is read in part"
    assert (errors[0] == OVERRUN) == (lost > 0)
    return lost


@pytest.fixture(scope="module")
def design():
    return load_design(ROOT / "examples" / "shop_two_step.toml")


@pytest.fixture(scope="module")
def board(design):
    return load_board(design.board.type)


def on_the_host(design, board) -> Iterator[str]:
    compiled = compile_core(design, board, VERSION, CACHE).board(bench_link=False)
    now_us = 0
    for burst in bursts(1, BURSTS):
        answers = ""
        for text, pause_us in ((burst.text, QUIET_US), (ASK, ASK_US)):
            pace = 2 if text == burst.text else 30
            passes = len(text) * pace + pause_us // 50
            answers += compiled.stream(text, pace, now_us, passes)
            now_us += passes * 50
        yield answers


def on_avr(design, board) -> Iterator[str]:
    wiring = Wiring(design, board)
    program = compile_sketch(
        sketch_files(Project(design, board), VERSION), board, CACHE, UART_DEFINES[board.native_usb]
    )
    simulator = Simulator(build_runner(CACHE), program, board)
    counts = dict.fromkeys(target_of(Project(design, board)).scales, 500) | {"supply": 400}
    boot_us = 100_000
    boot = [*wiring.quiet(counts), wiring.contact("trigger", False, boot_us)]
    scripts: list[list[Cue]] = []
    for burst in bursts(1, BURSTS):
        asked_us = boot_us + len(burst.text) * CHARACTER_US + QUIET_US
        asking = [wiring.serial(b"SYST:ERR?\n", asked_us + n * ASK_US // 10) for n in range(ERROR_QUEUE + 1)]
        end = Cue(wiring.cycle(asked_us + ASK_US), "end")
        scripts.append([wiring.serial(burst.text.encode(), boot_us), *asking, end])
    yield from (said(events) for events in simulator.run_each(boot, scripts))


@pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")
@pytest.mark.parametrize("streamed", [on_the_host, on_avr])
def test_every_setting_that_is_accepted_was_sent_and_every_loss_leaves_its_error(streamed: Callable, design, board):
    lost = [judge(burst, answers) for burst, answers in zip(bursts(1, BURSTS), streamed(design, board), strict=True)]
    assert sum(count > 0 for count in lost) >= BURSTS / 4, "bursts that overrun the board"
    assert sum(count == 0 for count in lost) >= BURSTS / 20, "and some that do not"


@pytest.mark.debian("gcc")
@pytest.mark.parametrize("length", [RECEIVE_ROOM - 1, RECEIVE_ROOM, RECEIVE_ROOM + 1, RECEIVE_ROOM + 2])
def test_what_fits_into_the_buffer_is_kept_and_one_more_is_told(length, design, board):
    compiled = compile_core(design, board, VERSION, CACHE).board(bench_link=False)
    before, last = "*ESE 5\n*ESE 6\n*ESE 7", "\n*ESE 1\n"
    compiled.flood(before + " " * (length - len(before + last)) + last)
    compiled.ask("", passes=2_000)
    kept = length <= RECEIVE_ROOM
    assert compiled.ask("*ESE?;:SYST:ERR?\n") == f"{1 if kept else 7};{NO_ERROR if kept else OVERRUN}\n"
    assert RECEIVE_BUFFER & (RECEIVE_BUFFER - 1) == 0, "the board counts in a ring"


@pytest.mark.debian("gcc")
def test_the_line_after_an_overrun_is_carried_out_again(design, board):
    compiled = compile_core(design, board, VERSION, CACHE).board(bench_link=False)
    compiled.flood("*ESE 1\n" + "*ESE 2" + " " * RECEIVE_BUFFER + "\n")
    compiled.ask("", passes=2_000)
    assert compiled.ask("*ESE?;*ESE 3;*ESE?\nSYST:ERR?;:SYST:ERR?\n") == f"1;3\n{OVERRUN};{NO_ERROR}\n"


def lost(wiring: Wiring, at_us: int) -> list[Cue]:
    """Return the cues of a character before which the hardware lost some.

    UCSR0A of the ATmega328P: bit 3 data overrun, bit 5 transmitter free, bit 1 double speed (data sheet, description of
    the USART's registers). The simulator takes 93 us for a character, and clears the flag as it begins.
    """
    return [wiring.serial(b"x", at_us), wiring.memory(0xC0, bytes([1 << 5 | 1 << 3 | 1 << 1]), at_us + 50)]


def mangled(wiring: Wiring, at_us: int) -> list[Cue]:
    """Return the cue of a character without its stop bit."""
    return [wiring.mangled(b"x", at_us)]


@pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")
@pytest.mark.parametrize(("bad", "error"), [(lost, OVERRUN), (mangled, FRAMING)], ids=["overrun", "framing"])
def test_a_flag_of_the_hardware_gives_the_line_up(bad, error, design, board):
    wiring = Wiring(design, board)
    program = compile_sketch(sketch_files(Project(design, board), VERSION), board, CACHE)
    counts = dict.fromkeys(target_of(Project(design, board)).scales, 500) | {"supply": 400}
    start_us = 100_000
    cues = [
        *wiring.quiet(counts),
        wiring.serial(b"*ESE 7\n*ESE 1", start_us),
        *bad(wiring, start_us + 5_000),
        wiring.serial(b"23\n*SRE 5;*ESE?;*SRE?\nSYST:ERR?;:SYST:ERR?\n", start_us + 6_000),
        Cue(wiring.cycle(start_us + 60_000), "end"),
    ]
    answers = said(Simulator(build_runner(CACHE), program, board).run(cues))
    assert answers == f"7;5\n{error};{NO_ERROR}\n"


def test_the_virtual_board_gives_up_the_same_line(design, board):
    virtual = VirtualBoard(target_of(Project(design, board)), faults=Faults(keeps=RECEIVE_ROOM))
    virtual.receive(b"*ESE 1\n" + b"*ESE 2" + b" " * RECEIVE_BUFFER)
    assert virtual.receive(b"3\n*ESE?\n") == b"1\n"
    assert virtual.receive(b"SYST:ERR?;:SYST:ERR?\n").decode() == f"{OVERRUN};{NO_ERROR}\n"
    virtual.receive(b"*ESE 1")
    virtual.lose("FRAMING")
    assert virtual.receive(b"23\n*ESE?;:SYST:ERR?\n").decode() == f"1;{FRAMING}\n"
