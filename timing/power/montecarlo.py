"""Many feeders of one design: tolerances drawn at random, seeded, solved all at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from timing.design.board import Board
from timing.design.design import Design
from timing.power.budget import esr_ohm, rectifier_circuit
from timing.power.components import regulator, winding
from timing.power.isolation import isolation
from timing.power.loads import PhaseLoad, heaviest, phase_loads
from timing.power.periodic import steady_state
from timing.power.rectifier import Array, Diode, RectifierCircuit, SteadyState, Values
from timing.sequence.core.table import Phase

SUPPLY_DRAWS = 10_000
"""Draws of a supply (choice)."""
SUPPLY_SEED = 24
"""Makes draws repeatable (choice)."""
BLOCK = 10_000
"""Circuits solved at once (choice)."""
CENTILES = (0.5, 50.0, 99.5)
"""What is reported of the draws, in percent (choice)."""

# Spreads (practice): what a multimeter and one measurement leave open, the copper's warming, the parts' classes.
OPEN_VOLTAGE_SPREAD = 0.02
"""Half width of the winding's open voltage about what was measured or rated (practice)."""
SOURCE_SPREAD = (0.85, 1.30)
"""Range of the winding's resistance about what was found (practice)."""
LOAD_SPREAD = 0.15
"""Half width of the loads (practice)."""
DIODE_OHM_SPREAD = (0.02, 0.10)
"""Range of a diode's series resistance, in ohm (practice)."""
ESR_SPREAD = (0.5, 2.0)
"""Range of the reservoir's series resistance, as a multiple (practice)."""
BOX_BELOW_HOTTEST_K = 30.0
"""The air in the box runs from this much below its hottest up to it (choice)."""


@dataclass(frozen=True)
class Distribution:
    """How one result spreads over the draws."""

    name: str
    unit: str
    low: float
    middle: float
    high: float
    """Centiles 0.5, 50 and 99.5."""
    limit: float | None
    """What it must keep to, or None."""
    beyond: float
    """Share of the draws that break the limit."""


@dataclass(frozen=True)
class MonteCarlo:
    """The spreads, with what makes them repeatable.

    A draw without a periodic state counts as 0 V lowest and is left out of the rest; a figure that no draw has is
    left out altogether.
    """

    draws: int
    seed: int
    spreads: tuple[Distribution, ...]

    def spread(self, name: str) -> Distribution:
        """Return a spread by its name."""
        return next(spread for spread in self.spreads if spread.name == name)


def monte_carlo(
    design: Design,
    board: Board,
    draws: int = SUPPLY_DRAWS,
    seed: int = SUPPLY_SEED,
    tell: Callable[[int], None] | None = None,
) -> MonteCarlo:
    """Draw `draws` feeders and return how the budget's figures spread; `tell` hears how many were just solved.

    Drawn: line voltage (uniform over its tolerance), open voltage, winding resistance, capacitor within its
    tolerance and anywhere in its life, its series resistance, diodes, loads, air in the box.
    """
    random = np.random.default_rng(seed)
    supply = design.supply
    source, supplied, apart = winding(supply), regulator(supply, board, design.circuits), isolation(supply)
    loads = phase_loads(design, board)
    stray = supply.line_tolerance_percent / 100.0

    def between(low: float, high: float) -> Array:
        return random.uniform(low, high, draws)

    line = between(1.0 - stray, 1.0 + stray) * between(1.0 - OPEN_VOLTAGE_SPREAD, 1.0 + OPEN_VOLTAGE_SPREAD)
    warm = between(*SOURCE_SPREAD)
    wound = between(source.least_ohm, source.most_ohm)
    lean = between(-1.0, 1.0)
    tolerance = supply.reservoir_tolerance_percent / 100.0
    life = between(1.0 - supply.reservoir_ageing_percent / 100.0, 1.0)
    capacitance = supply.reservoir_f * between(1.0 - tolerance, 1.0 + tolerance) * life
    series = esr_ohm(supply) * between(*ESR_SPREAD)
    diode = Diode(ohm=between(*DIODE_OHM_SPREAD))
    more = between(1.0 - LOAD_SPREAD, 1.0 + LOAD_SPREAD)
    air = supply.box_air_deg_c - between(0.0, BOX_BELOW_HOTTEST_K)

    def at(load: PhaseLoad) -> RectifierCircuit:
        # From as far below the usual power factor of the coils as the highest is above it.
        in_phase_s = load.ac.in_phase_s + lean * (load.ac_most.in_phase_s - load.ac.in_phase_s)
        lag_s = load.ac.lag_s + lean * (load.ac_most.lag_s - load.ac.lag_s)
        network = rectifier_circuit(supply, source, supplied, line, load.ac, load.rail_a * more, (capacitance, series))
        square = apart.ratio**2
        return replace(
            network,
            source_ohm=wound * warm * square,
            ac_load_s=in_phase_s * more / square,
            ac_lag_s=lag_s * more / square,
            diode=diode,
        )

    hottest = max(loads, key=lambda load: load.rail_a)
    idle, heavy, hot = _solved([at(loads[Phase.IDLE]), at(heaviest(loads)), at(hottest)], draws, tell)
    junction = supplied.junction_deg_c(supplied.loss_w(hot.dc_mean_v, hottest.rail_a * more), air)
    rated_a = supply.rating_va / supply.nominal_v
    settled = np.asarray(heavy.settled) > 0.0
    rows: tuple[tuple[str, str, Array, float | None, float | None], ...] = (
        (
            "highest reservoir voltage",
            "V",
            np.asarray(idle.dc_max_v)[np.asarray(idle.settled) > 0.0],
            None,
            supplied.input_max_v,
        ),
        ("lowest reservoir voltage", "V", np.where(settled, heavy.dc_min_v, 0.0), supplied.input_min_v, None),
        ("ripple", "V", np.asarray(heavy.ripple_v)[settled], None, None),
        ("capacitor ripple current", "A", np.asarray(heavy.capacitor_rms_a)[settled], None, supply.reservoir_ripple_a),
        ("winding current", "A", apart.ratio * np.asarray(heavy.winding_rms_a)[settled], None, rated_a),
        (
            "regulator junction",
            "degC",
            np.asarray(junction)[np.asarray(hot.settled) > 0.0],
            None,
            supplied.junction_max_deg_c,
        ),
    )
    return MonteCarlo(draws, seed, tuple(_spread(*row) for row in rows if len(row[2])))


def _solved(networks: Sequence[RectifierCircuit], draws: int, tell: Callable[[int], None] | None) -> list[SteadyState]:
    """Solve arrays of circuits a block at a time, so that many draws need little memory and progress shows."""
    blocks: list[list[SteadyState]] = [[] for _ in networks]
    for start in range(0, draws, BLOCK):
        part = slice(start, min(start + BLOCK, draws))
        for solved, network in zip(blocks, networks, strict=True):
            cut = {item.name: getattr(network, item.name) for item in fields(network) if item.name != "diode"}
            diode = replace(network.diode, ohm=_part(network.diode.ohm, part))
            cut = {name: _part(value, part) for name, value in cut.items()}
            solved.append(steady_state(replace(network, **cut, diode=diode)))
        if tell is not None:
            tell(part.stop - part.start)
    names = [item.name for item in fields(SteadyState)]
    return [
        SteadyState(**{name: np.concatenate([np.atleast_1d(getattr(one, name)) for one in solved]) for name in names})
        for solved in blocks
    ]


def _part(value: Values, part: slice) -> Values:
    return value[part] if isinstance(value, np.ndarray) and value.ndim else value


def _spread(name: str, unit: str, values: Array, least: float | None, most: float | None) -> Distribution:
    low, middle, high = np.percentile(values, CENTILES)
    limit = least if least is not None else most
    broken = np.zeros(0) if limit is None else (values < limit) if least is not None else (values > limit)
    return Distribution(
        name, unit, float(low), float(middle), float(high), limit, float(broken.mean()) if len(broken) else 0.0
    )
