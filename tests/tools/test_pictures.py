"""The pictures of README and docs say what the code says now, and there is none that nothing compares."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from tests.conftest import ROOT, SOAK
from timing.placement.items import board_items
from tools.page_picture import PHOTOGRAPHS
from tools.pictures import PICTURES, SLOW_PICTURES, spot_stitch


def words(svg: str) -> list[str]:
    """All text of a picture; the last digits of coordinates may differ from one machine to the next."""
    return [element.text or "" for element in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


DRAWN = {**PICTURES, **SLOW_PICTURES} if SOAK else PICTURES


@pytest.mark.parametrize("name", DRAWN)
def test_the_picture_is_up_to_date(name):
    kept = (ROOT / "docs" / name).read_text(encoding="utf-8")
    assert words(kept) == words(DRAWN[name]()), "`make docs` draws it anew"


def test_the_strip_board_is_one_of_the_circuit_as_it_is_now():
    kept = " ".join(words((ROOT / "docs" / "strip-board.svg").read_text(encoding="utf-8")))
    items = board_items(spot_stitch().netlist)
    assert f"net list {items.digest}," in kept, "`make docs` lays it out anew"
    assert {item.name for item in items.items if not item.edge} <= set(kept.split())


def test_every_picture_is_made_by_a_program():
    kept = {path.name for path in (ROOT / "docs").iterdir() if path.suffix != ".md" and path.is_file()}
    assert kept == {*PICTURES, *SLOW_PICTURES, *PHOTOGRAPHS}
