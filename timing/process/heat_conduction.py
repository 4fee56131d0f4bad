"""Heat in a stack of sheets under a heat source that stands still: round about an axis, with melting.

Finite volumes in radius and depth. The unknown is the enthalpy of each cell, written as a temperature rise: heat over
heat capacity, so that latent heat is a stretch of the scale in which the temperature stands still. Conductivity and
heat capacity are means over the hot range. Stirred metal carries heat better than metal that stands still: the
conductivity of what is molten is a multiple. Between two sheets heat crosses a contact, until the upper side of it is
molten and wets the lower one. The heat of an arc falls on a disc whose height follows the crater: in each ring it goes
evenly into what is molten from the face down, as drops and arc dig it in, and into the first layer while nothing is.

Time goes by the Runge-Kutta-Legendre scheme of second order (Meyer, Balsara and Aslam, Journal of Computational Physics
257 (2014) 594): s explicit stages that together reach (s^2 + s - 2)/4 explicit steps, with no matrix to solve, so that
many stacks run side by side in one array.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from timing.elementwise import Floats
from timing.process.cooling import AMBIENT_C, STEFAN_BOLTZMANN, Metal

MOST_STAGES = 13
"""Stages of a step, odd: at most 45 explicit steps for the work of thirteen, fewer where less reaches (choice)."""
STEP_SHARE = 0.9
"""Share of the longest stable step that is taken (choice)."""
PUDDLE_STEP_S = 0.025
"""No step is longer: a puddle grows meanwhile (choice)."""
SURFACE_W_PER_MM2_K = 1e-4
"""Heat that moving gas takes from a hot surface, 100 W/(m^2 K) (practice)."""


@dataclass(frozen=True)
class Stack:
    """Stacks side by side: cells of rings about the axis, in layers from the heated face down.

    The radii are the same for all runs; everything else may differ from run to run.
    """

    radii_mm: Floats
    """Edges of the rings from the axis outwards, shape (rings + 1,), beginning with 0."""
    layers_mm: Floats
    """Thickness of each layer, shape (runs, layers)."""
    metal: Metal
    joint: int | None = None
    """How many layers lie above the joint of two sheets; None for one piece."""
    joint_w_per_mm2_k: Floats | float = math.inf
    """Conductance of that joint while its upper side is solid, shape (runs,) or one number."""
    stirring: Floats | float = 1.0
    """How many times better molten metal conducts than solid, shape (runs,) or one number."""

    @property
    def shape(self) -> tuple[int, int, int]:
        """Runs, layers, rings."""
        runs, layers = self.layers_mm.shape
        return runs, layers, self.radii_mm.size - 1

    @property
    def ring_mm2(self) -> Floats:
        """Area of each ring, shape (rings,)."""
        areas: Floats = math.pi * np.diff(self.radii_mm**2)
        return areas

    @property
    def middles_mm(self) -> Floats:
        """Radius of the middle of each ring, shape (rings,)."""
        middles: Floats = (self.radii_mm[1:] + self.radii_mm[:-1]) / 2
        return middles

    @property
    def melting_rise_k(self) -> float:
        """Temperature rise at which the metal begins to melt."""
        return self.metal.melting_c - AMBIENT_C

    @property
    def fusion_k(self) -> float:
        """Latent heat as a temperature rise."""
        return self.metal.fusion_j_per_mm3 / self.metal.heat_capacity_j_per_mm3_k

    def rise_k(self, enthalpy_k: Floats) -> Floats:
        """Temperature rise of cells from their enthalpy."""
        rise: Floats = enthalpy_k - np.clip(enthalpy_k - self.melting_rise_k, 0.0, self.fusion_k)
        return rise

    def molten(self, enthalpy_k: Floats) -> Floats:
        """Molten share of cells from their enthalpy."""
        share: Floats = np.clip((enthalpy_k - self.melting_rise_k) / self.fusion_k, 0.0, 1.0)
        return share


def disc_w(radii_mm: Floats, power_w: Floats, spread_mm: Floats) -> Floats:
    """Heat of a Gaussian disc into each ring, shape (runs, rings); `spread_mm` is its standard deviation."""
    inside = np.exp(-(radii_mm[None, :] ** 2) / (2 * np.reshape(spread_mm, (-1, 1)) ** 2))
    return np.reshape(power_w, (-1, 1)) * -np.diff(inside, axis=1)


def rings_mm(fine_mm: float, fine_to_mm: float, last_mm: float, growth: float = 1.3) -> Floats:
    """Edges of rings: of `fine_mm` up to `fine_to_mm`, then each wider by `growth` until past `last_mm`."""
    edges = list(np.arange(0.0, fine_to_mm + fine_mm / 2, fine_mm))
    width = fine_mm
    while edges[-1] < last_mm:
        width *= growth
        edges.append(edges[-1] + width)
    return np.array(edges)


@dataclass(frozen=True)
class _Paths:
    """Conductances between neighbours over the heat capacity of cells, in K per K and second."""

    outwards: Floats
    """Shape (runs, layers, rings - 1)."""
    down: Floats
    """Shape (runs, layers - 1, rings)."""


class _Cells:
    """What of a stack does not change while it is heated."""

    def __init__(self, stack: Stack) -> None:
        self.stack = stack
        capacity = stack.metal.heat_capacity_j_per_mm3_k
        thick = stack.layers_mm[:, :, None]
        self.heat_capacity = capacity * thick * stack.ring_mm2
        edges = stack.radii_mm
        half = np.diff(edges) / 2
        # Rings: area of the wall between two over the way on either side of it.
        self.wall_mm2 = 2 * math.pi * edges[1:-1] * thick
        self.half_in, self.half_out = half[:-1], half[1:]
        self.half_down = thick / 2
        self.joint = np.reshape(np.asarray(stack.joint_w_per_mm2_k, dtype=np.float64), (-1, 1))
        self.extra = np.reshape(np.asarray(stack.stirring, dtype=np.float64), (-1, 1, 1)) - 1.0

    def paths(self, molten: Floats) -> _Paths:
        """Conductances with what is molten now."""
        stack = self.stack
        conducts = stack.metal.conductivity_w_per_mm_k * (1.0 + self.extra * molten)
        outwards = self.wall_mm2 / (self.half_in / conducts[:, :, :-1] + self.half_out / conducts[:, :, 1:])
        resists = self.half_down / conducts
        between = resists[:, :-1] + resists[:, 1:]
        if stack.joint is not None:
            # The contact counts as far as its upper side is still solid: molten metal wets what lies below.
            above = stack.joint - 1
            between[:, above] += (1.0 - molten[:, above]) / self.joint
        return _Paths(outwards, stack.ring_mm2 / between)

    def longest_step_s(self) -> float:
        """The longest explicit step that is stable with everything molten and every contact closed."""
        paths = self.paths(np.ones(self.stack.shape))
        total = np.zeros(self.stack.shape)
        total[:, :, :-1] += paths.outwards
        total[:, :, 1:] += paths.outwards
        total[:, :-1] += paths.down
        total[:, 1:] += paths.down
        return float(2.0 / (2.0 * total / self.heat_capacity).max())

    def dug(self, molten: Floats) -> Floats:
        """Share of the heat from above that goes into each layer of its ring."""
        deep = molten * self.stack.layers_mm[:, :, None]
        deep[:, 0] = np.maximum(deep[:, 0], 1e-6)
        shares: Floats = deep / deep.sum(axis=1, keepdims=True)
        return shares

    def lost_w(self, rise: Floats) -> Floats:
        """What the two faces lose to gas and by radiation."""
        ambient_k = AMBIENT_C + 273.15
        radiated = self.stack.metal.emissivity * STEFAN_BOLTZMANN * ((ambient_k + rise) ** 4 - ambient_k**4)
        lost: Floats = (SURFACE_W_PER_MM2_K * rise + radiated) * self.stack.ring_mm2
        return lost


def heated(
    stack: Stack,
    until_s: float,
    *,
    disc: Floats | float = 0.0,
    inside: Floats | float = 0.0,
    enthalpy_k: Floats | None = None,
    losses: bool = True,
) -> Iterator[tuple[float, Floats]]:
    """Heat a stack and yield the time in s and the enthalpy of its cells, shape (runs, layers, rings), in K of rise.

    `disc` is heat from above into each ring in W, shape (runs, rings); `inside` heat into each cell, in a shape that
    spreads to that of the cells; `enthalpy_k` what they begin with, cold if left out. The outermost rings end at an
    edge that lets no heat through.
    """
    cells = _Cells(stack)
    runs, layers, rings = stack.shape
    state = np.zeros((runs, layers, rings)) if enthalpy_k is None else np.array(enthalpy_k, dtype=np.float64)
    falls_w = np.broadcast_to(disc, (runs, rings))[:, None, :]
    explicit_s, wanted_s = STEP_SHARE * cells.longest_step_s(), min(PUDDLE_STEP_S, until_s)
    stages = next((count for count in range(3, MOST_STAGES, 2) if _reach(count) * explicit_s >= wanted_s), MOST_STAGES)
    step_s = min(_reach(stages) * explicit_s, wanted_s)
    first_weight, later = _legendre(stages)
    steps = math.ceil(until_s / step_s - 1e-9)
    step_s = until_s / steps
    melting, fusion = stack.melting_rise_k, stack.fusion_k
    inverse = 1.0 / cells.heat_capacity
    flow_out, flow_down = np.empty((runs, layers, rings - 1)), np.empty((runs, layers - 1, rings))
    rate, rise = np.empty_like(state), np.empty_like(state)

    def rise_of(enthalpy: Floats) -> None:
        np.subtract(enthalpy, melting, out=rise)
        np.clip(rise, 0.0, fusion, out=rise)
        np.subtract(enthalpy, rise, out=rise)

    for number in range(steps):
        molten = stack.molten(state)
        paths = cells.paths(molten)
        source = falls_w * cells.dug(molten) + inside
        if losses:
            rise_of(state)
            for face in (0, layers - 1):
                source[:, face] -= cells.lost_w(rise[:, face])
        source *= inverse

        def rate_of(enthalpy: Floats, paths: _Paths = paths, source: Floats = source) -> Floats:
            rise_of(enthalpy)
            np.subtract(rise[:, :, 1:], rise[:, :, :-1], out=flow_out)
            np.multiply(flow_out, paths.outwards, out=flow_out)
            np.subtract(rise[:, 1:], rise[:, :-1], out=flow_down)
            np.multiply(flow_down, paths.down, out=flow_down)
            rate.fill(0.0)
            rate[:, :, :-1] += flow_out
            rate[:, :, 1:] -= flow_out
            rate[:, :-1] += flow_down
            rate[:, 1:] -= flow_down
            np.multiply(rate, inverse, out=rate)
            np.add(rate, source, out=rate)
            return rate

        first = step_s * rate_of(state)
        before, now = state, state + first_weight * first
        for stage in later:
            then = (stage.rate * step_s) * rate_of(now)
            then += stage.last * now
            then += stage.before_last * before
            then += stage.start * state
            then += stage.first_rate * first
            before, now = now, then
        state = now
        yield (number + 1) * step_s, state


@dataclass(frozen=True)
class _Stage:
    """Weights of one stage: of the two stages before it, of the step's start, and of the rates here and there."""

    last: float
    before_last: float
    start: float
    rate: float
    first_rate: float


@cache
def _legendre(stages: int) -> tuple[float, tuple[_Stage, ...]]:
    """Return the weight of the first stage and those of the others (Meyer, Balsara and Aslam 2014, section 2.2)."""
    b = [1 / 3, 1 / 3, *((j * j + j - 2) / (2 * j * (j + 1)) for j in range(2, stages + 1))]
    w = 4 / (stages * stages + stages - 2)
    later = []
    for j in range(2, stages + 1):
        last = (2 * j - 1) / j * b[j] / b[j - 1]
        before_last = -(j - 1) / j * b[j] / b[j - 2]
        later.append(_Stage(last, before_last, 1 - last - before_last, last * w, -(1 - b[j - 1]) * last * w))
    return b[1] * w, tuple(later)


def _reach(stages: int) -> float:
    """How many explicit steps a step of so many stages reaches."""
    return (stages**2 + stages - 2) / 4
