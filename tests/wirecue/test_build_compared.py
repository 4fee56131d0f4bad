"""wirecue build says what was proved, and whether the compiled sequence was compared; one that differs is not built."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.conftest import ROOT, VERSION
from tests.support.running import run
from wirecue.cli import main

DESIGN = ROOT / "examples" / "gasless_four_step.toml"


def build(folder: Path, *options: str, design: Path = DESIGN) -> Result:
    result = CliRunner().invoke(main, ["build", str(design), "--output", str(folder), *options])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


def manifest(folder: Path) -> dict:
    return json.loads((folder / "manifest.json").read_text())


@pytest.fixture
def compilers(tmp_path, monkeypatch):
    """The only folder in which compilers are looked for; empty."""
    folder = tmp_path / "compilers"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    return folder


@pytest.mark.debian("gcc")
def test_a_build_says_what_was_proved_and_compared_and_what_was_not(tmp_path):
    built = build(tmp_path / "out")
    assert built.exit_code == 0, built.output
    assert "compiled sequence (gcc) compared with the model on all of them: no difference" in built.output
    record = manifest(tmp_path / "out")
    proof = record["proof"]
    assert f"all rules hold on {proof['combinations']:,} combinations of phase" in built.output
    assert {"contact filters", "dials and supply sense", "main loop, clock and watchdog"} <= set(proof["leaves_out"])
    assert record["compiled_sequence"] == {
        "result": "compared, no difference",
        "compiler": "gcc",
        "combinations": proof["combinations"],
    }


@pytest.mark.usefixtures("compilers")
def test_without_a_compiler_it_is_built_and_said_not_to_be_compared(tmp_path):
    design = tmp_path / "mine.toml"
    design.write_text(DESIGN.read_text())
    built = build(tmp_path / "out", "--json", design=design)
    assert built.exit_code == 0, built.output
    assert json.loads(built.stdout)["compiled_sequence"] == {"result": "not compared here"}
    assert manifest(tmp_path / "out")["compiled_sequence"] == {"result": "not compared here"}
    assert manifest(tmp_path / "out")["design_file"] == DESIGN.read_text()
    # Nobody asked for a logbook yet.
    assert not design.with_suffix(".log").exists()
    run("log", design, "--note", "begun")
    again = build(tmp_path / "out", design=design)
    assert "compiled sequence not compared here with the model: no C compiler on this machine" in again.output
    (entry,) = json.loads(run("log", design, "--kind", "build", "--json").stdout)["entries"]
    assert entry["values"] == {"digest": manifest(tmp_path / "out")["digest"], "folder": "out", "version": VERSION}
    assert f"once it is flashed, wirecue log {design} --flash\n" in again.output


@pytest.mark.debian("gcc")
def test_a_compiler_that_gets_the_sequence_wrong_is_told_and_nothing_is_built(tmp_path, compilers):
    real = {name: shutil.which(name, path="/usr/local/bin:/usr/bin:/bin") for name in ("gcc", "sed")}
    wrong = f"{real['sed']} -i 's/OUTPUT_GAS | OUTPUT_CONTACTOR;/OUTPUT_GAS;/' sequence.c"
    (compilers / "cc").write_text(f'#!/bin/sh\nPATH=/usr/bin:/bin\n{wrong}\nexec {real["gcc"]} "$@"\n')
    (compilers / "cc").chmod(0o755)
    refused = build(tmp_path / "out")
    assert refused.exit_code == 1
    assert "the sequence as compiled with gcc does not do what the model does; nothing was written." in refused.output
    assert "  model    outputs gas+contactor\n  compiled outputs gas" in refused.output
    assert not (tmp_path / "out").exists()
