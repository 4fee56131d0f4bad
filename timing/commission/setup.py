"""Where switches and dials stand for a step: what the panel can do, and nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from timing.circuit.dial import PanelDial
from timing.circuit.panel_contacts import SELECTOR_TURNED
from timing.commission.step import DialPosition, PanelSetup
from timing.design.front_panel import WeldMode, switch_positions
from timing.project import Project


def reach_us(project: Project, name: str) -> tuple[int, int]:
    """Return the shortest and the longest that a time can be set to at the panel; alike where it has no dial."""
    dial = project.dials.get(name)
    if dial is None:
        setting_us = project.features.times[name].setting_us
        return setting_us, setting_us
    low_us, high_us = dial.reach_us
    return max(low_us, dial.setting.low_us), min(high_us, dial.setting.high_us)


def set_us(project: Project, name: str, wanted_us: int | None = None) -> int:
    """Return the time nearest to the wanted one, or to the design's, that the panel can be set to."""
    low_us, high_us = reach_us(project, name)
    wanted_us = project.features.times[name].setting_us if wanted_us is None else wanted_us
    return min(max(wanted_us, low_us), high_us)


def mark(dial: PanelDial, time_us: int) -> str:
    """Return what the plate says where a time stands, to what an eye can set: '130 ms', '1.2 s'."""
    unit_us, unit = dial.plate_unit
    return f"{time_us / unit_us:.3g} {unit}"


def setup_for(
    project: Project,
    weld: WeldMode,
    *,
    four_step: bool = False,
    off: Iterable[str] = (),
    dials_us: Mapping[str, int] | None = None,
) -> PanelSetup:
    """Return where every switch stands for a weld, and every dial that counts for it; the others may stand anywhere.

    off: times switched off beside spot and stitch. dials_us: times wanted that are not the design's own; each is taken
    to the nearest that its dial gives. Raises ValueError where the switches cannot stand so.
    """
    wanted_us, idle = dials_us or {}, {*off, *_IDLE[weld]}
    dials = tuple(
        DialPosition(name, time_us, mark(dial, time_us))
        for name, dial in project.dials.items()
        if name not in idle
        for time_us in (set_us(project, name, wanted_us.get(name)),)
    )
    return PanelSetup(switch_positions(project.design, weld, four_step=four_step, off=off), dials)


def spot_gone_wrong(project: Project, goes_on: str) -> str:
    """Return what to do if a spot does not end as it should: `goes_on`, and with a selector what else it can show."""
    return f"{goes_on} {SELECTOR_TURNED}" if project.design.panel.has_selector else goes_on


_IDLE = {WeldMode.CONTINUOUS: ("spot", "pause"), WeldMode.SPOT: ("pause",), WeldMode.STITCH: ()}
"""Times that a way to weld does not use."""
