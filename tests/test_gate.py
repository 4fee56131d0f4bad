"""The gate's own rule: with CI=true a test that is skipped, for want of a tool or otherwise, fails the run."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT

NEEDS_A_TOOL = """
import pytest

@pytest.mark.debian("gcc")
def test_it_compiles():
    pass
"""
SKIPS = """
import pytest

def test_it_is_left_out():
    pytest.skip("not today")
"""
PASSES = """
def test_it_holds():
    pass
"""
RULES = ("-p", "no:cacheprovider", "-p", "tests.conftest", "-c", ROOT / "pyproject.toml", "--rootdir", ROOT)


def outcome(folder: Path, text: str, ci: str, workers: int, path: str = os.environ["PATH"]) -> tuple[int, str]:
    """Run one test file under the rules of the suite; return the exit code and what was printed."""
    (folder / "test_it.py").write_text(text)
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", *RULES, "-n", str(workers), "test_it.py"],
        env={**os.environ, "CI": ci, "PATH": path, "PYTHONPATH": str(ROOT)},
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


@pytest.mark.parametrize("workers", [0, 1])
@pytest.mark.parametrize("text", [NEEDS_A_TOOL, SKIPS], ids=["tool", "skip"])
def test_what_is_skipped_fails_the_gate(tmp_path, text, workers):
    # No folder of programs: no tool is found.
    code, said = outcome(tmp_path, text, "true", workers, path=str(tmp_path))
    assert code == pytest.ExitCode.TESTS_FAILED, said
    assert "1 tests skipped: FAILURE, since CI=true" in said


def test_on_a_bench_without_the_tool_it_is_skipped_and_said_loudly(tmp_path):
    code, said = outcome(tmp_path, NEEDS_A_TOOL, "false", 0, path=str(tmp_path))
    assert code == pytest.ExitCode.OK, said
    assert "1 tests skipped: these were NOT checked" in said
    assert "needs gcc: `make packages` installs them" in said


def test_what_passes_passes_the_gate(tmp_path):
    code, said = outcome(tmp_path, PASSES, "true", 0)
    assert code == pytest.ExitCode.OK, said


def test_the_gate_sets_the_rule_and_runs_every_test():
    lines = (ROOT / ".ci" / "run").read_text().splitlines()
    assert "export CI=true" in lines
    assert lines.index("export CI=true") < lines.index("make test")
    makefile = (ROOT / "Makefile").read_text()
    command = makefile.partition("test: $(READY) packages\n\t")[2].splitlines()[0]
    assert command == "$(RUN)pytest -n $(JOBS) --dist worksteal"
