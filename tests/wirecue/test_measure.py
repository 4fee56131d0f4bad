"""`wirecue measure`: what can be measured, a simulated machine, and the logbook's edges into the design."""

from __future__ import annotations

import json
import re
from random import Random

import pytest

from bench.feeder_model.machines import hung_adapters, usual_machine
from bench.measuring import MeasuringObserver, measure_quantity
from bench.recorder.monitor import RecorderMonitor
from bench.virtual.pair import VirtualPair, virtual_pair
from tests.support.running import run, shop
from timing.design.loading import load_design
from timing.logbook.entry import EntryKind
from timing.measure.found import measured
from timing.protocol.target_of_design import target_of
from wirecue.logbooks import append_entry, logbook_path, read_logbook
from wirecue.measuring import Measuring
from wirecue.projects import load_project
from wirecue.simulated_machine import ModelledMachine, modelled_machine


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Return the runs of a contactor, measured once."""
    path = shop(tmp_path_factory.mktemp("runs"))
    going = Measuring.of(path, path.read_text())
    quantity = going.plan.quantity("contactor")
    bridges_us = {key: one.bridge_us for key, one in going.plan.circuits.adapters.items()}
    with modelled_machine(going.project, 4) as machine:
        machine.make_ready(quantity)
        return measure_quantity(RecorderMonitor(machine.link), quantity, bridges_us, 8, MeasuringObserver())


def entered(path, runs) -> Measuring:
    going = Measuring.of(path, path.read_text())
    result = measured(going.project, going.plan.quantity("contactor"), runs.repeats)
    going.enter(result, runs.repeats, runs.lengths_mm, 36)
    return going


def test_without_a_recorder_it_lists_what_can_be_measured(tmp_path):
    path = shop(tmp_path)
    result = run("measure", path)
    assert result.exit_code == 0
    assert re.search("contactor +Contactor: pull-in and drop-out +not yet", result.output)
    listed = json.loads(run("measure", path, "--json").output)
    assert [one["key"] for one in listed["quantities"]][:2] == ["gas_valve", "contactor"]
    assert not logbook_path(path).exists()


def test_a_simulated_machine_shows_what_would_change_and_is_kept_nowhere(tmp_path):
    path = shop(tmp_path)
    before = path.read_text()
    result = run("measure", path, "--virtual", "-q", "wire_drive", "--repeats", "5", "--json")
    assert result.exit_code == 0, result.output
    report = json.loads(result.stdout)
    assert {one["key"] for one in report["changes"]} >= {"feeder.wire_drive.on_delay.typical"}
    low, high = report["burnback_band_mm"]["after"]
    assert 0 < low < high
    assert path.read_text() == before
    assert not logbook_path(path).exists()


def test_the_logbooks_edges_are_computed_again_and_go_into_the_design(tmp_path, runs):
    path = shop(tmp_path)
    entered(path, runs)
    told = run("log", path).output
    assert "measured" in told
    assert "Contactor: pull-in and drop-out, 8 repeats" in told
    assert "p+" not in told
    assert re.search("contactor +Contactor: pull-in and drop-out +measured on", run("measure", path).output)
    result = run("measure", path, "--from-log", "--write")
    assert result.exit_code == 1, "the other quantities are not measured"
    line = next(one for one in path.read_text().splitlines() if one.startswith("off_delay") and "recorder" in one)
    assert "[measured 8 times on " in line
    assert load_design(path).feeder.contactor.off_delay.min_us not in (0, 15_000)
    settings = read_logbook(logbook_path(path)).of(EntryKind.SETTING)
    assert {one.values["by"] for one in settings} == {"measure --write"}
    again = run("measure", path, "--from-log", "-q", "contactor", "--write")
    assert again.exit_code == 0
    assert "Nothing to change" in again.output


def test_edges_changed_by_hand_are_refused(tmp_path):
    path = shop(tmp_path)
    append_entry(logbook_path(path), EntryKind.MEASURE, {"quantity": "contactor", "edges": "so and so"})
    result = run("measure", path, "--from-log")
    assert result.exit_code == 2
    assert "holds no edges of a recorder" in result.output


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--virtual", "--write"), "figures are nobody's"),
        (("--virtual", "--from-log"), "exclude each other"),
        (("--write",), "--write goes with"),
        (("--simulated",), "goes with --recorder"),
        (("--recorder", "/dev/nothing_here", "--simulated", "--write"), "figures are nobody's"),
        (("--from-log",), "nothing of that is in"),
        (("-q", "contacter"), "was 'contactor' meant?"),
        (("-q", "motor"), "no quantity 'motor'"),
        (("--recorder", "/dev/nothing_here"), "There is no port /dev/nothing_here"),
    ],
)
def test_what_cannot_be_is_refused_with_words(tmp_path, options, words):
    result = run("measure", shop(tmp_path), *options)
    assert result.exit_code == 2
    assert words in result.output


def test_a_recorder_that_is_said_to_be_simulated_is_measured_and_kept_nowhere(tmp_path):
    path = shop(tmp_path)
    project = load_project(path)
    pair = VirtualPair(target_of(project), usual_machine(project), bench_link=False)
    pair.hang(**hung_adapters(project))
    pair.clamp(False)
    going = Measuring.of(path, path.read_text())
    panel = ModelledMachine(project, pair, Random(1))
    panel.make_ready(going.plan.quantity("contactor"))
    with virtual_pair(pair) as (_, recorder):
        result = run("measure", path, "-r", recorder, "--simulated", "-q", "contactor", "--repeats", "5", "--yes")
    assert result.exit_code == 0, result.output
    assert "drops out after" in result.output
    assert not logbook_path(path).exists()
