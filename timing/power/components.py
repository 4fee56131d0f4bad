"""The parts of the supply as the computation needs them: the transformer's winding, the regulator.

Each from what the design states or measured, usual figures where it leaves them open.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from timing.design.board import FIVE_VOLT_LOGIC_V, Board
from timing.design.circuits import MODULE_RAIL_V, Circuits
from timing.design.supply import Supply
from timing.design.suppression import USUAL_RAIL_V
from timing.power.power_factor import HELD_POWER_FACTORS, Guess, power_factor
from timing.power.rectifier import Values

_USUAL_REGULATION = ((10.0, 25.0), (30.0, 18.0), (60.0, 13.0), (120.0, 10.0), (300.0, 7.0), (float("inf"), 5.0))
"""Regulation of small laminated transformers: up to VA, percent (remembered: measuring replaces it, and a rule asks
for that)."""


USUAL_SWITCHING_V = 40.0
"""Where the input rating of the usual switching module ends (practice)."""
READING_V = 0.1
"""How well two readings of one meter, taken one after the other, tell a difference (practice)."""
UNMEASURED_SHARES = (0.7, 1.4)
"""Range of an unmeasured winding's resistance about what is usual (practice)."""


@dataclass(frozen=True)
class Winding:
    """The 24 VAC winding at nominal line."""

    open_v: float
    """RMS with nothing drawn."""
    source_ohm: float
    least_ohm: float
    """The resistance at the lower end of what the readings leave open."""
    most_ohm: float
    measured: bool
    """True where both come from measurements."""

    def prospective_a(self, line: float = 1.0) -> float:
        """RMS current into a dead short, with the line at that multiple of nominal."""
        return self.open_v * line / self.source_ohm

    @property
    def stiff(self) -> Winding:
        """The same with its least resistance: highest voltages and surges."""
        return replace(self, source_ohm=self.least_ohm)

    @property
    def soft(self) -> Winding:
        """The same with its most resistance: lowest voltages and fault currents."""
        return replace(self, source_ohm=self.most_ohm)


def usual_regulation_percent(rating_va: float) -> float:
    """Return the usual regulation of a transformer of that rating, in percent of its loaded voltage."""
    return next(percent for limit, percent in _USUAL_REGULATION if rating_va <= limit)


def winding(supply: Supply) -> Winding:
    """Return the winding of a design's supply.

    Measured: from open and loaded voltage, the current drawn and its power factor. Otherwise the rated voltage stands
    at the rated current, and regulation, (open - full load) / full load, gives the open voltage and the resistance.
    """
    if supply.measured_open_v is not None and supply.measured_loaded_v is not None and supply.measured_load_a:
        drop = max(supply.measured_open_v - supply.measured_loaded_v, 0.01)
        # What lags most hides most resistance.
        ends: tuple[tuple[float, Guess], ...] = (
            (max(drop - READING_V, drop / 2.0), "high"),
            (drop, "typical"),
            (drop + READING_V, "low"),
        )
        least, usual, most = (
            fallen_ohm(supply.measured_open_v, fell_v, supply.measured_load_a, measured_power_factor(supply, guess))
            for fell_v, guess in ends
        )
        return Winding(supply.measured_open_v, usual, least, most, True)
    regulation = (supply.regulation_percent or usual_regulation_percent(supply.rating_va)) / 100.0
    rated_a = supply.rating_va / supply.nominal_v
    usual = regulation * supply.nominal_v / rated_a
    least, most = (share * usual for share in UNMEASURED_SHARES)
    return Winding(supply.nominal_v * (1.0 + regulation), usual, least, most, False)


def measured_power_factor(supply: Supply, guess: Guess) -> float:
    """Return the power factor of what was drawn in the loaded measurement, or an end of its range."""
    if supply.measured_with == "resistive" and supply.measured_power_factor_percent is None:
        return 1.0
    return power_factor(supply.measured_power_factor_percent, HELD_POWER_FACTORS, guess)


def fallen_ohm(open_v: float, drop_v: float, load_a: float, factor: float) -> float:
    """Return the resistance that lets a winding fall by `drop_v` under a load of that power factor, in ohm.

    The voltage across the resistance is in phase with the current, not with the loaded voltage, so that
    open^2 = (loaded + R I cos phi)^2 + (R I sin phi)^2. A lagging current hides most of the resistance.
    """
    loaded_v = open_v - drop_v
    in_phase_v = loaded_v * factor
    return (math.sqrt(in_phase_v**2 + open_v**2 - loaded_v**2) - in_phase_v) / load_a


RAILS_V = (USUAL_RAIL_V, 12.0, 7.5, 5.0, 3.3)
"""Outputs to choose from, in order of liking: 9 V leaves a 5 V board's own regulator cool (practice)."""

_INPUT_MAX_V = {"linear": 35.0, "switching": 40.0, "module": 75.0}
"""Highest input by kind: the common three-terminal family; step-down modules with 40 V parts; isolating modules for a
nominal 48 V, which take 18 V to 75 V (practice: 35 V seen quoted)."""
MODULE_INPUT_MIN_V = 18.0
"""Least input of such an isolating module (practice)."""
_DROPOUT_V = {"linear": 2.5, "switching": 2.0}
"""Dropout by kind (practice: 2.0 V at 1 A seen quoted for the three-terminal family, half a volt for age and heat)."""
FREE_K_PER_W = 65.0
"""Junction to air of a TO-220 standing free, without heat sink (practice: 50 K/W to 65 K/W seen quoted)."""
_K_PER_W = {"linear": FREE_K_PER_W, "switching": 40.0, "module": 20.0}
"""Junction to air by kind (practice)."""
_QUIESCENT_A = {"linear": 0.006, "switching": 0.004, "module": 0.015}
"""What the regulator itself draws, by kind (practice: 5 mA to 8 mA seen quoted for the three-terminal family)."""
_EFFICIENCY = {"linear": 1.0, "switching": 0.80, "module": 0.75}
"""At this small load, by kind (practice)."""
_OUTPUT_MAX_A = 0.5
"""What the parts list asks of the regulator's output (choice)."""
MODULE_LEAST_SHARE = 0.1
"""Share of its rated current that an isolating module must give to keep its voltage (practice)."""


@dataclass(frozen=True)
class Regulator:
    """A regulator as the computation needs it."""

    linear: bool
    output_v: float
    input_max_v: float
    dropout_v: float
    efficiency: float
    """Of a switching regulator; 1 for a linear one, whose loss is in the voltage it drops."""
    output_max_a: float
    least_load_a: float
    """What it must give to keep its voltage; 0 save with an isolating module."""
    least_input_v: float | None
    """As the design or the kind states it; None: output plus dropout."""
    quiescent_a: float
    k_per_w: float
    junction_max_deg_c: float
    box_deg_c: float

    @property
    def input_min_v(self) -> float:
        """Lowest input at which the output still stands."""
        return self.output_v + self.dropout_v if self.least_input_v is None else self.least_input_v

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


@dataclass(frozen=True)
class BoardFeed:
    """Where the board is fed, and with what."""

    terminal: str
    """As printed on the board."""
    low_v: float
    high_v: float


LOGIC_FEED_V = (4.75, 5.25)
"""What a 5 V board may be fed with past its own regulator (practice: as of a USB port)."""


def board_feed(board: Board, circuits: Circuits) -> BoardFeed:
    """Return where the regulator feeds the board.

    Relay modules take 5 V, so a board of 5 V logic is fed with the same, past its own regulator, which could not carry
    the coils.
    """
    if circuits.build == "modules" and board.logic_v >= FIVE_VOLT_LOGIC_V:
        return BoardFeed(board.logic_terminal, *LOGIC_FEED_V)
    return BoardFeed(board.input_terminal, board.vin_min_v, board.vin_max_v)


BUILT_ON_BOARD = Circuits.model_validate({"build": "board"})


def rail_v(supply: Supply, board: Board, circuits: Circuits = BUILT_ON_BOARD) -> float:
    """Return the regulator's output: the design's, that of the modules, or the first usual one that the board takes."""
    if supply.regulator_output_v is not None:
        return supply.regulator_output_v
    if circuits.build == "modules":
        return MODULE_RAIL_V
    fitting = [rail for rail in RAILS_V if board.vin_min_v <= rail <= board.vin_max_v]
    return fitting[0] if fitting else board.vin_max_v


def regulator(supply: Supply, board: Board, circuits: Circuits = BUILT_ON_BOARD) -> Regulator:
    """Return the regulator of a design, defaults filled in."""
    module = supply.isolation == "module"
    kind = "module" if module else supply.regulator
    stated, rated_a = supply.regulator_efficiency_percent, supply.regulator_output_max_a or _OUTPUT_MAX_A
    return Regulator(
        linear=kind == "linear",
        output_v=rail_v(supply, board, circuits),
        input_max_v=supply.regulator_input_max_v or _INPUT_MAX_V[kind],
        dropout_v=supply.regulator_dropout_v or _DROPOUT_V[supply.regulator],
        efficiency=_EFFICIENCY[kind] if stated is None or kind == "linear" else stated / 100.0,
        output_max_a=rated_a,
        least_load_a=MODULE_LEAST_SHARE * rated_a if module else 0.0,
        least_input_v=supply.regulator_input_min_v or (MODULE_INPUT_MIN_V if module else None),
        quiescent_a=_QUIESCENT_A[kind],
        k_per_w=supply.regulator_cooling_k_per_w or _K_PER_W[kind],
        junction_max_deg_c=supply.junction_max_deg_c,
        box_deg_c=supply.box_air_deg_c,
    )
