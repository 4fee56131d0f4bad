"""The burnback computation against scipy's high-accuracy integrators, case by case.

The right-hand side is written here anew, from the equations, so that an error in the package's own steps shows.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
from scipy.integrate import quad, solve_ivp

from tests.conftest import SOAK
from tests.support.integration import StopsAtZero
from timing.process.arc import MOST_DIP_V, OperatingPoint, Plant, settle
from timing.process.ball import WireMelt
from timing.process.burnback import FUSED, Release, WireEnd, run_burnback
from timing.process.melting import wire_constants

CASES = 800
BANKS = 1500 if SOAK else 150
END = WireEnd(1.0, 3.0, 1.0, WireMelt.of(wire_constants("mild-steel", 1.2)))


def random_cases(cases: int, seed: int) -> tuple[Plant, Release, np.ndarray]:
    """Machines far wider than any shop's, a third of them stiff: microhenries instead of hundreds of them.

    The voltage is raised where no arc would hold at all, which `operating_point` refuses.
    """
    random = np.random.default_rng(seed)

    def between(low: float, high: float) -> np.ndarray:
        return random.uniform(low, high, cases)

    diameter = random.choice([0.6, 0.8, 0.9, 1.0, 1.2, 1.6], cases)
    ratio = (1.2 / diameter) ** 2
    inductance = np.where(np.arange(cases) % 3 == 0, 10 ** between(-6, -5), 10 ** between(-4.5, -3))
    plant = Plant(
        feed_mm_s=between(30, 200),
        distance_mm=between(8, 25),
        alpha_mm_per_a_s=0.3 * ratio * between(0.8, 1.2),
        beta_per_a2_s=5e-5 * ratio**2 * between(0.7, 1.3),
        wire_ohm_per_mm=1e-3 / (math.pi / 4 * diameter**2),
        fall_v=between(13, 18),
        arc_ohm=between(0.01, 0.03),
        gradient_v_per_mm=between(0.6, 1.8),
        open_v=between(19, 36),
        slope_ohm=between(0.01, 0.06),
        inductance_h=inductance,
        arc_out_a=between(8, 20),
        diameter_mm=diameter,
    )
    lacking_v = np.maximum(settle(plant).dip_v - between(0, MOST_DIP_V), 0.0)
    plant = replace(plant, open_v=plant.open_v + lacking_v)
    # From purely exponential to purely even: a tenth of the machines at either end.
    friction = np.where(np.arange(cases) % 10, 10 ** between(-3, 3), np.where(np.arange(cases) % 20, 0.0, 1e9))
    release = Release(between(0, 0.03), between(0, 0.12), between(0.005, 0.04), friction, np.zeros(cases))
    return plant, release, between(0, 0.25)


def one(owner: Plant | Release, case: int) -> dict[str, float]:
    return {
        field.name: float(getattr(owner, field.name)[case])
        for field in fields(owner)
        if isinstance(getattr(owner, field.name), np.ndarray)
    }


def motor(coast_s: float, friction: float) -> tuple[Callable[[float], float], float]:
    """Speed over full speed after the drive has let go, and when it stops: dv/dt = -(v + k) / tau, by solve_ivp.

    tau is found by trial: the one whose run is `coast_s`.
    """
    if friction > 1e6:
        return (lambda t: max(1 - t / (2 * coast_s), 0.0)), 2 * coast_s
    if friction < 1e-6:
        return (lambda t: math.exp(-t / coast_s)), math.inf

    # In units of tau: the shape is the same for every coast.
    solved = solve_ivp(
        lambda _t, state: [-(state[0] + friction), state[0]],
        (0, 100),
        (1.0, 0.0),
        "DOP853",
        rtol=1e-10,
        atol=1e-13,
        events=StopsAtZero(lambda _t, state: float(state[0])),
        dense_output=True,
    )
    stop, tau_s = float(solved.t[-1]), coast_s / float(solved.y[1, -1])
    at = np.linspace(0, stop, 2000)
    shares = np.maximum(solved.sol(at)[0], 0.0)
    return (lambda t: float(np.interp(t / tau_s, at, shares))), stop * tau_s


def by_scipy(plant: Plant, release: Release, point: OperatingPoint, case: int, setting_s: float) -> float:
    """Extension left, by solve_ivp, for one case; NaN where the wire reached the contact tip."""
    p, r = one(plant, case), one(release, case)
    dip_v, short_share = float(point.dip_v[case]), float(point.short_share[case])
    off_s, coast_s = r["wire_off_s"], max(r["coast_s"], 1e-9)
    share, stop_s = motor(coast_s, r["friction"])

    def speed(t: float) -> float:
        return p["feed_mm_s"] * (1.0 if t <= off_s else share(t - off_s))

    def emptying(t: float, state: np.ndarray) -> list[float]:
        """With a bank alone feeding the arc: extension, current, volts of the bank."""
        x, current, bank_v = (float(one) for one in state)
        arc_mm = p["distance_mm"] - x
        back_v = p["fall_v"] + p["gradient_v_per_mm"] * arc_mm - dip_v * max(2 - arc_mm / p["diameter_mm"], 0.0)
        loop_v = (p["arc_ohm"] + p["wire_ohm_per_mm"] * x) * current
        arcing = max(1 - short_share * max(2 - arc_mm / p["diameter_mm"], 0.0), 0.0)
        melting = arcing * p["alpha_mm_per_a_s"] * current + p["beta_per_a2_s"] * x * current**2
        volts = max(bank_v, 0.0) - max(back_v, 1.0) - loop_v
        return [speed(t) - melting, volts / p["inductance_h"], -current / p["capacitance_f"]]

    def slopes(t: float, state: np.ndarray, open_v: float) -> list[float]:
        x, current = float(state[0]), float(state[1])
        arc_mm = p["distance_mm"] - x
        shorting = max(2 - arc_mm / p["diameter_mm"], 0.0)
        dips = dip_v * shorting
        volts = open_v - p["fall_v"] - p["gradient_v_per_mm"] * arc_mm + dips
        if open_v == 0:
            volts = -max(-volts, 1.0 - (p["slope_ohm"] + p["arc_ohm"] + p["wire_ohm_per_mm"] * x) * current)
        loop = p["slope_ohm"] + p["arc_ohm"] + p["wire_ohm_per_mm"] * x
        arcing = max(1 - short_share * shorting, 0.0)
        melting = arcing * p["alpha_mm_per_a_s"] * current + p["beta_per_a2_s"] * x * current**2
        return [speed(t) - melting, (volts - loop * current) / p["inductance_h"]]

    def out(_t: float, state: np.ndarray, _open_v: float = 0.0) -> float:
        return float(state[1]) - p["arc_out_a"]

    def tip(_t: float, state: np.ndarray, _open_v: float = 0.0) -> float:
        return float(state[0]) - END.fused_mm

    events = (StopsAtZero(out), StopsAtZero(tip))
    t, state, over = 0.0, np.array([float(point.extension_mm[case]), float(point.current_a[case])]), False
    cut_s = setting_s + r["contactor_off_s"]
    # The drive's letting go and the wire's standstill are corners of the right-hand side: integrate up to them.
    corners = sorted(at for at in (off_s, off_s + stop_s, cut_s) if at <= cut_s)
    bank = p.get("capacitance_f", 0.0) > 0
    for at, open_v in [(at, p["open_v"]) for at in corners] + [(cut_s + 2.0, 0.0)] * (not bank):
        if over or at <= t:
            continue
        solved = solve_ivp(slopes, (t, at), state, "LSODA", rtol=1e-6, atol=(1e-6, 1e-5), events=events, args=(open_v,))
        assert solved.success, solved.message
        if solved.t_events[1].size:
            return math.nan
        t, state, over = float(solved.t[-1]), solved.y[:, -1], solved.status == 1
    for at in sorted({off_s, off_s + stop_s, cut_s + 60.0}) if bank and not over else ():
        if over or at <= t:
            continue
        if len(state) == 2:
            state = np.append(state, p["open_v"] - p["slope_ohm"] * state[1])
        solved = solve_ivp(emptying, (t, at), state, "LSODA", rtol=1e-6, atol=(1e-6, 1e-5, 1e-5), events=events)
        assert solved.success, solved.message
        if solved.t_events[1].size:
            return math.nan
        t, state, over = float(solved.t[-1]), solved.y[:, -1], solved.status == 1
    left_s, from_s = max(off_s - t, 0.0), max(t - off_s, 0.0)
    to_s = min(stop_s, 40 * coast_s)
    coasting = quad(share, from_s, to_s, epsabs=1e-7)[0] if to_s > from_s else 0.0
    return float(state[0]) + p["feed_mm_s"] * (left_s + coasting)


def errors_mm(plant: Plant, release: Release, settings: np.ndarray) -> np.ndarray:
    """How far the package's wire ends are from scipy's, of those that both leave free."""
    cases = len(settings)
    # Each case has its own setting: put it into the contactor's drop-out, which adds to it.
    shifted = replace(release, contactor_off_s=release.contactor_off_s + settings)
    point = settle(plant)
    run = run_burnback(plant, point, shifted, END, np.zeros(1))
    fused = run.outcome[0] == FUSED
    truth = np.array([by_scipy(plant, release, point, case, float(settings[case])) for case in range(cases)])
    # At the very edge of the contact tip the two may disagree about which side; nowhere else.
    disputed = np.isnan(truth) != fused
    assert disputed.mean() < 0.01
    free = ~np.isnan(truth) & ~fused
    return np.abs(run.extension_mm[0, free] - truth[free])


def test_extension_agrees_with_scipy_within_a_twentieth_of_a_millimetre() -> None:
    error_mm = errors_mm(*random_cases(CASES, 7))
    assert len(error_mm) >= 600
    print(f"worst {error_mm.max():.4f} mm, mean {error_mm.mean():.5f} mm over {len(error_mm)} cases")
    assert error_mm.max() < 0.05


def test_a_bank_that_feeds_the_arc_on_agrees_as_well() -> None:
    plant, release, settings = random_cases(BANKS, 11)
    plant = replace(plant, capacitance_f=10 ** np.random.default_rng(5).uniform(-4, 0, BANKS))
    error_mm = errors_mm(plant, release, settings)
    assert len(error_mm) >= BANKS // 3
    print(f"worst {error_mm.max():.4f} mm, mean {error_mm.mean():.5f} mm over {len(error_mm)} cases")
    assert error_mm.max() < 0.05
