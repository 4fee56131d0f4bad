"""The build: sketch, bench test, papers, drawings and lists of the design as it is now, as one file to download."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from nicegui import ui

from codegen.compiled_core import CoreDiffersError
from codegen.toolchain import ToolchainError
from wirecue.page.cards import card
from wirecue.page.files import BrokenRulesError, built_zip
from wirecue.page.panels.findings import findings_verdict
from wirecue.page.screen import Screen
from wirecue.page.words import folded, told_table

BUILD = "Build and download"
_NOTE = "Everything that is made of the design, as one zip file. Unpack it where you keep the project."
_INSIDE = (
    ("NAME/", "the sketch; the board maker's IDE opens this folder"),
    ("NAME.hex", "the sketch compiled, where a compiler is on this machine; any other can flash it"),
    (
        "sheet.pdf",
        "the build sheet to print: what to wire, in which order, and what a meter shows; sheet.html is the same",
    ),
    ("dials.pdf", "plates for the panel, at full size"),
    ("feeder-found.svg", "the feeder as found; feeder-changed.svg: every wire to cut, and where its ends go"),
    ("schematic.svg", "the circuit; wiring.svg: how its parts are joined; bypass.svg: the plug that puts it back"),
    ("parts.csv", "what to buy; wires.csv and nets.csv: every wire and net"),
    ("timeline.svg", "the timeline of an ordinary weld"),
    ("bench/", "the bench test by itself, for a computer without this program"),
    ("NAME.toml", "the design as it was built"),
    ("manifest.json", "what was built, by name and digest"),
)
"""Files and folders of a build that people open, and what they are; NAME is the design's."""


def build_panel(screen: Screen) -> None:
    """Show whether this design may be built, the button, and what comes."""

    def tell_built(digest: str) -> None:
        built.set_text(f"Built, digest {digest}: it lies where your browser keeps what it downloads.")

    with card("build", _NOTE, printed=False):
        verdict = ui.label().props('role="status" data-testid="build-verdict"')
        button = ui.button(BUILD).props('data-testid="build-here"').style("justify-self: start")
        BuildButton(screen, button, told=False, done=tell_built)
        built = ui.label().classes("note").props('role="status" aria-live="polite" data-testid="built"')
        inside = ui.html("", sanitize=False)

    def show() -> None:
        findings = screen.shared.findings
        if findings is not None:
            verdict.set_text(findings_verdict(findings, screen.refused_words))

    def show_inside() -> None:
        rows = inside_of(screen.shared.project.design.name)
        inside.set_content(folded("What is in it", told_table(("", "what it is"), rows)))

    screen.follow(screen.shared.found, show)
    screen.follow(screen.refusals, show)
    screen.follow(screen.shared.changed, show_inside)


def inside_of(name: str) -> list[tuple[str, str]]:
    """Return what people open of the build of a design of that name: file or folder, and what it is."""
    return [(place.replace("NAME", name), what) for place, what in _INSIDE]


class BuildButton:
    """A button that builds: off while it does, and while it would build something else than is shown.

    told: why it is off is said elsewhere; done: gets the digest of what was built and handed to the browser.
    """

    def __init__(
        self, screen: Screen, button: ui.button, *, told: bool, done: Callable[[str], None] = lambda _: None
    ) -> None:
        self.screen, self.button, self.done = screen, button, done
        self._building = False
        button.on_click(self._run)
        self._look = screen.only_as_shown(button, lambda: not self._building, told=told)

    async def _run(self) -> None:
        shared = self.screen.shared
        project, text = shared.project, shared.document.text
        self._now(True)
        try:
            packed = await asyncio.to_thread(built_zip, project, text)
        except (BrokenRulesError, CoreDiffersError, ToolchainError) as broken:
            self.screen.say(str(broken), "warning")
            return
        finally:
            self._now(False)
        with self.screen.client:
            ui.download.content(packed, f"{project.design.name}_build.zip", "application/zip")
        self.done(project.design.digest())

    def _now(self, building: bool) -> None:
        self._building = building
        self.button.set_text("Building ..." if building else BUILD)
        self._look()
