"""Take the pictures of the page for README and docs. Run it by hand after the page has changed its looks.

Needs Chromium. A picture is a photograph of fonts and browser at hand, so its points cannot be compared with those of a
new one. Each carries an outline of what it shows, as text in the PNG file: the words in view and the boxes that they
stand in. A test takes both in the same way, and compares outline and size with those of the kept picture.
"""

from __future__ import annotations

import json
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from PIL import Image, PngImagePlugin

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

ROOT = Path(__file__).parent.parent
PICTURE = ROOT / "docs" / "page.png"
COMMISSIONING = ROOT / "docs" / "commission-page.png"
PHOTOGRAPHS = (PICTURE.name, COMMISSIONING.name)
"""Pictures below docs/ that are taken here."""
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


OUTLINE = "Outline"
"""Name of the text in a picture's file."""
_WORDS_IN_VIEW = """
element => {
  const frame = element.getBoundingClientRect(), found = [];
  const look = { opacityProperty: true, visibilityProperty: true, contentVisibilityAuto: true };
  const tell = (text, owner, box) => {
    if (text && owner.checkVisibility(look) && box.left >= 0 && box.top >= 0 && box.bottom <= innerHeight)
      found.push([text, Math.round(box.left - frame.left), Math.round(box.top - frame.top)]);
  };
  const nodes = document.createTreeWalker(element, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
  while (nodes.nextNode()) {
    const node = nodes.currentNode, range = document.createRange();
    range.selectNode(node);
    if (node.nodeType === Node.TEXT_NODE)
      tell(node.data.replace(/\\s+/g, " ").trim(), node.parentElement, range.getBoundingClientRect());
    else if (node.tagName === "INPUT")
      tell(node.value, node, node.getBoundingClientRect());
  }
  return found;
}
"""


class PlacedWords(NamedTuple):
    """Words that stand together on a picture, and the corner of their box, in points from that of the picture."""

    words: str
    left: int
    top: int


def main() -> None:
    """Serve an example's page, wait for its pictures, and write the PNG files."""
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
        page = chromium.new_page()
        page.goto(link)
        photograph_page(page, PICTURE)
        photograph_commissioning(page, COMMISSIONING)
        chromium.close()


def photograph_page(page: Page, picture: Path) -> None:
    """Take the picture of an open page as it begins."""
    page.set_viewport_size({"width": WIDTH, "height": HEIGHT})
    for name in ("timeline", "wire-end", "supply"):
        page.get_by_test_id(name).locator("svg").wait_for()
    # The rules are what takes longest.
    page.locator("[data-way=findings][data-state]").wait_for()
    page.evaluate("scrollTo(0, 0)")
    _take(page.locator("body"), picture, whole=False)


def photograph_commissioning(page: Page, picture: Path, answers: Sequence[str] = ANSWERS) -> None:
    """Walk the first steps of commissioning on an open page, and take the picture of the step that comes next."""
    page.set_viewport_size({"width": WIDTH, "height": HEIGHT})
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
    part = page.locator(".place-commissioning")
    part.scroll_into_view_if_needed()
    _take(part, picture, whole=True)


def _take(part: Locator, picture: Path, *, whole: bool) -> None:
    """Photograph a part of the page, or what of it is in view, and put its outline into the file."""
    # A button looks pressed while the pointer is on it, while keys go to it, and while its ripple runs out.
    part.page.mouse.move(0, 0)
    part.page.evaluate("document.activeElement.blur()")
    part.page.wait_for_function("() => document.querySelector('.q-ripple') === null")
    outline = part.evaluate(_WORDS_IN_VIEW)
    if whole:
        part.screenshot(path=picture, animations="disabled")
    else:
        part.page.screenshot(path=picture, animations="disabled")
    told = PngImagePlugin.PngInfo()
    told.add_itxt(OUTLINE, json.dumps(outline, ensure_ascii=False))
    with Image.open(picture) as taken:
        taken.save(picture, pnginfo=told, optimize=True)


def outline_of(picture: Path) -> list[PlacedWords]:
    """Return what a picture shows. Raises KeyError where it was not taken here."""
    with Image.open(picture) as taken:
        taken.load()
        return [PlacedWords(*one) for one in json.loads(taken.info[OUTLINE])]


if __name__ == "__main__":
    main()
