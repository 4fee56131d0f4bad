"""From a design and a trigger script to a timeline: what the board commands, and when the loads really follow.

Valves, motors and contactors respond late, and to short commands not at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from timing.design.board import SUPPLY_SENSE
from timing.design.design import Design
from timing.design.features import Features, features_of
from timing.design.feeder import Actuator
from timing.design.suppression import off_delay_of, on_delay_of
from timing.design.text_file import Complaint, DesignFileError
from timing.design.units import format_duration
from timing.once import once
from timing.sequence.core.columns import Condition, Dialled
from timing.sequence.core.engine import Edge, Rig, Timeline, run_script
from timing.sequence.core.scan import Scanner, step
from timing.sequence.core.script import Change, Dial, Script, Switch
from timing.sequence.core.settings import Settings, specialise
from timing.sequence.core.table import TABLE, Output, Phase
from timing.sequence.of_design import settings_of
from timing.sequence.script_text import words_of


@once
def rig_of(design: Design) -> Rig:
    """Return `design`'s sequence with every dial at its setting and every switch on."""
    features, constants = features_of(design), settings_of(design)
    settings = features.times
    return Rig(
        table=specialise(TABLE, constants.fixed),
        settings=constants,
        filters_us={role: (filter_us, features.bridge_us(role)) for role, filter_us in features.filters_us.items()},
        times_us={name: setting.setting_us for name, setting in settings.items()},
        switches=dict.fromkeys(settings, True),
        four_step=design.trigger.mode == "four-step",
        supply_filter_us=design.supply.sense.filter_us if design.supply.sense else 0,
    )


def simulate(design: Design, script: Script, *, settled: bool = True, scan: Scanner = step) -> Timeline:
    """Run `script` on `design`; `settled` starts in idle, otherwise at power-up; `scan` reads the phase table.

    The contact behind an ac sense is taken as seen without gaps: its edges are the earliest possible.

    Raises DesignFileError when the script moves something that the design does not have, or turns a dial past
    its ends.
    """
    features = features_of(design)
    complaints = [complaint for change in script.changes if (complaint := _impossible(features, change)) is not None]
    if complaints:
        raise DesignFileError("script", complaints[:1])
    return run_script(rig_of(design), script, settled=settled, scan=scan)


_FITTED_BY = {
    "purge": "buttons.purge = true",
    "inch": "buttons.inch = true",
    "arc": "[arc_sensor]",
    "interlock": "interlock.fitted = true",
    "four_step": 'trigger.mode = "switch"',
}
"""What puts a contact into a design, by its role."""


def _impossible(features: Features, change: Change) -> Complaint | None:
    """Return why a design has nothing that such a change could move, or cannot be turned so far; None: it has."""
    fitted = {
        **{role: (features.fitted[role], key) for role, key in _FITTED_BY.items()},
        "supply": (features.fitted[SUPPLY_SENSE.key], "supply.sense"),
        "dial_fault": (bool(features.dialled), "a dial"),
    }
    settings, setting = features.times, None
    match change.what:
        case Dial(name):
            setting = settings.get(name)
            present, key = setting is not None and setting.dial, f"a dial for {name}"
        case Switch(name):
            switched = settings.get(name)
            present, key = switched is not None and switched.off_switch, f"an off_switch for {name}"
        case contact:
            present, key = fitted.get(contact, (True, ""))
    found = f"{words_of(change)!r} in the script"
    if not present:
        return Complaint("", found, f"only what the design has; this needs {key} in it")
    if setting is not None and not setting.low_us <= change.value <= setting.high_us:
        ends = f"{format_duration(setting.low_us)} to {format_duration(setting.high_us)}"
        return Complaint("", found, f"{ends} on that dial")
    return None


CHANGES_HEAD = ("time_us", "trace", "value")
"""Columns of a timeline as a table of changes; what writes such tables and what reads them agree here."""
PRESS_US = 100_000
HELD_US = 1_500_000
TAP_US = 300_000
ARC_STARTS_US = 80_000


def usual_script(design: Design, *, settled: bool = True) -> Script:
    """Return press and release of an ordinary weld: held in two-step, tapped twice in four-step.

    settled: as `simulate` takes it; from power-up the press waits until hold-off is over.
    With an arc sensor the arc strikes a little after each contactor-on; with stitching two spots fit in the pull.
    """
    settings = settings_of(design)
    script = _from_idle(design, settings)
    if settled:
        return script
    hold_off_us = settings.settle_us + settings.open_us
    return Script(tuple(replace(change, at_us=change.at_us + hold_off_us) for change in script.changes))


def _from_idle(design: Design, settings: Settings) -> Script:
    weld_us = PRESS_US + design.trigger.filter_us + _lasts_us(design, Phase.PREFLOW)
    if settings.fixed.get(Condition.FOUR_STEP) is True or design.trigger.mode == "four-step":
        second_us = weld_us + HELD_US
        return Script(
            (
                Change(PRESS_US, "trigger", 1),
                Change(PRESS_US + TAP_US, "trigger", 0),
                Change(second_us, "trigger", 1),
                Change(second_us + TAP_US, "trigger", 0),
            )
        )
    if design.spot is None:
        release_us = weld_us + HELD_US
        return _with_arc(design, [(weld_us, release_us)], release_us)
    spot_us = _lasts_us(design, Phase.WELD) + (ARC_STARTS_US if design.arc_sensor else 0)
    after_spot_us = weld_us + spot_us + _lasts_us(design, Phase.BURNBACK)
    if design.stitch is None:
        return _with_arc(design, [(weld_us, weld_us + spot_us)], after_spot_us + HELD_US // 3)
    second_us = after_spot_us + _lasts_us(design, Phase.PAUSE)
    release_us = second_us + spot_us + _lasts_us(design, Phase.BURNBACK) // 2
    return _with_arc(design, [(weld_us, weld_us + spot_us), (second_us, second_us + spot_us)], release_us)


def _lasts_us(design: Design, phase: Phase) -> int:
    """Return the setting of the time that ends a phase; 0 where the design has none."""
    lasts = TABLE[phase].time.lasts
    setting = design.setting(lasts.name) if isinstance(lasts, Dialled) else None
    return 0 if setting is None else setting.setting_us


def _with_arc(design: Design, welds_us: list[tuple[int, int]], release_us: int) -> Script:
    changes = [Change(PRESS_US, "trigger", 1), Change(release_us, "trigger", 0)]
    if design.arc_sensor is not None:
        filter_us = design.arc_sensor.filter_us
        on_alone_us = _lasts_us(design, Phase.BURNBACK)
        for begin_us, end_us in welds_us:
            changes.append(Change(begin_us + ARC_STARTS_US - filter_us, "arc", 1))
            changes.append(Change(end_us + on_alone_us, "arc", 0))
    return Script(tuple(sorted(changes, key=lambda change: change.at_us)))


def lagged(edges: Sequence[Edge], on_delay_us: int, off_delay_us: int) -> tuple[Edge, ...]:
    """Return when one load really switches, given the commanded edges of its output in order of time.

    A command that is taken back before its delay is over has no effect: armature and plunger have inertia.
    """
    actual: list[Edge] = []
    for edge in edges:
        # What was still under way is overtaken by the new command.
        while actual and actual[-1].at_us >= edge.at_us:
            actual.pop()
        acting = bool(actual) and actual[-1].on
        if acting != edge.on:
            delay_us = on_delay_us if edge.on else off_delay_us
            actual.append(Edge(edge.at_us + delay_us, edge.output, edge.on))
    return tuple(actual)


def loads_of(design: Design) -> dict[Output, Actuator]:
    """Return the load on each output of `design`; gasless designs have no gas valve."""
    loads: dict[Output, Actuator] = {Output.WIRE: design.feeder.wire_drive, Output.CONTACTOR: design.feeder.contactor}
    if design.feeder.gas_valve is not None:
        loads = {Output.GAS: design.feeder.gas_valve, **loads}
    return loads


def actual_edges(design: Design, timeline: Timeline) -> dict[Output, tuple[Edge, ...]]:
    """Return the actual edges of every load at its typical delays, the suppression of its coil counted.

    The wire drive's edge is the motor losing its supply; the wire coasts on from there.
    """
    return {
        output: lagged(timeline.edges_of(output), on_delay_of(load).typical_us, off_delay_of(design, load).typical_us)
        for output, load in loads_of(design).items()
    }
