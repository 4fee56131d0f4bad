"""Netlists run through ngspice, a reference circuit simulator."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

MEASURED = re.compile(r"^(\w+)\s*=\s*([-+0-9.eE]+)", re.MULTILINE)


def simulated(file: Path, names: set[str]) -> dict[str, float]:
    """Run a netlist and return its measurements; one that is missing, or a run that was given up, is a failure."""
    done = subprocess.run(["ngspice", "-b", str(file)], capture_output=True, text=True, timeout=60, check=False)
    found = {name: float(value) for name, value in MEASURED.findall(done.stdout)}
    assert names <= set(found), f"no {names - set(found)} in:\n{done.stdout[-1500:]}\n{done.stderr[-500:]}"
    assert "aborted" not in done.stderr, done.stderr[-500:]
    return found
