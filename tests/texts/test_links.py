"""README and pages: every link has its end, every page and picture is come to, and every picture says what it shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token
from mdit_py_plugins.anchors import anchors_plugin

from tests.support.tree import ROOT, tracked

FRONT = ROOT / "README.md"
DOCS = ROOT / "docs"
PAGES = [path for path in tracked() if path.suffix == ".md" and (path.parent == ROOT or DOCS in path.parents)]
OUTSIDE = ("http://", "https://", "mailto:")


@dataclass(frozen=True)
class MarkdownLink:
    """A link or a picture of a page, with the words that stand for it."""

    target: str
    words: str
    is_picture: bool

    def ends_in(self, page: Path) -> tuple[Path, str]:
        """Return the file that it leads to, and the heading there."""
        name, _, heading = self.target.partition("#")
        return (page.parent / name).resolve() if name else page, heading


@cache
def tokens(text: str) -> list[Token]:
    """Return a page's parts, headings with the names by which links find them."""
    return MarkdownIt("gfm-like", {"linkify": False}).use(anchors_plugin, max_level=4).parse(text)


def links(text: str) -> Iterator[MarkdownLink]:
    """Yield every link and picture of a page."""
    for block in tokens(text):
        inner = block.children or []
        for place, one in enumerate(inner):
            if one.type == "image":
                yield MarkdownLink(str(one.attrs["src"]), one.content, is_picture=True)
            elif one.type == "link_open":
                following = inner[place + 1 :]
                end = next(number for number, token in enumerate(following) if token.type == "link_close")
                words = "".join(token.content for token in following[:end])
                yield MarkdownLink(str(one.attrs["href"]), words, is_picture=False)


@cache
def headings(page: Path) -> frozenset[str]:
    """Return the names of a page's headings."""
    found = tokens(page.read_text(encoding="utf-8"))
    return frozenset(str(token.attrs["id"]) for token in found if token.type == "heading_open" and "id" in token.attrs)


def dead_ends(page: Path, text: str, files: frozenset[Path]) -> list[str]:
    """Return the links of a page that lead nowhere, or out of what belongs to the project."""
    dead = []
    for link in links(text):
        if link.target.startswith(OUTSIDE):
            continue
        file, heading = link.ends_in(page)
        if file not in files or (heading and heading not in headings(file)):
            dead.append(link.target)
    return dead


@cache
def project_files() -> frozenset[Path]:
    """Return every file that a link may lead to: those that are tracked, and the pictures, which have no text."""
    return frozenset((*tracked(), *DOCS.glob("*.png")))


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_of_a_page_has_its_end(page: Path) -> None:
    assert dead_ends(page, page.read_text(encoding="utf-8"), project_files()) == []


@pytest.mark.parametrize(
    ("text", "dead"),
    [
        ("[a](docs/nowhere.md)", ["docs/nowhere.md"]),
        ("[a](docs/sequence.md#no-such-heading)", ["docs/sequence.md#no-such-heading"]),
        ("[a](docs/sequence.md#faults), [b](LICENSE), [c](https://here.example)", []),
        ("![a picture](docs/nowhere.svg)", ["docs/nowhere.svg"]),
        ("[a folder](docs)", ["docs"]),
        ("`[no](link.md)`", []),
    ],
)
def test_a_link_that_leads_nowhere_is_found(text: str, dead: list[str]) -> None:
    assert dead_ends(FRONT, text, project_files()) == dead


def come_to() -> frozenset[Path]:
    """Return every file that is come to from the front page by links and pictures."""
    seen, waiting = {FRONT}, [FRONT]
    while waiting:
        page = waiting.pop()
        text = page.read_text(encoding="utf-8")
        ends = {link.ends_in(page)[0] for link in links(text) if not link.target.startswith(OUTSIDE)}
        waiting += [end for end in ends - seen if end.suffix == ".md"]
        seen |= ends
    return frozenset(seen)


def test_every_page_and_picture_is_come_to_from_the_front_page() -> None:
    lost = {*PAGES, *DOCS.glob("*.svg"), *DOCS.glob("*.png")} - come_to()
    assert sorted(str(path.relative_to(ROOT)) for path in lost) == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_a_picture_says_in_words_what_it_shows(page: Path) -> None:
    pictures = [link for link in links(page.read_text(encoding="utf-8")) if link.is_picture]
    assert [picture.target for picture in pictures if len(picture.words.split()) < 3] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_a_page_has_one_title_and_no_level_left_out(page: Path) -> None:
    levels = [int(token.tag[1]) for token in tokens(page.read_text(encoding="utf-8")) if token.type == "heading_open"]
    assert Counter(levels)[1] == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


def test_the_job_comes_first_and_the_state_of_the_project_right_behind_it() -> None:
    _, job, state = FRONT.read_text(encoding="utf-8").split("\n\n")[:3]
    assert job.startswith("You own a capable old wire feeder")
    assert "not yet on a real board" in state.splitlines()[0]
