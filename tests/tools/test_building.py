"""The page on the two ways to build says what the examples say now."""

from __future__ import annotations

from tools.building import PAGE, page


def test_the_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "`make docs` writes it anew"
