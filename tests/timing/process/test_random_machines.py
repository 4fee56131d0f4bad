"""Test welds on machines drawn at random: how many it takes, and how many then weld well."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import SOAK
from tests.support.scripted_machine import Hidden, ScriptedMachine
from timing.process.arc import ARC_OUT_SPREAD_A
from timing.process.case import (
    FEED_SPREAD,
    BurnbackCase,
)
from timing.process.coast import usual_friction
from timing.process.fit import fit_machine
from timing.process.settable import DialMark, Settable
from timing.process.source import INDUCTANCE_SPREAD, OPEN_V_READ_SPREAD, SLOPE_STATED_SPREAD
from timing.process.welds import TestWeld, read_weld

MACHINES = 200 if SOAK else 4
DIAL = Settable(tuple(DialMark(ms / 1000, f"mark {ms} ms") for ms in range(20, 1000, 10)), dial=True)
MOST_WELDS = 6


def drawn_friction(random: np.random.Generator, braked: bool) -> float:
    usual = usual_friction(braked)
    return usual.median * float(np.exp(usual.spread * random.standard_normal()))


def drawn(case: BurnbackCase, seed: int) -> tuple[BurnbackCase, Hidden]:
    """A machine with everything off by as much as the model itself allows for, and a coast that nobody knows."""
    random = np.random.default_rng(seed)

    def factor(spread: float) -> float:
        return float(np.exp(spread * random.standard_normal()))

    braked, material = bool(random.integers(2)), case.wire.material
    off = {
        "alpha_mm_per_a_s": factor(material.alpha_spread),
        "beta_per_a2_s": factor(material.beta_spread),
        "open_v": factor(OPEN_V_READ_SPREAD),
        "slope_ohm": factor(SLOPE_STATED_SPREAD),
        "inductance_h": factor(INDUCTANCE_SPREAD),
        "gradient_v_per_mm": factor(case.arc.gradient_spread),
        "fall_v": 1 + case.arc.fall_spread_v * float(random.standard_normal()) / case.arc.fall_v,
        "feed_mm_s": factor(FEED_SPREAD),
        "arc_out_a": max(1 + ARC_OUT_SPREAD_A * float(random.standard_normal()) / case.plant().arc_out_a, 0.1),
    }
    hidden = Hidden(
        coast_s=float(np.clip(0.05 * factor(0.5), 0.015, 0.25)),
        # Three in ten slow down otherwise than the design says.
        friction=drawn_friction(random, braked if random.random() < 0.7 else not braked),
        wire_off_s=(random.uniform(0.005, 0.014), 0.0015),
        contactor_off_s=(random.uniform(0.012, 0.035), 0.003),
        ball_diameters=(random.uniform(1.1, 1.9), 0.15),
        tells_ball=("", "ball", "ball size")[random.integers(3)],
        catches_diameters=random.uniform(0.3, 1.2),
        off=off,
    )
    return replace(case, braked=braked), hidden


def settled_after(case: BurnbackCase, machine: ScriptedMachine) -> tuple[int, bool, float]:
    """Make the test welds asked for; return how many, whether it said enough, and the setting."""
    welds: list[TestWeld] = []
    fit = fit_machine(case, welds, DIAL)
    while fit.next_weld is not None and len(welds) < MOST_WELDS:
        set_s = fit.next_weld.mark.time_s
        welds.append(read_weld(f"{set_s * 1000:g} ms: {machine.weld(set_s)}", None))
        fit = fit_machine(case, welds, DIAL)
    return len(welds), fit.settled.enough, fit.settled.mark.time_s


def test_test_welds_lead_machines_of_all_sorts_to_a_setting_that_leaves_the_wire_free(
    case: BurnbackCase, capsys: pytest.CaptureFixture[str]
) -> None:
    counts, shares = [], []
    for seed in range(MACHINES):
        as_designed, hidden = drawn(case, seed)
        machine = ScriptedMachine(as_designed, hidden, seed)
        count, enough, setting_s = settled_after(as_designed, machine)
        counts.append(count if enough else MOST_WELDS + 1)
        shares.append(machine.share_free(setting_s))
    good = np.array(shares) >= 0.95
    with capsys.disabled():
        if SOAK:
            print(f"\n{MACHINES} machines: {good.mean():.1%} good; by test welds {np.bincount(counts).tolist()}")
    assert good.mean() >= 0.95
    assert (np.array(counts) <= MOST_WELDS).mean() >= 0.9
