"""Test welds: typed as on the terminal, kept in the logbook, and what they say of the machine: `wirecue fit`."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from pathlib import Path

from nicegui import ui
from nicegui.events import GenericEventArguments

from codegen.charts.burnback import Asked, burnback_svg
from timing.errors import WirecueError
from timing.process.advice import design_curve
from timing.process.case import burnback_case
from timing.process.fit import check_welds
from timing.process.welds import WeldError
from timing.project import Project
from wirecue.logbooks import logbook_path
from wirecue.page.beside import design_path, follow_log, log_state, saved_first
from wirecue.page.cards import Fold, folded_card
from wirecue.page.dialogs import ask_to_put_in
from wirecue.page.panels.advise import moves_html
from wirecue.page.screen import Screen, in_page, mark_refused, show_fresh, typed_in
from wirecue.page.shared import BAND_DRAWS, Shared, findings_key
from wirecue.page.watched import Watched, follow_while_open, watched
from wirecue.page.words import folded, told_list, told_table
from wirecue.weld_fit import BAND_HEAD, FIGURES_HEAD, LoggedFit, fit_of_log, typed_weld
from wirecue.weld_log import as_made, log_left_out, log_welds, logged_welds

_NOTE = "Short welds on scrap find your machine's coast and its burnback setting; they are kept in the logbook."
_SAVE_FIRST = "Test welds are kept beside the saved file, and this design has changes: save it first."
HOW = (
    "Rest the gun on a block, so that the distance stays the same, and make a short weld on scrap at the mark that is "
    "asked for below.",
    "Before you cut the wire, measure from the contact tip to its end, to the end of the ball if there is one.",
    "Write it as `mark 90: 9 mm` (the number printed on the plate) or `90 ms: 9 mm`; with nothing to measure, "
    "`mark 60: frozen` or `mark 115: fused`. After a comma: `ball 1.5 mm`, `no ball`, `15 mm away`, `200 in/min`.",
)


@dataclass(frozen=True)
class WeldsShown:
    """What the test welds of a design say, ready to show."""

    fit: LoggedFit | None
    """None where nothing can be said; then `html` says why."""
    rows: tuple[tuple[str, str, str, str], ...]
    html: str


def welds_panel(screen: Screen) -> None:
    """Show the test welds, folded until they are wanted."""
    folded_card("welds", _NOTE, lambda fold: _Welds(screen, fold))


def welds_shown(path: Path, project: Project, text: str) -> WeldsShown:
    """Return what the welds in the logbook of a design say; `text` is its file's."""
    try:
        logged = logged_welds(path, project.design)
        found = fit_of_log(project, text, str(path), logged)
    except WirecueError as error:
        return WeldsShown(None, (), f'<p class="said">{escape(str(error))}</p>')
    return WeldsShown(found, tuple(found.rows()), told_list(logged.told) + fit_html(project, found))


def fit_html(project: Project, found: LoggedFit) -> str:
    """Return what a fit says as HTML: what follows, figures, the band and its picture."""
    fit = found.fit
    if not found.logged.welds:
        return told_list(fit.sentences)
    parts = [told_list(fit.sentences[1:]), told_table(FIGURES_HEAD, found.figures())]
    if not fit.contradicts:
        words = f"<p>Read to the end of the ball, {fit.band.ball_mm:.1f} mm of it:</p>"
        parts.append(folded("What each setting leaves", words + told_table(BAND_HEAD, fit.band.rows())))
        parts.append(f'<div class="picture" tabindex="0">{_band_picture(project, found)}</div>')
    return "".join(parts)


def _band_picture(project: Project, found: LoggedFit) -> str:
    design, fit = project.design, found.fit
    curve = design_curve(design, BAND_DRAWS)
    asked = Asked(fit.settled.mark.time_s, "by the test welds", fit.band)
    return in_page(burnback_svg(design.title or design.name, curve, asked), "welds", "what is left, by the test welds")


class _Welds:
    def __init__(self, screen: Screen, fold: Fold) -> None:
        self.screen = screen
        ui.html(folded("How a test weld is made, and how it is written", told_list(HOW, "ol")), sanitize=False)
        self.is_saved = saved_first(screen, _SAVE_FIRST)
        with ui.element("div").classes("strip no-print"):
            self.text = ui.input("test weld", placeholder="mark 90: 9 mm").style("flex: 1 1 14rem")
            self.text.props('dense outlined hide-bottom-space data-testid="weld-text"')
            self.enter = ui.button("Enter the weld").props('data-testid="weld-enter"')
        for part, event in ((self.enter, "click"), (self.text, "keydown.enter")):
            part.on(event, self._enter, js_handler=typed_in("weld-text"))
        self.rows = ui.element("div").props('data-testid="weld-rows"')
        with ui.element("div"):
            self.told = ui.html('<p class="note">computing ...</p>', sanitize=False)
        self.told.props('role="status" aria-live="polite" data-testid="weld-fit"')
        self.write = ui.button("Put it into the design ...", on_click=self._ask).props('data-testid="weld-put-in"')
        self.write.style("justify-self: start").set_visibility(False)
        self.latest: WeldsShown | None = None
        shared = screen.shared
        self.result = _watched_welds(shared)
        follow_while_open(screen, fold, self.result, self._show)
        follow_log(screen, fold, self.result.refresh)
        screen.follow(shared.changed, self._allow)

    def _allow(self) -> None:
        for part in (self.enter, self.write):
            part.set_enabled(self.is_saved())

    def _enter(self, event: GenericEventArguments) -> None:
        shared, path = self.screen.shared, design_path(self.screen.shared)
        if path is None or not self.is_saved():
            self._complain(_SAVE_FIRST)
            return
        project = shared.project
        try:
            weld = as_made(typed_weld(str(event.args).strip(), project), project.design)
            check_welds(burnback_case(project.design), [weld])
            log_welds(path, project.design, [weld])
        except (WeldError, WirecueError) as refused:
            self._complain(str(refused))
            return
        self._complain("")
        self.text.set_value("")
        self.screen.say(f"Entered in {logbook_path(path).name}.")
        self.result.refresh()

    def _complain(self, why: str) -> None:
        mark_refused(self.text, why)

    def _show(self, found: WeldsShown, fresh: bool) -> None:
        self.latest = found
        self.told.set_content(found.html)
        show_fresh(self.told, fresh)
        self.rows.clear()
        with self.rows:
            for number, weld, predicted, off in found.rows:
                with ui.element("div").classes("strip weld"):
                    ui.label(f"{number}  {weld}").classes("text-weight-bold")
                    ui.label(f"by the fit {predicted}; {off}").classes("note")
                    out = ui.button("Leave it out", on_click=lambda number=number: self._leave_out(int(number)))
                    out.props(f'flat dense size=sm aria-label="leave weld {number} out"').classes("no-print")
        self.write.set_visibility(found.fit is not None and found.fit.may_write)

    def _leave_out(self, number: int) -> None:
        path = design_path(self.screen.shared)
        if path is None:
            return
        try:
            log_left_out(path, number)
        except WirecueError as error:
            self.screen.say(str(error), "warning")
        else:
            self.screen.say(f"Entered in {logbook_path(path).name}: weld {number} is left out from here on.")
        self.result.refresh()

    def _ask(self) -> None:
        found, document = self.latest, self.screen.shared.document
        if found is None or found.fit is None or found.fit.before != document.text:
            self.screen.say("The design has changed since: look again once it is computed anew.", "warning")
            return
        name = document.name or "design"
        moves = moves_html(Path(name), found.fit.moved(self.screen.shared.project, name))
        title = "Put what the welds found into the design"
        ask_to_put_in(self.screen, title, document.text, found.fit.text, undo="test welds put in", told=moves)


def _watched_welds(shared: Shared) -> Watched[WeldsShown]:
    def work(project: Project) -> WeldsShown:
        path = design_path(shared)
        if path is None:
            return WeldsShown(None, (), "<p>This design was never saved; its logbook lies beside the file.</p>")
        return welds_shown(path, project, shared.document.text)

    return watched(shared, work, lambda project: f"{findings_key(project)} {log_state(shared)}", "welds")
