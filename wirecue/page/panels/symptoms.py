"""What somebody sees at the machine, and what may be behind it: the same table as `wirecue symptom`."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from html import escape

from nicegui import background_tasks, ui
from nicegui.events import GenericEventArguments

from codegen.papers.blocks import marked_html
from timing.project import Project
from timing.symptoms.symptom import Cause, Diagnosis
from timing.symptoms.table import SYMPTOMS, UnknownSymptomError, diagnoses, meant_by, symptoms_of
from wirecue.page.cards import folded_card
from wirecue.page.screen import Screen, typed_in

TITLES = [symptom.title for symptom in SYMPTOMS]


def symptoms_panel(screen: Screen) -> None:
    """Ask what is seen, and show the causes that this design can have, ranked by its figures."""
    note = "Say it in your own words. Causes come ranked by this design's own figures."
    folded_card("symptoms", note, lambda _: _ask_and_answer(screen))


def _ask_and_answer(screen: Screen) -> None:
    with ui.element("div").classes("strip"):
        words = ui.input("at the machine", placeholder="it sticks", autocomplete=TITLES)
        words.props('dense outlined data-testid="symptom-words"').style("min-width: min(28rem, 100%)")
        ask = ui.button("Look it up").props('data-testid="symptom-ask"')
    answer = ui.html("", sanitize=False).props('data-testid="symptom-answer" aria-live="polite"')
    asked = [""]
    latest = [0]

    async def show() -> None:
        if not asked[0]:
            return
        latest[0] += 1
        own = latest[0]
        text = await asyncio.to_thread(answered, screen.shared.project, asked[0])
        # One that took longer than what was asked after it must not stand in its place.
        if own == latest[0]:
            answer.set_content(text)

    async def ask_about(event: GenericEventArguments) -> None:
        asked[0] = str(event.args).strip()
        await show()

    def design_checked() -> None:
        # What was answered for other times must not stand beside these.
        if answer.content:
            background_tasks.create(show())

    ask.on("click", ask_about, js_handler=typed_in("symptom-words"))
    words.on("keydown.enter", ask_about, js_handler=typed_in("symptom-words"))
    screen.follow(screen.shared.found, design_checked)


def answered(project: Project, said: str) -> str:
    """Return the answer to somebody's words as HTML, every text escaped."""
    try:
        known = symptoms_of(project)
        return "".join(map(_diagnosis, diagnoses(project, meant_by(said, known))))
    except UnknownSymptomError as unknown:
        titles = "".join(f"<li>{escape(symptom.title)}</li>" for symptom in unknown.known)
        return f'<p class="note">Nothing is known by these words. What is known:</p><ul class="note">{titles}</ul>'


def _diagnosis(found: Diagnosis) -> str:
    caution = found.symptom.caution
    warned = f"<p><strong>Caution.</strong> {escape(caution)}</p>" if caution else ""
    return f"<h3>{escape(found.symptom.title)}</h3>{warned}<ol>{_causes(found.causes)}</ol>"


def _causes(causes: Sequence[Cause]) -> str:
    return "".join(
        f"<li><strong>{escape(cause.text)}</strong> <span class='note'>{escape(cause.standing.words)}</span>"
        f"{_line('Here', cause.figures)}{_line('Check', cause.check)}{_line('Do', cause.remedy)}</li>"
        for cause in causes
    )


def _line(label: str, text: str) -> str:
    return f"<br>{label}: {marked_html(text)}" if text else ""
