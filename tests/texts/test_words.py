"""The glossary's words are the ones in use: none that it replaces comes back."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from tests.support.tree import ROOT, lines, tracked

GLOSSARY = ROOT / "docs" / "glossary.md"
LISTING = {GLOSSARY, ROOT / "tests" / "texts" / "test_words.py"}
"""Files that name the words that are not used."""


def replaced() -> dict[str, str]:
    """Return each word that is not used, with the one that is, from the glossary's tables."""
    found: dict[str, str] = {}
    for line in GLOSSARY.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("|") and len(cells) == 3 and cells[0] != "word" and not cells[0].startswith("-"):
            found |= dict.fromkeys(filter(None, (word.strip() for word in cells[2].split(","))), cells[0])
    return found


def pattern(words: list[str]) -> re.Pattern[str]:
    """Match any of the words, whole, whatever their case."""
    return re.compile("|".join(rf"\b{re.escape(word)}\b" for word in words), re.IGNORECASE)


def misused(pairs: Iterator[tuple[str, str]], words: dict[str, str]) -> list[str]:
    """Return where a text uses a word that the glossary replaces, and what to write instead."""
    wanted = pattern(list(words))
    return [
        f"{place}: '{found[0]}'; write: {words[found[0].lower()]}"
        for place, text in pairs
        for found in wanted.finditer(text)
    ]


def test_the_glossary_names_words_to_replace_and_what_replaces_them() -> None:
    words = replaced()
    assert words["ground clamp"] == "work clamp"
    assert len(words) > 30
    assert all(word == word.lower() for word in words if "IDE" not in word and "V" not in word)


def test_no_replaced_word_stands_in_the_tree() -> None:
    words = {word.lower(): use for word, use in replaced().items()}
    places = (
        (f"{path.relative_to(ROOT)}:{number}", text)
        for path in tracked()
        if path not in LISTING
        for number, text in lines(path)
    )
    assert misused(places, words) == []


def test_a_replaced_word_is_found_and_answered_with_the_one_to_use() -> None:
    words = {word.lower(): use for word, use in replaced().items()}
    found = misused(iter([("here:1", "Ground clamp off, gas bottle shut.")]), words)
    assert found == ["here:1: 'Ground clamp'; write: work clamp", "here:1: 'gas bottle'; write: cylinder"]


@pytest.mark.parametrize("name", ["README.md", "docs/walk-through.md"])
def test_the_glossary_is_linked(name: str) -> None:
    linked = "glossary.md" in (ROOT / name).read_text(encoding="utf-8")
    assert linked, f"{name} does not link the glossary"
