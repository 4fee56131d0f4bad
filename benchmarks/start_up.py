"""Cold start of the command line: each command's wall time over that of importing click alone."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from typing import Any

from benchmarks.examples import ROOT, user_environment

EXAMPLE = str(ROOT / "examples" / "shop_two_step.toml")
COMMANDS = {
    "help": ["--help"],
    "check": ["check", EXAMPLE],
    "advise": ["advise", EXAMPLE],
    "simulate": ["simulate", EXAMPLE],
    "schema": ["schema"],
    "boards": ["boards"],
}
ROUNDS = 7


def run() -> dict[str, Any]:
    """Return seconds and ratios, the best of several rounds taken in turn."""
    jobs = {"import click": ["-c", "import click"]}
    jobs |= {name: ["-m", "wirecue", *arguments] for name, arguments in COMMANDS.items()}
    environment = user_environment()
    best_s = dict.fromkeys(jobs, float("inf"))
    for _ in range(ROUNDS):
        for name, arguments in jobs.items():
            began = time.perf_counter()
            subprocess.run([sys.executable, *arguments], check=True, capture_output=True, cwd=ROOT, env=environment)
            best_s[name] = min(best_s[name], time.perf_counter() - began)
    bare_s = best_s.pop("import click")
    return {
        "import_click_s": round(bare_s, 4),
        **{f"{name}_s": round(taken_s, 4) for name, taken_s in best_s.items()},
        **{f"{name}_over_import_click": round(taken_s / bare_s, 2) for name, taken_s in best_s.items()},
    }


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
