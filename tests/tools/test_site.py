"""The site that `make site` builds: read from a folder, every link has its end and nothing comes from outside."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest

from tests.conftest import ROOT, SOAK
from tests.wirecue.page.conftest import FLAGS

BRINGS = {"img": "src", "script": "src", "link": "href", "a": "href", "form": "action", "iframe": "src"}
"""Elements that lead to another file, and by which attribute."""
FRONT = ("index.html", "docs/walk-through.html", "docs/sources.html")
"""Looked at in a browser in every run; all of them in a long one."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the site, built as `make site` does: a warning, such as a link that leads nowhere, is an error."""
    folder = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "sphinx", "-q", "-E", "-W", "--keep-going", "-c", "tools/site"]
    places = ["-d", str(folder / "kept"), ".", str(folder / "site")]
    done = subprocess.run([*command, *places], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder / "site"


class SitePage(HTMLParser):
    """What one page of the site has: names of its places, ways to other files, and what is read aloud of it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self.ways: list[tuple[str, str]] = []
        self.pictures_without_words: list[str] = []
        self.language = ""
        self.next = ""
        self.landmarks: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.names += [given["id"]] if "id" in given else []
        self.language = given.get("lang", "") if tag == "html" else self.language
        self.landmarks |= {tag} & {"main", "nav", "header", "footer", "h1"}
        if way := given.get(BRINGS.get(tag, ""), ""):
            self.ways.append((tag, way))
        if given.get("rel") == "next":
            self.next = given["href"]
        if tag == "img" and not given.get("alt"):
            self.pictures_without_words.append(given.get("src", ""))


@cache
def read(page: Path) -> SitePage:
    """Return a page of the site, read once."""
    return SitePage(page.read_text(encoding="utf-8"))


def pages(site: Path) -> Iterator[Path]:
    """Yield the pages of the site."""
    yield from sorted(site.rglob("*.html"))


def dead_ways(page: Path, site: Path) -> list[str]:
    """Return the ways of a page that lead nowhere, or out of the site."""
    dead = []
    for _, way in read(page).ways:
        parts = urlsplit(way)
        end = (page.parent / unquote(parts.path)).resolve() if parts.path else page
        inside = not parts.scheme and not parts.netloc and site in end.parents and end.is_file()
        if not inside or (parts.fragment and unquote(parts.fragment) not in read(end).names):
            dead.append(way)
    return dead


def test_every_way_leads_to_a_file_of_the_site_and_to_a_place_in_it(site: Path) -> None:
    found = list(pages(site))
    assert len(found) > 25
    assert {str(page.relative_to(site)): dead for page in found if (dead := dead_ways(page, site))} == {}


def test_a_way_out_or_to_nowhere_is_found(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text(
        '<a href="page.html#here" id="here"></a><a href="#gone"></a><img src="gone.png"><a href="../conftest.py"></a>'
        '<script src="https://host.example/a.js"></script><link href="//host.example/a.css">'
    )
    assert dead_ways(tmp_path / "page.html", tmp_path) == [
        "#gone", "gone.png", "../conftest.py", "https://host.example/a.js", "//host.example/a.css",
    ]  # fmt: skip


def test_no_page_but_the_search_runs_a_script(site: Path) -> None:
    scripted = {page.name for page in pages(site) if any(tag == "script" for tag, _ in read(page).ways)}
    assert scripted == {"search.html"}


def test_no_style_asks_for_anything() -> None:
    style = (ROOT / "tools" / "site" / "plain" / "static" / "site.css.jinja").read_text(encoding="utf-8")
    assert "url(" not in style
    assert "@import" not in style


def test_each_page_can_be_read_aloud(site: Path) -> None:
    for page in pages(site):
        shown = read(page)
        assert shown.language == "en", page
        assert shown.landmarks == {"main", "nav", "header", "footer", "h1"}, page
        assert shown.pictures_without_words == [], page
        assert len(shown.names) == len(set(shown.names)), page


def test_who_turns_the_pages_comes_through_the_job_then_the_reference_then_the_developers(site: Path) -> None:
    turned = [site / "README.html"]
    while following := read(turned[-1]).next:
        turned.append((turned[-1].parent / following).resolve())
    names = [page.stem for page in turned]
    order = ["walk-through", "safety", "building", "help", "glossary", "sources", "DEVELOPERS", "CHANGELOG"]
    assert [name for name in names if name in order] == order
    assert set(turned) == set(pages(site)) - {site / "index.html", site / "search.html"}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """Debian's Chromium, without a screen."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(FLAGS))
        yield browser
        browser.close()


@pytest.mark.debian("chromium")
def test_a_browser_shows_the_pages_from_the_folder_and_asks_nobody(site: Path, chromium: Any) -> None:
    asked: list[str] = []
    troubles: list[str] = []
    page = chromium.new_page(viewport={"width": 400, "height": 800})
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("requestfailed", lambda request: troubles.append(f"{request.failure} {request.url}"))
    for name in [str(one.relative_to(site)) for one in pages(site)] if SOAK else FRONT:
        page.goto((site / name).as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 400, f"{name} is wider than a narrow screen"
        assert page.evaluate("[...document.images].every(one => one.complete && one.naturalWidth > 0)"), name
    page.locator("input[type=search]").fill("burnback")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="The nine steps").first.wait_for()
    assert [address for address in asked if not address.startswith("file://")] == []
    # Who turns a page before its icon is there breaks that off.
    assert [trouble for trouble in troubles if "ERR_ABORTED" not in trouble] == []
