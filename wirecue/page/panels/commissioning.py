"""Commissioning on the page: the same walk as `wirecue commission`, one step at a time, every answer in the logbook."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from html import escape

from nicegui import ui

from codegen.papers.blocks import marked_html
from timing.commission.reply import StepReply, answers_of
from timing.commission.step import CommissionStep, ReadingAsked, WeldsAsked, YesNo
from timing.commission.walk import CommissionWalk, StepOutcome
from timing.errors import WirecueError
from timing.survey.question import ReplyError
from wirecue.commissioning import Commissioning, WeldTurn
from wirecue.page.cards import folded_card
from wirecue.page.screen import Screen, typed_in

UNSAVED = "The walk is that of the saved file, and this design has changes: save it first."


def commissioning_panel(screen: Screen) -> None:
    """Show the walk, folded until it is wanted."""
    note = "At the machine, step by step; every answer goes into the logbook beside the design."
    folded_card("commissioning", note, lambda _: _Walk(screen), printed=False)


class _Walk:
    def __init__(self, screen: Screen) -> None:
        self.screen = screen
        self.going: Commissioning | None = None
        self.step: CommissionStep | None = None
        self.turn: WeldTurn | None = None
        self._passed_over: frozenset[str] = frozenset()
        with ui.element("div").classes("strip"):
            self.start = ui.button("Begin, or go on", on_click=self._start)
            self.start.props('data-testid="commission-start"')
            self.where = ui.label().props('role="status" aria-live="polite" data-testid="commission-where"')
        self.shown = ui.html("", sanitize=False).props('data-testid="commission-step"')
        with ui.element("div").classes("strip") as self.asking:
            self.text = ui.input("answer").props('dense outlined data-testid="commission-answer"')
            self.enter = ui.button("Enter").props('data-testid="commission-enter"')
            self.yes = ui.button("It did", on_click=lambda: self._answer("yes"))
            self.yes.props('data-testid="commission-yes"')
            self.no = ui.button("It did not", on_click=lambda: self._answer("no"))
            self.no.props('outline data-testid="commission-no"')
            self.skip = ui.button("Leave it out", on_click=lambda: self._answer("skip"))
            self.skip.props('flat dense data-testid="commission-skip"')
            self.back = ui.button("Back", on_click=self._go_back).props('flat dense data-testid="commission-back"')
        for part, event in ((self.enter, "click"), (self.text, "keydown.enter")):
            part.on(event, lambda event: self._answer(str(event.args)), js_handler=typed_in("commission-answer"))
        self.told = ui.html("", sanitize=False).props('role="status" data-testid="commission-told"')
        self.asking.set_visibility(False)
        screen.follow(screen.shared.changed, self._design_changed)

    def _design_changed(self) -> None:
        # Another design has other steps: an answer must not be entered for one that is no longer there.
        if self.going is not None and self.going.project is not self.screen.shared.project:
            self.going = self.step = None
            self.shown.set_content("")
            self.told.set_content("")
            self.asking.set_visibility(False)
            self.where.set_text("The design has changed: go on when it is saved.")

    async def _start(self) -> None:
        document = self.screen.shared.document
        if document.dirty:
            self.where.set_text(UNSAVED)
            return
        if self.screen.refused:
            self.screen.say(f"{self.screen.refused_words}: put that right, then begin.", "warning")
            return
        path = self.screen.shared.folder.root / document.name
        self.where.set_text("laying out the steps ...")
        project = document.project
        going = await asyncio.to_thread(Commissioning.of_project, path, project)
        if project is self.screen.shared.project:
            self.going = going
            await self._show_next()

    async def _show_next(self) -> None:
        going = self.going
        assert going is not None
        try:
            walk = going.walk
        except WirecueError as error:
            self.told.set_content(f"<pre>{escape(str(error))}</pre>")
            return
        await self._show(walk, walk.next_step(self._passed_over))

    async def _show(self, walk: CommissionWalk, step: CommissionStep | None) -> None:
        going, self.step = self.going, step
        assert going is not None
        count = len(walk.plan.steps)
        self.asking.set_visibility(step is not None)
        if step is None:
            self.shown.set_content("")
            self.where.set_text(f"All {count} steps passed or were left out. Keep papers and logbook with the machine.")
            return
        self.where.set_text(f"Step {walk.plan.steps.index(step) + 1} of {count}; {walk.left} to do.")
        is_weld = isinstance(step.ask, WeldsAsked)
        self.turn = await asyncio.to_thread(going.weld_turn) if is_weld else None
        self.shown.set_content(step_html(step, walk, self.turn))
        self._ask_for(step)

    def _ask_for(self, step: CommissionStep) -> None:
        typed = not isinstance(step.ask, YesNo)
        self.text.set_visibility(typed)
        self.enter.set_visibility(typed)
        self.yes.set_visibility(not isinstance(step.ask, ReadingAsked))
        self.yes.set_text("Enough of it" if isinstance(step.ask, WeldsAsked) else "It did")
        self.no.set_text("It cannot be read" if isinstance(step.ask, ReadingAsked) else "It did not")
        self.skip.set_visibility(not step.needed)
        self.text.set_value("")
        label = "what the weld left"
        if isinstance(step.ask, ReadingAsked):
            label = f"{step.ask.what}, {'with its unit' if step.ask.unit_needed else step.ask.shown}"
        self.text.props["label"] = label if typed else ""
        self.text.update()

    async def _answer(self, text: str) -> None:
        going, step = self.going, self.step
        if going is None or step is None:
            return
        try:
            reply = await self._entered(going, step, text)
        except ReplyError as refused:
            self.told.set_content(f"<p>{escape(str(refused))}</p><p class='note'>{escape(answers_of(step))}</p>")
            return
        except WirecueError as error:
            self.told.set_content(f"<pre>{escape(str(error))}</pre>")
            return
        self.told.set_content(_failed(step, reply) if reply is not None and reply.outcome is StepOutcome.FAILED else "")
        if reply is not None and reply.outcome is StepOutcome.SKIPPED:
            self._passed_over |= {step.key}
        await self._show_next()

    async def _entered(self, going: Commissioning, step: CommissionStep, text: str) -> StepReply | None:
        """Enter an answer; return the step's outcome, None after a weld that asks for another one."""
        reply = going.read(step, text, self.turn)
        if not isinstance(reply, StepReply):
            going.enter_weld(reply)
            turn = await asyncio.to_thread(going.weld_turn)
            if not turn.enough:
                return None
            reply = StepReply(StepOutcome.PASSED)
        going.enter(step, reply)
        return reply

    async def _go_back(self) -> None:
        if self.going is not None and self.step is not None:
            walk = self.going.walk
            await self._show(walk, walk.before(self.step) or self.step)


def step_html(step: CommissionStep, walk: CommissionWalk, turn: WeldTurn | None) -> str:
    """Return one step as HTML, every text escaped."""
    record = walk.records.get(step.key)
    parts = [
        f"<p class='note'>{escape(step.stage.title)}</p><h3>{escape(step.title)}</h3>",
        _cautions(walk.plan.cautions.get(step.stage, ()), told=walk.plan.of(step.stage)[0] is not step),
        "".join(f"<p><strong>Caution.</strong> {marked_html(text)}</p>" for text in step.cautions),
        _list("ul", step.setup.words, "Panel:"),
        _list("ol", step.do, "Do:"),
        f"<p><strong>Should happen:</strong> {marked_html(step.expect)}</p>",
        f"<p><strong>If not:</strong> {marked_html(step.if_not)}</p>",
    ]
    if record is not None:
        said = f"{record.outcome.value} {record.reading}".strip()
        parts.append(f"<p class='note'>Last time: {escape(said)}, {escape(record.when)}.</p>")
    if turn is not None:
        parts.append(_list("ul", turn.sentences, "So far:"))
        parts.append(f"<p><strong>Next weld:</strong> {escape(turn.words)}.</p>")
    return "".join(parts)


def _failed(step: CommissionStep, reply: StepReply) -> str:
    return f"<p><strong>{escape(step.title)} failed.</strong> {marked_html(reply.means or step.if_not)}</p>"


def _cautions(texts: Sequence[str], *, told: bool) -> str:
    """The stage's cautions: open at its first step, to be opened at the others."""
    items = "".join(f"<li>{marked_html(text)}</li>" for text in texts)
    summary = "<summary class='note'>Cautions of this stage</summary>"
    return f"<details{'' if told else ' open'}>{summary}<ul>{items}</ul></details>" if items else ""


def _list(tag: str, texts: Sequence[str], head: str = "") -> str:
    items = "".join(f"<li>{marked_html(text)}</li>" for text in texts)
    return f"{f'<p><strong>{head}</strong></p>' if head else ''}<{tag}>{items}</{tag}>" if items else ""
