"""One planted fault tried: a copy of the sources, the fault in it, the tests that should notice."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from enum import Enum
from pathlib import Path

from tools.mutations.mutation import ROOT, Mutation

LONGEST_S = 600
"""A fault that makes a test run on for ever is noticed, too."""
_LEFT_OUT = shutil.ignore_patterns(".git", ".venv", "out", "__pycache__", ".*_cache", ".hypothesis", "dist")


class Outcome(Enum):
    """What the tests said."""

    CAUGHT = "caught"
    SURVIVED = "SURVIVED"
    BROKEN = "could not be tried"


def copy_of_sources(folder: Path) -> Path:
    """Copy the sources into `folder`, which must not exist, and return it."""
    shutil.copytree(ROOT, folder, ignore=_LEFT_OUT, symlinks=True)
    return folder


def run_tests(tree: Path, tests: tuple[str, ...]) -> tuple[int, str]:
    """Run `tests` on the sources in `tree` up to the first failure; return pytest's exit code and its last words.

    The exit code is 1 as well where the tests did not end within LONGEST_S.
    """
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n", "0", "-p", "no:cacheprovider", "--no-header", *tests]
    # The same examples each time: what survives today must survive tomorrow.
    surroundings = {**os.environ, "PYTHONPATH": str(tree), "CI": "true", "PYTHONDONTWRITEBYTECODE": "1"}
    surroundings.pop("WIRECUE_SOAK", None)
    process = subprocess.Popen(
        command,
        cwd=tree,
        env=surroundings,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    try:
        said, _ = process.communicate(timeout=LONGEST_S)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
        return 1, f"not over within {LONGEST_S} s"
    return process.returncode, "\n".join(said.splitlines()[-8:])


def try_mutation(tree: Path, mutation: Mutation) -> tuple[Outcome, str]:
    """Plant `mutation` in `tree`, run its tests, take it out again; return what came of it and pytest's last words."""
    file = tree / mutation.file
    sound = file.read_text(encoding="utf-8")
    try:
        faulty = mutation.applied(sound)
    except ValueError as error:
        return Outcome.BROKEN, str(error)
    try:
        file.write_text(faulty, encoding="utf-8")
        code, said = run_tests(tree, mutation.tests)
    finally:
        file.write_text(sound, encoding="utf-8")
    # Tests that failed, or that could no longer be read in: either way somebody notices.
    noticed = {0: Outcome.SURVIVED, 1: Outcome.CAUGHT, 2: Outcome.CAUGHT}
    return noticed.get(code, Outcome.BROKEN), said
