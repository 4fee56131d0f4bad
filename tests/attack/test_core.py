"""Model and compiled core under random attack: at least 40,000 steps, and what must always be true in each."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from hypothesis import settings
from hypothesis.stateful import run_state_machine_as_test

from tests.conftest import CACHE, EXAMPLES, ROOT, SOAK, gate_share
from tests.support.attack.always import Always, Moment
from tests.support.attack.machine import attack_on
from tests.support.attack.panel import load_feeder
from tests.support.attack.settings import SOAK_FACTOR, attack_settings
from timing.sequence.core.script import Dial
from timing.sequence.core.settings import specialise
from timing.sequence.core.table import TABLE, Fault
from timing.sequence.core.table import Phase as SequencePhase
from timing.sequence.script_text import parse_script
from timing.sequence.simulate import simulate

pytestmark = pytest.mark.debian("gcc")

WANTED_STEPS = 40_000
STEPS_A_RUN = 100
STEPS_A_SHORT_RUN = 8


@pytest.fixture
def feeder(example):
    return load_feeder(example, CACHE)


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=2), ids=lambda path: path.stem)
@pytest.mark.usefixtures("same_whatever_ran_before")
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
    assert Fault.ARC_STAYS in machine.faults or "arc" not in feeder.contacts


@pytest.mark.usefixtures("same_whatever_ran_before")
def test_spots_that_complete_are_attacked_too(tmp_path):
    """No example has them; they run with nobody holding the trigger."""
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    assert 'on_release = "end"' in text
    path = tmp_path / "completes.toml"
    path.write_text(text.replace('on_release = "end"', 'on_release = "complete"'))
    machine = attack_on(load_feeder(path, CACHE))
    runs = 60 * (SOAK_FACTOR if SOAK else 1)
    run_state_machine_as_test(machine, settings=attack_settings(runs, STEPS_A_RUN))
    assert {SequencePhase.WELD, SequencePhase.PAUSE} <= machine.phases


def disagreement(feeder, folder, table):
    machine = attack_on(feeder, folder=folder, table=specialise(table, feeder.target.rig.settings.fixed))
    # The same attack each time: what it shrinks to is looked at below.
    chosen = settings(attack_settings(600, STEPS_A_SHORT_RUN), database=None, derandomize=True)
    with pytest.raises(AssertionError, match=r"script and picture:"):
        run_state_machine_as_test(machine, settings=chosen)
    return folder / machine.title


def test_a_failing_attack_shrinks_to_a_short_script_and_a_picture(tmp_path):
    """The model forgets to let the gas flow on: any weld shows it, and few things are needed for one."""
    feeder = load_feeder(ROOT / "examples" / "shop_two_step.toml", CACHE)
    wrong = {**TABLE, SequencePhase.POSTFLOW: replace(TABLE[SequencePhase.POSTFLOW], outputs=frozenset())}
    left = disagreement(feeder, tmp_path, wrong)
    script = parse_script(left.with_suffix(".txt").read_text())
    moved = [change for change in script.changes if not isinstance(change.what, Dial)]
    assert 1 <= len(moved) <= 8
    assert {change.what for change in moved} == {"trigger"}
    # The script says the same outside the attack: with the right table there is gas after the weld.
    timeline = simulate(feeder.design, script, settled=False)
    assert SequencePhase.POSTFLOW in {change.phase for change in timeline.phases}
    texts = [element.text for element in ET.parse(left.with_suffix(".svg")).iter() if element.tag.endswith("text")]
    places = [texts.index(name) for name in ("trigger", "gas expected", "gas got", "contactor expected")]
    assert places == sorted(places)


WELD, BURN = SequencePhase.WELD, SequencePhase.BURNBACK
ON, ALONE = 7, 5
"""Outputs of a weld and of a burnback."""
READY = 600
"""Milliseconds after which the supply has been good for long enough."""


def at(ms, outputs, phase, trigger=False, **seen):
    """One pass: its instant, raw contacts that are closed, and what the board did."""
    return ms, outputs, phase, {"trigger": trigger} | seen


def welding(until_ms, step_ms=20, **seen):
    """A weld from a fresh press on, with the trigger held."""
    start = [at(READY, 0, SequencePhase.IDLE), at(READY + 30, ON, WELD, True, **seen)]
    return [*start, *(at(ms, ON, WELD, True, **seen) for ms in range(READY + 50, until_ms, step_ms))]


def after(ms, count, outputs, phase, trigger=False, step_ms=10, **seen):
    return [at(ms + step_ms * number, outputs, phase, trigger, **seen) for number in range(count)]


SHOP, SPOTS = "shop_two_step", "spot_stitch"
IDLE, HELD_OFF, POSTFLOW = SequencePhase.IDLE, SequencePhase.HOLD_OFF, SequencePhase.POSTFLOW
# The arc of one weld is sensed without a break into the next, up to the arc-start limit of 2 s.
STUCK = [
    *welding(640),
    at(640, ON, WELD, True, arc=True),
    at(660, ALONE, BURN, arc=True),
    at(680, 1, POSTFLOW, arc=True),
    *(at(ms, ON, WELD, True, arc=True) for ms in range(690, 2_800, 100)),
]


@pytest.mark.parametrize(
    ("name", "passes", "says"),
    [
        (SHOP, [at(READY, 0, IDLE, True, purge=True), at(READY + 5, ON, WELD, purge=True)], "before"),
        (SHOP, [at(READY, 0, IDLE), at(READY + 5, ON, WELD)], "fresh press"),
        (SHOP, [*welding(700), at(705, 0, IDLE, True), at(710, ON, WELD, True)], "fresh press"),
        (SHOP, [at(READY, 0, IDLE), at(READY + 5, 6, WELD, True)], "without gas"),
        (SHOP, [at(READY, 0, IDLE), at(READY + 5, 3, WELD, True)], "wire alone"),
        (SHOP, [at(READY, 0, IDLE), at(READY + 5, ALONE, WELD, True)], "contactor alone"),
        (SHOP, [*welding(700), *after(705, 7, ON, WELD)], "runs on"),
        (SHOP, [at(300, 0, HELD_OFF), at(400, ON, WELD, True)], "supply was good for long enough"),
        (SHOP, [*welding(700), *after(705, 33, ALONE, BURN, step_ms=9), at(1_040, ON, WELD)], "trigger open"),
        (SHOP, [*welding(700), *after(705, 40, ALONE, BURN, True)], "burnback lasts too long"),
        (SPOTS, [at(0, 0, HELD_OFF, arc=True), at(READY, 0, IDLE, arc=True)], "that is no fault"),
        (SPOTS, [at(0, 0, HELD_OFF, arc=True), at(READY, 1, POSTFLOW, arc=True)], "and something is on"),
        (SPOTS, STUCK, "stuck closed"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_thing_that_must_always_be_true_is_missed_when_it_is_not(name, passes, says):
    feeder = load_feeder(ROOT / "examples" / f"{name}.toml", CACHE)
    with pytest.raises(AssertionError, match=says):
        watch(feeder, passes)


@pytest.mark.parametrize(
    ("passes", "says"),
    [
        ([*welding(700), *after(705, 4, ON, WELD), *after(745, 4, ON, WELD, True)], "a press does not end"),
        ([*welding(700), *after(705, 30, ON, WELD, step_ms=100)], "completes for too long"),
        ([*welding(700), *after(705, 30, ALONE, BURN)], "burnback lasts too long"),
    ],
)
def test_spots_that_complete_are_watched(passes, says):
    feeder = load_feeder(ROOT / "examples" / "spot_stitch.toml", CACHE)
    with pytest.raises(AssertionError, match=says):
        watch(feeder, passes, completes=True)


@pytest.mark.parametrize(("counts", "says"), [(-1, "good for long enough"), (0, None)])
def test_a_supply_between_low_and_good_is_watched(counts, says):
    feeder = load_feeder(ROOT / "examples" / "shop_two_step.toml", CACHE)
    passes = welding(700)
    if says is None:
        watch(feeder, passes, counts)
    else:
        with pytest.raises(AssertionError, match=says):
            watch(feeder, passes, counts)


def watch(feeder, passes, counts=0, *, completes=False):
    """counts: readings of the supply, from its good threshold."""
    always = Always(feeder)
    fitted = dict.fromkeys(("trigger", "purge", "inch", "arc"), False)
    for reading in (0, 10_000):
        always.after_reading(feeder.supply.good_counts + counts, reading)
    for ms, outputs, phase, seen in passes:
        contacts = {role: closed for role, closed in (fitted | seen).items() if role in feeder.contacts}
        always.after_pass(Moment(contacts, outputs, phase, False, completes, ms * 1_000))
