"""A bench run in the background: what it finds can be seen while it runs, and it can be stopped."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.conftest import ROOT
from wirecue.page.bench_job import SIMULATED, VIRTUAL, BenchJob
from wirecue.page.panels.bench import edges_table
from wirecue.projects import load_board, load_project

WAIT_S = 120


@pytest.fixture
def shop():
    return load_project(ROOT / "examples" / "shop_two_step.toml")


def run(job: BenchJob) -> BenchJob:
    job.start()
    job.wait(WAIT_S)
    assert not job.active
    return job


def test_a_virtual_board_passes_and_its_edges_are_shown_beside_the_expected_ones(shop):
    every = BenchJob(shop, VIRTUAL)
    job = run(BenchJob(shop, VIRTUAL, (every.cases[0].name,)))
    assert (job.passed, job.trouble, len(job.results)) == (True, "", 1)
    assert shop.design.digest() in job.board
    table = edges_table(job.results[0])
    assert table.count("<tr>") == 1 + 6
    assert "missing" not in table


def test_it_stops_before_the_next_case(shop):
    job = BenchJob(shop, VIRTUAL)
    job.stop()
    run(job)
    assert (job.results, job.trouble, job.passed) == ([], "Stopped.", False)


def test_a_port_that_is_not_there_is_told(shop):
    job = run(BenchJob(shop, "/dev/no_such_port"))
    assert "There is no port /dev/no_such_port." in job.trouble
    assert not job.passed


@pytest.mark.debian("avr-gcc", "arduino-core", "gcc", "simavr")
def test_the_firmware_runs_in_a_simulator(shop):
    every = BenchJob(shop, SIMULATED)
    job = run(BenchJob(shop, SIMULATED, (every.cases[0].name,)))
    assert (job.passed, job.trouble, len(job.results)) == (True, "", 1)


def test_a_microcontroller_without_a_simulator_is_told(shop):
    job = run(BenchJob(replace(shop, board=load_board("pico")), SIMULATED))
    assert "has no simulator here" in job.trouble
    assert (job.passed, job.preparing) == (False, "")
