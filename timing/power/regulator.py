"""The regulator between reservoir and board: its voltages, what it draws, its heat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from timing.circuit.suppression import USUAL_RAIL_V
from timing.design.board import Board
from timing.design.supply import Supply
from timing.power.rectifier import Values

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
