"""Take the pictures of the page for README and docs. Run it by hand after the page has changed its looks.

Needs Chromium. A picture is a photograph of fonts and browser at hand, so no test compares it with a new one; a test
takes that of commissioning in the same way.
"""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).parent.parent
PICTURE = ROOT / "docs" / "page.png"
COMMISSIONING = ROOT / "docs" / "commission-page.png"
DESIGN = "spot_stitch"
ANSWERS = (
    *("yes",) * 5,
    *("2 Mohm", "2 Mohm", "20 kohm"),
    *("yes",) * 2,
    *("27", "0.1", "0.1", "35", "33", "9", "25"),
    *("yes",) * 4,
)
"""To the example's steps up to the first dry run of a weld."""
WIDTH, HEIGHT = 1440, 960
FLAGS = ("--no-sandbox", "--no-first-run", "--disable-background-networking", "--disable-component-update")


def main() -> None:
    """Serve an example's page, wait for its pictures, and write the PNG."""
    browser = shutil.which("chromium")
    if browser is None:
        raise SystemExit("no chromium here: `make packages` installs it")
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(ROOT / "examples" / f"{DESIGN}.toml", folder)
        command = [sys.executable, "-u", "-m", "wirecue", "page", f"{DESIGN}.toml", "--no-browser"]
        environment = {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"}
        server = subprocess.Popen(command, cwd=folder, env=environment, text=True, stdout=subprocess.PIPE)
        try:
            _photograph(browser, _link(server))
        finally:
            server.send_signal(signal.SIGINT)
            server.communicate(timeout=20)


def _link(server: subprocess.Popen[str]) -> str:
    assert server.stdout is not None
    for line in server.stdout:
        if found := re.search(r"http://\S+", line):
            return found.group(0)
    raise SystemExit("the page printed no link")


def _photograph(browser: str, link: str) -> None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser, args=list(FLAGS))
        page = chromium.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        page.goto(link)
        for name in ("timeline", "wire-end", "supply"):
            page.get_by_test_id(name).locator("svg").wait_for()
        page.screenshot(path=PICTURE, animations="disabled")
        photograph_commissioning(page, COMMISSIONING)
        chromium.close()


def photograph_commissioning(page: Page, picture: Path, answers: Sequence[str] = ANSWERS) -> None:
    """Walk the first steps of commissioning on an open page, and take the picture of the step that comes next."""
    page.locator("[data-way=commissioning]").click()
    page.get_by_test_id("commission-start").click()
    shown, where = page.get_by_test_id("commission-step"), page.get_by_test_id("commission-where")
    shown.locator("h3").wait_for()
    for answer in answers:
        before = where.inner_text()
        if page.get_by_test_id("commission-answer").is_visible():
            # The field is emptied for each step; what is typed before that is lost.
            page.wait_for_function("() => document.querySelector('input[data-testid=commission-answer]').value === ''")
            page.locator('input[data-testid="commission-answer"]').fill(answer)
            page.get_by_test_id("commission-enter").click()
        else:
            page.get_by_test_id(f"commission-{answer}").click()
        page.wait_for_function(
            "before => document.querySelector('[data-testid=commission-where]').innerText !== before", arg=before
        )
    page.locator(".place-commissioning").screenshot(path=picture, animations="disabled")


if __name__ == "__main__":
    main()
