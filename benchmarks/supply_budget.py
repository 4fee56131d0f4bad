"""Speed of the supply's computation: one periodic state against ngspice, and the Monte Carlo."""

from __future__ import annotations

import json
import shutil
import statistics
import subprocess
import tempfile
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

from timing.design.board import Board
from timing.design.loading import load_design
from timing.power.budget import budget
from timing.power.montecarlo import SUPPLY_DRAWS, monte_carlo
from timing.power.periodic import steady_state
from timing.power.rectifier import RectifierCircuit
from timing.power.spice import spice_netlist
from timing.power.transient import Stage

ROOT = Path(__file__).parents[1]
CIRCUIT = RectifierCircuit(38.2, 1.05, 60.0, True, 1e-3, 0.15, ac_load_s=0.04, load_w=2.0, load_a=0.004)
SIMULATED_S = 0.4
"""What a simulator needs from an empty reservoir until the state repeats to a millivolt, and a little to measure."""
WANTED_RATIO = 100.0
WANTED_MONTE_CARLO_S = 5.0


def _seconds(action: Callable[[], object], repeats: int) -> float:
    """Median time of one call in s."""
    times = []
    for _ in range(repeats):
        begins = time.perf_counter()
        action()
        times.append(time.perf_counter() - begins)
    return statistics.median(times)


def _ngspice_seconds() -> float | None:
    """Time of the same case in ngspice, or None where it is not installed."""
    tool = shutil.which("ngspice")
    if tool is None:
        return None
    span = f"from={SIMULATED_S - 0.1} to={SIMULATED_S}"
    text = spice_netlist(CIRCUIT, [Stage(SIMULATED_S, CIRCUIT.ac_load_s)], [f"mean avg v(p) {span}"], 0.0)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "circuit.cir"
        file.write_text(text)

        def simulate() -> None:
            done = subprocess.run([tool, "-b", str(file)], capture_output=True, text=True, timeout=60, check=False)
            if "mean" not in done.stdout:
                raise RuntimeError(f"ngspice measured nothing: {done.stdout[-500:]}")

        return _seconds(simulate, 5)


def run() -> dict[str, float | bool | None]:
    """Return the figures; keys end in their units, `ok` tells whether both targets are met."""
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    board = Board.model_validate(tomllib.loads((ROOT / "board_templates" / "uno" / "board.toml").read_text()))
    steady_state(CIRCUIT)
    own_s = _seconds(lambda: steady_state(CIRCUIT), 200)
    draws_s = _seconds(lambda: monte_carlo(design, board, SUPPLY_DRAWS), 3)
    other_s = _ngspice_seconds()
    ratio = None if other_s is None else other_s / own_s
    return {
        "steady_state_ms": own_s * 1e3,
        "ngspice_ms": None if other_s is None else other_s * 1e3,
        "ratio": ratio,
        "ratio_wanted": WANTED_RATIO,
        "whole_budget_ms": _seconds(lambda: budget(design, board), 5) * 1e3,
        "monte_carlo_draws": SUPPLY_DRAWS,
        "monte_carlo_s": draws_s,
        "monte_carlo_wanted_s": WANTED_MONTE_CARLO_S,
        "ok": draws_s < WANTED_MONTE_CARLO_S and (ratio is None or ratio >= WANTED_RATIO),
    }


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
