"""The start: measure a feeder, begin with an example, or open a design of the folder. All of it on the page."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from html import escape

from nicegui import events, ui

from codegen.charts.small_timeline import small_timeline_svg
from codegen.papers.blocks import paper_file
from codegen.papers.survey_sheet import survey_paper
from timing.design.saving import starting_text
from timing.errors import WirecueError
from wirecue import __version__
from wirecue.design_names import new_design_path
from wirecue.page.desk import Desk
from wirecue.page.frame import CAUTION, alert_label, complain, frame, headline, plain_input, words_of_error
from wirecue.page.screen import in_page, typed_in
from wirecue.projects import board_names, example_names, example_text, load_board, parse_project

SHEET = "survey.html"


@dataclass(frozen=True)
class Example:
    """One example as it is offered."""

    name: str
    title: str
    notes: str
    picture: str
    """A small SVG."""


@cache
def offered_examples() -> tuple[Example, ...]:
    """Return every example with its picture."""
    return tuple(_example(name) for name in example_names())


def _example(name: str) -> Example:
    project = parse_project(example_text(name), name)
    design = project.design
    return Example(name, design.title or name, " ".join(design.notes.split()), small_timeline_svg(project))


def show_start(desk: Desk) -> None:
    """Build the start for one browser tab."""
    frame()
    with ui.element("header").classes("bar whole"):
        headline("wirecue", "h1")
        ui.label("Gas preflow, spot time, burnback and postflow for an old wire feeder").classes("file")
    with ui.element("div").classes("start"):
        if desk.shared is not None:
            _back_to_work(desk)
        _survey_card(desk)
        _folder_card(desk)
        _examples_card(desk)
        ui.label(CAUTION).classes("note")


def _back_to_work(desk: Desk) -> None:
    assert desk.shared is not None
    document = desk.shared.document
    with ui.element("section").classes("card").props('aria-label="design in work"'):
        with ui.element("div").classes("strip"):
            ui.link(f"Back to {document.name}", "/").classes("to-work").props('data-testid="back-to-work"')
            ui.label("is in work now. Undo there leads back to it when another one was opened.").classes("note")
        if document.dirty:
            ui.label("It has changes that are not saved.").classes("refused-words")


def _survey_card(desk: Desk) -> None:
    with _card("Your own feeder: the survey"):
        ui.label(
            "Asks what to measure at the machine and how to do it safely, a topic at a time, and writes a design from "
            "the answers. You can stop at any time and go on later."
        )
        _name_form("survey", "Begin the survey", lambda name: _to_survey(desk, name))
        stopped = desk.stopped_surveys()
        if stopped:
            headline("Stopped before", "h3")
        for name in stopped:
            _stopped_survey(desk, name)
        with ui.element("div").classes("strip"):
            ui.button("The questions on paper", on_click=_give_sheet).props('flat dense data-testid="survey-sheet"')
            ui.label("to print and take to the machine").classes("note")


def _stopped_survey(desk: Desk, name: str) -> None:
    with ui.element("div").classes("strip") as line:
        ui.label(name).classes("name")
        ui.button("Go on", on_click=lambda: ui.navigate.to(f"/survey/{name}")).props(
            f'outline dense aria-label="go on with the survey of {name}" data-testid="go-on-{name}"'
        )
        drop = ui.button("Forget its answers").props(f'flat dense data-testid="forget-{name}"')
        sure = ui.button("Yes, forget them").props(f'outline dense data-testid="forget-sure-{name}"')
        sure.set_visibility(False)
        trouble = alert_label(f"trouble-{name}")
        complain(trouble, "")

    def forget() -> None:
        try:
            desk.survey(name).forget()
        except WirecueError as error:
            complain(trouble, words_of_error(error))
            return
        desk.surveyed(name)
        line.delete()

    drop.on_click(lambda: sure.set_visibility(True))
    sure.on_click(forget)


def _to_survey(desk: Desk, typed: str) -> None:
    name = new_design_path(desk.folder.root, typed).stem
    desk.survey(name)
    ui.navigate.to(f"/survey/{name}")


async def _give_sheet() -> None:
    boards = tuple(load_board(name) for name in board_names())
    sheet = await asyncio.to_thread(lambda: paper_file(survey_paper(boards, __version__), SHEET))
    ui.download.content(sheet, SHEET)


def _folder_card(desk: Desk) -> None:
    names = desk.folder.names()
    with _card(f"A design of this folder ({desk.folder.root.name or desk.folder.root})"):
        trouble = alert_label("folder-trouble")
        complain(trouble, "")
        if not names:
            ui.label("There is none yet: the survey writes one, and so does an example.").classes("note")
        with ui.element("div").classes("files"):
            for name in names:
                button = ui.button(name, on_click=lambda name=name: _tried(trouble, lambda: desk.open(name)))
                button.props("flat no-caps align=left").props["data-file"] = name


def _examples_card(desk: Desk) -> None:
    with _card("An example to look at, or to put your own figures in"), ui.element("div").classes("examples"):
        for example in offered_examples():
            with ui.element("article").classes("example"):
                headline(example.title, "h3")
                picture = in_page(
                    example.picture, f"small-{example.name}", escape(f"an ordinary weld: {example.title}")
                )
                ui.html(picture, sanitize=False).classes("small-picture")
                ui.label(example.notes).classes("note")
                _name_form(example.name, "Begin with it", _begins(desk, example))


def _begins(desk: Desk, example: Example) -> Callable[[str], None]:
    def begin(typed: str) -> None:
        desk.begin(typed, lambda name: starting_text(example_text(example.name), name, None))
        ui.navigate.to("/")

    return begin


def _name_form(key: str, word: str, go: Callable[[str], None]) -> None:
    """Ask for the name of a design that is to be; `go` raises WirecueError for one that will not do."""
    name = f"name-{key}"
    with ui.element("div").classes("strip"):
        ui.html("Name of your design", sanitize=False, tag="label").props(f'for="{name}"')
        field = plain_input("", name, id=name, placeholder="my_feeder", maxlength="60")
        ui.label(".toml").classes("note")
        button = ui.button(word).props(f'data-testid="begin-{key}"')
    trouble = alert_label(f"trouble-{key}")
    complain(trouble, "")
    field.props["aria-describedby"] = f"trouble-{key}"

    def begin(event: events.GenericEventArguments) -> None:
        typed = str(event.args).strip()
        if not typed:
            complain(trouble, "A name for your design first, such as my_feeder.")
            return
        complain(trouble, "")
        try:
            go(typed)
        except WirecueError as error:
            complain(trouble, words_of_error(error))

    button.on("click", begin, js_handler=typed_in(name))
    field.on("keydown.enter", begin, js_handler=typed_in(name))


def _tried(trouble: ui.label, open_it: Callable[[], None]) -> None:
    try:
        open_it()
    except WirecueError as error:
        complain(trouble, words_of_error(error))
        return
    ui.navigate.to("/")


def _card(title: str) -> ui.element:
    section = ui.element("section").classes("card")
    section.props["aria-label"] = title
    with section:
        headline(title)
    return section
