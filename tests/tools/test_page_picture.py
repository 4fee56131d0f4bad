"""The pictures of the page: each carries what it shows, and one that has become another is told from it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, PngImagePlugin

from tests.support.photographs import differences
from tools.page_picture import HEIGHT, OUTLINE, PHOTOGRAPHS, PICTURE, ROOT, WIDTH, outline_of

Outline = list[tuple[str, int, int]]
KEPT: Outline = [("spot_stitch.toml - saved", 90, 10), ("Times", 27, 70), ("450", 300, 190)]


def saved(path: Path, outline: Outline, grey: int = 255, size: tuple[int, int] = (240, 160)) -> Path:
    """Make a picture with an outline."""
    told = PngImagePlugin.PngInfo()
    told.add_itxt(OUTLINE, json.dumps(outline))
    Image.new("L", size, grey).save(path, pnginfo=told)
    return path


@pytest.mark.parametrize("name", PHOTOGRAPHS)
def test_a_kept_picture_carries_what_it_shows(name: str) -> None:
    words = {one.words for one in outline_of(ROOT / "docs" / name)}
    assert len(words) > 10
    assert words & {"Times", "Commissioning"}


def test_the_picture_of_the_page_is_as_large_as_it_is_taken() -> None:
    with Image.open(PICTURE) as kept:
        assert kept.size == (WIDTH, HEIGHT)


def test_other_fonts_and_another_file_make_no_other_picture(tmp_path: Path) -> None:
    other = [("design.toml - saved", 90, 10), ("Times", 30, 75), ("450", 310, 199)]
    assert differences(saved(tmp_path / "kept.png", KEPT), saved(tmp_path / "other.png", other)) == []


@pytest.mark.parametrize(
    ("outline", "look", "told"),
    [
        ([*KEPT[:2], ("600", 300, 190)], {}, ["-450", "+600"]),
        ([*KEPT[:2], ("450", 300, 290)], {}, ["450: from (300, 190) to (300, 290)"]),
        (KEPT, {"grey": 200}, ["darker or paler by 55 of 255"]),
        (KEPT, {"size": (240, 100)}, ["0 wider or narrower, 60 higher or lower"]),
    ],
    ids=["words", "places", "light", "size"],
)
def test_what_has_become_another_picture_is_found(tmp_path: Path, outline: Outline, look: Any, told: list[str]) -> None:
    found = differences(saved(tmp_path / "kept.png", KEPT), saved(tmp_path / "other.png", outline, **look))
    assert [line for line in found if not line.startswith(("---", "+++", "@@"))] == told
