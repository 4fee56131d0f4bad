"""Spots without a hole: what an arc that stands on two sheets fuses, by how long it burns.

The arc's heat melts through the top sheet into the back one. How wide the two are fused at their joint is what holds;
how wide the back sheet is molten on its far side says when it burns through. Both come from the heat conduction of
`heat_conduction`; what is not known of heat, arc, sheets and gap is carried along as runs beside the likely one.

The wire's heat arrives with the metal: what melts the wire is part of the arc's heat, stays in the crown that the
metal makes, and does not melt sheet.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from timing.design.design import Design
from timing.elementwise import Floats
from timing.process.burnback_curve import NINE_OF_TEN, Band
from timing.process.case import FEED_SPREAD, BurnbackCase
from timing.process.cooling import AMBIENT_C, METALS, Metal
from timing.process.errors import ProcessError
from timing.process.heat_conduction import Stack, disc_w, heated, rings_mm
from timing.process.source import (
    LOAD_A_READ_SPREAD,
    LOAD_V_READ_SPREAD,
    MAINS_SPREAD,
    OPEN_V_READ_SPREAD,
    USUAL_LOAD_SPREAD_V,
)
from timing.process.spot import spot_power_w

EFFICIENCY_SPREAD = 0.05
"""Relative standard deviation of the arc's efficiency: 0.80 to 0.85 (published: Pepe, Egerland, Colegrove, Yapp,
Leonhartsberger and Scotti, Science and Technology of Welding and Joining 16 (2011) 412, about 85 % in dip transfer,
seen; beside the 0.8 of EN 1011-1)."""
SHORT_ARC_MM = 2.0
"""Length of the arc while it burns in short-circuit transfer: longer than its mean with the shorts in it (practice)."""
CONE = 0.5
"""Standard deviation of the arc's heat on the work over its radius there, if it widens as much as it is long
(choice)."""
CONE_SPREAD = 0.15
"""Relative standard deviation of that (choice)."""
STIRRING = 2.0
"""How many times better the puddle conducts for being stirred: up to 8 the time changes by less than a tenth, by a
test (choice)."""
JOINT_W_PER_MM2_K = 1.5e-3
"""Conductance of the joint while its upper side is solid: clamped sheets, some 0.05 mm of gap, radiation across it
(choice: three times as much or as little changes the time by less than a tenth, by a test)."""
JOINT_SPREAD = 0.5
"""Natural logarithm of a standard deviation of that: a gap as it comes (choice)."""
SHEET_SPREAD = 0.03
"""Relative standard deviation of the sheets' thickness, one side of a usual tolerance being two of it (practice)."""
HANGS_RATIO = 4.0
"""A puddle is no longer trusted to hang once it is molten on the far side over so many times the thickness of the
stack (choice)."""
LONGEST_ARC_S = 6.0
"""No spot is looked at for longer (choice)."""
PAST_WANTED = 1.5
"""Curves go on for so many times what the coldest run takes to be wide enough (choice)."""
HALF = 0.5
"""Molten share of a ring with the front in its middle (exact: by symmetry)."""
SEEN_MM = 0.5
"""Narrower than this a molten patch does not count (choice)."""
FINE, COARSE = (5, 0.35), (3, 0.5)
"""Layers of a sheet and width of the inner rings in mm, for curves and for rules (measured: by a test)."""
FINE_RINGS_MM, EDGE_MM = 7.0, 45.0
"""Rings are fine to the first, widen to the second radius: heat comes no farther in a spot (choice)."""


@dataclass(frozen=True)
class SpotWork:
    """Two sheets, as they lie."""

    top_mm: float
    back_mm: float
    metal: Metal

    @property
    def stack_mm(self) -> float:
        """Thickness of both."""
        return self.top_mm + self.back_mm

    @property
    def hangs_mm(self) -> float:
        """Molten diameter on the far side up to which the puddle is trusted to hang."""
        return HANGS_RATIO * self.stack_mm


@dataclass(frozen=True)
class SpotHeat:
    """What the arc brings."""

    arc_w: float
    """Into the work, with what melts the wire."""
    wire_mm3_s: float
    """Metal that the wire brings."""
    spread_mm: float
    """Standard deviation of the disc that the heat falls on."""
    arc_spread: float
    """Relative standard deviation of `arc_w`, from volts, amperes and efficiency."""
    was_read: bool = False
    """True where volts and amperes while welding were read."""

    def sheet_w(self, metal: Metal) -> float:
        """What is left for the sheets once the wire is molten."""
        per_mm3 = metal.heat_capacity_j_per_mm3_k * (metal.melting_c - AMBIENT_C) + metal.fusion_j_per_mm3
        return self.arc_w - self.wire_mm3_s * per_mm3


def spot_heat(case: BurnbackCase) -> SpotHeat:
    """Return the heat of a case's arc. Raises ProcessError when no arc is possible."""
    point, wire = case.operating_point(), case.wire
    arc_mm = max(float(point.arc_length_mm(case.plant())), SHORT_ARC_MM)
    return SpotHeat(
        arc_w=spot_power_w(case),
        wire_mm3_s=case.feed_mm_s * wire.area_mm2 * wire.material.metal_share,
        spread_mm=CONE * (wire.diameter_mm / 2 + arc_mm),
        arc_spread=_arc_spread(case, float(point.voltage_v)),
        was_read=case.source.readings.load_v is not None and case.source.readings.load_a is not None,
    )


def _arc_spread(case: BurnbackCase, load_v: float) -> float:
    """Relative standard deviation of the arc's heat, by what was read of the power source."""
    read = case.source.readings
    if read.load_v is not None:
        volts = LOAD_V_READ_SPREAD
    elif read.open_v is not None and read.slope_v_per_a is not None:
        volts = OPEN_V_READ_SPREAD * read.open_v / load_v
    else:
        volts = USUAL_LOAD_SPREAD_V / load_v
    melting = math.hypot(case.wire.material.alpha_spread, FEED_SPREAD)
    amperes = melting if read.load_a is None else LOAD_A_READ_SPREAD
    return math.hypot(EFFICIENCY_SPREAD, volts, amperes, MAINS_SPREAD)


def spot_work(design: Design, sheet_mm: float) -> SpotWork:
    """Return the sheets of a design's spots below a top sheet of `sheet_mm`."""
    process = design.process
    return SpotWork(sheet_mm, process.back_sheet_mm or sheet_mm, METALS[process.wire])


@dataclass(frozen=True)
class SpotRun:
    """One run beside others."""

    heat: SpotHeat
    work: SpotWork
    joint: float = JOINT_W_PER_MM2_K
    stirring: float = STIRRING


LIKELY_RUN = "likely"
# Each a standard deviation to the cold side.
_CAUSES: dict[str, Callable[[SpotRun], SpotRun]] = {
    "volts, amperes and the arc's efficiency": lambda run: replace(
        run, heat=replace(run.heat, arc_w=run.heat.arc_w * (1 - run.heat.arc_spread))
    ),
    "how far the arc spreads": lambda run: replace(
        run, heat=replace(run.heat, spread_mm=run.heat.spread_mm * (1 + CONE_SPREAD))
    ),
    "the gap between the sheets": lambda run: replace(run, joint=run.joint * math.exp(-JOINT_SPREAD)),
    "the thickness of the sheets": lambda run: replace(
        run,
        work=replace(
            run.work, top_mm=run.work.top_mm * (1 + SHEET_SPREAD), back_mm=run.work.back_mm * (1 + SHEET_SPREAD)
        ),
    ),
}


@dataclass(frozen=True)
class SpotCurve:
    """What a spot becomes while the arc burns; arrays of shape (times,) unless they say otherwise."""

    heat: SpotHeat
    work: SpotWork
    times_s: Floats
    """How long the arc has burnt, from 0."""
    runs: tuple[str, ...]
    """The likely run first, then one for each cause with that cause a standard deviation colder."""
    fused_mm: Floats
    """Molten diameter of the back sheet at the joint, shape (runs, times); it never shrinks."""
    far_mm: Floats
    """Molten diameter on the far side of the back sheet, shape (runs, times)."""
    face_mm: Floats
    """Molten diameter on the face, shape (runs, times)."""

    def _ways(self, diameters_mm: Floats, reached_mm: float) -> tuple[float, Floats]:
        """Time of the likely run, and by how much each cause puts it off, as the logarithm of a ratio."""
        times = np.array([_reach_s(self.times_s, row, reached_mm) for row in diameters_mm])
        if not math.isfinite(times[0]) or times[0] <= 0:
            return float(times[0]), np.zeros(len(times) - 1)
        return float(times[0]), np.log(times[1:] / times[0])

    def _band(self, diameters_mm: Floats, reached_mm: float) -> Band:
        """Times of nine spots in ten. Where a cause puts one off for ever, the others tell of the quick side."""
        likely_s, ways = self._ways(diameters_mm, reached_mm)
        quick = math.exp(NINE_OF_TEN * _together(ways[np.isfinite(ways)]))
        slow = math.exp(NINE_OF_TEN * _together(ways)) if np.isfinite(ways).all() else math.inf
        return Band(likely_s / quick, likely_s, likely_s * slow)

    def fuses_s(self, diameter_mm: float = SEEN_MM) -> Band:
        """Burning time after which the sheets are fused over a diameter; inf: not within this curve."""
        return self._band(self.fused_mm, diameter_mm)

    @property
    def burns_through_s(self) -> Band:
        """Burning time from which the puddle is no longer trusted to hang.

        The curve may end before each run has come so far: the band then widens as it does at the largest diameter
        that all have reached.
        """
        hangs_mm = self.work.hangs_mm
        likely_s, _ = self._ways(self.far_mm, hangs_mm)
        common_mm = min(hangs_mm, float(self.far_mm[:, -1].min()))
        _, ways = self._ways(self.far_mm, common_mm)
        if common_mm < SEEN_MM or not math.isfinite(likely_s):
            return self._band(self.far_mm, hangs_mm)
        factor = math.exp(NINE_OF_TEN * _together(ways))
        return Band(likely_s / factor, likely_s, likely_s * factor)

    @property
    def seen_mm(self) -> float:
        """Narrower than this nothing counts as molten."""
        return SEEN_MM

    def at(self, burning_s: float) -> tuple[float, float, float]:
        """Diameters after a burning time, likely: fused at the joint, molten on the far side, molten on the face."""
        rows = (self.fused_mm, self.far_mm, self.face_mm)
        fused, far, face = (float(np.interp(burning_s, self.times_s, row[0])) for row in rows)
        return fused, far, face

    def causes(self, diameter_mm: float) -> tuple[tuple[str, float], ...]:
        """What widens the band of the time for a diameter: shares of the variance, largest first."""
        _, ways = self._ways(self.fused_mm, diameter_mm)
        whole = _together(ways) ** 2
        if not 0 < whole < math.inf:
            return ()
        shares = [(name, float(way) ** 2 / whole) for name, way in zip(self.runs[1:], ways, strict=True)]
        return tuple(sorted(shares, key=lambda one: -one[1]))

    def band_mm(self) -> tuple[Floats, Floats]:
        """Fused diameter that nine spots of ten lie between, over the times of the curve."""
        likely = self.fused_mm[0]
        sizes = np.linspace(SEEN_MM, float(likely.max()), 40)
        if likely.max() <= SEEN_MM:
            return np.zeros_like(likely), likely.copy()
        bands = [self.fuses_s(float(size)) for size in sizes]
        late = np.array([min(band.high, 1e6) for band in bands])
        early = np.array([band.low for band in bands])
        low = np.interp(self.times_s, np.maximum.accumulate(late), sizes, left=0.0)
        high = np.interp(self.times_s, np.maximum.accumulate(early), sizes, left=0.0)
        return np.minimum(low, likely), np.maximum(high, likely)


def _together(ways: Floats) -> float:
    """Standard deviation of independent causes together."""
    return float(np.sqrt((ways**2).sum()))


def _reach_s(times_s: Floats, diameters_mm: Floats, wanted_mm: float) -> float:
    """Return when a diameter that never shrinks reaches `wanted_mm`; inf if it does not."""
    there = int(np.searchsorted(diameters_mm, wanted_mm))
    if there >= diameters_mm.size:
        return math.inf
    if there == 0:
        return float(times_s[0])
    low, high = float(diameters_mm[there - 1]), float(diameters_mm[there])
    share = (wanted_mm - low) / (high - low)
    return float(times_s[there - 1] + share * (times_s[there] - times_s[there - 1]))


def spot_curve(heat: SpotHeat, work: SpotWork, wanted_mm: float, until_s: float) -> SpotCurve:
    """Return what a spot becomes, at least until `until_s`, and until it is wide enough or burns through.

    The same is not computed twice in a row; the arrays are read only. Raises ProcessError where the wire takes all of
    the heat, or there are no sheets.
    """
    return _computed(heat, work, wanted_mm, until_s, False)


def quick_spot_curve(heat: SpotHeat, work: SpotWork, wanted_mm: float, until_s: float) -> SpotCurve:
    """Return the likely run alone, on a coarse grid: for rules, which say what is far off."""
    return _computed(heat, work, wanted_mm, until_s, True)


@lru_cache(maxsize=32)
def _computed(heat: SpotHeat, work: SpotWork, wanted_mm: float, until_s: float, quick: bool) -> SpotCurve:
    if heat.sheet_w(work.metal) <= 0:
        raise ProcessError(
            f"the arc brings {heat.arc_w:.0f} W, and melting the wire takes all of it",
            "an arc that has heat left for the sheets",
            "measure volts and amperes while welding, and give them",
        )
    likely = SpotRun(heat, work)
    if quick:
        return run_together({LIKELY_RUN: likely}, wanted_mm, until_s, until_s, COARSE)
    runs = {LIKELY_RUN: likely} | {name: change(likely) for name, change in _CAUSES.items()}
    return run_together(runs, wanted_mm, until_s, max(until_s, LONGEST_ARC_S), FINE)


def run_together(
    runs: dict[str, SpotRun], wanted_mm: float, until_s: float, longest_s: float, grid: tuple[int, float]
) -> SpotCurve:
    """Return the curve of runs side by side, the likely one first; `grid`: layers of a sheet, and rings in mm."""
    layers, fine_mm = grid
    first = next(iter(runs.values()))
    stack = _stack(list(runs.values()), layers, fine_mm)
    power_w = np.array([run.heat.sheet_w(run.work.metal) for run in runs.values()])
    disc = disc_w(stack.radii_mm, power_w, np.array([run.heat.spread_mm for run in runs.values()]))
    looked_at = (layers, 2 * layers - 1, 0)
    times, shares = [0.0], [np.zeros((len(runs), 3, stack.shape[2]))]
    middles = stack.middles_mm
    wide_s = math.inf
    for time_s, enthalpy in heated(stack, longest_s, disc=disc):
        times.append(time_s)
        shares.append(stack.molten(enthalpy[:, looked_at]))
        across = 2 * middles[(shares[-1] >= HALF).sum(axis=2) - 1]
        if wide_s == math.inf and across[:, 0].min() >= wanted_mm and shares[-1][:, 0, 0].min() >= HALF:
            wide_s = time_s
        if time_s >= until_s and (time_s >= PAST_WANTED * wide_s or _at_rest(times, shares)):
            break
        if shares[-1][:, 1, 0].min() >= HALF and across[:, 1].min() >= 2 * first.work.hangs_mm:
            break
    at_s = np.array(times)
    fused, far, face = (_fronts_mm(at_s, np.stack(shares)[:, :, place], middles) for place in range(3))
    for shared in (at_s, fused, far, face):
        shared.flags.writeable = False
    return SpotCurve(first.heat, first.work, at_s, tuple(runs), fused, far, face)


def _fronts_mm(times_s: Floats, shares: Floats, middles_mm: Floats) -> Floats:
    """Return the molten diameter over the times, shape (runs, times), from the molten share of the rings of a layer.

    `shares` has the shape (times, runs, rings). The front is in the middle of a ring when half of its latent heat is
    in (V. Voller and M. Cross, International Journal of Heat and Mass Transfer 24 (1981) 545); between those moments
    it goes evenly. It is never told to shrink.
    """
    passed = shares >= HALF
    rows = []
    for run in range(shares.shape[1]):
        rings = np.flatnonzero(passed[:, run].any(axis=0))
        # From the axis outwards without a gap: what melts beyond one is not part of the puddle.
        rings = rings[rings == np.arange(rings.size)]
        starts = float(times_s[max(int((shares[:, run, 0] > 0).argmax()) - 1, 0)])
        when, wide = [starts], [0.0]
        for ring in rings:
            after = int(passed[:, run, ring].argmax())
            before, there = shares[after - 1, run, ring], shares[after, run, ring]
            part = (HALF - before) / (there - before)
            when.append(max(float(times_s[after - 1] + part * (times_s[after] - times_s[after - 1])), when[-1]))
            wide.append(2 * float(middles_mm[ring]))
        if rings.size > 1 and times_s[-1] > when[-1] > when[-2] and rings.size < middles_mm.size:
            # The front is on its way to the next ring: at first as fast as before, to the edge between the two at most.
            pace = (wide[-1] - wide[-2]) / (when[-1] - when[-2])
            edge = float(middles_mm[rings.size] - middles_mm[rings.size - 1])
            later = np.linspace(0.0, float(times_s[-1]) - when[-1], 6)[1:]
            when, wide = [*when, *(when[-1] + later)], [*wide, *(wide[-1] - edge * np.expm1(-pace * later / edge))]
        rows.append(np.interp(times_s, when, wide) if rings.size else np.zeros_like(times_s))
    return np.array(rows)


def _at_rest(times: list[float], shares: list[Floats]) -> bool:
    """Tell whether no ring has melted on in the last fourth of the time: the heat flows off as it comes."""
    if times[-1] < 2.0:
        return False
    before = int(np.searchsorted(times, 0.75 * times[-1]))
    return bool((shares[-1] - shares[before]).max() < 0.02)


def _stack(runs: list[SpotRun], layers: int, fine_mm: float) -> Stack:
    sheets = np.array([[run.work.top_mm, run.work.back_mm] for run in runs])
    return Stack(
        radii_mm=rings_mm(fine_mm, FINE_RINGS_MM, EDGE_MM),
        layers_mm=np.repeat(sheets / layers, layers, axis=1),
        metal=runs[0].work.metal,
        joint=layers,
        joint_w_per_mm2_k=np.array([run.joint for run in runs]),
        stirring=np.array([run.stirring for run in runs]),
    )
