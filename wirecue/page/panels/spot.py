"""The spot curve: how wide two sheets are fused over the spot time; only where the design makes spots."""

from __future__ import annotations

from html import escape

from nicegui import ui

from codegen.charts.spot import spot_setting, spot_svg
from timing.process.advice import rhythm_advice
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.process.spot import SpotDial
from timing.project import Project
from wirecue.page.cards import Fold, folded_card
from wirecue.page.screen import Screen, in_page, show_fresh
from wirecue.page.shared import findings_key
from wirecue.page.watched import follow_while_open, watched
from wirecue.page.words import told_list

_NOTE = "How wide the sheets are fused after how long, and from when they may burn through."


def spot_panel(screen: Screen) -> None:
    """Show the curve, folded until it is wanted; nothing where the design has no spot."""
    fold = folded_card("spot-curve", _NOTE, lambda fold: _fill(screen, fold))

    def show_fitted() -> None:
        fold.section.set_visibility(screen.shared.project.design.spot is not None)

    screen.follow(screen.shared.changed, show_fitted)


def spot_picture(project: Project) -> str:
    """Return the picture of a design's spot as HTML, or in words what there is in its place."""
    design = project.design
    try:
        dial = rhythm_advice(design, burnback_case(design)).spot
    except ProcessError as impossible:
        return f"<p>{escape(str(impossible))}</p>"
    if dial is None:
        return "<p>The design makes no spots.</p>"
    fused = dial.main.fused
    if fused is None:
        return _filled_hole(dial)
    return in_page(
        spot_svg(design.title or design.name, fused, spot_setting(design)), "fused", "width fused by spot time"
    )


def _filled_hole(dial: SpotDial) -> str:
    main = dial.main
    return told_list(
        [
            f"A spot through a hole is filled, not fused: {main.setting_s:.2f} s for a hole of {main.hole_mm or 0:.0f} "
            f"mm in {main.sheet_mm:.1f} mm sheet. There is no curve of it; `wirecue advise` has the reasons.",
        ]
    )


def _fill(screen: Screen, fold: Fold) -> None:
    with ui.element("div").classes("picture").props('tabindex="0" aria-label="spot picture"'):
        picture = ui.html('<p class="note">computing ...</p>', sanitize=False).props('data-testid="spot-curve"')

    def show(found: str, fresh: bool) -> None:
        picture.set_content(found)
        show_fresh(picture, fresh)

    follow_while_open(screen, fold, watched(screen.shared, spot_picture, findings_key), show)
