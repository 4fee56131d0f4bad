"""wirecue sheet: papers one by one."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.conftest import ROOT
from wirecue.cli import main

SPOT = str(ROOT / "examples" / "spot_stitch.toml")
RUN = {"format": 1, "digest": "0" * 16, "passed": True, "board": "nano", "firmware": "1", "port": "p", "cases": []}


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def sheet(*arguments):
    result = CliRunner().invoke(main, ["sheet", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


def test_it_writes_what_is_asked_for():
    Path("bench.json").write_text(json.dumps(RUN))
    options = ["--build", "b.html", "--commissioning", "c.html", "--dials", "d.pdf", "--bench", "bench.json"]
    assert sheet(SPOT, *options).exit_code == 0
    assert "Bench results" in Path("b.html").read_text()
    assert "Commissioning: spot_stitch" in Path("c.html").read_text()
    assert Path("d.pdf").read_bytes().startswith(b"%PDF-")


def test_names_that_end_in_pdf_make_pdf_by_one_run_of_the_typesetter(monkeypatch):
    runs, run = [], subprocess.run
    monkeypatch.setattr(subprocess, "run", lambda *given, **named: runs.append(given) or run(*given, **named))
    assert sheet(SPOT, "--build", "b.pdf", "--commissioning", "c.PDF").exit_code == 0
    assert len(runs) == 1
    assert sheet(SPOT, "--build", "b.html", "--commissioning", "alone.pdf").exit_code == 0
    assert sheet(SPOT, "--build", "b.html").exit_code == 0
    assert len(runs) == 2
    assert Path("b.pdf").read_bytes().startswith(b"%PDF-")
    assert Path("c.PDF").read_bytes() == Path("alone.pdf").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((SPOT,), "nothing to write"),
        (("nowhere.toml", "--dials", "d.pdf"), "no such file"),
        ((SPOT, "--dials", "nowhere/d.pdf"), "no such file or directory"),
        ((SPOT, "--build", "b.html", "--bench", "nowhere.json"), "no such file or directory"),
        ((SPOT, "--build", "b.html", "--bench", SPOT), "cannot be read as JSON"),
    ],
)
def test_a_bad_command_is_told_and_leaves_nothing(arguments, told):
    result = sheet(*arguments)
    assert result.exit_code == 2
    assert told in result.output
    assert list(Path().iterdir()) == []


def test_json_that_is_no_bench_run_is_told():
    for text in ("[]", '{"format": 2}', json.dumps({**RUN, "cases": 1}), json.dumps({**RUN, "cases": [{"name": "x"}]})):
        Path("bench.json").write_text(text)
        result = sheet(SPOT, "--build", "b.html", "--bench", "bench.json")
        assert result.exit_code == 2
        assert "`wirecue bench DESIGN --json FILE` writes one" in result.output
