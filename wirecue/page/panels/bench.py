"""The bench: a board real or virtual, its cases one after the other, expected and measured edges."""

from __future__ import annotations

from html import escape
from pathlib import Path

from nicegui import ui

from bench.compare import CaseResult
from bench.reports import run_verdict
from bench.usb_ports import usb_ports
from codegen.charts.capture import capture_svg
from codegen.charts.tracks import OUTPUT_TITLES
from timing.formatting import error_ms, signed_ms, tenths_ms
from timing.protocol.target import CAUTIONS
from timing.sequence.core.engine import Edge
from timing.sequence.core.table import Output
from wirecue.firmware import why_not_simulated
from wirecue.page.bench_job import KINDS, SIMULATED, VIRTUAL, BenchJob
from wirecue.page.cards import folded_card
from wirecue.page.screen import Screen, in_page

LOOK_S = 0.3
"""How often the screen looks at a run."""


def bench_panel(screen: Screen) -> None:
    """Show the bench, folded until it is wanted."""
    note = "Runs every case on a board over its serial link and compares each edge with the model."
    folded_card("bench", note, lambda _: _Bench(screen), printed=False)


class _Bench:
    def __init__(self, screen: Screen) -> None:
        self.screen = screen
        self._shown: tuple[BenchJob | None, int, bool, str] = (None, 0, False, "")
        self._listed = 0
        with ui.element("div").classes("strip"):
            self.port = ui.select([VIRTUAL], value=VIRTUAL, label="board").props(
                'dense outlined data-testid="bench-port"'
            )
            self.port.style("min-width: 200px").on_value_change(self._show_cautions)
            ui.button("Look for ports", on_click=self._look_for_ports).props("flat dense")
            self.start = ui.button("Run the cases", on_click=self._start).props('data-testid="bench-start"')
            self.stop = ui.button("Stop", on_click=self._stop).props('outline data-testid="bench-stop"')
        self.no_simulator = ui.label().classes("note").props('data-testid="no-simulator"')
        with ui.element("div") as self.cautions:
            items = "".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS)
            ui.html(f"<ul class='note'>{items}</ul>", sanitize=False)
            self.heeded = ui.checkbox("All of this is so").on_value_change(self._show_cautions)
        self._look_at_start = screen.only_as_shown(self.start, self._may_start)
        self.progress = ui.linear_progress(0, show_value=False).props('aria-label="progress of the bench"')
        self.words = ui.label().props('role="status" aria-live="polite" data-testid="bench-state"')
        self.results = ui.element("div").props('data-testid="bench-results"')
        self.case = ui.element("div")
        self.timer = ui.timer(LOOK_S, self._look, active=False)
        self._ports: list[str] = []
        screen.follow(screen.shared.changed, self._offer)
        self._show_cautions()
        screen.follow(screen.shared.benched, self._began)

    def _look_for_ports(self) -> None:
        self._ports = [one.name for one in usb_ports()]
        if not self._ports:
            self.screen.say("No board is plugged in; the virtual board is there.")
        self._offer()

    def _offer(self) -> None:
        """Offer what this design can be tested on; what cannot be is said, with the reason."""
        why_not = why_not_simulated(self.screen.shared.project.board)
        self.no_simulator.set_text(f"{SIMULATED}: off. {why_not}")
        self.no_simulator.set_visibility(bool(why_not))
        offered = [*(kind for kind in KINDS if kind != SIMULATED or not why_not), *self._ports]
        if offered != self.port.options:
            if self.port.value not in offered:
                self.screen.say(f"{self.port.value} is gone; the virtual board is chosen.", "warning")
            self.port.set_options(offered, value=self.port.value if self.port.value in offered else VIRTUAL)

    def _show_cautions(self) -> None:
        real = self.port.value not in KINDS
        self.cautions.set_visibility(real)
        self._look_at_start()

    def _may_start(self) -> bool:
        job = self.screen.shared.job
        idle = job is None or not job.active
        return idle and (self.port.value in KINDS or bool(self.heeded.value))

    def _start(self) -> None:
        if self._may_start():
            self.screen.shared.start_bench(str(self.port.value))

    def _stop(self) -> None:
        if self.screen.shared.job is not None:
            self.screen.shared.job.stop()

    def _began(self) -> None:
        running = self.screen.shared.job is not None
        for part in (self.progress, self.words, self.stop, self.results):
            part.set_visibility(running)
        if running:
            self.case.clear()
            self.results.clear()
            self._listed = 0
            self.timer.activate()

    def _look(self) -> None:
        job = self.screen.shared.job
        if job is None:
            return
        looks = (job, len(job.results), job.active, job.preparing + job.running + job.request + str(job.stopping))
        if looks == self._shown:
            return
        self._shown = looks
        self.progress.set_value(len(job.results) / max(len(job.cases), 1))
        self.words.set_text(_state(job))
        self.stop.set_visibility(job.active)
        self._look_at_start()
        with self.results:
            for result in job.results[self._listed :]:
                self._result(job, result)
                self._listed += 1
        if not job.active:
            self.timer.deactivate()

    def _result(self, job: BenchJob, result: CaseResult) -> None:
        shape, word = ("✓", "pass") if result.passed else ("✗", "FAIL")
        text = f"{shape} {word}  {result.title}"
        if result.compared:
            text += (
                f" ({result.compared} changes, {signed_ms(result.earliest_us, 1)} to {error_ms(result.latest_us, 1)})"
            )
        button = ui.button(text, on_click=lambda: self._show_case(job, result))
        button.props("flat dense align=left no-caps").classes("w-full")

    def _show_case(self, job: BenchJob, result: CaseResult) -> None:
        self.case.clear()
        with self.case:
            ui.html(f"{escape(result.title)}: expected and measured", sanitize=False, tag="h3")
            for trouble in result.troubles:
                ui.label(trouble)
            if result.predicted is None or result.seen is None:
                return
            ui.html(edges_table(result), sanitize=False)
            drawn = capture_svg(result.title, result.predicted, result.seen.edges, ())
            label = f"{result.title}: outputs as expected above outputs as measured"
            ui.html(in_page(drawn, "measured", escape(label)), sanitize=False).classes("picture")
        self.screen.run_script(f"getHtmlElement({self.case.id})?.scrollIntoView({{ block: 'nearest' }})")


def _state(job: BenchJob) -> str:
    if job.stopping:
        return "stopping ..."
    if job.request:
        return job.request
    if job.active:
        done = f"{len(job.results)} of {len(job.cases)}: {job.running} ..."
        return done if job.running else job.preparing or "connecting ..."
    where = job.port if job.port in KINDS else Path(job.port).name
    if job.trouble or job.report is None:
        return f"The run on {where} ended early: {job.trouble}"
    return f"{run_verdict(job.report)} Board: {where}, {job.board}."


def edges_table(result: CaseResult) -> str:
    """Return the edges expected and measured, side by side, as an HTML table."""
    rows = []
    for output in Output:
        expected = [] if result.predicted is None else list(result.predicted.edges_of(output))
        measured = [] if result.seen is None else list(result.seen.edges.get(output, ()))
        # A gas output without a valve has no pin to measure.
        if result.seen is not None and output not in result.seen.edges:
            continue
        for number in range(max(len(expected), len(measured))):
            want = expected[number] if number < len(expected) else None
            got = measured[number] if number < len(measured) else None
            rows.append((want or got, want, got))
    cells = "".join(
        f"<tr><td>{OUTPUT_TITLES[one.output]}</td><td>{'on' if one.on else 'off'}</td>"
        f'<td class="number">{_ms(want)}</td><td class="number">{_ms(got)}</td>'
        f'<td class="number">{_late(want, got)}</td></tr>'
        for one, want, got in sorted(rows, key=lambda row: row[0].at_us if row[0] else 0)
        if one is not None
    )
    head = "<tr><th>output</th><th></th><th>expected</th><th>measured</th><th>late by</th></tr>"
    return f'<table class="plain" data-testid="edges">{head}{cells}</table>'


def _ms(edge: Edge | None) -> str:
    return "missing" if edge is None else tenths_ms(edge.at_us)


def _late(want: Edge | None, got: Edge | None) -> str:
    return "" if want is None or got is None else error_ms(got.at_us - want.at_us)
