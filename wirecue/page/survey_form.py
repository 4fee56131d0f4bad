"""The survey on the page: a topic at a time, with how to measure, what was typed, and beside it what is wrong."""

from __future__ import annotations

import asyncio
import json
from dataclasses import dataclass, field
from html import escape

from nicegui import events, ui

from codegen.papers.survey_sheet import SURVEY_CAUTIONS
from timing.errors import WirecueError
from timing.survey.filling import FilledSurvey
from timing.survey.question import (
    COLD,
    HELD,
    LIVE,
    NO,
    NO_ANSWER,
    YES,
    Option,
    Question,
    ReplyError,
    UnclearReplyError,
)
from wirecue.design_names import new_design_path
from wirecue.page.desk import Desk
from wirecue.page.frame import alert_label, complain, frame, headline, plain_input, words_of_error
from wirecue.page.survey_walk import SurveyWalk

_FIELDS = """Object.fromEntries([...document.getElementById('survey').elements]
  .filter(one => one.name && !one.matches(':disabled')
    && (one.type === 'radio' ? one.checked && !one.defaultChecked : one.value !== one.defaultValue))
  .map(one => [one.name, one.value]))"""
"""What was changed in this tab: what stands as it was shown must not undo what another tab answered meanwhile."""
_STATES = {text: f"<strong>{escape(text.rstrip())}</strong> " for text in (COLD, LIVE, HELD)}
"""How the state that the machine is measured in is written."""


LAST = "This is the last topic, and all of it has an answer: look it through."


def show_survey(desk: Desk, name: str) -> None:
    """Build the survey of that name for one browser tab, or say why there is none."""
    frame()
    try:
        new_design_path(desk.folder.root, name)
        walk = desk.survey(name)
    except WirecueError as error:
        with ui.element("div").classes("start"), ui.element("section").classes("card"):
            headline("There is no such survey", "h1")
            ui.label(words_of_error(error))
            ui.link("Back to the start", "/start")
        return
    _Form(desk, walk).build()


@dataclass(repr=False)
class _Asked:
    """One question on the screen."""

    box: ui.element
    trouble: ui.label
    taken: ui.label
    meant: ui.element
    """Buttons for an answer that stands for more than one thing."""
    inputs: list[ui.element]
    about: Question

    def show(self, found: FilledSurvey, insisting: bool) -> None:
        """Show what the field makes. insisting: that nothing stands in it is wrong, too."""
        error = found.refused.get(self.about.key)
        self.box.set_visibility(self.about in found.asked)
        # What nobody is asked for is not sent either.
        self.box.props["disabled"] = self.about not in found.asked
        wrong = "" if error is None else _wrong(error, insisting)
        chosen = found.interview.answers.get(self.about.key)
        ending = next((one.rules_out for one in self.about.options if one.word == chosen and one.rules_out), "")
        if ending and self.about in found.asked:
            wrong = f"The job is ruled out. {ending} If this answer was a slip, choose another one."
        complain(self.trouble, wrong)
        for one in self.inputs:
            one.props["aria-invalid"] = "true" if wrong else "false"
        taken = "" if error is not None else found.taken.get(self.about.key, "")
        self.taken.set_text(taken)
        self.taken.set_visibility(bool(taken))
        self.meant.set_visibility(isinstance(error, UnclearReplyError))


@dataclass(repr=False)
class _Form:
    desk: Desk
    walk: SurveyWalk
    asked: list[_Asked] = field(default_factory=list)
    left: ui.label = field(init=False)
    foot: ui.label = field(init=False)
    progress: ui.element = field(init=False)
    body: ui.element = field(init=False)
    insisting: bool = False
    """True once somebody wanted to go on from this topic."""
    _at: int = 0
    """Place of the topic that is shown here; another tab may have gone on with the survey."""

    def build(self) -> None:
        with ui.element("header").classes("bar whole"):
            headline("wirecue", "h1")
            kept = f"Survey of {self.walk.name}; answers are kept in {self.walk.kept.name} as you go"
            ui.label(kept).classes("file").props('data-testid="survey-name"')
            ui.button("Stop, go on later", on_click=lambda: ui.navigate.to("/start")).props(
                'outline dense data-testid="survey-stop"'
            )
        with ui.element("div").classes("start"):
            self.progress = ui.element("nav").props('aria-label="topics of the survey"')
            self.body = ui.element("div")
        self._show_topic()

    def _show_topic(self) -> None:
        self.asked, self.insisting, self._at = [], False, self.walk.at
        self._show_progress()
        self.body.clear()
        with self.body:
            if self.walk.topic is None:
                self._build_end()
            else:
                self._build_topic()
        ui.run_javascript("scrollTo(0, 0); document.querySelector('.survey-title')?.focus()")

    def _show_progress(self) -> None:
        self.progress.clear()
        with self.progress, ui.element("ol").classes("topics"):
            for place, title in enumerate([*(topic.title for topic in self.walk.topics), "The design"]):
                item = ui.element("li").classes("done" if place < self.walk.at else "")
                if place == self.walk.at:
                    item.props["aria-current"] = "step"
                with item:
                    done = "✓ " if place < self.walk.at else ""
                    ui.html(escape(f"{done}{title}"), sanitize=False, tag="span")

    def _build_topic(self) -> None:
        topic = self.walk.topic
        assert topic is not None
        if self.walk.at == 0:
            self._build_cautions()
        form = ui.element("form").classes("card survey").props('id="survey" novalidate')
        form.on("submit", self._go_on, js_handler=f"(e) => {{ e.preventDefault(); emit({_FIELDS}); }}")
        with form:
            self._build_title(topic.title)
            self.left = ui.label().classes("note").props('data-testid="survey-left"')
            for question in topic.questions:
                self._build_question(question)
            self.foot = alert_label("survey-foot")
            with ui.element("div").classes("strip"):
                if self.walk.at:
                    back = ui.button("Back").props('outline type="button" data-testid="survey-back"')
                    back.on("click", self._go_back, js_handler=f"() => emit({_FIELDS})")
                ui.button("Next").props('type="submit" data-testid="survey-next"')
        self._show_found()

    def _build_title(self, title: str) -> None:
        head = ui.html(escape(title), sanitize=False, tag="h2").classes("survey-title")
        head.props('tabindex="-1" data-testid="survey-title"')

    def _build_cautions(self) -> None:
        with ui.element("section").classes("card").props('aria-label="cautions"'):
            headline("Before you open anything")
            items = "".join(f"<li>{escape(text)}</li>" for text in SURVEY_CAUTIONS)
            ui.html(f"<ul class='note'>{items}</ul>", sanitize=False)

    def _build_question(self, question: Question) -> None:
        number = f"{len(self.asked) + 1}"
        box = ui.element("fieldset").classes("question")
        box.props["data-key"] = question.key
        with box:
            ui.html(escape(question.ask), sanitize=False, tag="legend")
            ui.html(_how_html(question), sanitize=False).classes("note").props(f'id="how-{number}"')
            told = {"aria_describedby": f"how-{number} wrong-{number}"}
            inputs = self._build_options(question, told) if question.options or question.kind == "yes-no" else []
            if not inputs or question.kind in ("wire", "gas"):
                inputs.append(self._build_blank(question, told))
            trouble = alert_label(f"wrong-{number}")
            meant = ui.element("div").classes("strip")
            taken = ui.label().classes("note taken").props('role="status"')
        self.asked.append(_Asked(box, trouble, taken, meant, inputs, question))

    def _build_options(self, question: Question, told: dict[str, str]) -> list[ui.element]:
        """Make radio buttons. For wire and gas they write their word into the blank below them."""
        if question.kind in ("wire", "gas"):
            return []
        options = question.options or (Option(YES, "yes"), Option(NO, "no"))
        if question.optional:
            options = (*options, Option("", "not known: left out"))
        stands = self.walk.typed.get(question.key) or question.usual
        made = []
        place = ui.element("div").classes("options")
        for option in options:
            with place, ui.element("label").classes("option"):
                radio = ui.element("input")
                for key, text in {"type": "radio", "name": question.key, "value": option.word, **told}.items():
                    radio.props[key.replace("_", "-")] = text
                if option.word == stands:
                    radio.props["^checked"] = "checked"
                radio.on("change", lambda _, word=option.word: self._typed(question.key, word))
                usual = " (usual)" if option.word and option.word == question.usual else ""
                ui.html(escape(option.meaning + usual), sanitize=False, tag="span")
            made.append(radio)
        return made

    def _build_blank(self, question: Question, told: dict[str, str]) -> ui.element:
        with ui.element("div").classes("strip"):
            blank = plain_input(
                question.ask, question.key, self.walk.typed.get(question.key, ""), maxlength="200", **told
            )
            if question.usual:
                blank.props["placeholder"] = f"usual: {question.usual}"
            if question.unit:
                others = f" (or {', '.join(question.other_units)})" if question.other_units else ""
                ui.label(question.unit + others).classes("note")
        blank.on(
            "change", lambda event: self._typed(question.key, str(event.args)), js_handler="(e) => emit(e.target.value)"
        )
        if question.options:
            with ui.element("div").classes("strip"):
                for option in question.options:
                    self._offer(question, option, blank)
        return blank

    def _offer(self, question: Question, option: Option, blank: ui.element) -> None:
        button = ui.button(option.word).props('flat dense no-caps type="button"')
        button.props["aria-label"] = f"{option.word}: {option.meaning}"
        button.tooltip(option.meaning)
        button.on_click(lambda: self._put(question, option.word, blank))

    def _put(self, question: Question, word: str, blank: ui.element) -> None:
        """Write a word into a blank, for whoever chose it."""
        ui.run_javascript(f"getHtmlElement({blank.id}).value = {json.dumps(word)}")
        self._typed(question.key, word)

    def _typed(self, key: str, text: str) -> None:
        self._take({key: text})
        self._show_found()

    def _take(self, fields: dict[str, str]) -> None:
        try:
            self.walk.take(fields)
        except WirecueError as error:
            complain(self.foot, words_of_error(error))

    def _show_found(self) -> FilledSurvey:
        found = self.walk.filled
        for one in self.asked:
            one.show(found, self.insisting)
            error = found.refused.get(one.about.key)
            if isinstance(error, UnclearReplyError):
                one.meant.clear()
                with one.meant:
                    ui.label("Which is meant?").classes("note")
                    for option in error.options:
                        self._offer(one.about, option, one.inputs[-1])
        left = found.interview.left
        still = f"At most {left} question{' is' if left == 1 else 's are'} still to be answered." if left else LAST
        self.left.set_text(f"{still} Where a usual answer is named, an empty field stands for it.")
        missing = len(found.refused)
        words = f"{missing} answer{' is' if missing == 1 else 's are'} missing or will not do: see above."
        complain(
            self.foot, words if self.insisting and missing else found.interview.ruled_out and "The job is ruled out."
        )
        return found

    def _go_on(self, event: events.GenericEventArguments) -> None:
        self._take(_texts(event.args))
        if self.walk.at != self._at:
            self._show_topic()
            return
        self.insisting = True
        found = self._show_found()
        try:
            if self.walk.go_on():
                self._show_topic()
                return
        except WirecueError as error:
            complain(self.foot, words_of_error(error))
            return
        wrong = next((one for one in self.asked if one.about.key in found.refused), None)
        if wrong is not None:
            ui.run_javascript(
                f"const one = getHtmlElement({wrong.inputs[0].id}); one.focus(); "
                "one.closest('.question').scrollIntoView({ block: 'center' })"
            )

    def _go_back(self, event: events.GenericEventArguments) -> None:
        self._take(_texts(event.args))
        if self.walk.at == self._at:
            self.walk.go_back()
        self._show_topic()

    def _build_end(self) -> None:
        found = self.walk.filled
        with ui.element("section").classes("card"):
            self._build_title("The design")
            self.foot = alert_label("survey-foot")
            complain(self.foot, "")
            box = ui.element("div")
            with box:
                ui.label(
                    f"All is answered. The design {self.walk.name}.toml is written from it: what you did not measure "
                    "is filled in with usual figures and marked so in the file, and the times are computed. Nothing "
                    "is sent to a board."
                )
                for what in found.interview.to_do:
                    ui.label(f"To do first: {what}").classes("refused-words")
                with ui.element("div").classes("strip"):
                    ui.button("Back", on_click=self._back_from_end).props('outline data-testid="survey-back"')
                    write = ui.button(f"Write {self.walk.name}.toml").props('data-testid="survey-write"')
        write.on_click(lambda: self._write(box, write))

    def _back_from_end(self) -> None:
        self.walk.go_back()
        self._show_topic()

    async def _write(self, box: ui.element, button: ui.button) -> None:
        if not self.walk.filled.good:
            # Another tab has changed an answer since.
            self._back_from_end()
            return
        button.disable()
        button.set_text("Working it out ...")
        try:
            file, told = await asyncio.to_thread(self.walk.finish)
            self.desk.open(file)
        except WirecueError as error:
            complain(self.foot, words_of_error(error))
            button.set_text("Try again")
            button.enable()
            return
        self.desk.surveyed(self.walk.name)
        box.clear()
        with box:
            ui.label(f"{file}: written from your answers. Usual and computed values are marked; try them on scrap.")
            for words in told:
                ui.label(words).classes("refused-words" if words.startswith("To do first") else "")
            ui.button("Go on with it", on_click=lambda: ui.navigate.to("/")).props('data-testid="survey-open"')


def _wrong(error: ReplyError, insisting: bool) -> str:
    """Return what is wrong with a field. That nothing stands in it is, once somebody wanted to go on."""
    if error.found == NO_ANSWER:
        return "Still to be answered." if insisting else ""
    if isinstance(error, UnclearReplyError):
        return f"{error.found} is sold in more than one way."
    return f"{error}."


def _texts(fields: object) -> dict[str, str]:
    """Return what a form sent, by the names of its fields; what is no text is left out."""
    return {str(key): text for key, text in fields.items() if isinstance(text, str)} if isinstance(fields, dict) else {}


def _how_html(question: Question) -> str:
    """Return how to find out, the state of the machine in bold, and what may be answered."""
    how = escape(question.how)
    for text, bold in _STATES.items():
        how = how.replace(escape(text), bold)
    if question.kind in ("measure", "spread"):
        how += f" Allowed: {escape(question.allowed)}."
    return how + (" May be left empty." if question.optional else "")
