"""One burnback as it runs, over time: for the traces of a simulation and for a picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from timing.process.arc import Plant
from timing.process.arrays import Floats
from timing.process.burnback import FUSED, OUTCOMES, Release, run_burnback, run_uncut, wire_run_mm, wire_speed_mm_s
from timing.process.case import BurnbackCase
from timing.process.errors import require_positive

AT_REST_MM = 0.01
"""The wire counts as at rest when less than this is still to come (choice)."""


@dataclass(frozen=True)
class BurnbackTrace:
    """Traces over time, all of shape (times,), and the moments between them.

    Time counts in seconds from the wire drive's command off; the release lies the trigger filter before it.
    """

    time_s: Floats
    extension_mm: Floats
    arc_length_mm: Floats
    """From the wire's end to the puddle; below 0 where the wire stands in it."""
    current_a: Floats
    wire_speed_mm_s: Floats
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
    run = run_burnback(plant, point, release, case.end, np.array([setting_s]))
    cut_s = setting_s + case.contactor_off.typical_s
    arc_out_s = float(run.arc_out_s[0, 0])
    rest_mm = float(run.extension_mm[0, 0])
    speed = float(plant.feed_mm_s[0])
    rest_s = _rest_s(case)
    until_s = max(rest_s, arc_out_s, cut_s) + 0.05
    times = np.arange(-case.filter_s, until_s + step_s / 2, step_s)

    burning = times[(times > 0) & (times < min(cut_s, arc_out_s))]
    path_mm, path_a = run_uncut(plant, point, release, case.end, burning)
    known_s = np.concatenate([[-case.filter_s, 0.0], burning, [arc_out_s]])
    out_mm = _coasting_mm(plant, release, rest_mm, np.array([arc_out_s]))
    start = [float(run.start_mm[0])] * 2
    known_mm = np.concatenate([start, path_mm[:, 0], out_mm])
    steady_a = [float(point.current_a[0])] * 2
    known_a = np.concatenate([steady_a, path_a[:, 0], [0.0]])
    fused = int(run.outcome[0, 0]) == FUSED
    after_mm = np.full(times.size, rest_mm) if fused else _coasting_mm(plant, release, rest_mm, times)
    extension = np.where(times < arc_out_s, np.interp(times, known_s, known_mm), after_mm)
    current = np.where(times < arc_out_s, np.interp(times, known_s, known_a), 0.0)
    speeds = np.where(times < 0, speed, wire_speed_mm_s(release, plant.feed_mm_s, times))
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
        time_s=times,
        extension_mm=extension,
        arc_length_mm=case.distance_mm - extension,
        current_a=current,
        wire_speed_mm_s=speeds,
        events_s=dict(sorted(moments.items(), key=lambda item: item[1])),
        outcome=OUTCOMES[int(run.outcome[0, 0])],
    )


def _coasting_mm(plant: Plant, release: Release, rest_mm: float, times_s: Floats) -> Floats:
    """Extension at times after arc-out: the rest position less what is still to come."""
    run_mm = wire_run_mm(release, plant.feed_mm_s, np.maximum(times_s, 0.0))
    return rest_mm - (wire_run_mm(release, plant.feed_mm_s, np.inf) - run_mm)


def _rest_s(case: BurnbackCase) -> float:
    """When the wire has AT_REST_MM still to come, or none with a brake."""
    if case.braked:
        return case.wire_off.typical_s + 2 * case.coast_s
    beyond = case.feed_mm_s * case.coast_s / AT_REST_MM
    return case.wire_off.typical_s + case.coast_s * float(np.log(max(beyond, 1.0)))
