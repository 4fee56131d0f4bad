"""The 24 VAC supply: whether it carries the add-on, its picture, its figures by day and by phase, and the way out."""

from __future__ import annotations

import asyncio
from html import escape

from nicegui import ui

from timing.checks.finding import Severity
from timing.checks.remedies import mended
from timing.power.montecarlo import SUPPLY_SEED, MonteCarlo, monte_carlo
from timing.power.record import (
    CORNER_HEAD,
    PHASE_HEAD,
    SPREAD_HEAD,
    SupplyReport,
    corner_figures,
    phase_figures,
    rated_current_a,
    spread_rows,
    supply_moments,
)
from timing.power.verdict import supply_verdict
from wirecue.page.cards import card
from wirecue.page.dialogs import ask_to_put_in
from wirecue.page.panels.pictures import dim_while_stale
from wirecue.page.screen import Screen, in_page
from wirecue.page.shared import supply_key
from wirecue.page.words import folded, told_html, told_list, told_table

DRAWN_FEEDERS = 2_000
"""Feeders that are drawn (choice)."""
_NOTE = "Whether the feeder's own winding carries the add-on, hot and on a bad day."


def supply_panel(screen: Screen) -> None:
    """Show the verdict, the picture, the figures, and the remedies."""
    with card("supply", _NOTE):
        with ui.element("div"):
            verdict = ui.html("", sanitize=False)
            verdict.props('role="status" aria-live="polite" data-testid="supply-verdict"')
        with ui.element("div").classes("strip no-print"):
            put_in = ui.button("Put the remedies into the design ...").props('outline data-testid="supply-put-in"')
            put_in.on_click(lambda: _ask(screen, put_in))
            draw = ui.button(f"Draw {DRAWN_FEEDERS} feeders within tolerances").props('flat data-testid="supply-draw"')
        with ui.element("div").classes("picture").props('tabindex="0" aria-label="24 VAC supply picture"'):
            picture = ui.html('<p class="note">computing ...</p>', sanitize=False).props('data-testid="supply"')
        with ui.element("div"):
            figures = ui.html("", sanitize=False).props('data-testid="supply-figures"')
        drawn = ui.html("", sanitize=False).props('role="status" aria-live="polite" data-testid="supply-drawn"')
        draw.on_click(lambda: _draw(screen, draw, drawn))

    def show_picture() -> None:
        if screen.shared.supply is not None:
            picture.set_content(in_page(screen.shared.supply, "supply", "24 VAC supply against its limits"))

    def show_words() -> None:
        checked = screen.shared.checked
        if checked is not None:
            verdict.set_content(verdict_html(checked.supply))
            figures.set_content(figures_html(checked.supply))
            put_in.set_visibility(bool(checked.remedies))

    def forget_drawn() -> None:
        # What was drawn of another supply must not stand beside this one.
        if drawn.content and not screen.shared.supply_is_fresh:
            drawn.set_content("")

    screen.follow(screen.shared.changed, forget_drawn)
    screen.follow(screen.shared.supplied, show_picture)
    screen.follow(screen.shared.found, show_words)
    dim_while_stale(screen, picture, lambda: screen.shared.supply_is_fresh, screen.shared.supplied)
    for words in (verdict, figures):
        dim_while_stale(screen, words, lambda: screen.shared.check_is_fresh, screen.shared.found)


async def _ask(screen: Screen, button: ui.button) -> None:
    document = screen.shared.document
    before, board = document.text, screen.shared.project.board
    button.disable()
    try:
        after = await asyncio.to_thread(mended, before, board)
    finally:
        button.enable()
    told = (
        "<p>The first way out of each error, as far as a change of the design is one, a divider by which the board "
        "measures its supply, and a fuse that fits the load.</p>"
    )
    ask_to_put_in(
        screen, "Put the supply's remedies into the design", before, after, undo="remedies of the supply", told=told
    )


async def _draw(screen: Screen, button: ui.button, drawn: ui.html) -> None:
    project = screen.shared.project
    button.disable()
    try:
        found = await asyncio.to_thread(monte_carlo, project.design, project.board, DRAWN_FEEDERS, SUPPLY_SEED)
    finally:
        button.enable()
    if supply_key(project) == supply_key(screen.shared.project):
        drawn.set_content(drawn_html(found))


def drawn_html(drawn: MonteCarlo) -> str:
    """Return what became of feeders drawn within their tolerances, as HTML."""
    head = (f"{drawn.draws} feeders drawn", *SPREAD_HEAD)
    return f"<h3>Feeders within tolerances</h3>{told_table(head, spread_rows(drawn), range(1, 6))}"


def verdict_html(report: SupplyReport) -> str:
    """Return whether the supply carries the add-on, and by what margin; with the way to what the rules say of it."""
    found = supply_verdict(report)
    number = sum(finding.severity is not Severity.INFO for finding in report.findings)
    more = '' if not number else (
        f' <a class="to-card" href="#at-findings">{number} finding{"" if number == 1 else "s"}</a> '
        f"of supply and circuits ask{'s' if number == 1 else ''} for something."
    )  # fmt: skip
    return f"<p><strong>{told_html(found.answer)}</strong> {told_html(found.margin)}{more}</p>"


def figures_html(report: SupplyReport) -> str:
    """Return the figures by day and by phase, and the moments between, as HTML."""
    budget = report.budget
    rated_a = rated_current_a(budget)
    phases = [
        (*phase_figures(one), f"{100 * float(one.state.winding_rms_a) / rated_a:.0f} %" if one.state.settled else "")
        for one in budget.phases
    ]
    days = told_table(CORNER_HEAD, map(corner_figures, budget.corners), range(1, 7))
    by_phase = told_table((*PHASE_HEAD, f"of {rated_a:.2f} A"), phases, range(1, 6))
    key = "degC: the regulator's junction."
    moments = told_list(f"{one.strip()[0].upper()}{one.strip()[1:]}." for one in supply_moments(budget))
    return folded(
        "Figures by day, by phase and in the moments between",
        f"<h3>By day</h3>{days}<p class='note'>{escape(key)}</p><h3>By phase</h3>{by_phase}<h3>Moments</h3>{moments}",
    )
