"""The recorder on the RP2040 board: its sketch compiled against the stand-ins, and run in a simulator of the chip.

The simulated core runs a tenth as fast as a real one; timer, PWM and watchdog keep to the microsecond.
"""

from __future__ import annotations

import random

import pytest

from codegen.recorder_sketch import recorder_digest, recorder_files, recorder_pins
from tests.conftest import VERSION, gate_share
from tests.support.recorder_chip import records
from tests.support.rp2040 import program as chip
from timing.protocol.recorder import LINE_BIT, PRESS_LAPSE_US, RECORDER_INPUTS, SAMPLE_US
from wirecue.projects import load_board

BOARD = load_board("pico")
PINS = {use.role.key: use.bit for use in recorder_pins(BOARD)}
FILES = recorder_files(BOARD, VERSION)
WATCHDOG_US = 60_000
WATCHED_US = 40_000
"""A window and a half, in which the clock is judged."""

compiler = pytest.mark.debian("arm-gcc")
simulated = pytest.mark.debian("arm-gcc", "node", "npm")


@compiler
@pytest.mark.parametrize("defines", [[], ["LINK_UART"]], ids=["USB", "hardware port"])
def test_it_compiles_with_all_warnings_as_errors(defines):
    assert 4_000 < chip.compile_program(FILES, defines).stat().st_size < 12_000


def low(key, on, at_us):
    return at_us, f"pin {PINS[key]} {int(not on)}"


def serial(text, at_us):
    return at_us, f"uart {text.encode('latin-1').hex()}"


def run(cues, end_us, *, jumper=True):
    rest = [low("press_jumper", jumper, 0), low("press_trigger", True, 0), low("press_purge", True, 0)]
    played = sorted([*rest, *cues], key=lambda cue: cue[0])
    return chip.simulate(chip.compile_program(FILES, ["LINK_UART"]), [*played, (end_us, "end")])


def said(events):
    return bytes(int(event.words[0], 16) for event in events if event.kind == "uart").decode("latin-1").splitlines()


def presses(events):
    """Instants, pins and levels of the presses; None: let go, or never driven."""
    pins = {str(PINS["press_trigger"]), str(PINS["press_purge"])}
    return [(event.at_us, event.words[0], event.words[1]) for event in events if event.words and event.words[0] in pins]


@simulated
def test_edges_come_back_stamped_and_in_order():
    rng, at_us, on, truth = random.Random(2), 20_000, set(), []
    for _ in range(20):
        at_us += rng.randrange(200, 1_500)
        number = rng.choice([one.number for one in RECORDER_INPUTS])
        on ^= {number}
        truth.append((at_us, number, number in on))
    cues = [low(f"input_{number}", is_on, at_us) for at_us, number, is_on in truth]
    cues += [serial("*IDN?\n", 10_000)]
    cues += [serial("TRAC:DATA?;DATA?;DATA?;DATA?\n", at_us + 40_000 + 60_000 * line) for line in range(5)]
    answers = said(run(cues, at_us + 350_000))
    assert answers[0] == f"wirecue,recorder,{recorder_digest(BOARD, VERSION)},{VERSION}"
    before, differences = 0, []
    for record, (edge_us, number, is_on) in zip(records(answers[1:]), truth, strict=True):
        assert record.lines ^ before == 1 << (number - 1)
        assert bool(record.lines & 1 << (number - 1)) == is_on
        before = record.lines
        differences.append(record.time_us - edge_us)
    print(f"stamps {min(differences)} to {max(differences)} us from their edges")
    assert min(differences) >= -SAMPLE_US
    assert max(differences) <= SAMPLE_US


@simulated
def test_it_presses_only_with_its_jumper_and_lets_go_by_itself():
    press = [serial("OUTP:PRES 1\nOUTP:PRES?\n", 30_000)]
    events = run([*press, serial("TRAC:DATA?\nTRAC:DATA?\n", 1_150_000)], 1_300_000)
    closed, opened = (move for move in presses(events)[2:])
    assert (closed[2], opened[2]) == ("1", "0")
    assert PRESS_LAPSE_US <= opened[0] - 32_000 <= PRESS_LAPSE_US + 20_000
    assert [record.lines for record in records(said(events)[1:])] == [LINE_BIT["press_trigger"], 0]
    refused = run([*press, serial("SYST:ERR?\n", 60_000)], 120_000, jumper=False)
    assert presses(refused) == [], "never even driven"
    assert said(refused) == ["0", '-203,"Command protected"']


@simulated
@pytest.mark.parametrize("factor", gate_share([0.5, 0, 2], 3))
def test_a_timer_that_stands_or_runs_otherwise_ends_with_the_presses_off(factor):
    events = run([serial("OUTP:PRES 3\n", 30_000), (100_000, f"timer {factor}")], 300_000)
    reset = next(event.at_us for event in events if event.kind == "reset")
    assert 100_000 < reset < 100_000 + WATCHDOG_US + WATCHED_US
    assert {level for _, _, level in presses(events)[-2:]} <= {"0", "z"}
