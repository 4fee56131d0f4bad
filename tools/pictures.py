"""The pictures that the README shows, made from the examples."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from codegen.charts.burnback import Asked, burnback_svg
from codegen.charts.timeline import timeline_svg
from codegen.drawings.feeder_ladder import feeder_sheets
from timing.design.design import Design
from timing.design.loading import load_design
from timing.process.burnback_curve import burnback_curve, curve_settings_s
from timing.process.case import burnback_case, wire_speeds_mm_s
from timing.sequence.simulate import simulate, usual_script
from tools.terminal_picture import commission_terminal
from wirecue.projects import load_project

ROOT = Path(__file__).parent.parent


def _example(name: str) -> Design:
    return load_design(ROOT / "examples" / f"{name}.toml")


def timeline() -> str:
    """Return a stitch weld, commanded above actual."""
    design = _example("spot_stitch")
    return timeline_svg(design, simulate(design, usual_script(design)))


def burnback() -> str:
    """Return what each burnback setting leaves of the wire, on the shop feeder."""
    design = _example("shop_two_step")
    time, case = design.times.burnback, burnback_case(design)
    setting_s = time.setting_us / 1e6
    settings_s = np.unique(np.append(curve_settings_s(case, time.high_us / 1e6), setting_s))
    curve = burnback_curve(case, settings_s, speeds_mm_s=wire_speeds_mm_s(design))
    return burnback_svg(design.title, curve, Asked(setting_s, "in the design"))


def feeder_found() -> str:
    """Return the shop feeder before anything was changed, with the wires to cut."""
    return feeder_sheets(load_project(ROOT / "examples" / "shop_two_step.toml"))[0]


def feeder_changed() -> str:
    """Return the same feeder with the add-on's terminals in it."""
    return feeder_sheets(load_project(ROOT / "examples" / "shop_two_step.toml"))[1]


PICTURES = {
    "timeline.svg": timeline,
    "burnback.svg": burnback,
    "feeder-found.svg": feeder_found,
    "feeder-changed.svg": feeder_changed,
    "commission-terminal.svg": commission_terminal,
}
"""File below docs/, and what makes it."""
