"""A hidden machine measured through both firmwares: the same session as at a real one, with the truth at hand."""

from __future__ import annotations

import pytest

from bench.measuring import MeasuringObserver, measure_quantity
from bench.recorder.monitor import RecorderMonitor
from tests.conftest import ROOT
from timing.measure.found import measured
from timing.measure.quantities import measuring_plan
from wirecue.projects import load_project
from wirecue.simulated_machine import firmware_machine

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")
SEED, REPEATS = 4, 5


def test_both_firmwares_find_a_hidden_machines_contactor():
    project = load_project(ROOT / "examples" / "shop_two_step.toml")
    plan = measuring_plan(project)
    quantity = plan.quantity("contactor")
    bridges_us = {key: one.bridge_us for key, one in plan.circuits.adapters.items()}
    with firmware_machine(project, SEED, lambda _: None) as machine:
        machine.make_ready(quantity)
        runs = measure_quantity(RecorderMonitor(machine.link), quantity, bridges_us, REPEATS, MeasuringObserver())
        load = machine.model.hidden.loads["contactor"]
    result = measured(project, quantity, runs.repeats, runs.lengths_mm)
    assert not result.trouble
    assert not result.left_out
    found = {one.key: one.estimate for one in result.figures}
    for way, relay, acts in (("on", load.relay.on, load.acts.on), ("off", load.relay.off, load.acts.off)):
        true_us = {"relay": relay.mean_us, "works": acts.mean_us, "whole": relay.mean_us + acts.mean_us}
        for name, one_us in true_us.items():
            estimate = found[f"{name}_{way}"]
            assert estimate.low <= one_us <= estimate.high, (name, way, one_us, estimate)
            assert estimate.half_width < 4_000
