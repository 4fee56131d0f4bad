"""Where to start with every time and why, what to measure next, and how to read the figures: as `wirecue advise`."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from html import escape
from pathlib import Path

from nicegui import ui

from timing.design.design import Design
from timing.design.times import TIME_TITLES
from timing.design.units import format_duration
from timing.errors import WirecueError
from timing.process.advice import Advice
from timing.process.errors import ProcessError
from timing.process.ranging import TimeAdvice
from timing.project import Project
from wirecue.advice_words import advised_spans, gas_words
from wirecue.page.cards import Fold, folded_card
from wirecue.page.dialogs import ask_to_put_in
from wirecue.page.screen import Screen, show_fresh
from wirecue.page.shared import findings_key
from wirecue.page.watched import follow_while_open, watched
from wirecue.page.words import folded, told_html, told_list
from wirecue.panel_moves import AdvisedText, told_moves, with_advice

_NOTE = "A setting for every time, with the reasons; what to measure next; what the figures stand on."


def advise_panel(screen: Screen) -> None:
    """Show the advice, folded until it is wanted."""
    folded_card("advise", _NOTE, lambda fold: _fill(screen, fold))


def advised(project: Project) -> str:
    """Return the advice on a design as HTML, or why there is none."""
    try:
        return advice_html(project.design, project.advice)
    except ProcessError as impossible:
        return f"<p>{escape(str(impossible))}</p>"


def advice_html(design: Design, advice: Advice) -> str:
    """Return advice as HTML, every text escaped."""
    return "".join(_blocks(design, advice))


def moves_html(path: Path, found: AdvisedText) -> str:
    """Return in words what moves on the front panel by advice that is put in, and which dials no longer serve."""
    pieces = told_moves(path, found)
    return "".join(f"<p>{told_html(one)}</p>" if isinstance(one, str) else told_list(one) for one in pieces)


def _fill(screen: Screen, fold: Fold) -> None:
    with ui.element("div").classes("strip no-print"):
        put_in = ui.button("Put it into the design ...").props('data-testid="advise-put-in"')
        put_in.on_click(lambda: _ask(screen, put_in, new_ranges=False))
        anew = ui.button("With new ends for dials that are short ...").props('flat data-testid="advise-new-ranges"')
        anew.on_click(lambda: _ask(screen, anew, new_ranges=True))
    with ui.element("div"):
        told = ui.html('<p class="note">computing ...</p>', sanitize=False)
        told.props('data-testid="advice" aria-live="polite"')

    def show(found: str, fresh: bool) -> None:
        told.set_content(found)
        show_fresh(told, fresh)

    def show_made() -> None:
        # Before the plates are made every dial gets the ends that serve; afterwards that is asked for by itself.
        anew.set_visibility(screen.shared.project.design.panel.made)

    follow_while_open(screen, fold, watched(screen.shared, advised, findings_key), show)
    screen.follow(screen.shared.changed, show_made)


async def _ask(screen: Screen, button: ui.button, *, new_ranges: bool) -> None:
    document = screen.shared.document
    before, name = document.text, document.name or "design"
    button.disable()
    try:
        found = await asyncio.to_thread(with_advice, before, name, new_ranges=new_ranges)
    except WirecueError as impossible:
        screen.say(str(impossible), "warning")
        return
    finally:
        button.enable()
    moves = moves_html(Path(name), found)
    ask_to_put_in(screen, "Put the advice into the design", before, found.text, undo="advice put in", told=moves)


def _blocks(design: Design, advice: Advice) -> Iterator[str]:
    yield f"<p><strong>{escape(advice.closing)}</strong></p>"
    for time in advice.times:
        yield _time(design, time)
    if advice.burnback.brake is not None:
        yield "<h3>No burnback before the drive is braked</h3>"
        yield told_list(advice.burnback.brake.sentences)
    if design.process.gasless:
        yield "<h3>Gas</h3><p>None: self-shielded wire, so leave preflow and postflow at 0 s.</p>"
    worth = advice.burnback.worth
    if worth is not None:
        yield f"<h3>Measure {'next, what pays most' if worth.paying else 'nothing more'}</h3>"
        yield told_list(worth.sentences)
    if advice.gas is not None:
        yield f"<h3>Gas</h3><p>{escape(gas_words(advice.gas, advice.gas_weld_s))}.</p>"
    yield f"<h3>For all of it</h3>{told_list(advice.notes)}"
    yield folded("How to read the figures, and what they stand on", told_list(advice.footing))


def _time(design: Design, time: TimeAdvice) -> str:
    does, dial, stands = advised_spans(design, time)
    spans = "; ".join(span for span in (does, dial, stands) if span)
    return (
        f"<h3>{TIME_TITLES[time.name]}: {format_duration(time.setting_us)} "
        f'<span class="note">{escape(spans)}</span></h3>'
        f"<p>{told_html(time.reasons[0]) if time.reasons else ''}</p>{folded('Why', told_list(time.reasons[1:]))}"
    )
