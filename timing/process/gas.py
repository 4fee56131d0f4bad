"""Gas: what the preflow must push out, what the hose blows out first, and how much a weld takes.

The purge lies between two limits: plug flow pushes the air out ahead of the gas, in volume over flow; full mixing
thins it out exponentially, in ln(1/left) times as long. A long thin gun behaves nearly as a plug, the wide nozzle
mixes, and that pair is the likely value.

The hose before the valve stands at the regulator's pressure while no gas flows. What it holds beyond its pressure
in flow comes out at once, a surge that helps the purge and stirs in air while it lasts. The flow through the
choked passage behind the hose goes with the absolute pressure before it, so the surge dies exponentially and its
sum is exactly the gas that the hose lets go.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from timing.design.process import Process
from timing.process.errors import ProcessError
from timing.process.melting import circle_mm2

ATMOSPHERE_BAR = 1.01325
"""Standard atmosphere (exact)."""
LEAST_FLOW_L_MIN, MOST_FLOW_L_MIN = 8.0, 25.0
"""Usual flows at a nozzle: less shields nothing in the least draught, more whirls air in (practice)."""
L_MIN_PER_FT3_H = 28.316846592 / 60
"""1 ft3/h in L/min (exact)."""
USUAL_FLOW_L_MIN = 14.0
"""Flow to begin with, about 30 ft3/h (practice)."""
AIR_LEFT = 0.01
"""The purge ends when this share of air is left at the nozzle (practice)."""
FLOWING_PRESSURE_BAR = 0.35
"""Gauge pressure in the hose while gas flows; 0.2 to 0.55 bar are met (practice)."""
SURGE_OVER = 1.25
"""The surge counts as over when the flow is within this factor of the set flow (choice)."""
_MM3_PER_L = 1e6


@dataclass(frozen=True)
class GasPath:
    """Gas from the regulator to the nozzle."""

    flow_l_min: float
    hose_l: float
    """Volume of the hose before the valve."""
    hose_bar: float
    """Its gauge pressure while the valve is shut."""
    gun_l: float
    """Free volume from the valve to the gas diffuser."""
    nozzle_l: float

    @property
    def flow_l_s(self) -> float:
        """Set flow in L/s."""
        return self.flow_l_min / 60

    @property
    def surge_l(self) -> float:
        """Gas beyond the set flow that the hose lets go at the start, at the air's pressure (Boyle)."""
        return self.hose_l * max(self.hose_bar - FLOWING_PRESSURE_BAR, 0.0) / ATMOSPHERE_BAR

    @property
    def surge_peak(self) -> float:
        """Highest flow of the surge, as a multiple of the set flow."""
        return max((self.hose_bar + ATMOSPHERE_BAR) / (FLOWING_PRESSURE_BAR + ATMOSPHERE_BAR), 1.0)

    @property
    def surge_tau_s(self) -> float:
        """Time constant of the surge's decay, in s."""
        return self.hose_l * (FLOWING_PRESSURE_BAR + ATMOSPHERE_BAR) / ATMOSPHERE_BAR / self.flow_l_s

    @property
    def surge_settles_s(self) -> float:
        """When the flow is down to SURGE_OVER times the set flow; 0 without a surge."""
        over = self.surge_peak - 1
        return self.surge_tau_s * math.log(over / (SURGE_OVER - 1)) if over > SURGE_OVER - 1 else 0.0

    def delivered_l(self, open_s: float) -> float:
        """Gas let out in a time after the valve opens, surge included."""
        surged = -math.expm1(-open_s / self.surge_tau_s) if self.surge_l else 0.0
        return self.flow_l_s * open_s + self.surge_l * surged

    def time_to_deliver_s(self, volume_l: float) -> float:
        """Time after the valve opens until a volume has come out: the inverse of `delivered_l`, by bisection."""
        return _inverse(self.delivered_l, volume_l, volume_l / self.flow_l_s)


def _inverse(rising: Callable[[float], float], wanted: float, high: float) -> float:
    """Where a rising function of time reaches `wanted`, between 0 and `high`."""
    low = 0.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True)
class Purge:
    """Time from gas flowing to AIR_LEFT at the nozzle, in s."""

    plug_s: float
    """All of it pushed out ahead of the gas: the least."""
    likely_s: float
    """Gun as a plug, nozzle mixing."""
    mixed_s: float
    """All of it mixing: the most."""


def flow_works(flow_l_min: float) -> bool:
    """Tell whether a flow can shield at all."""
    return LEAST_FLOW_L_MIN <= flow_l_min <= MOST_FLOW_L_MIN


def gas_path(process: Process) -> GasPath:
    """Return the gas path of a design's [process]. Raises ProcessError for gasless wire."""
    if process.gas_flow_l_min is None:
        raise ProcessError("the wire runs without gas", "a gas with its flow", "leave preflow and postflow at 0 s")
    return GasPath(
        flow_l_min=process.gas_flow_l_min,
        hose_l=process.gas_hose_length_mm * circle_mm2(process.gas_hose_bore_mm) / _MM3_PER_L,
        hose_bar=process.gas_hose_pressure_bar,
        gun_l=process.gun_length_mm * circle_mm2(process.gun_bore_mm) / _MM3_PER_L,
        nozzle_l=process.nozzle_length_mm * circle_mm2(process.nozzle_bore_mm) / _MM3_PER_L,
    )


def purge(path: GasPath, air_left: float = AIR_LEFT, *, gun: bool = True) -> Purge:
    """Return the purge of gun and nozzle, or of the nozzle alone with `gun` False, as between welds.

    `air_left` is the share of air that may be left, above 0 and below 1. Raises ProcessError for another one.
    """
    if not 0 < air_left < 1:
        raise ProcessError(f"{air_left:g} of the air left", "a share above 0 and below 1", "0.01 is usual")
    changes = math.log(1 / air_left)
    gun_l = path.gun_l if gun else 0.0
    return Purge(
        plug_s=path.time_to_deliver_s(gun_l + path.nozzle_l),
        likely_s=path.time_to_deliver_s(gun_l + changes * path.nozzle_l),
        mixed_s=path.time_to_deliver_s(changes * (gun_l + path.nozzle_l)),
    )


@dataclass(frozen=True)
class GasUse:
    """Gas that welds of a kind take."""

    per_weld_l: float
    surge_l: float
    """Of which surge, once a weld."""
    per_hundred_l: float
    welds_per_cylinder: int | None
    """None where the cylinder is not known."""


def gas_use(path: GasPath, open_s: float, cylinder_l: float | None) -> GasUse:
    """Return what welds take whose gas valve stands open for `open_s`: preflow, weld, burnback and postflow."""
    each = path.delivered_l(open_s)
    surge = each - path.flow_l_s * open_s
    welds = None if cylinder_l is None or each <= 0 else math.floor(cylinder_l / each)
    return GasUse(each, surge, 100 * each, welds)
