"""A circuit as a netlist for ngspice, so that anybody can check the computation with another tool."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from timing.power.rectifier import RectifierCircuit
from timing.power.transient import Stage


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
    current, out of a. Each of `measures` is what stands behind
    `meas tran`.
    """
    diode = circuit.diode
    end = "a" if circuit.series_ohm == 0.0 else "f"
    series = [] if end == "a" else [f"Rseries a f {float(circuit.series_ohm)!r}"]
    bridge = [*series, f"D1 {end} p DR", "D2 b p DR", f"D3 0 {end} DR", "D4 0 b DR", "Rfloat b 0 1e6"]
    half_wave = [*series, f"D1 {end} p DR", "Rreturn b 0 1e-6"]
    loads, begins = [], 0.0
    for number, stage in enumerate(stages):
        ends = begins + stage.lasts_s
        if stage.ac_load_s > 0.0:
            on = f"u(time-{begins!r})*u({ends!r}-time)" if len(stages) > 1 else "1"
            loads.append(f"Bload{number} a b I=V(a,b)*{float(stage.ac_load_s)!r}*{on}")
        if stage.ac_lag_s > 0.0:
            loads.append(_lagging(circuit, stage, number, begins, ends, len(stages) > 1, start_rad))
        begins = ends
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
        f".model DR D(IS={float(diode.saturation_a)!r} N={float(diode.emission_v) / 0.025864186!r} "
        f"RS={float(diode.ohm)!r})",
        f".ic v(p)={float(start_v)!r} v(cx)=0",
        ".options reltol=1e-4",
        f".tran {step_s!r} {begins!r} 0 {step_s!r} uic",
        ".control",
        "run",
        *(f"meas tran {measure}" for measure in measures),
        "quit",
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _lagging(
    circuit: RectifierCircuit, stage: Stage, number: int, begins: float, ends: float, switched: bool, start_rad: float
) -> str:
    """What lags: a coil where it is there throughout, else its sine, since a coil cannot be taken away at once."""
    if not switched:
        henry = 1.0 / (float(circuit.omega) * float(stage.ac_lag_s))
        return f"Lload{number} a b {henry!r}"
    loaded = replace(circuit, ac_load_s=stage.ac_load_s, ac_lag_s=stage.ac_lag_s)
    peak_a = float(circuit.emf_peak_v * loaded.divide * stage.ac_lag_s)
    angle = f"{float(circuit.omega)!r}*time+{float(start_rad) + float(loaded.lead_rad) - math.pi / 2.0!r}"
    return f"Blag{number} a b I={peak_a!r}*sin({angle})*u(time-{begins!r})*u({ends!r}-time)"
