"""The way along the cards: a link to each, with how things stand there."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from timing.checks.finding import Finding, Severity, count
from wirecue.page.cards import STATIONS
from wirecue.page.panels.findings import SHAPES
from wirecue.page.screen import Screen


def way_along(screen: Screen) -> None:
    """Show a link to each card; those that this design has no use for are left out."""
    links: dict[str, ui.html] = {}
    with (
        ui.element("nav").classes("way no-print").props('aria-label="steps of the job"'),
        ui.element("ol"),
    ):
        for station in STATIONS:
            with ui.element("li"):
                links[station.key] = ui.html(station.word, sanitize=False, tag="a").props(
                    f'href="#at-{station.key}" data-way="{station.key}"'
                )

    def show_findings() -> None:
        findings = screen.shared.findings
        if findings is not None:
            _tell(links["findings"], "Check", *state_of(findings))

    def show_fitted() -> None:
        links["spot-curve"].set_visibility(screen.shared.project.design.spot is not None)

    screen.follow(screen.shared.found, show_findings)
    screen.follow(screen.shared.changed, show_fitted)


def state_of(findings: Sequence[Finding]) -> tuple[str, str]:
    """Return what the rules found: shape and number, and in words."""
    for severity in (Severity.ERROR, Severity.WARNING):
        number = sum(one.severity is severity for one in findings)
        if number:
            return f"{SHAPES[severity]}{number}", count(findings, severity)
    return "✓", "nothing found"


def _tell(link: ui.html, word: str, state: str, words: str) -> None:
    wanted = {"data-state": state, "aria-label": f"{word}: {words}"}
    if any(link.props.get(name) != value for name, value in wanted.items()):
        link.props.update(wanted)
        link.update()
