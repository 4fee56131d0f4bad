"""docs/sources.md: every constant with its mark, made from the constants themselves."""

from __future__ import annotations

import types
from pathlib import Path

import pytest

from tests.conftest import ROOT
from timing.marks import MARK_MEANINGS
from tools import sources
from tools.sources import Constant, UnmarkedError, constants, page


@pytest.fixture(scope="module")
def every() -> list[Constant]:
    return constants()


def test_the_page_is_the_one_that_is_made_now() -> None:
    stands = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8") == page()
    assert stands, "`make docs` writes it anew"


def test_values_still_remembered_are_few_and_each_says_why_it_does_not_decide(every: list[Constant]) -> None:
    remembered = [one for one in every if one.mark == "remembered"]
    assert len(remembered) <= 9
    why = page().partition("## Remembered")[2].partition("\n## ")[0]
    for one in remembered:
        line = next(line for line in why.splitlines() if line.startswith(f"- `{one.name}`"))
        assert line.endswith(".")


def test_what_is_published_names_where_and_every_mark_is_known(every: list[Constant]) -> None:
    assert {one.mark for one in every} == set(MARK_MEANINGS)
    assert [one.name for one in every if one.mark == "published" and not one.source] == []


def test_constants_of_process_supply_checks_and_every_board_are_listed(every: list[Constant]) -> None:
    names = {(one.place, one.name) for one in every}
    assert {
        ("timing/process", "ARC_EFFICIENCY"),
        ("timing/power", "RATINGS_A"),
        ("timing/checks", "HAND_DEG"),
    } <= names
    flash = {one.value for one in every if one.name == "flash_bytes"}
    assert flash == {"32256", "30720", "253952", "28672", "2093056"}


@pytest.mark.parametrize(
    ("text", "marked"),
    [
        ('NEW_S = 1.0\n"""What it is (practice)."""\n', True),
        ('NEW_S = 1.0\n"""What it is (published: EN 1, table 2 (note 3), seen)."""\n', True),
        ('NEW_S = 1.0\n"""What it is (guess)."""\n', False),
        ("NEW_S = 1.0\n", False),
        ("_STEPS = 40\n", True),
    ],
)
def test_a_constant_without_a_mark_is_told_of_with_its_place(
    text: str, marked: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "new.py").write_text(text, encoding="utf-8")
    module = types.ModuleType("new")
    exec(text, module.__dict__)
    monkeypatch.setattr(sources, "ROOT", tmp_path)
    monkeypatch.setattr(sources, "PLACES", ("new.py",))
    monkeypatch.setattr(sources.importlib, "import_module", lambda _: module)
    monkeypatch.setattr(sources, "board_names", tuple)
    if marked:
        constants()
    else:
        with pytest.raises(UnmarkedError, match=r"new\.py: NEW_S has no mark; end the text under it"):
            constants()
