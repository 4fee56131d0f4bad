"""Extension and arc length over time: of one burnback as it runs, and of a whole timeline.

The track of a timeline is pieced together from likely values: wire fed towards the work, the start of the arc, the
steady arc, and after the drive's command off the burnback computation itself, so that a timeline and the burnback
curve never disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.design.design import Design
from timing.interpolation import interpolated
from timing.process.burnback import FUSED, OUTCOMES, Release, run_one, run_uncut, wire_run_mm, wire_speed_mm_s
from timing.process.case import BurnbackCase, burnback_case, burnback_setting_s, run_likely
from timing.process.errors import ProcessError, require_positive
from timing.process.spot import ARC_START_S
from timing.sequence.core.engine import Timeline, on_spans_us
from timing.sequence.core.table import Output
from timing.sequence.simulate import actual_edges

AT_REST_MM = 0.01
"""The wire counts as at rest when less than this is still to come (choice)."""


@dataclass(frozen=True)
class BurnbackTrace:
    """Traces over time, all of one length, and the moments between them.

    Time counts in seconds from the wire drive's command off; the release lies the trigger filter before it.
    """

    time_s: tuple[float, ...]
    extension_mm: tuple[float, ...]
    arc_length_mm: tuple[float, ...]
    """From the wire's end to the puddle; below 0 where the wire stands in it."""
    current_a: tuple[float, ...]
    wire_speed_mm_s: tuple[float, ...]
    events_s: dict[str, float]
    """Moments by name, in the order they come."""
    outcome: str
    """One of burnback.OUTCOMES."""


def burnback_trace(case: BurnbackCase, setting_s: float, step_s: float = 0.001) -> BurnbackTrace:
    """Return a burnback with every input at its likely value, sampled every `step_s`.

    Raises ProcessError when no steady arc is possible, or for a step that is none.
    """
    require_positive("the time step", step_s, "s", "1 ms is usual")
    plant, point, release = case.plant(), case.operating_point(), case.release()
    left = run_one(plant, point, release, case.end, [setting_s])[0]
    cut_s = setting_s + case.contactor_off.typical_s
    arc_out_s, fused = left.arc_out_s, left.outcome == FUSED
    rest_s = case.wire_off.typical_s + release.coast.rest_s(AT_REST_MM / case.feed_mm_s)
    until_s = max(rest_s, arc_out_s, cut_s) + 0.05
    count = math.ceil((until_s + step_s / 2 + case.filter_s) / step_s)
    times = [-case.filter_s + number * step_s for number in range(count)]

    def coasting_mm(time_s: float) -> float:
        """Extension after arc-out: the rest position less what is still to come."""
        to_come = wire_run_mm(release, case.feed_mm_s, math.inf) - wire_run_mm(release, case.feed_mm_s, time_s)
        return float(left.extension_mm - to_come)

    burning = [time_s for time_s in times if 0 < time_s < min(cut_s, arc_out_s)]
    path = list(run_uncut(plant, point, release, case.end, burning))
    known_s = [-case.filter_s, 0.0, *burning, arc_out_s]
    known_mm = [left.start_mm, left.start_mm, *(float(mm) for mm, _ in path), coasting_mm(max(arc_out_s, 0.0))]
    known_a = [float(point.current_a), float(point.current_a), *(float(current_a) for _, current_a in path), 0.0]

    def extension_mm(time_s: float) -> float:
        if time_s < arc_out_s:
            return interpolated(time_s, known_s, known_mm)
        return left.extension_mm if fused else coasting_mm(time_s)

    extension = tuple(extension_mm(time_s) for time_s in times)
    moments = {
        "release": -case.filter_s,
        "wire drive commanded off": 0.0,
        "wire drive lets go": case.wire_off.typical_s,
        "contactor commanded off": setting_s,
        "contactor lets go": cut_s,
        "arc out": arc_out_s,
        "wire at rest": rest_s,
    }
    return BurnbackTrace(
        time_s=tuple(times),
        extension_mm=extension,
        arc_length_mm=tuple(case.distance_mm - mm for mm in extension),
        current_a=tuple(interpolated(time_s, known_s, known_a) if time_s < arc_out_s else 0.0 for time_s in times),
        wire_speed_mm_s=tuple(
            case.feed_mm_s if time_s < 0 else float(wire_speed_mm_s(release, case.feed_mm_s, time_s))
            for time_s in times
        ),
        events_s=dict(sorted(moments.items(), key=lambda item: item[1])),
        outcome=OUTCOMES[left.outcome],
    )


STEP_S = 0.008
"""Spacing of the points within a burnback: fine enough for a picture (choice)."""
COAST_POINTS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0)
"""Points along a coast, over its time to rest (choice)."""
ARC_START_US = ARC_START_S * 1e6
"""From contactor on to the arc where no sensor tells (derived)."""


@dataclass(frozen=True)
class WeldEnd:
    """What one burnback left."""

    at_us: int
    """When arc and wire had come to rest."""
    extension_mm: float
    outcome: str
    """One of burnback.OUTCOMES."""


@dataclass(frozen=True)
class WireTrack:
    """Points in order of time, joined by straight lines; all of one length."""

    time_us: tuple[float, ...]
    extension_mm: tuple[float, ...]
    """From the contact tip to the wire's end; beyond the distance where wire is pushed into the work or inched."""
    arc_length_mm: tuple[float, ...]
    """From the wire's end to the puddle; 0 while no arc burns."""
    distance_mm: float
    ends: tuple[WeldEnd, ...]
    """What each burnback left, in order of time."""

    @property
    def arc_scale_mm(self) -> float:
        """Full height of a scale for the arc length: the longest arc, up to the next half millimetre."""
        return max(math.ceil(2 * max(self.arc_length_mm)) / 2, 1.0)


class _Pen:
    """Collects points, never going back in time."""

    def __init__(self, case: BurnbackCase, at_us: float, extension_mm: float) -> None:
        self.case = case
        self.points: list[tuple[float, float, float]] = [(at_us, extension_mm, 0.0)]

    @property
    def at_us(self) -> float:
        return self.points[-1][0]

    @property
    def extension_mm(self) -> float:
        return self.points[-1][1]

    @property
    def burning(self) -> bool:
        return self.points[-1][2] > 0

    def cold(self, at_us: float, extension_mm: float) -> None:
        """Go on without an arc."""
        self.points.append((max(at_us, self.at_us), extension_mm, 0.0))

    def hot(self, at_us: float, extension_mm: float) -> None:
        """Go on with the arc burning from the wire's end to the work."""
        arc_mm = max(self.case.distance_mm - extension_mm, 0.0)
        self.points.append((max(at_us, self.at_us), extension_mm, arc_mm))

    def rest(self, until_us: float) -> None:
        """Stay as it is."""
        self.points.append((max(until_us, self.at_us), *self.points[-1][1:]))


def wire_track(design: Design, timeline: Timeline) -> WireTrack:
    """Return the traces of the wire's end along a timeline of `design`, with every input at its likely value.

    At the start the wire stands as the design's burnback setting leaves it. Raises ProcessError when no steady arc is
    possible.
    """
    case = burnback_case(design)
    actual = actual_edges(design, timeline)
    feeding = on_spans_us(actual[Output.WIRE], timeline.end_us)
    voltage = on_spans_us(actual[Output.CONTACTOR], timeline.end_us)
    left = run_likely(case, [burnback_setting_s(design)])[0]
    pen = _Pen(case, timeline.start_us, min(left.extension_mm, case.distance_mm))
    ends: list[WeldEnd] = []
    nexts_us = [from_us for from_us, _ in feeding[1:]] + [None]
    for (from_us, to_us), fed_us in zip(feeding, nexts_us, strict=False):
        next_us = timeline.end_us if fed_us is None else fed_us
        pen.rest(from_us)
        live = next((span for span in voltage if span[0] < to_us and span[1] > from_us), None)
        burning = live is not None and _start_arc(pen, live, to_us)
        if live is None:
            pen.cold(to_us, pen.extension_mm + case.feed_mm_s * (to_us - pen.at_us) / 1e6)
        if to_us >= timeline.end_us:
            break
        if live is not None and burning:
            end, rests = _burn_back(pen, to_us - case.wire_off.typical_s * 1e6, live[1], next_us)
            ends += [end] if rests or fed_us is None else []
        elif live is None:
            _coast(pen, to_us, next_us)
    pen.rest(timeline.end_us)
    time_us, extension_mm, arc_mm = zip(*pen.points, strict=True)
    return WireTrack(time_us, extension_mm, arc_mm, case.distance_mm, tuple(ends))


def likely_wire_track(design: Design, timeline: Timeline) -> WireTrack | None:
    """Return the same, or None where no arc can burn."""
    try:
        return wire_track(design, timeline)
    except ProcessError:
        return None


def _start_arc(pen: _Pen, live: tuple[int, int], to_us: float) -> bool:
    """Feed the wire to the work and start the arc; False where the drive or the voltage goes before it burns."""
    case = pen.case
    steady_mm = float(case.operating_point().extension_mm)
    if not pen.burning:
        # Wire inched too far is cut or bent; it touches at once.
        reach_mm = max(case.distance_mm - pen.extension_mm, 0.0)
        touch_us = pen.at_us + reach_mm / case.feed_mm_s * 1e6
        if touch_us >= to_us:
            pen.cold(to_us, pen.extension_mm + case.feed_mm_s * (to_us - pen.at_us) / 1e6)
            return False
        pen.cold(touch_us, case.distance_mm)
        pen.cold(live[0], case.distance_mm)
        if pen.at_us + ARC_START_US >= min(to_us, live[1]):
            pen.cold(to_us, case.distance_mm)
            return False
    pen.hot(pen.at_us + ARC_START_US, steady_mm)
    pen.hot(to_us, steady_mm)
    return True


def _burn_back(pen: _Pen, command_us: float, cut_us: float, next_us: float) -> tuple[WeldEnd, bool]:
    """Draw a burnback from the wire drive's command off to `next_us`; return its end, and whether it rests by then."""
    case = pen.case
    # Nothing after `next_us` is drawn, so a contactor that stays on need not be followed further.
    last_us = min(cut_us, next_us + case.contactor_off.typical_s * 1e6)
    setting_s = max((last_us - command_us) / 1e6 - case.contactor_off.typical_s, 0.0)
    trace = burnback_trace(case, setting_s, STEP_S)
    pen.points = [point for point in pen.points if point[0] <= command_us] or pen.points[:1]
    for time_s, extension_mm, current_a in zip(trace.time_s, trace.extension_mm, trace.current_a, strict=True):
        at_us = command_us + float(time_s) * 1e6
        if time_s < 0:
            continue
        if at_us <= next_us:
            (pen.hot if current_a > 0 else pen.cold)(at_us, float(extension_mm))
    rest_us = round(command_us + float(trace.time_s[-1]) * 1e6)
    return WeldEnd(rest_us, float(trace.extension_mm[-1]), trace.outcome), rest_us <= next_us


def _coast(pen: _Pen, from_us: float, next_us: float) -> None:
    """Let the wire coast on, without an arc."""
    case, base_mm = pen.case, pen.extension_mm
    release = Release.coasting(case.coast_s, case.friction.median)
    rest_s = release.coast.rest_s(AT_REST_MM / case.feed_mm_s)
    for share in COAST_POINTS:
        after_s = min(share * rest_s, max(next_us - from_us, 0.0) / 1e6)
        run_mm = wire_run_mm(release, case.feed_mm_s, after_s)
        pen.cold(from_us + after_s * 1e6, base_mm + float(run_mm))
