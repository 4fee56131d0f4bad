"""The generated C core and the Python model take the same passes."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest

from tests.conftest import EXAMPLES, VERSION, gate_share
from tests.support.host_core import compile_core
from timing.sequence.core.columns import Condition
from timing.sequence.core.scan import Inputs, State, start, step
from timing.sequence.core.table import Fault, Output, Phase
from timing.sequence.of_design import settings_of, table_of
from timing.sequence.simulate import rig_of
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("gcc")

WRAP = 1 << 32
KEPT = {
    Condition.FOUR_STEP: "four_step",
    Condition.SPOT: "spot",
    Condition.STITCH: "stitch",
    Condition.ARC_ESTABLISHED: "arc_established",
    Condition.ARC_SEEN_OPEN: "arc_seen_open",
    Condition.LET_GO: "let_go",
    Condition.LIMITED: "limited",
}
TIMES_US = (0, 1, 40_000, 1_800_000_000)


class Pair:
    """One design's model and compiled core."""

    def __init__(self, design, cache):
        self.table, self.settings, self.rig = table_of(design), settings_of(design), rig_of(design)
        self.core = compile_core(design, load_board(design.board.type), VERSION, cache)
        times = {f"{name}_us": time_us for name, time_us in self.rig.times_us.items()}
        self.always = dict(
            four_step=self.rig.four_step, spot="spot" in self.rig.times_us, stitch="pause" in self.rig.times_us, **times
        )
        self.kept = {KEPT[what]: value for what, value in self.settings.fixed.items() if what in KEPT}

    def inputs(self, **seen):
        return Inputs(**(self.always | seen))

    def state(self, **kept):
        return State(**(self.kept | kept))

    def check(self, states, inputs, now_us):
        """Step all of them both ways and compare every field."""
        rows = self.core.pack_states(states)
        clock = np.array([instant & (WRAP - 1) for instant in now_us], np.uint32)
        outputs = self.core.step(rows, self.core.pack_inputs(inputs), clock)
        before = [state.copy() for state in states]
        wanted = [
            step(self.table, self.settings, state, seen, instant)
            for state, seen, instant in zip(states, inputs, now_us, strict=True)
        ]
        wrong = np.flatnonzero((outputs != np.array(wanted)) | (rows != self.core.pack_states(states)).any(axis=1))
        if wrong.size:
            index = int(wrong[0])
            got = self.core.unpack_state(rows[index], states[index])
            pytest.fail(
                f"{wrong.size} of {len(states)} passes differ; the first:\n from {before[index]}\n"
                f" with {inputs[index]} at {now_us[index]}\n model {wanted[index]} {states[index]}\n"
                f" C     {outputs[index]} {got}"
            )


@pytest.fixture
def pair(design, cache):
    return Pair(design, cache)


def elapsed_choices(settings, duration_us):
    """Times since the phase began that tell early, due, a stall's edge, and late apart."""
    return [0, duration_us - 1, duration_us, duration_us + settings.stall_us, duration_us + settings.stall_us + 1]


def off_choices(settings):
    """Times since the contactor was on that tell an arc that may last from one that stays."""
    end_us = settings.arc_end_us or 0
    return [0, max(end_us - 1, 0), end_us, 1_000_000_000]


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=2), ids=lambda path: path.stem)
def test_every_phase_with_every_combination_of_inputs_and_timer_outcomes(pair):
    flags = [name for name in pair.core.input_fields if not name.endswith("_us")]
    kept = [name for name in pair.core.state_fields if isinstance(getattr(State(), name), bool)]
    rng = random.Random(1)
    states, inputs, now_us = [], [], []
    for phase in [*Phase, 10, 255]:
        for values in itertools.product((False, True), repeat=len(flags)):
            for duration_us in (0, 40_000):
                for elapsed_us in elapsed_choices(pair.settings, duration_us):
                    # Instants on both sides of the wrap of the clock.
                    now = WRAP + rng.choice((-50_000, 1, 20_000, 70_000, 1_000_000_000))
                    random_flags = {name: rng.random() < 0.5 for name in kept}
                    since_weld_us = rng.choice((0, 70_000, (pair.settings.weld_limit_us or 0) - rng.choice((0, 1))))
                    states.append(
                        pair.state(
                            phase=phase,
                            fault=rng.choice(list(Fault)),
                            since_us=now - max(elapsed_us, 0),
                            duration_us=duration_us,
                            weld_since_us=now - since_weld_us,
                            contactor_on_us=now - rng.choice(off_choices(pair.settings)),
                            **random_flags,
                        )
                    )
                    times = {f"{name}_us": rng.choice(TIMES_US) for name in varying(pair)}
                    inputs.append(pair.inputs(**dict(zip(flags, values, strict=True)), **times))
                    now_us.append(now)
    pair.check(states, inputs, now_us)


def varying(pair):
    return [name.removesuffix("_us") for name in pair.core.input_fields if name.endswith("_us")]


@pytest.mark.parametrize("which", gate_share(["full", "bare"], 2))
def test_designs_with_everything_and_with_nothing(which, full_design, bare_design, cache):
    pair = Pair(full_design if which == "full" else bare_design, cache)
    rng = random.Random(2)
    flags = [name for name in pair.core.input_fields if not name.endswith("_us")]
    kept = [name for name in pair.core.state_fields if isinstance(getattr(State(), name), bool)]
    states, inputs, now_us = [], [], []
    for _ in range(40_000):
        now = WRAP + rng.choice((-50_000, 1, 70_000))
        duration_us = rng.choice(TIMES_US[:3])
        states.append(
            pair.state(
                phase=rng.choice(list(Phase)),
                since_us=now - max(0, rng.choice(elapsed_choices(pair.settings, duration_us))),
                duration_us=duration_us,
                weld_since_us=now - rng.choice((0, 70_000, pair.settings.weld_limit_us or 0)),
                contactor_on_us=now - rng.choice(off_choices(pair.settings)),
                **{name: rng.random() < 0.5 for name in kept},
            )
        )
        times = {f"{name}_us": rng.choice(TIMES_US) for name in varying(pair)}
        inputs.append(pair.inputs(**{name: rng.random() < 0.3 for name in flags}, **times))
        now_us.append(now)
    pair.check(states, inputs, now_us)


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=1), ids=lambda path: path.stem)
def test_long_runs_across_the_wrap_of_the_clock_stay_together(pair):
    rng = random.Random(3)
    flags = [name for name in pair.core.input_fields if not name.endswith("_us")]
    seldom = {"interlock_open", "supply_low", "supply_poor", "dial_fault"}
    start_us = WRAP - 2_000_000
    model = start(pair.settings, start_us)
    row = pair.core.pack_states([model])[0]
    seen = dict.fromkeys(flags, False)
    inputs, instants, wanted, shown = [], [], [], set()
    now_us = start_us
    for _ in range(30_000):
        now_us += rng.choice((48, 52, 60, 900, 1_100))
        # What keeps the board in hold-off is seldom and soon over: an arc with the contactor off is, too.
        off = not (wanted and wanted[-1] & Output.CONTACTOR.value)
        for name in flags:
            rare = name in seldom or (name == "arc" and off)
            if rng.random() < (0.0002 if rare else 0.002):
                seen[name] = not seen[name]
            elif rare and rng.random() < 0.02:
                seen[name] = False
        inputs.append(pair.inputs(**seen, **dict.fromkeys((f"{name}_us" for name in varying(pair)), 20_000)))
        instants.append(now_us)
        wanted.append(step(pair.table, pair.settings, model, inputs[-1], now_us))
        shown.add(model.fault)
    clock = np.array([instant & (WRAP - 1) for instant in instants], np.uint32)
    outputs = pair.core.run(row, pair.core.pack_inputs(inputs), clock)
    assert now_us > WRAP
    # The run is worth something only if it went places.
    assert {0, 7} <= set(wanted)
    assert pair.settings.arc_end_us is None or Fault.ARC_STAYS in shown
    np.testing.assert_array_equal(outputs, np.array(wanted, np.uint8))
    np.testing.assert_array_equal(row, pair.core.pack_states([model])[0])
