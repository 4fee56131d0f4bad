"""Model and compiled core under random attack: at least 40,000 steps, and what must always be true in each."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from hypothesis import settings
from hypothesis.stateful import run_state_machine_as_test

from tests.attack.always import Always
from tests.attack.machine import attack_on
from tests.attack.panel import load_feeder
from tests.attack.settings import CACHE, SOAK_FACTOR, attack_settings
from tests.conftest import EXAMPLES, ROOT, SOAK
from timing.sequence.script_text import parse_script
from timing.sequence.settings import specialise
from timing.sequence.simulate import simulate
from timing.sequence.table import TABLE, Fault
from timing.sequence.table import Phase as SequencePhase

pytestmark = pytest.mark.debian("gcc")

WANTED_STEPS = 40_000
STEPS_A_RUN = 100
STEPS_A_SHORT_RUN = 8


@pytest.fixture
def feeder(example):
    return load_feeder(example, CACHE)


def test_model_and_core_stay_together(feeder):
    share = WANTED_STEPS / len(EXAMPLES)
    machine = attack_on(feeder)
    # Some more, since a run may be cut short.
    runs = math.ceil(1.45 * share / STEPS_A_RUN) * (SOAK_FACTOR if SOAK else 1)
    run_state_machine_as_test(machine, settings=attack_settings(runs, STEPS_A_RUN))
    print(f"{feeder.design.name}: {machine.steps} steps")
    assert machine.steps >= share
    # An attack that gets nowhere would find nothing.
    standing = {phase for phase in feeder.target.rig.table if feeder.target.rig.times_us.get(phase.word) != 0}
    assert machine.phases >= standing
    assert machine.faults >= {Fault.SUPPLY, Fault.DIAL, Fault.WELD_LIMIT}


def disagreement(feeder, folder, table):
    machine = attack_on(feeder, folder=folder, table=specialise(table, feeder.target.rig.settings.fixed))
    # The same attack each time: what it shrinks to is looked at below.
    chosen = settings(attack_settings(200, STEPS_A_SHORT_RUN), database=None, derandomize=True)
    with pytest.raises(AssertionError, match=r"script and picture:"):
        run_state_machine_as_test(machine, settings=chosen)
    return folder / machine.title


def test_a_failing_attack_shrinks_to_a_short_script_and_a_picture(tmp_path):
    """The model forgets to let the gas flow on: any weld shows it, and few things are needed for one."""
    feeder = load_feeder(ROOT / "examples" / "shop_two_step.toml", CACHE)
    wrong = {**TABLE, SequencePhase.POSTFLOW: replace(TABLE[SequencePhase.POSTFLOW], outputs=frozenset())}
    left = disagreement(feeder, tmp_path, wrong)
    script = parse_script(left.with_suffix(".txt").read_text())
    moved = [change for change in script.changes if not change.what.startswith("dial")]
    assert 1 <= len(moved) <= 8
    assert {change.what for change in moved} == {"trigger"}
    # The script says the same outside the attack: with the right table there is gas after the weld.
    timeline = simulate(feeder.design, script, settled=False)
    assert SequencePhase.POSTFLOW in {change.phase for change in timeline.phases}
    texts = [element.text for element in ET.parse(left.with_suffix(".svg")).iter() if element.tag.endswith("text")]
    places = [texts.index(name) for name in ("trigger", "gas expected", "gas got", "contactor expected")]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("passes", "says"),
    [
        ([(True, 0, 3), (False, 7, 3)], "before"),
        ([(False, 0, 1), (False, 7, 3)], "fresh press"),
        ([(False, 0, 1), (True, 7, 3), (True, 0, 3), (True, 7, 3)], "fresh press"),
        ([(False, 0, 1), (True, 6, 3)], "without gas"),
        ([(False, 0, 1), (True, 3, 3)], "wire alone"),
        ([(False, 0, 1), (True, 5, 3)], "contactor alone"),
        ([(False, 0, 1), (True, 7, 3), *[(False, 7, 3)] * 7], "runs on"),
    ],
)
def test_each_thing_that_must_always_be_true_is_missed_when_it_is_not(passes, says):
    feeder = load_feeder(ROOT / "examples" / "shop_two_step.toml", CACHE)
    with pytest.raises(AssertionError, match=says):
        watch(Always(feeder), passes, purge=says == "before")


def watch(always, passes, *, purge):
    for number, (closed, outputs, phase) in enumerate(passes):
        panel = {"trigger": closed, "purge": purge, "inch": False}
        always.after_pass(panel, outputs, phase, True, number * 5_000)
