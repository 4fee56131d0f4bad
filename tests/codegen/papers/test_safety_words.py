"""What the pages say on safety: every caution is there, and none of what was found to be untrue."""

from __future__ import annotations

import re

import pytest

from tests.conftest import ROOT
from timing import safety
from timing.design.design import Design
from timing.protocol.target import CAUTIONS

PAGE = " ".join((ROOT / "docs" / "safety.md").read_text(encoding="utf-8").split())
FRONT = " ".join((ROOT / "README.md").read_text(encoding="utf-8").replace("\n> ", " ").split())

SAID = [
    "not a safety function",
    "COMMON, the board's ground, is not isolated",
    "one dry gloved hand on the gun's handle, the other off the machine",
    "No oscilloscope in a live machine",
    "Never pull a plug under load",
    "dry (potential-free) contacts of their own",
    "DC-13 of IEC 60947-5-1",
    "a licensed electrician for all of it",
    "Mark it as altered, and tell everybody else who uses it",
    "IEC 60974-4",
    "high-frequency start, switch it off",
    "Drive rolls pinch",
    "wire jumps out of the tip",
    "in a closed room, a pit or a tank it suffocates",
    "Chain cylinders upright",
    "Fire watch",
    "ANSI Z49.1",
    "Local codes come first",
]


@pytest.mark.parametrize("words", SAID)
def test_the_page_on_safety_has_every_caution(words: str) -> None:
    assert words in PAGE


def test_the_front_page_says_what_must_not_be_missed() -> None:
    for words in ("common is not isolated", "USB isolator", "never tie board common to chassis", "tell its other users",
                  "shielding gas suffocates", "licensed electrician"):  # fmt: skip
        assert words in FRONT


def test_nothing_in_the_tree_calls_common_isolated_or_the_add_on_isolated_in_any_case() -> None:
    untrue = re.compile(r"COMMON is isolated|isolated in any case|isolation is lost|hands behind your back")
    found = [
        path.relative_to(ROOT)
        for folder in ("timing", "codegen", "wirecue", "bench", "board_templates", "docs", "examples")
        for path in (ROOT / folder).rglob("*")
        if path.suffix in (".py", ".md", ".j2", ".toml", ".html") and untrue.search(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_purge_and_inch_say_what_they_do_to_people() -> None:
    buttons = Design.model_fields["buttons"].annotation
    described = {name: field.description for name, field in buttons.model_fields.items()}
    assert "suffocates in a closed room" in described["purge"]
    assert "jumps out of the tip" in described["inch"]


def test_the_bench_says_that_common_is_not_isolated() -> None:
    assert any("COMMON is not isolated from the feeder's 24 VAC" in caution for caution in CAUTIONS)


def test_every_caution_of_the_papers_is_one_sentence_or_more_in_plain_ascii() -> None:
    texts = {name: text for name, text in vars(safety).items() if name.isupper()}
    assert len(texts) >= 14
    for name, text in texts.items():
        assert text.isascii(), name
        assert text.endswith("."), name
        assert "  " not in text, name
