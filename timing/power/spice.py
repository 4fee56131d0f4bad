"""Circuits as netlists for ngspice, so that anybody can check the computation with another tool.

Each netlist says in its comments what this tool computed for what it measures, and how near the two should be.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from timing.power.budget import INRUSH_S, Budget, Sag, pull_in_stages, pull_in_trace
from timing.power.loads import AcLoad
from timing.power.periodic import steady_state
from timing.power.rectifier import RectifierCircuit
from timing.power.transient import SWITCH_ON_RAD, Stage, switch_on

SETTLING_CYCLES, MEASURED_CYCLES = 18, 6
"""A netlist of a periodic state begins in it, runs on, and measures at its end (choice)."""
NGSPICE_THERMAL_V = 0.025864186
"""Thermal voltage at 27 degC, where ngspice computes a diode (exact: k T / e)."""
STEADY_CORNERS = ("high-bare", "high-on", "nominal-on", "low-on", "low-aged")
"""Corners of the budget that are written as netlists."""


@dataclass(frozen=True)
class Expected:
    """What this tool computed for one measurement of a netlist."""

    measure: str
    """Name of the measurement, and what stands behind it in `meas tran`."""
    how: str
    value: float
    unit: str
    share: float = 0.0
    """How far from it the measurement may be, as a share of the value; and in its unit."""
    within: float = 0.0
    limit: Literal["about", "at least", "at most"] = "about"

    def holds(self, measured: float) -> bool:
        """Tell whether a measurement is as expected."""
        if self.limit == "at least":
            return measured >= self.value
        if self.limit == "at most":
            return measured <= self.value
        return abs(measured - self.value) <= max(abs(self.value) * self.share, self.within)

    def __str__(self) -> str:
        near = f", within {100 * self.share:g} %" if self.share else ""
        near += f" or {self.within:g} {self.unit}" if self.within else ""
        return f"{self.measure} {self.limit} {self.value:.5g} {self.unit}{near}"


@dataclass(frozen=True)
class SpiceCircuit:
    """One netlist, complete, with what is expected of it."""

    name: str
    title: str
    expected: tuple[Expected, ...]
    body: str
    """The netlist without its heading."""

    @property
    def text(self) -> str:
        """The file: its first line is the title, as SPICE has it."""
        lines = [f"* {self.name}: {self.title}", "* run with: ngspice -b FILE", "* expected:"]
        return "\n".join([*lines, *(f"*   {one}" for one in self.expected), _LONG_NUMBER.sub(_rounded, self.body)])


_LONG_NUMBER = re.compile(r"\d+\.\d{7,}(?:e[+-]?\d+)?")


def _rounded(found: re.Match[str]) -> str:
    """Return a number with as many digits as mean anything: systems' mathematics part in the last of a float."""
    return f"{float(found[0]):.9g}"


def supply_circuits(found: Budget) -> Iterator[SpiceCircuit]:
    """Yield the netlists of a supply: its periodic state at each corner that settles, and switching on."""
    for corner in found.corners:
        if corner.key in STEADY_CORNERS and corner.state.settled:
            yield _steady(f"supply-{corner.key}", corner.title, corner.circuit)
    if found.sag is not None:
        yield _pull_in(found, found.sag)
    yield _inrush(found)


def _steady(name: str, title: str, circuit: RectifierCircuit) -> SpiceCircuit:
    state, cycle_s = steady_state(circuit), 1.0 / float(circuit.frequency_hz)
    ends = (SETTLING_CYCLES + MEASURED_CYCLES) * cycle_s
    span = f"from={SETTLING_CYCLES * cycle_s!r} to={ends!r}"
    expected = (
        Expected("mean", f"avg v(p) {span}", float(state.dc_mean_v), "V", 0.01),
        Expected("high", f"max v(p) {span}", float(state.dc_max_v), "V", 0.01),
        Expected("low", f"min v(p) {span}", float(state.dc_min_v), "V", 0.01),
        Expected("current", f"rms i(vw) {span}", float(state.winding_rms_a), "A", 0.05, 0.001),
        Expected("peak", f"max i(vw) {span}", float(state.winding_peak_a), "A", 0.10, 0.01),
    )
    stage = Stage(ends, circuit.ac_load_s, circuit.ac_lag_s)
    return SpiceCircuit(
        name,
        title,
        expected,
        spice_netlist(circuit, [stage], measures_of(expected), float(state.start_v), float(state.on_rad)),
    )


def _pull_in(found: Budget, sag: Sag) -> SpiceCircuit:
    last = found.corner("low-aged")
    before, pull_in, after = pull_in_stages(last.circuit, sag.change, found.isolation)
    state, cycle_s = steady_state(before), 1.0 / float(before.frequency_hz)
    stages = [Stage(cycle_s, before.ac_load_s, before.ac_lag_s), pull_in, after]
    ends = sum(stage.lasts_s for stage in stages)
    during = f"from={cycle_s!r} to={cycle_s + pull_in.lasts_s!r}"
    trace = pull_in_trace(last.circuit, sag.change, found.isolation)
    within = trace.stage == 1
    time_s, winding_a = trace.time_s[within], trace.winding_a[within]
    rms_a = math.sqrt(float(np.trapezoid(winding_a**2, time_s)) / float(time_s[-1] - time_s[0]))
    expected = (
        Expected("before", f"min v(p) from=0 to={cycle_s!r}", sag.settled_v, "V", 0.01),
        Expected("lowest", f"min v(p) from={cycle_s!r} to={ends!r}", sag.lowest_v, "V", 0.01),
        Expected("current", f"rms i(vw) {during}", rms_a, "A", 0.05, 0.001),
        Expected("highest", f"max i(vw) {during}", float(np.max(winding_a)), "A", 0.10, 0.01),
    )
    body = spice_netlist(before, stages, measures_of(expected), float(state.start_v), float(state.on_rad))
    title = f"low line, aged capacitor, pull-in of {sag.change.after.word}"
    return SpiceCircuit("supply-pull-in", title, expected, body)


def _inrush(found: Budget) -> SpiceCircuit:
    supply, idle = found.supply, found.corner("high-idle").circuit
    full = supply.reservoir_f * (1.0 + supply.reservoir_tolerance_percent / 100.0)
    # The rectifier alone: the coils' current beside it does not charge the reservoir, and the regulator starts later.
    circuit = replace(idle, capacitance_f=full, ac_load_s=0.0, ac_lag_s=0.0, load_a=0.0, load_s=0.0, load_w=0.0)
    angle = max(SWITCH_ON_RAD, key=lambda rad: float(switch_on(circuit, INRUSH_S, rad).let_through_a2s(INRUSH_S)))
    trace = switch_on(circuit, INRUSH_S, angle)
    expected = (
        Expected("peak", "max i(vw)", float(trace.peak_a), "A", 0.10),
        Expected(
            "squared", f"integ isquared from=0 to={INRUSH_S!r}", float(trace.let_through_a2s(INRUSH_S)), "A^2 s", 0.05
        ),
    )
    text = spice_netlist(circuit, [Stage(INRUSH_S, 0.0)], measures_of(expected), 0.0, float(angle), 10e-6)
    body = text.replace("\nrun\n", "\nrun\nlet isquared = i(vw)*i(vw)\n")
    return SpiceCircuit("supply-inrush", "switching on with an empty reservoir, at the worst angle", expected, body)


def measures_of(expected: Sequence[Expected]) -> list[str]:
    """Return what stands behind `meas tran` for each measurement."""
    return [f"{one.measure} {one.how}" for one in expected]


def transient_run(ends_s: float, step_s: float, measures: Sequence[str]) -> list[str]:
    """Return the lines that end a netlist: how it is run, and what is measured in it."""
    return [
        ".options reltol=1e-4",
        f".tran {step_s!r} {ends_s!r} 0 {step_s!r} uic",
        ".control",
        "run",
        *(f"meas tran {measure}" for measure in measures),
        "quit",
        ".endc",
        ".end",
    ]


def spice_netlist(
    circuit: RectifierCircuit,
    stages: Sequence[Stage],
    measures: Sequence[str],
    start_v: float,
    start_rad: float = 0.0,
    step_s: float = 20e-6,
) -> str:
    """Return the netlist text. The circuit's numbers must be single ones, not arrays.

    Nodes: p is the reservoir's plus (its minus is node 0), a and b the winding's ends; i(Vw) is the winding's
    current, out of a. Each of `measures` is what stands behind `meas tran`.
    """
    diode = circuit.diode
    end = "a" if circuit.series_ohm == 0.0 else "f"
    series = [] if end == "a" else [f"Rseries a f {float(circuit.series_ohm)!r}"]
    bridge = [*series, f"D1 {end} p DR", "D2 b p DR", f"D3 0 {end} DR", "D4 0 b DR", "Rfloat b 0 1e6"]
    half_wave = [*series, f"D1 {end} p DR", "Rreturn b 0 1e-6"]
    ends = [sum(stage.lasts_s for stage in stages[: number + 1]) for number in range(len(stages))]
    loads = [*_held(circuit, stages[0], start_rad)]
    if len(stages) > 1:
        loads += _switched_on(circuit, stages, ends)
    dc_load = f"{float(circuit.load_a)!r}+{float(circuit.load_s)!r}*V(p)+{float(circuit.load_w)!r}/max(V(p),1)"
    degrees = float(start_rad) * 57.29577951308232
    lines = [
        "* winding, rectifier, reservoir, load",
        f"Vemf s b SIN(0 {float(circuit.emf_peak_v)!r} {float(circuit.frequency_hz)!r} 0 0 {degrees!r})",
        f"Rsource s w {float(circuit.source_ohm)!r}",
        "Vw w a 0",
        *(bridge if circuit.bridge else half_wave),
        f"Creservoir p cx {float(circuit.capacitance_f)!r}",
        f"Resr cx 0 {float(circuit.esr_ohm)!r}",
        *loads,
        f"Bdc p 0 I=({dc_load})*u(V(p)-1)",
        f".model DR D(IS={float(diode.saturation_a)!r} N={float(diode.emission_v) / NGSPICE_THERMAL_V!r} "
        f"RS={float(diode.ohm)!r})",
        f".ic v(p)={float(start_v)!r} v(cx)=0",
        *transient_run(ends[-1], step_s, measures),
    ]
    return "\n".join(lines) + "\n"


def _held(circuit: RectifierCircuit, stage: Stage, start_rad: float) -> Iterator[str]:
    """The ac loads that are there throughout: a coil, as a resistance and an inductance in series, on its sine."""
    load = AcLoad(float(stage.ac_load_s), float(stage.ac_lag_s))
    if load.lag_s == 0.0:
        yield from [f"Rheld a b {1.0 / load.in_phase_s!r}"] if load.in_phase_s else []
        return
    ohm, henry = load.in_series(float(circuit.frequency_hz))
    loaded = replace(circuit, ac_load_s=load.in_phase_s, ac_lag_s=load.lag_s)
    angle = float(start_rad + loaded.lead_rad)
    peak_v = float(circuit.emf_peak_v * loaded.divide)
    begins_a = peak_v * (load.in_phase_s * math.sin(angle) - load.lag_s * math.cos(angle))
    yield f"Rheld a held {ohm!r}"
    yield f"Lheld held b {henry!r} IC={begins_a!r}"


def _switched_on(circuit: RectifierCircuit, stages: Sequence[Stage], ends: Sequence[float]) -> Iterator[str]:
    """What comes on after the first stage: one coil whose flux goes on as its armature moves, or a resistance."""
    held, conductance, ohms, turns = stages[0], [], [], []
    for stage, begins, until in zip(stages[1:], ends, ends[1:], strict=False):
        on = f"u(time-{begins!r})*u({until!r}-time)"
        load = AcLoad(float(stage.ac_load_s - held.ac_load_s), float(stage.ac_lag_s - held.ac_lag_s))
        if load.lag_s <= 0.0:
            conductance.append(f"{load.in_phase_s!r}*{on}")
            continue
        ohm, henry = load.in_series(float(circuit.frequency_hz))
        ohms.append(f"{ohm!r}*{on}")
        turns.append(f"{1.0 / henry!r}*{on}")
    if conductance:
        yield f"Bload a b I=V(a,b)*({'+'.join(conductance)})"
    if turns:
        # V(flux) is the coil's flux in volt seconds, V(coil) the current that goes with it.
        yield f"Bcoil coil 0 V=V(flux)*({'+'.join(turns)})"
        yield "Bcurrent a b I=V(coil)"
        yield f"Bflux 0 flux I=(V(a,b)-V(coil)*({'+'.join(ohms)}))*u(time-{ends[0]!r})"
        yield "Cflux flux 0 1 IC=0"
