"""Model, compiled core and AVR code under random attack: at least 1,500 steps, serial traffic throughout."""

from __future__ import annotations

import math

import pytest
from hypothesis.stateful import run_state_machine_as_test

from tests.conftest import CACHE, EXAMPLES, SOAK, gate_share
from tests.support.attack.avr import AvrAttack, booted_firmware
from tests.support.attack.machine import attack_on
from tests.support.attack.panel import load_feeder
from tests.support.attack.settings import SOAK_FACTOR, attack_settings

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

WANTED_STEPS = 1_500
STEPS_A_RUN = 30


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=1), ids=lambda path: path.stem)
@pytest.mark.usefixtures("same_whatever_ran_before")
def test_model_core_and_firmware_stay_together(example):
    feeder = load_feeder(example, CACHE)
    machine = attack_on(feeder, AvrAttack)
    share = WANTED_STEPS / len(EXAMPLES)
    # Some scripts hang on less than a pass and are not counted.
    runs = math.ceil(2 * share / STEPS_A_RUN) * (SOAK_FACTOR if SOAK else 1)
    machine.wanted_steps = runs * STEPS_A_RUN if SOAK else math.ceil(share)
    with booted_firmware(feeder, CACHE) as (wiring, run):
        machine.wiring, machine.run = wiring, staticmethod(run)
        run_state_machine_as_test(machine, settings=attack_settings(runs, STEPS_A_RUN))
    print(f"{feeder.design.name}: {machine.compared} of {machine.steps} steps compared, {machine.edges} edges")
    assert machine.compared >= share
    assert machine.edges > share / 80
