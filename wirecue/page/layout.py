"""The page as a whole: which panel stands where."""

from __future__ import annotations

from nicegui import ui

from wirecue.page.frame import CAUTION, frame
from wirecue.page.panels.advise import advise_panel
from wirecue.page.panels.bar import bar
from wirecue.page.panels.bench import bench_panel
from wirecue.page.panels.build import build_panel
from wirecue.page.panels.commissioning import commissioning_panel
from wirecue.page.panels.findings import findings_panel
from wirecue.page.panels.flash import flash_panel
from wirecue.page.panels.logbook import log_panel
from wirecue.page.panels.parts import parts_panel
from wirecue.page.panels.pictures import timeline_panel, wire_end_panel
from wirecue.page.panels.settings import settings_panel
from wirecue.page.panels.spot import spot_panel
from wirecue.page.panels.supply import supply_panel
from wirecue.page.panels.symptoms import symptoms_panel
from wirecue.page.panels.times import times_panel
from wirecue.page.panels.way import way_along
from wirecue.page.panels.welds import welds_panel
from wirecue.page.screen import Screen
from wirecue.page.shared import Shared


def show_page(shared: Shared) -> None:
    """Build the page for one browser tab."""
    screen = Screen(shared, ui.context.client)
    screen.client.on_delete(screen.close)
    frame("gone.html")
    ui.html('<a class="skip" href="#times">to the times</a>', sanitize=False)
    with ui.element("div").classes("top"):
        bar(screen)
        way_along(screen)
    with ui.element("div").classes("work"):
        with ui.element("div").classes("stack controls").props('id="times"'):
            times_panel(screen)
            settings_panel(screen)
        with ui.element("div").classes("stack"):
            advise_panel(screen)
            timeline_panel(screen)
            wire_end_panel(screen)
            spot_panel(screen)
            supply_panel(screen)
            findings_panel(screen)
            parts_panel(screen)
            build_panel(screen)
            bench_panel(screen)
            flash_panel(screen)
            commissioning_panel(screen)
            welds_panel(screen)
            log_panel(screen)
            symptoms_panel(screen)
            ui.label(CAUTION).classes("note place-caution")
    if shared.findings is None:
        shared.compute()
