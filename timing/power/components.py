"""The parts of the supply as the computation needs them: the transformer's winding, the regulator, the fuse.

Each from what the design states or measured, usual figures where it leaves them open. Fuses are time-lag miniature
fuses after IEC 60127-2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from timing.design.board import Board
from timing.design.supply import Supply
from timing.design.suppression import USUAL_RAIL_V
from timing.power.rectifier import Values

_USUAL_REGULATION = ((10.0, 25.0), (30.0, 18.0), (60.0, 13.0), (120.0, 10.0), (300.0, 7.0), (float("inf"), 5.0))
"""Regulation of small laminated transformers: up to VA, percent (remembered: measuring replaces it, and a rule asks
for that)."""


@dataclass(frozen=True)
class Winding:
    """The 24 VAC winding at nominal line."""

    open_v: float
    """RMS with nothing drawn."""
    source_ohm: float
    measured: bool
    """True where both come from measurements."""

    def prospective_a(self, line: float = 1.0) -> float:
        """RMS current into a dead short, with the line at that multiple of nominal."""
        return self.open_v * line / self.source_ohm


def usual_regulation_percent(rating_va: float) -> float:
    """Return the usual regulation of a transformer of that rating, in percent of its loaded voltage."""
    return next(percent for limit, percent in _USUAL_REGULATION if rating_va <= limit)


def winding(supply: Supply) -> Winding:
    """Return the winding of a design's supply.

    Measured: ohm = (open - loaded) / current. Otherwise the rated voltage stands at the rated current, and
    regulation, (open - full load) / full load, gives the open voltage and the resistance.
    """
    if supply.measured_open_v is not None and supply.measured_loaded_v is not None and supply.measured_load_a:
        drop = max(supply.measured_open_v - supply.measured_loaded_v, 0.01)
        return Winding(supply.measured_open_v, drop / supply.measured_load_a, True)
    regulation = (supply.regulation_percent or usual_regulation_percent(supply.rating_va)) / 100.0
    rated_a = supply.rating_va / supply.nominal_v
    return Winding(supply.nominal_v * (1.0 + regulation), regulation * supply.nominal_v / rated_a, False)


RAILS_V = (USUAL_RAIL_V, 12.0, 7.5, 5.0, 3.3)
"""Outputs to choose from, in order of liking: 9 V leaves a 5 V board's own regulator cool (practice)."""

_INPUT_MAX_V = {"linear": 35.0, "switching": 40.0}
"""Highest input by kind: the common three-terminal family; step-down modules with 40 V parts (practice: 35 V seen
quoted)."""
_DROPOUT_V = {"linear": 2.5, "switching": 2.0}
"""Dropout by kind (practice: 2.0 V at 1 A seen quoted for the three-terminal family, half a volt for age and heat)."""
_K_PER_W = {"linear": 65.0, "switching": 40.0}
"""Junction to air by kind; a TO-220 standing free (practice: 50 K/W to 65 K/W seen quoted)."""
_QUIESCENT_A = {"linear": 0.006, "switching": 0.004}
"""What the regulator itself draws, by kind (practice: 5 mA to 8 mA seen quoted for the three-terminal family)."""


@dataclass(frozen=True)
class Regulator:
    """A regulator as the computation needs it."""

    linear: bool
    output_v: float
    input_max_v: float
    dropout_v: float
    efficiency: float
    """Of a switching regulator; 1 for a linear one, whose loss is in the voltage it drops."""
    quiescent_a: float
    k_per_w: float
    junction_max_deg_c: float
    box_deg_c: float

    @property
    def input_min_v(self) -> float:
        """Lowest input at which the output still stands."""
        return self.output_v + self.dropout_v

    def input_load(self, output_a: Values) -> tuple[Values, Values]:
        """Return (constant current in A, constant power in W) that the input draws for an output current."""
        if self.linear:
            return output_a + self.quiescent_a, 0.0 * output_a
        return self.quiescent_a + 0.0 * output_a, self.output_v * output_a / self.efficiency

    def loss_w(self, input_v: Values, output_a: Values) -> Values:
        """Heat in the regulator for a mean input voltage and an output current."""
        if self.linear:
            return np.maximum(input_v - self.output_v, 0.0) * output_a + input_v * self.quiescent_a
        return self.output_v * output_a * (1.0 / self.efficiency - 1.0) + input_v * self.quiescent_a

    def junction_deg_c(self, loss_w: Values, box_deg_c: Values | None = None) -> Values:
        """Junction temperature: air plus loss times thermal resistance."""
        return junction_deg_c(self.box_deg_c if box_deg_c is None else box_deg_c, loss_w, self.k_per_w)


def junction_deg_c(air_deg_c: Values, loss_w: Values, *k_per_w: float) -> Values:
    """Junction temperature for thermal resistances in series (junction to case, case to sink, sink to air)."""
    return air_deg_c + loss_w * sum(k_per_w)


def rail_v(supply: Supply, board: Board) -> float:
    """Return the regulator's output: the design's, or the first usual one that the board's supply input takes."""
    if supply.regulator_output_v is not None:
        return supply.regulator_output_v
    fitting = [rail for rail in RAILS_V if board.vin_min_v <= rail <= board.vin_max_v]
    return fitting[0] if fitting else board.vin_max_v


def regulator(supply: Supply, board: Board) -> Regulator:
    """Return the regulator of a design, defaults filled in."""
    kind = supply.regulator
    return Regulator(
        linear=kind == "linear",
        output_v=rail_v(supply, board),
        input_max_v=supply.regulator_input_max_v or _INPUT_MAX_V[kind],
        dropout_v=supply.regulator_dropout_v or _DROPOUT_V[kind],
        efficiency=1.0 if kind == "linear" else supply.regulator_efficiency_percent / 100.0,
        quiescent_a=_QUIESCENT_A[kind],
        k_per_w=supply.regulator_cooling_k_per_w or _K_PER_W[kind],
        junction_max_deg_c=supply.junction_max_deg_c,
        box_deg_c=supply.box_air_deg_c,
    )


RATINGS_A = (0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3)
"""Rated currents of miniature fuses: R10 and R20 numbers (published: IEC 60127-2, seen quoted from 32 mA up)."""

# IEC 60127-2, standard sheet 5 (time-lag, high breaking capacity):
# 2.1 In opens within 30 min; 2.75 In in 1 s to 80 s; 4 In in 95 ms (150 ms from 4 A) to 5 s;
# 10 In in 10 ms (20 ms from 4 A) to 100 ms.
QUICK_MULTIPLE = 10.0
"""Multiple of the rated current at which the standard bounds a quick opening (published: IEC 60127-2, standard sheet
5, seen reprinted)."""
QUICK_S = 0.1
"""Longest time to open at that (published: IEC 60127-2, standard sheet 5, seen reprinted)."""
FAIR_MULTIPLE = 4.0
"""Multiple of the rated current at which it opens within seconds (published: IEC 60127-2, standard sheet 5, seen
reprinted)."""
FAIR_S = 5.0
"""Longest time to open at that (published: IEC 60127-2, standard sheet 5, seen reprinted)."""

CONTINUOUS_SHARE = 0.6
"""Share of its rating that a fuse is loaded with continuously in a warm box (practice)."""
PULSE_SHARE = 0.5
"""Share of its least melting integral that each switching-on may use (practice)."""


def least_melting_a2s(rating_a: float) -> float:
    """Return the least melting integral in A^2 s: at 10 In no such fuse opens before 10 ms (20 ms from 4 A)."""
    return (QUICK_MULTIPLE * rating_a) ** 2 * (0.020 if rating_a >= 4.0 else 0.010)


@dataclass(frozen=True)
class FuseChoice:
    """A fuse checked against what it must carry, withstand and interrupt."""

    rating_a: float
    continuous_a: float
    inrush_a2s: float
    prospective_a: float
    """Current into a dead short behind the fuse at low line."""

    @property
    def carries(self) -> bool:
        """True where the continuous current leaves the fuse cool."""
        return self.continuous_a <= CONTINUOUS_SHARE * self.rating_a

    @property
    def survives_inrush(self) -> bool:
        """True where switching on does not wear the fuse out."""
        return self.inrush_a2s <= PULSE_SHARE * least_melting_a2s(self.rating_a)

    @property
    def opens_in_s(self) -> float | None:
        """Longest time to open on a dead short, by the standard's gates; None where they promise nothing useful."""
        if self.prospective_a >= QUICK_MULTIPLE * self.rating_a:
            return QUICK_S
        return FAIR_S if self.prospective_a >= FAIR_MULTIPLE * self.rating_a else None


def choose_fuse(continuous_a: float, inrush_a2s: float, prospective_a: float) -> FuseChoice:
    """Return the smallest fuse that carries and survives; the largest known one when none does."""
    choices = [FuseChoice(rating, continuous_a, inrush_a2s, prospective_a) for rating in RATINGS_A]
    return next((choice for choice in choices if choice.carries and choice.survives_inrush), choices[-1])
