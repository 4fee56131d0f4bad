"""Speed of the burnback computation: one core, against scipy's integrator called once for every draw.

Run as a script it prints the figures as JSON. Ratios compare machines fairly; seconds are this machine's.
"""

from __future__ import annotations

import itertools
import json
import math
import time
from dataclasses import fields

import numpy as np
from scipy.integrate import solve_ivp

from timing.process.arc import ARCS, Plant, settle
from timing.process.ball import WireMelt
from timing.process.burnback import FUSED, Release, WireEnd, run_burnback
from timing.process.burnback_curve import SETTINGS, burnback_curve
from timing.process.case import BurnbackCase, Scatter, SpreadS, scatter
from timing.process.melting import wire_constants
from timing.process.source import PowerSource, SourceReadings

DRAWS = 10_000
"""As many as the speed is stated for; advice takes fewer."""
CALLS = 40
"""Draws that scipy integrates, for its mean time a call."""

WIRE = wire_constants("mild-steel", 0.9)
CASE = BurnbackCase(
    wire=WIRE,
    arc=ARCS["M21"],
    feed_mm_s=200 * 25.4 / 60,
    distance_mm=12.0,
    source=PowerSource(SourceReadings(open_v=23.0, slope_v_per_a=0.025), 19.8, 115.0, 200 * 25.4 / 60, 12.0, 300e-6),
    filter_s=0.025,
    wire_off=SpreadS(0.005, 0.008, 0.015),
    contactor_off=SpreadS(0.012, 0.020, 0.030),
    coast_s=0.05,
    coast_measured=False,
    braked=False,
    end=WireEnd.usual(WireMelt.of(WIRE)),
)
SETTINGS_S = np.arange(SETTINGS) * 0.005


def best_of(times: int, work: object) -> float:
    """Shortest of several runs, in seconds: the least disturbed one."""
    assert callable(work)
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return min(taken)


def one_draw(drawn: Scatter, case: int, setting_s: float, rtol: float) -> float:
    """Extension of one draw at one setting by solve_ivp, to the tolerance given."""
    plant, release = drawn.plant, drawn.release
    p = {name: float(value[case]) for name, value in vars(plant).items()}
    off_s, coast_s, k = (float(one[case]) for one in (release.wire_off_s, release.coast_s, release.friction))
    tau_s = coast_s / (1 - k * math.log1p(1 / k))
    stop_s = tau_s * math.log1p(1 / k)
    cut_s = setting_s + float(release.contactor_off_s[case])
    dip_v, short_share = float(drawn.point.dip_v[case]), float(drawn.point.short_share[case])

    def slopes(t: float, state: np.ndarray, open_v: float) -> tuple[float, float]:
        x, current = state
        arc_mm = p["distance_mm"] - x
        speed = p["feed_mm_s"] * max((1 + k) * math.exp(-max(t - off_s, 0.0) / tau_s) - k, 0.0)
        volts = open_v - p["fall_v"] - p["gradient_v_per_mm"] * arc_mm
        shorting = max(2 - arc_mm / p["diameter_mm"], 0.0)
        volts += dip_v * shorting
        loop = p["slope_ohm"] + p["arc_ohm"] + p["wire_ohm_per_mm"] * x
        alpha = p["alpha_mm_per_a_s"] * max(1 - short_share * shorting, 0.0)
        melting = (alpha + p["beta_per_a2_s"] * x * current) * current
        return speed - melting, (volts - loop * current) / p["inductance_h"]

    def out(_t: float, state: np.ndarray, _open_v: float) -> float:
        return float(state[1]) - p["arc_out_a"]

    out.terminal = True  # type: ignore[attr-defined]
    start_mm = float(np.clip(drawn.point.extension_mm[case] + release.start_shift_mm[case], 0, p["distance_mm"]))
    t, state = 0.0, np.array([start_mm, float(drawn.point.current_a[case])])
    corners = sorted(at for at in (off_s, off_s + stop_s, cut_s) if at <= cut_s)
    for end, open_v in [(at, p["open_v"]) for at in corners] + [(cut_s + 1, 0.0)]:
        if end <= t:
            continue
        solved = solve_ivp(slopes, (t, end), state, "LSODA", rtol=rtol, atol=rtol, events=out, args=(open_v,))
        t, state = float(solved.t[-1]), solved.y[:, -1]
        if solved.status == 1:
            break
    gone_s = min(max(t - off_s, 0.0), stop_s)
    run_s = tau_s * (1 + k) * -math.expm1(-gone_s / tau_s) - k * gone_s
    return float(state[0]) + p["feed_mm_s"] * (max(off_s - t, 0.0) + coast_s - run_s)


def _errors_mm(drawn: Scatter, setting_s: float, rtol: float) -> tuple[float, float, float]:
    """Worst error of this package and of scipy at a tolerance over CALLS draws, and scipy's seconds a call."""
    few = [np.arange(CALLS)]
    plant = Plant(**{name: value[few[0]] for name, value in vars(drawn.plant).items()})
    release = Release(*(getattr(drawn.release, field.name)[few[0]] for field in fields(Release)))
    run = run_burnback(plant, settle(plant), release, CASE.end, np.array([setting_s]))
    free = run.outcome[0] != FUSED
    fine = np.array([one_draw(drawn, case, setting_s, 1e-10) for case in range(CALLS)])
    began = time.perf_counter()
    coarse = np.array([one_draw(drawn, case, setting_s, rtol) for case in range(CALLS)])
    seconds = (time.perf_counter() - began) / CALLS
    own_mm = float(np.abs(run.extension_mm[0] - fine)[free].max())
    return own_mm, float(np.abs(coarse - fine)[free].max()), seconds


def run() -> dict[str, float]:
    """Time the full curve and compare it with solve_ivp at an error no smaller than its own."""
    drawn = scatter(CASE, DRAWS)
    # Another seed each time: a curve that is asked for twice is computed once.
    seeds = itertools.count()
    curve_s = best_of(3, lambda: burnback_curve(CASE, SETTINGS_S, DRAWS, next(seeds)))
    path_s = best_of(3, lambda: run_burnback(drawn.plant, drawn.point, drawn.release, CASE.end, SETTINGS_S))
    setting_s = 0.1
    single_s = best_of(
        3, lambda: run_burnback(drawn.plant, drawn.point, drawn.release, CASE.end, np.array([setting_s]))
    )
    # The loosest tolerance at which scipy is at least as good as this package: equal error, scipy's best time.
    for rtol in (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 1e-5, 1e-6):
        own_mm, scipy_mm, call_s = _errors_mm(drawn, setting_s, rtol)
        if scipy_mm <= own_mm:
            break
    return {
        "settings": float(SETTINGS),
        "draws": float(DRAWS),
        "full_curve_s": curve_s,
        "burnback_of_all_settings_s": path_s,
        "one_setting_s": single_s,
        "solve_ivp_call_s": call_s,
        "own_worst_error_mm": own_mm,
        "solve_ivp_worst_error_mm": scipy_mm,
        "speedup_over_solve_ivp_one_setting": call_s / (single_s / DRAWS),
        "speedup_over_solve_ivp_all_settings": call_s / (path_s / (DRAWS * SETTINGS)),
    }


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
