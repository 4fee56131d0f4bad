"""The findings: what, why, what to do; a click leads to the field, a button puts a remedy into the design."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from nicegui import ui

from timing.checks.finding import Finding, Remedy, Severity
from timing.checks.remedies import applied
from timing.design.origin import PROPOSED
from timing.design.text_file import DesignFileError
from wirecue.page.cards import card
from wirecue.page.dialogs import ask_to_put_in
from wirecue.page.screen import Screen, refusal
from wirecue.page.words import told_html

# Told by shape and word; colour only helps.
SHAPES = {Severity.ERROR: "■", Severity.WARNING: "▲", Severity.INFO: "○"}


def findings_panel(screen: Screen) -> None:
    """Show the findings, the gravest first."""
    with card("findings"):
        verdict = ui.label().classes("note").props('role="status" aria-live="polite" data-testid="verdict"')
        box = ui.element("div").props('data-testid="findings"')
        # Infos are many and ask for nothing: they wait, folded, as `wirecue check` counts them without --all.
        infos = ui.expansion("Info").props("dense header-class=text-weight-bold").classes("w-full")

    shown: list[tuple[Finding, ...]] = []

    def show() -> None:
        findings = screen.shared.findings
        if findings is None:
            verdict.set_text("checking ...")
            return
        verdict.set_text(findings_verdict(findings, screen.refused_words))
        if shown == [tuple(findings)]:
            return
        shown[:] = [tuple(findings)]
        box.clear()
        infos.clear()
        known = [finding for finding in findings if finding.severity is Severity.INFO]
        for place, some in ((box, [finding for finding in findings if finding not in known]), (infos, known)):
            with place:
                for finding in some:
                    _button(screen, finding)
        infos.set_visibility(bool(known))
        infos.set_text(f"Info ({len(known)})")

    screen.follow(screen.shared.found, show)
    screen.follow(screen.refusals, show)


def findings_verdict(findings: Sequence[Finding], refused: str = "") -> str:
    """Return the findings counted, in words; where a value was refused they speak of the design without it."""
    errors, warnings = (sum(one.severity is kind for one in findings) for kind in (Severity.ERROR, Severity.WARNING))
    counted = f"{_count(errors, 'error')}, {_count(warnings, 'warning')}"
    if refused:
        return f"{refused}: put that right first. Without it: {counted}."
    return f"{counted}: {'this must not be built yet' if errors else 'this may be built'}."


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _button(screen: Screen, finding: Finding) -> None:
    word = finding.severity.word
    button = ui.element("button").classes(f"finding {word}").props('type="button"')
    button.props["aria-label"] = f"{word}: {finding.key}: {finding.text}. Go to the field."
    button.props["data-key-of"] = finding.key
    remedy = f"<br>Do: {told_html(finding.remedy)}" if finding.remedy else ""
    with button:
        ui.html(f"{SHAPES[finding.severity]} {word}", sanitize=False, tag="span").classes("word")
        ui.html(f'<span class="key">{escape(finding.key)}</span>: {escape(finding.text)}', sanitize=False, tag="span")
        ui.html(f"Why: {escape(finding.reason)}{remedy}", sanitize=False, tag="span").classes("more")
    button.on("click", lambda: screen.show_field(finding.key))
    changing = [remedy for remedy in finding.remedies if remedy.changes]
    if changing:
        with ui.element("div").classes("strip remedies no-print"):
            for way in changing:
                put_in = ui.button(f"{way.text} ...", on_click=lambda way=way: _ask(screen, finding, way))
                put_in.props('outline dense size=sm no-caps align=left data-testid="remedy"')


def _ask(screen: Screen, finding: Finding, remedy: Remedy) -> None:
    if not screen.shared.check_is_fresh:
        screen.say("The design has changed and is being checked again. Look once more.", "warning")
        return
    before = screen.shared.document.text
    try:
        after = applied(before, remedy.changes, PROPOSED)
    except DesignFileError as refused:
        screen.say(refusal(refused), "warning")
        return
    told = f"<p>{told_html(finding.text)}.</p><p><strong>{told_html(remedy.text)}.</strong></p>"
    ask_to_put_in(screen, "Put the remedy into the design", before, after, undo=remedy.text, told=told)
