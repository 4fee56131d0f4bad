"""The recorder's firmware as AVR code: what it stamps, what it presses, and what nothing makes it press."""

from __future__ import annotations

import itertools
import random

import pytest

from bench.avr.simulator import Cue
from codegen.recorder_sketch import recorder_digest, recorder_files
from codegen.toolchain import STRICT, compile_sketch, find_tools, measure
from tests.conftest import CACHE, VERSION, gate_share
from tests.support.recorder_chip import STARTED_US, answers, recorder_chip, records
from timing.protocol.commands import BAUD
from timing.protocol.recorder import (
    LINE_BIT,
    PRESS_LAPSE_US,
    RECORDER_INPUTS,
    RECORDER_RECORDS,
    SAMPLE_US,
)
from wirecue.projects import board_names, load_board

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

AVR_BOARDS = [name for name in board_names() if load_board(name).family == "avr"]
MOST_FLASH_BYTES = 8_192
MOST_RAM_BYTES = 1_024
USB_FLASH_BYTES = 3_072
"""What a board that speaks USB itself carries on top."""
LATEST_LOOK_US = 6
"""How much later than its stamp a look may come: behind the interrupt of the core's clock."""
LONGEST_PASS_US = 400
"""The port, which keeps two characters while a third comes in for 260 us, is looked at four times a pass."""
WATCHDOG_US = 60_000
WINDOWS_US = 40_000
"""The clock is judged once in 16 ms; the simulator's watchdog has the data sheet's nominal milliseconds."""
INPUTS = [one.number for one in RECORDER_INPUTS]
ALL_INPUTS = (1 << len(INPUTS)) - 1


@pytest.fixture(scope="module")
def nano():
    return recorder_chip(load_board("nano"))


@pytest.mark.parametrize("name", AVR_BOARDS)
def test_it_compiles_with_all_warnings_as_errors_and_is_small(name):
    board = load_board(name)
    took = measure(compile_sketch(recorder_files(board, VERSION), board, CACHE))
    print(f"recorder on {name}: {took.flash_bytes} bytes of flash, {took.ram_bytes} of RAM")
    assert took.flash_bytes <= MOST_FLASH_BYTES + USB_FLASH_BYTES * board.native_usb
    assert took.ram_bytes <= MOST_RAM_BYTES


def test_each_of_its_headers_compiles_alone_and_twice(tmp_path):
    board, tools = load_board("nano"), find_tools()
    files = recorder_files(board, VERSION)
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    chip = [f"-mmcu={board.mcu}", f"-DF_CPU={board.clock_hz}L", "-std=gnu11", *STRICT, "-Wpedantic"]
    for name in (name for name in files if name.endswith(".h")):
        alone = tmp_path / f"alone_{name[:-2]}.c"
        alone.write_text(f'#include "{name}"\n#include "{name}"\nextern int alone;\n', encoding="utf-8")
        tools.run([str(tools.gcc), "-fsyntax-only", *chip, str(alone)])


def asked(chip, at_us, count):
    """Ask for `count` records, seven on a line, as the link takes them."""
    lines = -(-count // 7)
    return [chip.serial("TRAC:DATA?" + ";DATA?" * 6 + "\n", at_us + 25_000 * line) for line in range(lines)]


def moved(chip, seed, count, shortest_us=200, longest_us=2_000):
    """Return cues of random edges of all inputs, and (instant, number, on) of each."""
    rng, at_us, on, truth = random.Random(seed), float(STARTED_US), set(), []
    for _ in range(count):
        at_us += rng.uniform(shortest_us, longest_us)
        number = rng.choice(INPUTS)
        on ^= {number}
        truth.append((at_us, number, number in on))
    return [chip.line(number, is_on, at_us) for at_us, number, is_on in truth], truth


def offsets(found, truth):
    """Return stamp less instant of each edge; each record must be of the edge that was made."""
    before, differences = 0, []
    for record, (at_us, number, on) in zip(found, truth, strict=True):
        assert record.lines ^ before == 1 << (number - 1), "one line, the one that moved"
        assert bool(record.lines & 1 << (number - 1)) == on
        before = record.lines
        differences.append(record.time_us - at_us)
    return differences


def stamped_well(differences):
    """Tell whether edges are seen by the next look, which may come late: 16 us behind their edge, or 6 us before it."""
    return max(differences) - min(differences) <= SAMPLE_US + LATEST_LOOK_US


@pytest.mark.parametrize("name", gate_share(["nano", "leonardo", "mega"], 2))
def test_edges_come_back_stamped_within_20_us_while_the_link_talks(name):
    chip = recorder_chip(load_board(name))
    cues, truth = moved(chip, seed=name, count=RECORDER_RECORDS - 1)
    read_us = round(truth[-1][0]) + 30_000
    busy_us = range(STARTED_US, read_us - 20_000, 9_000)
    talk = [chip.serial("*IDN?;:SYST:ERR?;:INP:GAP? 1\n", at_us) for at_us in busy_us]
    events = chip.run([*cues, *talk, *asked(chip, read_us, RECORDER_RECORDS)], read_us + 200_000)
    said = [line for line in answers(events) if "wirecue" not in line]
    differences = offsets(records(said), truth)
    print(f"{name}: stamps of {len(differences)} edges lie within {max(differences) - min(differences):.1f} us")
    assert stamped_well(differences)
    assert answers(events)[0].split(";")[0] == f"wirecue,recorder,{recorder_digest(chip.board, VERSION)},{VERSION}"


def test_all_inputs_at_once_are_one_record(nano):
    flips = [nano.line(number, on, 30_000 + 1_000 * (not on)) for on in (True, False) for number in INPUTS]
    events = nano.run([*flips, *asked(nano, 40_000, 7)], 80_000)
    found = records(answers(events))
    assert [record.lines for record in found] == [ALL_INPUTS, 0]
    assert found[1].time_us - found[0].time_us == pytest.approx(1_000, abs=SAMPLE_US)


def test_bridge_gap_and_disc_on_the_chip(nano):
    disc = next(one.number for one in RECORDER_INPUTS if one.key == "disc")
    at_us = 60_000
    cues = [nano.serial("INP:BRID 1,12000;:INP:DISC:CLE\n", 25_000), nano.line(1, True, at_us)]
    cues += [nano.line(1, on, at_us + 10_000 + 6_500 * on) for on in (False, True)]
    cues += [nano.line(1, False, at_us + 40_000)]
    for slot in range(5):
        cues += [nano.line(disc, on, at_us + 20_000 + 3_000 * slot + 1_000 * (not on)) for on in (True, False)]
    cues += [nano.serial("INP:GAP? 1;DISC?;:INP:LIN?\n", at_us + 80_000), *asked(nano, at_us + 90_000, 14)]
    said = answers(nano.run(cues, at_us + 170_000))
    gap_us, counted, lines = said[0].split(";")
    slots, first_us, latest_us = map(int, counted.split(","))
    assert int(gap_us) == pytest.approx(6_500, abs=SAMPLE_US)
    assert slots == 5
    assert latest_us - first_us == pytest.approx(12_000, abs=SAMPLE_US)
    assert lines == "0"
    coil = [record for record in records(said[1:]) if record.lines in (0, 1)]
    assert coil[0].lines == 1
    assert coil[-1].time_us - coil[0].time_us == pytest.approx(40_000, abs=SAMPLE_US), "stamped as it went off"


def test_what_the_trace_has_no_room_for_is_counted(nano):
    edges, truth = moved(nano, seed=3, count=RECORDER_RECORDS + 20)
    read_us = truth[-1][0] + 10_000
    cues = [*edges, nano.serial("TRAC:LOST?\n", read_us), *asked(nano, read_us + 5_000, RECORDER_RECORDS + 1)]
    said = answers(nano.run(cues, read_us + 250_000))
    assert said[0] == "20"
    assert len(offsets(records(said[1:]), truth[:RECORDER_RECORDS])) == RECORDER_RECORDS


def test_questions_back_to_back_and_400_edges_a_second_on_three_inputs_and_none_is_lost(nano):
    """Each line is asked as soon as the answer to the one before it can have come."""
    rng, from_us, until_us, every_us = random.Random(5), 30_000, 630_000, 20_000
    edges, on = [], {1: False, 2: False, 3: False}
    for index, at_us in enumerate(range(from_us, until_us, 2_500)):
        number = 1 + index % 3
        on[number] = not on[number]
        edges.append((at_us + rng.uniform(0, 1_000), number, on[number]))
    cues = [nano.line(number, is_on, at_us) for at_us, number, is_on in edges]
    cues += [nano.serial("TRAC:DATA?" + ";DATA?" * 6 + "\n", at_us) for at_us in range(40_000, 860_000, every_us)]
    cues += [nano.serial("TRAC:LOST?;:SYST:ERR?\n", 900_000)]
    said = answers(nano.run(cues, 920_000))
    assert said[-1] == '0;0,"No error"'
    assert len(said) - 1 == len(range(40_000, 860_000, every_us)), "each question was answered"
    assert stamped_well(offsets(records(said[:-1]), edges))


STORM_US = 150_000


def storm(chip, from_us, until_us, every_us=70):
    """Every input moves without a rest, and the line brings garbage."""
    rng = random.Random(9)
    cues = [
        chip.line(number, rng.random() < 0.5, at_us + number)
        for at_us in range(from_us, until_us, every_us)
        for number in INPUTS
    ]
    garbage = bytes(rng.randrange(256) for _ in range(600))
    words = b"\nOUTP:PRES\nPRES 3\nOUTP:PRES 4\nOUTP:PRESSES 3\nOUTP:PRES? 3\nOUTP:PRES 1,2\nOUTP:PRES x\n" * 4
    text, room = (garbage + words).decode("latin-1"), 1_000
    return [*cues, *(chip.serial(text[at : at + room], from_us) for at in range(0, len(text), room))]


def test_without_the_jumper_nothing_moves_an_output(nano):
    cues = [nano.serial("OUTP:PRES 3\nSYST:ERR?\nOUTP:JUMP?;PRES?\n", 30_000)]
    cues += storm(nano, 50_000, 50_000 + STORM_US)
    cues += [nano.serial("\n*CLS\nOUTP:PRES 3\nSYST:ERR?\n", 50_000 + STORM_US)]
    events = nano.run(cues, 80_000 + STORM_US, jumper=False)
    pins = {nano.pin("press_trigger"), nano.pin("press_purge")}
    assert not [event for event in events if event.pin in pins and event.level != "z"], "never even driven"
    said = answers(events)
    assert said[:2] == ['-203,"Command protected"', "0;0"]
    assert said[-1] == '-203,"Command protected"', "and it is still there"


def test_with_the_jumper_inputs_and_garbage_move_nothing(nano):
    events = nano.run(storm(nano, 50_000, 50_000 + STORM_US), 80_000 + STORM_US)
    assert nano.presses(events) == []


def test_a_press_is_read_back_recorded_and_lapses(nano):
    lines = "OUTP:PRES 1\nOUTP:PRES?\nSTAT:OPER:COND?\n"
    events = nano.run([nano.serial(lines, 30_000), *asked(nano, 1_200_000, 7)], 1_250_000)
    closed, opened = nano.presses(events)
    assert (closed[1:], opened[1:]) == (("trigger", True), ("trigger", False))
    last_line_us = 30_000 + len(lines) * 10 * 1_000_000 // BAUD
    assert PRESS_LAPSE_US <= opened[0] - last_line_us <= PRESS_LAPSE_US + 5_000
    found = records(answers(events)[2:])
    assert answers(events)[:2] == ["1", "1024"]
    assert [record.lines for record in found] == [LINE_BIT["press_trigger"], 0]
    assert found[1].time_us - found[0].time_us == pytest.approx(opened[0] - closed[0], abs=2 * SAMPLE_US)


def test_reset_over_the_link_lets_go(nano):
    moves = nano.presses(nano.run([nano.serial("OUTP:PRES 3\n*WAI\n*RST\n", 30_000)], 60_000))
    assert [move[1:] for move in moves] == [("trigger", True), ("purge", True), ("trigger", False), ("purge", False)]


HANGS = ("link_actions.c", "    case COMMAND_WAIT:\n", "    case COMMAND_WAIT:\n        for (;;) {\n        }\n")
TIMER_1_INTERRUPTS, TIMER_0_CONTROL = 0x6F, 0x45


@pytest.mark.parametrize("what", gate_share(["loop", "clock", "looks", "slow clock", "slow looks"], 2))
def test_whatever_stands_still_the_presses_go_off_within_the_watchdogs_time(what):
    chip = recorder_chip(load_board("nano"), [HANGS] if what == "loop" else [])
    at_us = 200_000
    cue = {
        "loop": chip.serial("*WAI\n", at_us),
        "looks": Cue(chip.cycle(at_us), f"stuck {TIMER_1_INTERRUPTS:x} 0"),
        "clock": Cue(chip.cycle(at_us), f"stuck {TIMER_0_CONTROL:x} 0"),
        "slow looks": Cue(chip.cycle(at_us), "timer 1 1"),
        "slow clock": Cue(chip.cycle(at_us), "timer 0 1"),
    }[what]
    events = chip.run([chip.serial("OUTP:PRES 3\n", at_us - 50_000), cue], at_us + 300_000)
    moves = chip.presses(events)
    assert [move[1:] for move in moves[:2]] == [("trigger", True), ("purge", True)]
    off_us = [moved_us for moved_us, _, on in moves[2:4] if not on]
    assert len(off_us) == 2
    assert all(at_us < moved_us < at_us + WATCHDOG_US + WINDOWS_US for moved_us in off_us)
    assert len(moves) == 4, "and they stay off"


def test_no_pass_and_no_interrupt_takes_longer_than_it_may():
    """The interrupt is timed at a pin that a stub around it moves: all of it, the registers that it saves too."""
    begin, end = "ISR(TIMER1_OVF_vect) {\n", "    jumper_fitted = !is_high(PRESS_JUMPER_PIN);\n"
    stub = (
        'extern "C" void __vector_look(void) __attribute__((signal, used, externally_visible));\n'
        "ISR(TIMER1_OVF_vect, ISR_NAKED) {\n"
        '    __asm__ volatile("sbi %0, 5\\n\\trcall __vector_look\\n\\tcbi %0, 5\\n\\treti"'
        '\n                     ::"I"(_SFR_IO_ADDR(PORTC)));\n}\n'
        'extern "C" void __vector_look(void) {\n'
    )
    chip = recorder_chip(
        load_board("nano"), [("board.cpp", begin, stub), ("board.cpp", end, f"{end}    DDRC |= _BV(5);\n")]
    )
    cues = storm(chip, 50_000, 150_000)
    cues += [chip.serial("*IDN?;:TRAC:DATA?;DATA?;:INP:DISC?\n", at_us) for at_us in range(160_000, 260_000, 12_000)]
    cues += [cue for cue in storm(chip, 160_000, 260_000, every_us=37) if "uart" not in cue.what]
    cue = Cue(chip.cycle(45_000), f"passes {TIMER_0_CONTROL:x}")
    events = chip.run([*cues, cue], 280_000)
    rises = [(event.cycle, event.level) for event in events if event.pin == ("C", 5)]
    spent = [late - early for (early, level), (late, _) in itertools.pairwise(rises) if level == "1"]
    count, longest, total = next(event.passes for event in events if event.kind == "passes")
    stack = next(event.stack_bytes for event in events if event.kind == "stack")
    print(
        f"interrupt {min(spent) / 16:.1f} to {max(spent) / 16:.1f} us; longest pass {longest / 16:.1f} us, mean "
        f"{total / count / 16:.1f} us; stack {stack} bytes"
    )
    assert max(spent) < 0.8 * SAMPLE_US * 16, "a storm leaves the passes their time"
    assert longest <= LONGEST_PASS_US * 16
    assert answers(events)[-1].startswith("wirecue,recorder,")


def test_a_look_that_comes_late_loses_no_time():
    """The passes hold the looks off for 20 us each: the clock goes on as if they did not."""
    held = "    board_hold_looks();\n    delayMicroseconds(20);\n    board_go_on_looking();\n"
    edited = [("board.cpp", "    keep_looking();\n    sei();\n", f"    keep_looking();\n    sei();\n{held}")]
    chip = recorder_chip(load_board("nano"), edited)
    cues = [chip.line(1, True, 50_000), chip.line(1, False, 1_050_000), *asked(chip, 1_100_000, 7)]
    first, second = records(answers(chip.run(cues, 1_140_000)))
    assert second.time_us - first.time_us == pytest.approx(1_000_000, abs=3 * SAMPLE_US)
