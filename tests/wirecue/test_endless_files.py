"""Endless, blocking and deeply nested files in the place of what a command reads: one sentence, at once."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.conftest import ROOT
from wirecue.cli import main

SHOP = str(ROOT / "examples" / "shop_two_step.toml")
READERS = {
    "design": ("check", "FILE"),
    "script": ("simulate", SHOP, "--script-file", "FILE"),
    "capture": ("trace", "FILE", SHOP),
    "bench run": ("sheet", SHOP, "--build", "sheet.html", "--bench", "FILE"),
}


def run(*arguments, given=None):
    return CliRunner().invoke(main, list(arguments), input=given)


def run_on(reader, place):
    return run(*(place if word == "FILE" else word for word in READERS[reader]))


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """Run in a folder of the test's own."""
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize(("place", "kind"), [("pipe", "a pipe"), ("/dev/zero", "a device"), (".", "a folder")])
def test_what_is_no_file_is_told(reader, place, kind):
    os.mkfifo("pipe")
    result = run_on(reader, place)
    assert result.exit_code == 2, result.output
    assert kind in result.output
    assert result.output.count("\n") < 6


@pytest.mark.parametrize("reader", READERS)
def test_a_file_without_an_end_is_told_by_its_size(reader):
    with Path("huge").open("wb") as file:
        file.truncate(10**12)
    result = run_on(reader, "huge")
    assert result.exit_code == 2, result.output
    assert "a file of 1000000000000 bytes" in result.output


def test_standard_input_without_an_end_is_told():
    result = run("simulate", SHOP, "--script-file", "-", given="0 s press; " * 100_000)
    assert result.exit_code == 2
    assert "more and more on standard input" in result.output


def test_a_bench_run_of_brackets_is_told():
    Path("run.json").write_text("[" * 50_000)
    result = run_on("bench run", "run.json")
    assert result.exit_code == 2
    assert "cannot be read as JSON" in result.output


def test_a_capture_with_a_line_without_an_end_is_told():
    Path("capture.csv").write_text("0,1," * 100_000)
    result = run_on("capture", "capture.csv")
    assert result.exit_code == 2
    assert "line 1: a line of 100000 characters or more" in result.output


def test_a_capture_of_noise_is_told_by_its_channel(monkeypatch):
    monkeypatch.setattr("bench.capture.capture.MOST_CHANGES", 10)
    Path("capture.csv").write_text("time,CH1\n" + "".join(f"{at},{at % 2}\n" for at in range(20)))
    result = run_on("capture", "capture.csv")
    assert result.exit_code == 2
    assert "more than 10 changes on CH1: an input that is connected to nothing?" in result.output
