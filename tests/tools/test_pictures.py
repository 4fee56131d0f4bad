"""The pictures of the README say what the code says now."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from tests.conftest import ROOT
from tools.pictures import PICTURES


def words(svg: str) -> list[str]:
    """All text of a picture; the last digits of coordinates may differ from one machine to the next."""
    return [element.text or "" for element in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


@pytest.mark.parametrize("name", PICTURES)
def test_the_picture_is_up_to_date(name):
    kept = (ROOT / "docs" / name).read_text(encoding="utf-8")
    assert words(kept) == words(PICTURES[name]()), "`make docs` draws it anew"
