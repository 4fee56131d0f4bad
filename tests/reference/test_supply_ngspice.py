"""The solver against ngspice, a reference circuit simulator, on netlists made from the same circuits."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from tests.support.ngspice import simulated as run_netlist
from timing.design.loading import load_design
from timing.design.suppression import let_go_s
from timing.power.budget import Budget, budget, common_potential
from timing.power.periodic import steady_state
from timing.power.rectifier import RectifierCircuit, SteadyState
from timing.power.spice import spice_netlist
from timing.power.transient import Stage, Trace, run_stages, sag, surge_a, switch_on
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("ngspice")

CYCLES, WINDOW = 24, 6


def budget_of(example: Path) -> Budget:
    """The budget of an example on its board."""
    design = load_design(example)
    return budget(design, load_board(design.board.type))


def simulated(text: str, names: set[str], folder: Path) -> dict[str, float]:
    """Run the text of a netlist and return its measurements."""
    file = folder / "circuit.cir"
    file.write_text(text)
    return run_netlist(file, names)


FIGURES = (
    ("mean", "avg v(p)"), ("high", "max v(p)"), ("low", "min v(p)"),
    ("rms", "rms i(vw)"), ("peak", "max i(vw)"), ("trough", "min i(vw)"),
)  # fmt: skip


def measured_between(begins_s: float, ends_s: float, name: str) -> list[str]:
    """What ngspice measures of a stretch of time, each measurement under the name of the stretch."""
    return [f"{figure}_{name} {how} from={begins_s!r} to={ends_s!r}" for figure, how in FIGURES]


def hold_within_the_bounds(trace: Trace, begins_s: float, ends_s: float, found: dict[str, float], name: str) -> None:
    """The bounds of every case here: mean voltage 1 %, ripple 5 % or 10 mV, RMS 5 % and peak 10 % of the current."""
    within = (trace.time_s > begins_s - 1e-9) & (trace.time_s < ends_s + 1e-9)
    time_s, volts, amperes = trace.time_s[within], trace.reservoir_v[within], trace.winding_a[within]
    lasts_s = time_s[-1] - time_s[0]
    assert lasts_s == pytest.approx(ends_s - begins_s, rel=0.02)
    high, low = found[f"high_{name}"], found[f"low_{name}"]
    assert np.trapezoid(volts, time_s) / lasts_s == pytest.approx(found[f"mean_{name}"], rel=0.01)
    assert np.min(volts) == pytest.approx(low, rel=0.01)
    assert np.max(volts) - np.min(volts) == pytest.approx(high - low, rel=0.05, abs=0.010)
    rms_a = np.sqrt(np.trapezoid(amperes**2, time_s) / lasts_s)
    assert rms_a == pytest.approx(found[f"rms_{name}"], rel=0.05)
    assert np.max(amperes) == pytest.approx(found[f"peak_{name}"], rel=0.10)
    assert np.min(amperes) == pytest.approx(found[f"trough_{name}"], rel=0.10)


def case(bridge: bool, frequency_hz: float, source_ohm: float, heavy: bool) -> RectifierCircuit:
    """A 27 V winding with a valve on it; light: a board that idles; heavy: everything on."""
    load = {"load_w": 6.0, "load_a": 0.02} if heavy else {"load_w": 0.4, "load_a": 0.004}
    return RectifierCircuit(38.2, source_ohm, frequency_hz, bridge, 1e-3, 0.15, ac_load_s=0.03, **load)


CASES = list(product((True, False), (50.0, 60.0), (0.3, 1.2, 4.0), (False, True)))


@pytest.mark.parametrize(("bridge", "frequency_hz", "source_ohm", "heavy"), CASES)
def test_the_periodic_state_is_that_of_ngspice(
    bridge: bool, frequency_hz: float, source_ohm: float, heavy: bool, tmp_path: Path
) -> None:
    circuit = case(bridge, frequency_hz, source_ohm, heavy)
    state = steady_state(circuit)
    assert state.settled
    ends = CYCLES / frequency_hz
    span = f"from={ends - WINDOW / frequency_hz!r} to={ends!r}"
    measures = [
        f"mean avg v(p) {span}",
        f"high max v(p) {span}",
        f"low min v(p) {span}",
        f"current rms i(vw) {span}",
        f"peak max i(vw) {span}",
    ]
    text = spice_netlist(circuit, [Stage(ends, circuit.ac_load_s)], measures, float(state.start_v), float(state.on_rad))
    found = simulated(text, {"mean", "high", "low", "current", "peak"}, tmp_path)
    assert state.dc_mean_v == pytest.approx(found["mean"], rel=0.01)
    assert state.ripple_v == pytest.approx(found["high"] - found["low"], rel=0.05, abs=0.010)
    assert state.winding_rms_a == pytest.approx(found["current"], rel=0.05)
    assert state.winding_peak_a == pytest.approx(found["peak"], rel=0.05)


SAGS = [
    # bridge, line, winding, susceptance of the ac loads over their conductance: none, as a contactor pulls in, as it
    # pulls in at worst
    *product((True, False), (50.0, 60.0), (0.5, 1.5), (0.0,)),
    *product((True, False), (50.0, 60.0), (0.5, 2.2), (0.75, 1.73)),
]


@pytest.mark.parametrize(("bridge", "frequency_hz", "source_ohm", "lag_share"), SAGS)
def test_the_sag_of_a_pull_in_is_that_of_ngspice(
    bridge: bool, frequency_hz: float, source_ohm: float, lag_share: float, tmp_path: Path
) -> None:
    """In ngspice a coil with resistance and inductance that comes on, and whose flux goes on as its armature closes."""
    held, pull_in, after = (Stage(0.0, load_s, lag_share * load_s) for load_s in (0.014, 0.16, 0.04))
    circuit = RectifierCircuit(
        34.0, source_ohm, frequency_hz, bridge, 640e-6, 0.3,
        ac_load_s=held.ac_load_s, ac_lag_s=held.ac_lag_s, load_w=2.5,
    )  # fmt: skip
    pull_in_s, cycle = 0.045, 1.0 / frequency_hz
    stages = [replace(held, lasts_s=cycle), replace(pull_in, lasts_s=pull_in_s), replace(after, lasts_s=4 * cycle)]
    trace = sag(circuit, *stages[1:])
    state = steady_state(circuit)
    closes, ends = cycle + pull_in_s, 5 * cycle + pull_in_s
    # Beside the whole of each stage, the first cycle of the pull-in, where the coil's direct current flows.
    spans = {
        "before": (0.0, cycle), "during": (cycle, closes), "first": (cycle, 2 * cycle),
        "after": (closes + 0.2e-3, ends),
    }  # fmt: skip
    measures = [one for name, span in spans.items() for one in measured_between(*span, name)]
    text = spice_netlist(circuit, stages, measures, float(state.start_v), float(state.on_rad))
    found = simulated(text, {one.split()[0] for one in measures}, tmp_path)
    for name, span in spans.items():
        hold_within_the_bounds(trace, *span, found, name)
    # Held against the depth of the sag, which is harder than against the voltage.
    depth = found["low_before"] - found["low_during"]
    assert depth > 0.5
    assert float(trace.lowest_v(0)) - float(trace.lowest_v(1)) == pytest.approx(depth, rel=0.05)
    assert float(trace.lowest_v(2)) == pytest.approx(found["low_after"], rel=0.01)


@pytest.mark.parametrize("angle", [3, 6])
def test_switching_on_is_that_of_ngspice(angle: int, tmp_path: Path) -> None:
    circuit = RectifierCircuit(41.5, 1.05, 60.0, True, 1200e-6, 0.15, load_w=0.6)
    trace = switch_on(circuit, 0.05, np.arange(12) * np.pi / 12)
    settling = (0.02, 0.05)
    measures = ["squared integ isquared from=0 to=0.05"]
    measures += measured_between(0.0, 0.02, "surge") + measured_between(*settling, "settling")
    text = spice_netlist(circuit, [Stage(0.05, 0.0)], measures, 0.0, angle * np.pi / 12)
    text = text.replace("run\n", "run\nlet isquared = i(vw)*i(vw)\n")
    found = simulated(text, {one.split()[0] for one in measures}, tmp_path)
    one = replace(trace, **{key: value[:, angle] for key, value in vars(trace).items() if np.ndim(value) == 2})
    hold_within_the_bounds(one, 0.0, 0.02, found, "surge")
    hold_within_the_bounds(one, *settling, found, "settling")
    assert trace.let_through_a2s(0.05)[angle] == pytest.approx(found["squared"], rel=0.05)


@pytest.mark.parametrize(("reservoir_f", "series_ohm"), list(product((22e-6, 100e-6, 1e-3), (0.0, 4.7))))
def test_the_surge_of_small_reservoirs_too_is_that_of_ngspice(
    reservoir_f: float, series_ohm: float, tmp_path: Path
) -> None:
    """Over in tens of microseconds: the step of the simulation must be far below that."""
    circuit = RectifierCircuit(41.5, 1.05, 60.0, True, reservoir_f, 0.15, series_ohm=series_ohm, load_s=1e-3)
    measures = ["squared integ isquared from=0 to=0.02", *measured_between(0.0, 0.02, "surge")]
    text = spice_netlist(circuit, [Stage(0.02, 0.0)], measures, 0.0, np.pi / 2, step_s=1e-6)
    text = text.replace("run\n", "run\nlet isquared = i(vw)*i(vw)\n")
    found = simulated(text, {one.split()[0] for one in measures}, tmp_path)
    assert float(surge_a(circuit)) == pytest.approx(found["peak_surge"], rel=0.10)
    trace = switch_on(circuit, 0.02, np.pi / 2)
    hold_within_the_bounds(trace, 0.0, 0.02, found, "surge")
    assert float(trace.let_through_a2s(0.02)) == pytest.approx(found["squared"], rel=0.05)


LAGGING = list(product((True, False), (0.03, 0.15), (0.0, 4.7)))


@pytest.mark.parametrize(("bridge", "lag_s", "series_ohm"), LAGGING)
def test_the_periodic_state_beside_coils_and_behind_a_resistor_is_that_of_ngspice(
    bridge: bool, lag_s: float, series_ohm: float, tmp_path: Path
) -> None:
    """An inductance across the winding in ngspice, against a current that is taken as a sine here."""
    circuit = RectifierCircuit(
        38.2, 1.5, 60.0, bridge, 640e-6, 0.3, ac_load_s=0.03, ac_lag_s=lag_s, series_ohm=series_ohm, load_w=3.0
    )
    state, found = against_ngspice(circuit, tmp_path, cycles=48)
    assert state.dc_mean_v == pytest.approx(found["mean"], rel=0.01)
    assert state.ripple_v == pytest.approx(found["high"] - found["low"], rel=0.05, abs=0.010)
    assert state.winding_rms_a == pytest.approx(found["current"], rel=0.05)
    assert state.winding_peak_a == pytest.approx(found["peak"], rel=0.10)


def against_ngspice(circuit: RectifierCircuit, folder: Path, cycles: int) -> tuple[SteadyState, dict[str, float]]:
    """The periodic state, and what ngspice measures over its last cycles when started in it."""
    state = steady_state(circuit)
    assert state.settled
    ends = cycles / float(circuit.frequency_hz)
    span = f"from={ends - WINDOW / float(circuit.frequency_hz)!r} to={ends!r}"
    measures = [
        f"mean avg v(p) {span}",
        f"high max v(p) {span}",
        f"low min v(p) {span}",
        f"current rms i(vw) {span}",
        f"peak max i(vw) {span}",
    ]
    stage = Stage(ends, circuit.ac_load_s, circuit.ac_lag_s)
    text = spice_netlist(circuit, [stage], measures, float(state.start_v), float(state.on_rad))
    return state, simulated(text, {"mean", "high", "low", "current", "peak"}, folder)


WEAK = RectifierCircuit(24.0 * 2**0.5, 6.0, 60.0, True, 470e-6, 0.3)
"""24 V behind 6 ohm, on 470 uF: deep ripple, and a load of constant power that can eat the reservoir."""


@pytest.mark.parametrize("watts", [5.0, 10.0, 15.0, 17.0])
def test_deep_ripple_under_constant_power_is_that_of_ngspice(watts: float, tmp_path: Path) -> None:
    state, found = against_ngspice(replace(WEAK, load_w=watts), tmp_path, CYCLES)
    assert state.dc_mean_v == pytest.approx(found["mean"], rel=0.01)
    assert state.dc_min_v == pytest.approx(found["low"], rel=0.01)
    assert state.ripple_v == pytest.approx(found["high"] - found["low"], rel=0.05, abs=0.010)
    assert state.winding_rms_a == pytest.approx(found["current"], rel=0.05)
    assert state.winding_peak_a == pytest.approx(found["peak"], rel=0.10)


@pytest.mark.parametrize(("watts", "stands"), [(16.5, True), (18.5, False), (20.0, False), (22.0, False)])
def test_constant_power_collapses_where_it_does_in_ngspice(watts: float, stands: bool, tmp_path: Path) -> None:
    """The load eases off below two volts in ngspice, which would not go on otherwise."""
    circuit = replace(WEAK, load_w=watts)
    assert bool(steady_state(circuit).settled) is stands
    falling = (0.0, 1.0 / 60.0)
    measures = ["least min v(p) from=1.9 to=2.0", *measured_between(*falling, "falling")]
    text = spice_netlist(circuit, [Stage(2.0, 0.0)], measures, 32.0, 0.0, step_s=100e-6)
    eased = text.replace("/max(V(p),1)", "*V(p)/(V(p)*V(p)+1)").replace(")*u(V(p)-1)", ")")
    assert eased != text
    found = simulated(eased, {one.split()[0] for one in measures}, tmp_path)
    assert (found["least"] > 10.0) is stands
    assert stands or found["least"] < 2.0
    # On its way down as well, while there is something left to ease off from.
    hold_within_the_bounds(run_stages(circuit, [Stage(2.0, 0.0)], 32.0), *falling, found, "falling")


@pytest.mark.parametrize("key", ["high-bare", "high-on"])
def test_common_swings_against_a_grounded_winding_as_in_ngspice(example: Path, key: str, tmp_path: Path) -> None:
    """One side of the 24 VAC on chassis: COMMON a diode above it, and the reservoir's voltage below."""
    found = budget_of(example)
    at = common_potential(found)
    circuit = replace(found.corner(key).circuit, ac_load_s=0.0, ac_lag_s=0.0)
    state = steady_state(circuit)
    ends = CYCLES / circuit.frequency_hz
    span = f"from={ends - WINDOW / circuit.frequency_hz!r} to={ends!r}"
    # Node 0 is COMMON and b the grounded side, so that b against COMMON is COMMON against chassis, upside down.
    measures = [f"highest min v(b) {span}", f"lowest max v(b) {span}"]
    text = spice_netlist(circuit, [Stage(ends, 0.0)], measures, float(state.start_v), float(state.on_rad))
    simulation = simulated(text, {"highest", "lowest"}, tmp_path)
    assert -simulation["lowest"] < -30.0
    if key == "high-bare":
        assert at.lowest_v == pytest.approx(-simulation["lowest"], rel=0.01)
    else:
        assert at.highest_v == pytest.approx(-simulation["highest"], abs=0.1)


def test_common_tied_to_chassis_shorts_a_grounded_winding_as_in_ngspice(example: Path, tmp_path: Path) -> None:
    found = budget_of(example)
    at = common_potential(found)
    # Tied on the side that has no resistor in the feed, which is the worse one.
    circuit = replace(found.corner("high-bare").circuit, series_ohm=0.0)
    state = steady_state(circuit)
    ends = CYCLES / circuit.frequency_hz
    span = f"from={ends - WINDOW / circuit.frequency_hz!r} to={ends!r}"
    measures = [f"peak min i(vw) {span}", f"current rms i(vw) {span}"]
    text = spice_netlist(circuit, [Stage(ends, 0.0)], measures, float(state.start_v), float(state.on_rad))
    floating, chassis = "Rfloat b 0 1e6", "Rchassis b 0 1e-3"
    assert floating in text
    simulation = simulated(text.replace(floating, chassis), {"peak", "current"}, tmp_path)
    assert at.tied_peak_a == pytest.approx(-simulation["peak"], rel=0.05)
    assert at.tied_rms_a == pytest.approx(simulation["current"], rel=0.05)
    assert at.tied_peak_a > 10.0


@pytest.mark.parametrize(("zener_v", "share"), list(product((0.0, 9.0), (0.35, 0.10))))
def test_the_time_a_coil_takes_to_let_go_is_that_of_ngspice(zener_v: float, share: float, tmp_path: Path) -> None:
    """A 9 V relay coil of 225 ohm and 6 ms, its current dying through a diode, with a zener or without."""
    ohm, volts = 225.0, 9.0
    nominal = volts / ohm
    text = "\n".join(
        [
            "* a coil lets go",
            f"L1 a b {0.006 * ohm} IC={nominal}",
            f"R1 b c {ohm}",
            "D1 c d DX",
            f"V1 d a {zener_v + 1e-9}",
            "R2 a 0 1",
            ".model DX D(IS=5e-9 N=1.7 RS=0.05)",
            ".tran 5u 40m uic",
            ".control",
            "run",
            f"meas tran lets when i(l1)={share * nominal} fall=1",
            "quit",
            ".endc",
            ".end",
        ]
    )
    found = simulated(text + "\n", {"lets"}, tmp_path)
    # The model's diode drops 0.8 V throughout, a real one somewhat less as the current falls.
    assert let_go_s(0.006, volts, zener_v + 0.75, share) == pytest.approx(found["lets"], rel=0.05)
