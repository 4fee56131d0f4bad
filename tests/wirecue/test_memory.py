"""A process that builds again and again, as the page does, keeps to its memory."""

from __future__ import annotations

import json
import os
import subprocess
import sys

from tests.conftest import EXAMPLES, ROOT, SOAK

ALL_BUILDS = 20
BUILDS = ALL_BUILDS if SOAK else 4
WARM = 2
"""Builds after which everything that is loaded once is loaded."""
MOST_MB = 400
CHILD = """
import json, pathlib, sys
from click.testing import CliRunner
from wirecue.cli import main
peaks_mb = []
for number in range(int(sys.argv[1])):
    design = sys.argv[2 + number % (len(sys.argv) - 2)]
    result = CliRunner().invoke(main, ["build", design, "--output", f"build {number}"])
    assert result.exit_code == 0, result.output
    # Of this program alone: what getrusage tells begins with the peak of whoever started it.
    status = pathlib.Path("/proc/self/status").read_text()
    peaks_mb.append(int(status.partition("VmHWM:")[2].split()[0]) / 1024)
json.dump(peaks_mb, sys.stdout)
"""


def test_twenty_builds_in_one_process_stay_within_bounds(tmp_path):
    """A few builds tell how much each adds; `make soak` runs all twenty."""
    # Of few builds all are of one design, so that a larger one is not mistaken for growth.
    designs = [str(path) for path in EXAMPLES][: None if SOAK else 1]
    child = subprocess.run(
        [sys.executable, "-c", CHILD, str(BUILDS), *designs],
        env={**os.environ, "PYTHONPATH": str(ROOT), "WIRECUE_AVR_CORE": "/nowhere"},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert child.returncode == 0, child.stderr
    peaks_mb = json.loads(child.stdout)
    each_mb = (peaks_mb[-1] - peaks_mb[WARM - 1]) / (BUILDS - WARM)
    assert peaks_mb[-1] + each_mb * (ALL_BUILDS - BUILDS) < MOST_MB, peaks_mb
