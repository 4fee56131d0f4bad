"""The wire end and the supply: pictures that take a moment to compute."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

from nicegui import ui

from codegen.burnback_svg import Asked, burnback_svg
from wirecue.page.look import in_page
from wirecue.page.screen import Screen
from wirecue.page.shared import Topic


def wire_end_panel(screen: Screen) -> None:
    """Show what each burnback leaves of the wire, with the design's own setting marked."""
    picture = _picture("Wire end", "What each burnback leaves of the wire, with band and window.", "wire-end")

    def show() -> None:
        curve, design = screen.shared.curve, screen.shared.project.design
        if curve is None:
            return
        if isinstance(curve, str):
            picture.set_content(f'<p class="note">{escape(curve)}</p>')
            return
        asked = Asked(design.times.burnback.setting_us / 1e6, "in the design")
        svg = burnback_svg(design.title or design.name, curve, asked)
        picture.set_content(in_page(svg, "burnback", "extension left after burnback, by setting"))

    screen.follow(screen.shared.curved, show)
    _dim_while_stale(screen, picture, lambda: screen.shared.curve_is_fresh, screen.shared.curved)


def supply_panel(screen: Screen) -> None:
    """Show the supply's bars."""
    picture = _picture("24 VAC supply", "Reservoir and winding against their limits.", "supply")

    def show() -> None:
        if screen.shared.supply is not None:
            picture.set_content(in_page(screen.shared.supply, "supply", "24 VAC supply against its limits"))

    screen.follow(screen.shared.supplied, show)
    _dim_while_stale(screen, picture, lambda: screen.shared.supply_is_fresh, screen.shared.supplied)


def _dim_while_stale(screen: Screen, picture: ui.html, fresh: Callable[[], bool], topic: Topic) -> None:
    """Let a picture of an earlier state be seen as such until the new one has come."""

    def show() -> None:
        if fresh():
            picture.classes(remove="stale")
        else:
            picture.classes(add="stale")

    screen.follow(screen.shared.changed, show)
    screen.follow(topic, show)


def _picture(title: str, note: str, name: str) -> ui.html:
    with ui.element("section").classes(f"card place-{name}").props(f'aria-label="{title}"'):
        ui.html(title, sanitize=False, tag="h2")
        ui.label(note).classes("note")
        with ui.element("div").classes("picture").props(f'tabindex="0" aria-label="{title} picture"'):
            return ui.html('<p class="note">computing ...</p>', sanitize=False).props(f'data-testid="{name}"')
