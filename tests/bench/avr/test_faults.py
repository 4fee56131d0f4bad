"""Faults on the real firmware, in every phase: off in time, the right fault shown, no weld without a fresh press."""

from __future__ import annotations

import re

import pytest

from bench.avr.simulator import said
from tests.conftest import SOAK
from timing.sequence.core.engine import run_script
from timing.sequence.core.script import Change, Dial, Script
from timing.sequence.core.table import Fault, Phase
from tools.faults.device import DIALS_US, WAYS, load_device
from tools.faults.page import GARBAGE_BYTES, PAGE, page, run_all
from tools.faults.trials import FLIPPED_IN

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

SOAK_BYTES = 1_000_000
SHOWN = {
    "reset": Fault.NONE,
    "brown-out": Fault.NONE,
    "loop held": Fault.NONE,
    "interlock open": Fault.INTERLOCK,
    "supply sags": Fault.SUPPLY,
    "clock stopped": Fault.NONE,
    "clock at half speed": Fault.NONE,
    "clock at double speed": Fault.NONE,
    "converter stopped": Fault.NONE,
    "cable unplugged": Fault.NONE,
    "trigger stuck": Fault.WELD_LIMIT,
    "arc never strikes": Fault.ARC_START,
    "arc stays": Fault.ARC_STAYS,
    "purge button stuck": Fault.PURGE_LIMIT,
    "inch button stuck": Fault.INCH_LIMIT,
    "dial broken": Fault.DIAL,
    "dial shorted": Fault.DIAL,
    "serial garbage": Fault.NONE,
    "overlong lines": Fault.NONE,
    "both clocks wrap": Fault.NONE,
    "trigger closed": Fault.NONE,
    "purge closed": Fault.NONE,
    "inch closed": Fault.NONE,
}
FLIPPED = {
    "output register flipped",
    "output direction flipped",
    "pull-up flipped",
    "clock register flipped",
    "converter register flipped",
}
DRIVEN = {Phase.PREFLOW, Phase.WELD, Phase.BURNBACK, Phase.POSTFLOW, Phase.PAUSE, Phase.PURGE, Phase.INCH}


@pytest.fixture(scope="module")
def device():
    return load_device()


@pytest.fixture(scope="module")
def results(device):
    return run_all(device, SOAK_BYTES if SOAK else GARBAGE_BYTES)


def test_every_fault_in_every_phase_ends_with_everything_off_in_time(results):
    driven = {phase.word for phase in DRIVEN}
    assert {outcome.fault for outcome in results.outcomes} | {course.fault for course in results.by_table} == set(SHOWN)
    for outcome in results.phases:
        # In a phase that switches something on, there must have been something to switch off.
        assert (outcome.off_after_us is not None) == (outcome.where in driven), outcome
        assert (outcome.off_after_us or 0) <= outcome.bound_us, outcome
    assert len(results.phases) == 9 * len(WAYS)
    assert results.cable.off_after_us is not None
    assert results.cable.off_after_us <= results.cable.bound_us


def test_after_every_fault_nothing_comes_on_without_a_fresh_press_and_with_one_it_welds(results):
    for outcome in results.outcomes:
        assert not outcome.rose, outcome
        assert outcome.welded, outcome
    for course in results.by_table:
        assert course.welded, course


def test_the_right_fault_is_shown(results):
    for trial in [*results.outcomes, *results.by_table]:
        assert trial.shown is SHOWN[trial.fault], trial
    for outcome in [*results.phases, *results.power_up]:
        assert outcome.phase is Phase.HOLD_OFF, outcome


def test_what_ends_by_the_table_ends_as_the_model_says(results):
    for course in results.by_table:
        assert course.same, course
        assert course.worst_us <= course.tolerance_us, course


def test_a_register_turned_over_is_put_right_within_two_passes_and_changes_nothing_else(results):
    assert {flip.fault for flip in results.flips} == FLIPPED
    assert len(results.flips) == len(FLIPPED) * len(FLIPPED_IN)
    for flip in results.flips:
        assert flip.right_after_us <= flip.bound_us, flip
        assert 0 <= flip.worst_us <= flip.tolerance_us, flip
    moved = {flip.where for flip in results.flips if flip.fault == "output register flipped" and flip.right_after_us}
    assert moved == {phase.word for phase in FLIPPED_IN}, "each must have moved an output"


def test_ways_lead_into_the_middle_of_their_phases(device):

    assert {way.phase for way in WAYS} == set(Phase)
    for way in WAYS:
        dials = tuple(Change(0, Dial(name), time_us) for name, time_us in DIALS_US.items())
        timeline = run_script(device.target.rig, Script((*dials, *way.changes), way.there_us))
        assert timeline.phases[-1].phase is way.phase
        assert way.there_us - timeline.phases[-1].at_us >= 10_000 or way.phase is Phase.IDLE


@pytest.mark.skipif(SOAK, reason="the page is made with less garbage")
def test_the_page_shows_what_was_measured(results):
    def without_figures(text: str) -> str:
        return re.sub(r"[0-9.]+ ms", "# ms", text)

    assert without_figures(PAGE.read_text(encoding="utf-8")) == without_figures(page(results)), "`make docs` renews it"


def test_the_board_answers_after_all_that_traffic_with_the_newest_error_an_overflow(device):

    lines = [device.say("\n" + "!\n" * 300, 0), device.say("\n*IDN?\n" + "SYST:ERR?\n" * 5, 400_000)]
    answers = said(device.simulator.run([*device.boot(), *lines, device.end(600_000)])).splitlines()
    assert answers[0].startswith(f"wirecue,{device.design.name},{device.design.digest()},")
    assert answers[1:] == ['-102,"Syntax error"'] * 3 + ['-350,"Queue overflow"', '0,"No error"']


def test_a_line_without_end_is_one_error(device):

    lines = [device.say("X" * 2_000, 0), device.say("\nSYST:ERR?;:SYST:ERR?\n", 400_000)]
    answers = said(device.simulator.run([*device.boot(), *lines, device.end(500_000)]))
    assert answers == '-223,"Too much data";0,"No error"\n'
