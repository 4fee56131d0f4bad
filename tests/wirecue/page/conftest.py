"""A served page and a real browser to look at it."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import EXAMPLES, ROOT

SCREENSHOTS = ROOT / "out" / "screenshots"
PATIENCE_MS = 30_000
FLAGS = (
    "--no-sandbox",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@dataclass
class Served:
    """A page that is being served from a folder of its own."""

    folder: Path
    process: subprocess.Popen[str]
    link: str

    @property
    def address(self) -> str:
        return self.link.partition("/open")[0]

    @property
    def port(self) -> int:
        return int(self.address.rpartition(":")[2])

    def text(self, name: str = "design.toml") -> str:
        return (self.folder / name).read_text()

    def stop(self) -> str:
        """End it as Ctrl+C does; return what it printed."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        try:
            out, _ = self.process.communicate(timeout=20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            out, _ = self.process.communicate()
        return out


def serve(folder: Path, *arguments: str, browser: bool = False, **environment: str) -> Served:
    """Start `wirecue page` as a user does; return when it has printed its link."""
    command = [sys.executable, "-u", "-m", "wirecue", "page", *["--no-browser"] * (not browser), *arguments]
    process = subprocess.Popen(
        command,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    assert process.stdout is not None
    printed = ""
    for line in process.stdout:
        printed += line
        if found := re.search(r"http://\S+", line):
            return Served(folder, process, found.group(0))
    raise AssertionError(f"no link was printed:\n{printed}")


def fill(folder: Path) -> None:
    """Put the examples into a folder, one of them as the design in work, and nothing else."""
    for path in folder.iterdir():
        if path.is_file():
            path.unlink()
    for example in EXAMPLES:
        shutil.copy(example, folder / example.name)
    shutil.copy(ROOT / "examples" / "spot_stitch.toml", folder / "design.toml")


@dataclass
class Browsing:
    """One served page with a browser that has been let in."""

    served: Served
    context: Any
    page: Any
    asked: list[str] = field(default_factory=list)
    """Addresses that the browser asked for."""
    troubles: list[str] = field(default_factory=list)
    """Errors that the page's scripts met."""

    def tab(self) -> Any:
        """Open another tab. Close it when it is done: while it stands in front, the first one draws little."""
        page = self.context.new_page()
        self.watch(page)
        page.goto(self.served.address)
        page.get_by_test_id("timeline").locator("svg").wait_for()
        return page

    def watch(self, page: Any) -> None:
        page.set_default_timeout(PATIENCE_MS)
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("websocket", lambda socket: self.asked.append(socket.url))
        page.on("pageerror", lambda error: self.troubles.append(str(error)))

    def load(self, name: str = "design.toml") -> None:
        """Load a design by the page's own button, as it stands on the disk."""
        before = self.page.get_by_test_id("file").get_attribute("data-revision")
        self.page.get_by_test_id("load").click()
        self.page.get_by_role("dialog").get_by_role("button", name=name, exact=True).click()
        self.page.wait_for_function(
            "before => document.querySelector('[data-testid=file]').dataset.revision !== before", arg=before
        )
        self.page.get_by_test_id("file").filter(has_text=f"{name} - saved").wait_for()
        self.page.locator(".q-dialog__backdrop").wait_for(state="detached")


def tab_to(page: Any, wanted: str, most: int = 150) -> None:
    """Press Tab until the element is focused, as somebody without a mouse does, and see that it shows."""
    for _ in range(most):
        if page.evaluate("wanted => !!document.activeElement?.closest(wanted)", wanted):
            assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none", wanted
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not reach {wanted}")


def open_card(page: Any, key: str) -> Any:
    """Go to a card by the way along the top, which opens it where it is folded; return it."""
    page.locator(f"[data-way={key}]").click()
    card = page.locator(f"#at-{key}")
    card.locator(":scope > details[open], :scope > h2").first.wait_for()
    return card


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """Debian's Chromium, without a screen."""
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def opened(chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browsing]:
    """The page as it opens by its link, for all tests of a module."""
    folder = tmp_path_factory.mktemp("designs")
    fill(folder)
    served = serve(folder, "design.toml")
    context = chromium.new_context(viewport={"width": 1366, "height": 768}, accept_downloads=True)
    browsing = Browsing(served, context, context.new_page())
    browsing.watch(browsing.page)
    browsing.page.goto(served.link)
    browsing.page.get_by_test_id("timeline").locator("svg").wait_for()
    yield browsing
    context.close()
    served.stop()


@pytest.fixture
def browsing(opened: Browsing) -> Browsing:
    """The page with the design as it was in the beginning."""
    fill(opened.served.folder)
    if opened.page.url.rstrip("/") != opened.served.address:
        opened.page.goto(opened.served.address)
    if opened.page.get_by_role("dialog").count():
        opened.page.keyboard.press("Escape")
    opened.page.set_viewport_size({"width": 1366, "height": 768})
    opened.load()
    return opened
