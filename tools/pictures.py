"""The pictures of README and docs that are made from the examples."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from codegen.charts.burnback import Asked, burnback_svg
from codegen.charts.spot import spot_setting, spot_svg
from codegen.charts.timeline import timeline_svg
from codegen.drawings.feeder_ladder import feeder_sheets
from codegen.drawings.recorder_schematic import recorder_schematic
from codegen.drawings.recorder_uses import uses_sheet
from codegen.drawings.schematic import schematic
from codegen.papers.board_pages import component_page
from codegen.papers.dial_pages import MARGIN_MM, panel_pages
from codegen.papers.disc_pages import disc_page
from codegen.papers.shapes import BOTH, BOTH_ACROSS, Circle, Line, Page, Polygon, Shape, Text, page_svg
from codegen.recorder_folder import disc_paper
from codegen.recorder_papers import DiscWish, RecorderSource
from timing.design.design import Design
from timing.design.loading import load_design
from timing.placement.place import LAYOUT_MOVES
from timing.process.burnback_curve import burnback_curve, curve_settings_s
from timing.process.case import burnback_case, wire_speeds_mm_s
from timing.project import Project
from timing.sequence.simulate import simulate, usual_script
from tools.terminal_picture import commission_terminal
from wirecue import __version__
from wirecue.board_layouts import laid_out_board
from wirecue.projects import load_board, load_project

ROOT = Path(__file__).parent.parent
SEED = 24
"""Of the strip board: what `wirecue layout` begins with."""


def _path(name: str) -> Path:
    return ROOT / "examples" / f"{name}.toml"


def _example(name: str) -> Design:
    return load_design(_path(name))


def spot_stitch() -> Project:
    """Return the example that the pages walk through."""
    return load_project(_path("spot_stitch"))


def timeline() -> str:
    """Return a stitch weld, commanded above actual."""
    design = _example("spot_stitch")
    return timeline_svg(design, simulate(design, usual_script(design)))


def burnback() -> str:
    """Return what each burnback setting leaves of the wire, for spots and stitches."""
    design = _example("spot_stitch")
    time, case = design.times.burnback, burnback_case(design)
    setting_s = time.setting_us / 1e6
    settings_s = np.unique(np.append(curve_settings_s(case, time.high_us / 1e6), setting_s))
    curve = burnback_curve(case, settings_s, speeds_mm_s=wire_speeds_mm_s(design))
    return burnback_svg(design.title, curve, Asked(setting_s, "in the design"))


def feeder_found() -> str:
    """Return the shop feeder before anything was changed, with the wires to cut."""
    return feeder_sheets(load_project(_path("shop_two_step")))[0]


def feeder_changed() -> str:
    """Return the same feeder with the add-on's terminals in it."""
    return feeder_sheets(load_project(_path("shop_two_step")))[1]


def spot() -> str:
    """Return how wide a spot fuses two sheets, over the spot time."""
    project = spot_stitch()
    found = project.advice.spot
    if found is None or found.main.fused is None:
        raise ValueError(f"{project.design.name} has no spot without a hole: there is nothing to draw")
    return spot_svg(project.design.title, found.main.fused, spot_setting(project.design))


def dials() -> str:
    """Return the plates of the panel."""
    return _filled_part(panel_pages(spot_stitch(), __version__, BOTH)[0])


def _filled_part(page: Page) -> str:
    """Return a page without what is empty at its foot."""
    deepest_mm = max(map(_lowest_mm, page.shapes)) + MARGIN_MM
    return page_svg(Page(replace(page.paper, height_mm=deepest_mm), page.shapes))


def _lowest_mm(shape: Shape) -> float:
    match shape:
        case Line():
            return max(shape.y1, shape.y2)
        case Circle():
            return shape.y + shape.radius
        case Polygon():
            return max(y for _, y in shape.points)
        case Text():
            return shape.y


def first_schematic() -> str:
    """Return the sheet of the schematic with supply and trigger."""
    return schematic(spot_stitch())[0]


def _recorder() -> RecorderSource:
    """The recorder of that example, on a board of its own."""
    return RecorderSource(spot_stitch(), load_board("nano"), __version__, disc_wish=DiscWish(roll_mm=35.0))


def recorder_at_machine() -> str:
    """Return where the recorder's leads go at the machine."""
    source = _recorder()
    return uses_sheet(source.drawing, "machine", source.uses["machine"])


def recorder_circuits_sheet() -> str:
    """Return the first sheet of the recorder's schematic."""
    return recorder_schematic(_recorder().drawing)[0]


def recorder_disc() -> str:
    """Return the page with disc, marks and flag."""
    return _filled_part(disc_page(disc_paper(_recorder()), BOTH))


def strip_board() -> str:
    """Return the side of the strip board that parts lie on. Laid out in some twenty seconds, then kept."""
    return _filled_part(component_page(laid_out_board(spot_stitch(), SEED, LAYOUT_MOVES, lambda _: None), BOTH_ACROSS))


PICTURES = {
    "timeline.svg": timeline,
    "burnback.svg": burnback,
    "spot.svg": spot,
    "dials.svg": dials,
    "schematic.svg": first_schematic,
    "feeder-found.svg": feeder_found,
    "feeder-changed.svg": feeder_changed,
    "commission-terminal.svg": commission_terminal,
    "recorder-schematic.svg": recorder_circuits_sheet,
    "recorder-machine.svg": recorder_at_machine,
    "recorder-disc.svg": recorder_disc,
}
"""File below docs/, and what makes it."""
SLOW_PICTURES = {"strip-board.svg": strip_board}
"""Those that take long: the quick tests look whether they are of the circuit as it is now."""
