"""The README: its state at the top, and every file that it or a page of the documentation points to is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.support.tree import ROOT, tracked

PAGES = [path for path in tracked() if path.suffix == ".md" and path.parent in (ROOT, ROOT / "docs")]
LINK = re.compile(r"\]\((?!https?://)([^)#\s]+)")


def test_the_state_of_the_project_stands_at_the_top() -> None:
    top = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()[:4]
    assert any("not yet on a real board" in line for line in top)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_file_that_a_page_points_to_is_there(page: Path) -> None:
    pointed = LINK.findall(page.read_text(encoding="utf-8"))
    assert [target for target in pointed if not (page.parent / target).exists()] == []
