"""A whole build by the command line, as a user runs it: papers, proof and the comparison with the compiled sequence."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.examples import ROOT, user_environment

ROUNDS = 3


def run() -> dict[str, Any]:
    """Return seconds of a build of each example into an empty folder, the best of several rounds."""
    return {f"{path.stem}_s": round(_best_s(path), 3) for path in sorted((ROOT / "examples").glob("*.toml"))}


def _best_s(design: Path) -> float:
    return min(_build_s(design) for _ in range(ROUNDS))


def _build_s(design: Path) -> float:
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        command = [sys.executable, "-m", "wirecue", "build", str(design), "--output", str(Path(folder) / "build")]
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT, env=user_environment())
        return time.perf_counter() - began


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
