"""The batch timeline against the `transitions` machine, on the same welds."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from typing import Any

import numpy as np

from benchmarks.examples import example_design
from tests.support.batch import Welds, run_welds
from timing.sequence.core.scan import Inputs, State
from timing.sequence.core.table import Phase
from timing.sequence.simulate import rig_of
from timing.sequence.transitions_engine import ReferenceMachine

BATCH = 400_000
ALONE = 400


def run() -> dict[str, Any]:
    """Return welds a second of both, and their ratio."""
    rig = rig_of(example_design("shop_two_step"))
    random = np.random.default_rng(1)
    # Presses and early releases, and a second press that may fall into burnback, postflow or idle.
    gaps_us = random.integers(30_000, 900_000, (4, BATCH))
    welds = Welds(np.cumsum(gaps_us, axis=0).astype(np.int32), {})
    batch_s = min(_timed(lambda: run_welds(rig, welds)) for _ in range(5))
    alone_s = _timed(lambda: _alone(rig, welds))
    batch_per_s, alone_per_s = BATCH / batch_s, ALONE / alone_s
    return {
        "batch_welds_per_s": round(batch_per_s),
        "transitions_welds_per_s": round(alone_per_s),
        "batch_over_transitions": round(batch_per_s / alone_per_s, 1),
    }


def _timed(work: Any) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _alone(rig: Any, welds: Welds) -> None:
    """The same welds one by one: the machine is asked where, and only where, something changes."""
    times = {f"{name}_us": value for name, value in rig.times_us.items()}
    filter_us, _ = rig.filters_us["trigger"]
    open_now, closed_now = Inputs(**times), replace(Inputs(**times), trigger=True)
    for lane in range(ALONE):
        state = State(phase=Phase.IDLE, trigger_was=False, purge_was=False, inch_was=False)
        machine = ReferenceMachine(rig.table, rig.settings, state)
        for index, edge_us in enumerate(welds.trigger_us[:, lane] + filter_us):
            inputs_before = closed_now if index % 2 else open_now
            while state.duration_us and state.since_us + state.duration_us < edge_us and state.phase != Phase.WELD:
                due_us = state.since_us + state.duration_us
                machine.step(inputs_before, due_us)
                if state.since_us + state.duration_us == due_us:
                    break
            machine.step(open_now if index % 2 else closed_now, int(edge_us))
        for _ in range(3):
            machine.step(open_now, state.since_us + state.duration_us)


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
