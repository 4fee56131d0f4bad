"""From a design and a trigger script to a timeline."""

from __future__ import annotations

from timing.design.design import Design
from timing.design.errors import Complaint, DesignFileError
from timing.design.units import format_duration
from timing.sequence.engine import Rig, run_script
from timing.sequence.of_design import filter_times_us, settings_of, table_of, time_settings
from timing.sequence.script import Change, Script
from timing.sequence.script_text import words_of
from timing.sequence.timeline import Timeline


def rig_of(design: Design) -> Rig:
    """Return `design`'s sequence with every dial at its setting and every switch on."""
    filters_us = {
        role: (filter_us, filter_us if role == "trigger" and design.trigger.sense == "ac" else 0)
        for role, filter_us in filter_times_us(design).items()
    }
    settings = time_settings(design)
    return Rig(
        table=table_of(design),
        settings=settings_of(design),
        filters_us=filters_us,
        times_us={name: setting.setting_us for name, setting in settings.items()},
        switches=dict.fromkeys(settings, True),
        four_step=design.trigger.mode == "four-step",
        supply_filter_us=design.supply.sense.filter_us if design.supply.sense else 0,
    )


def simulate(design: Design, script: Script, *, settled: bool = True) -> Timeline:
    """Run `script` on `design`; `settled` starts in idle, otherwise at power-up.

    The contact behind an ac sense is taken as seen without gaps: its edges are the earliest possible.

    Raises DesignFileError when the script moves something that the design does not have, or turns a dial past
    its ends.
    """
    complaints = [complaint for change in script.changes if (complaint := _impossible(design, change)) is not None]
    if complaints:
        raise DesignFileError("script", complaints[:1])
    return run_script(rig_of(design), script, settled=settled)


def _impossible(design: Design, change: Change) -> Complaint | None:
    fitted = {
        "purge": (design.buttons.purge, "buttons.purge = true"),
        "inch": (design.buttons.inch, "buttons.inch = true"),
        "arc": (design.arc_sensor is not None, "[arc_sensor]"),
        "interlock": (design.interlock.fitted, "interlock.fitted = true"),
        "supply": (design.supply.sense is not None, "supply.sense"),
        "four_step": (design.trigger.mode == "switch", 'trigger.mode = "switch"'),
        "dial_fault": (any(setting.dial for setting in time_settings(design).values()), "a dial"),
    }
    kind, _, name = change.what.partition(" ")
    setting = time_settings(design).get(name)
    if kind == "dial":
        present, key = setting is not None and setting.dial, f"a dial for {name}"
    elif kind == "switch":
        present, key = setting is not None and setting.off_switch, f"an off_switch for {name}"
    else:
        present, key = fitted.get(kind, (True, ""))
    found = f"{words_of(change)!r} in the script"
    if not present:
        return Complaint("", found, f"only what the design has; this needs {key} in it")
    if kind == "dial" and setting is not None and not setting.low_us <= change.value <= setting.high_us:
        ends = f"{format_duration(setting.low_us)} to {format_duration(setting.high_us)}"
        return Complaint("", found, f"{ends} on that dial")
    return None
