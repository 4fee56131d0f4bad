"""Gas: what the preflow must push out, what the hose blows out first, and how much a weld takes.

The purge lies between two limits: plug flow pushes the air out ahead of the gas, in volume over flow; full mixing
thins it out exponentially, in ln(1/left) times as long. A long thin gun behaves nearly as a plug, the wide nozzle
mixes, and that pair is the likely value.

The hose before the valve stands at the regulator's pressure while no gas flows. What it holds beyond its pressure in
flow comes out at once, a surge that helps the purge and stirs in air while it lasts. The hose is a volume between two
openings (timing.process.orifice): the regulator's, behind which it stands at its pressure at rest, and valve and gun
before the air. The sizes of both follow from the set flow at the usual pressure in flow; at first the outflow may be
choked and nothing flows in, in the end both pass the set flow. The gas keeps the hose's temperature, since a thin hose
has much wall:

    V / p_air dp/dt = q_in(p) - q_out(p)     q in volume at the air's pressure

The surge counts only where the design states the hose: nobody can guess the pressure that it stands at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from timing.design.process import USUAL_HOSE_BORE_MM, Process
from timing.interpolation import interpolated
from timing.process.errors import ProcessError
from timing.process.melting import circle_mm2
from timing.process.orifice import flow_function, heat_ratio

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
FLOWING_BAR = ATMOSPHERE_BAR + 0.35
"""Absolute pressure in the hose while gas flows; 0.2 to 0.55 bar above the air's are met (practice)."""
SURGE_OVER = 1.25
"""The surge counts as over when the flow is within this factor of the set flow (choice)."""
SURGE_STEPS, SURGE_DECAYS = 64, 7.0
"""Steps over which the hose's fall to its pressure in flow is summed, down to exp(-decays) of it (choice: within 1 % of
an integrator, measured by a test)."""
_MM3_PER_L = 1e6


@dataclass(frozen=True)
class Hose:
    """The hose before the gas valve, between two openings."""

    volume_l: float
    bar: float
    """Its gauge pressure while the valve is shut."""
    heats: float
    """Ratio of the gas's specific heats."""

    @property
    def rest_bar(self) -> float:
        """Absolute pressure at rest."""
        return self.bar + ATMOSPHERE_BAR

    def out_share(self, pressure_bar: float) -> float:
        """Flow out of the hose at an absolute pressure, over the set flow."""
        flow = pressure_bar * flow_function(ATMOSPHERE_BAR / pressure_bar, self.heats)
        usual = FLOWING_BAR * flow_function(ATMOSPHERE_BAR / FLOWING_BAR, self.heats)
        return flow / usual

    def in_share(self, pressure_bar: float) -> float:
        """Flow from the regulator into the hose at an absolute pressure, over the set flow."""
        usual = flow_function(FLOWING_BAR / self.rest_bar, self.heats)
        return flow_function(pressure_bar / self.rest_bar, self.heats) / usual


@dataclass(frozen=True)
class Surge:
    """What a hose lets go over time, as points of rising time joined by straight lines."""

    time_s: tuple[float, ...]
    delivered_l: tuple[float, ...]
    """Gas at the air's pressure since the valve opened."""
    flow_share: tuple[float, ...]
    """Flow over the set flow."""


@lru_cache(maxsize=32)
def hose_surge(hose: Hose, flow_l_s: float) -> Surge:
    """Return the surge of a hose at a set flow; a single point where its pressure at rest makes none.

    The pressure is what is stepped through, evenly in the logarithm of what it is above the pressure in flow: time and
    volume are integrals over it.
    """
    over_bar = hose.rest_bar - FLOWING_BAR
    if over_bar <= 0:
        return _NO_SURGE
    time_s, delivered_l, share = 0.0, 0.0, hose.out_share(hose.rest_bar)
    points = [(time_s, delivered_l, share)]
    width = SURGE_DECAYS / SURGE_STEPS
    for step in range(SURGE_STEPS):
        left_bar = over_bar * math.exp(-(step + 0.5) * width)
        pressure_bar = FLOWING_BAR + left_bar
        out = hose.out_share(pressure_bar)
        loss_l_s = flow_l_s * (out - hose.in_share(pressure_bar))
        step_s = hose.volume_l / ATMOSPHERE_BAR * left_bar * width / loss_l_s
        time_s, delivered_l = time_s + step_s, delivered_l + out * flow_l_s * step_s
        share = hose.out_share(FLOWING_BAR + over_bar * math.exp(-(step + 1) * width))
        points.append((time_s, delivered_l, share))
    times_s, volumes_l, shares = zip(*points, strict=True)
    return Surge(times_s, volumes_l, shares)


_NO_SURGE = Surge((0.0,), (0.0,), (1.0,))


@dataclass(frozen=True)
class GasPath:
    """Gas from the regulator to the nozzle."""

    flow_l_min: float
    hose: Hose | None
    """None where the design does not state it: then no surge is counted."""
    gun_l: float
    """Free volume from the valve to the gas diffuser."""
    nozzle_l: float

    @property
    def flow_l_s(self) -> float:
        """Set flow in L/s."""
        return self.flow_l_min / 60

    @property
    def _surge(self) -> Surge:
        return _NO_SURGE if self.hose is None else hose_surge(self.hose, self.flow_l_s)

    @property
    def surge_l(self) -> float:
        """Gas beyond the set flow that the hose lets go at the start, at the air's pressure."""
        surge = self._surge
        return surge.delivered_l[-1] - self.flow_l_s * surge.time_s[-1]

    @property
    def surge_peak(self) -> float:
        """Highest flow of the surge, as a multiple of the set flow."""
        return self._surge.flow_share[0]

    @property
    def surge_settles_s(self) -> float:
        """When the flow is down to SURGE_OVER times the set flow; 0 without a surge."""
        falling = [-share for share in self._surge.flow_share]
        return interpolated(-SURGE_OVER, falling, self._surge.time_s)

    def delivered_l(self, open_s: float) -> float:
        """Gas let out in a time after the valve opens, surge included."""
        surge = self._surge
        late_s = max(open_s - surge.time_s[-1], 0.0)
        return interpolated(open_s, surge.time_s, surge.delivered_l) + self.flow_l_s * late_s

    def time_to_deliver_s(self, volume_l: float) -> float:
        """Time after the valve opens until a volume has come out: the inverse of `delivered_l`."""
        surge = self._surge
        late_l = max(volume_l - surge.delivered_l[-1], 0.0)
        return interpolated(volume_l, surge.delivered_l, surge.time_s) + late_l / self.flow_l_s


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
        hose=_hose(process),
        gun_l=process.gun_length_mm * circle_mm2(process.gun_bore_mm) / _MM3_PER_L,
        nozzle_l=process.nozzle_length_mm * circle_mm2(process.nozzle_bore_mm) / _MM3_PER_L,
    )


def _hose(process: Process) -> Hose | None:
    """Return the hose, where length and pressure of it are stated."""
    length_mm, bar = process.gas_hose_length_mm, process.gas_hose_pressure_bar
    if length_mm is None or bar is None:
        return None
    # Few designs state their hose, and every command waits for what this module imports.
    from timing.design.gases import gas_parts

    bore_mm = process.gas_hose_bore_mm or USUAL_HOSE_BORE_MM
    heats = heat_ratio(gas_parts(process.gas, process.gas_mixture))
    return Hose(length_mm * circle_mm2(bore_mm) / _MM3_PER_L, bar, heats)


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
    surge_l: float | None
    """Of which surge, once a weld; None where the hose is not stated and none is counted."""
    per_hundred_l: float
    welds_per_cylinder: int | None
    """None where the cylinder is not known."""


def gas_use(path: GasPath, open_s: float, cylinder_l: float | None) -> GasUse:
    """Return what welds take whose gas valve stands open for `open_s`: preflow, weld, burnback and postflow."""
    each = path.delivered_l(open_s)
    surge = None if path.hose is None else each - path.flow_l_s * open_s
    welds = None if cylinder_l is None or each <= 0 else math.floor(cylinder_l / each)
    return GasUse(each, surge, 100 * each, welds)
