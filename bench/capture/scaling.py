"""The model as a board with a fast or a slow clock runs it: how far an edge may move for that alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from timing.protocol.target import Target
from timing.sequence.core.dial_scale import TIME_FRACTION_BITS
from timing.sequence.core.engine import Rig
from timing.sequence.core.script import Change, Script


@dataclass(frozen=True)
class Pace:
    """How long a board takes for what the design calls a time: that share of it, and that much of a dial's step."""

    share: float
    steps: float

    def of(self, time_us: int) -> int:
        """Return a fixed time as this board takes it."""
        return round(time_us * self.share)


def paces(clock_tolerance_ppm: int) -> tuple[Pace, Pace]:
    """Return the fastest and the slowest board within the tolerance of its clock.

    A dial is read in whole counts: the time that it gives lies up to half a count from where the knob stands.
    """
    stray = clock_tolerance_ppm / 1e6
    return Pace(1 - stray, -0.5), Pace(1 + stray, 0.5)


def paced_rig(target: Target, pace: Pace, dials_us: Mapping[str, int]) -> Rig:
    """Return the target's rig with every time as a board of that pace takes it; `dials_us` stand in for the dials."""
    rig = target.rig
    settings, of = rig.settings, pace.of
    times_us = {**rig.times_us, **dials_us}
    return replace(
        rig,
        settings=replace(
            settings,
            open_us=of(settings.open_us),
            settle_us=of(settings.settle_us),
            purge_limit_us=of(settings.purge_limit_us),
            inch_limit_us=of(settings.inch_limit_us),
            weld_limit_us=None if settings.weld_limit_us is None else of(settings.weld_limit_us),
            arc_limit_us=None if settings.arc_limit_us is None else of(settings.arc_limit_us),
            arc_end_us=None if settings.arc_end_us is None else of(settings.arc_end_us),
            longest_us={name: of(time_us) for name, time_us in settings.longest_us.items()},
        ),
        filters_us={role: (of(filter_us), of(bridge_us)) for role, (filter_us, bridge_us) in rig.filters_us.items()},
        times_us={name: _time_us(target, pace, name, time_us) for name, time_us in times_us.items()},
        supply_filter_us=of(rig.supply_filter_us),
    )


def paced_script(target: Target, pace: Pace, script: Script) -> Script:
    """Return a script whose dials give times as a board of that pace takes them; its instants stay."""
    changes = tuple(
        replace(change, value=_time_us(target, pace, change.what[5:], change.value)) if _is_dial(change) else change
        for change in script.changes
    )
    return Script(changes, script.end_us)


def _is_dial(change: Change) -> bool:
    return change.what.startswith("dial ")


def _time_us(target: Target, pace: Pace, name: str, time_us: int) -> int:
    scale = target.scales.get(name)
    step_us = 0.0 if scale is None else scale.step_q4_us / (1 << TIME_FRACTION_BITS)
    return max(round(time_us * pace.share + pace.steps * step_us), 0)
