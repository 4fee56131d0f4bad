"""The walk through the nine steps: its commands do what the page shows, and its pictures are there."""

from __future__ import annotations

import re

import pytest

from tools.walk_through import DOCS, PAGE, CommandFailedError, remade, run_here, walked


def shape(page: str) -> list[str]:
    """What a page looks like apart from figures: numbers, digests, bars and the width of columns may change."""
    plain = re.sub(r"\b[0-9a-f]{16}\b|[+-]?\d+(\.\d+)?", "#", page)
    plain = re.sub(r"\b(ms|s)\b", "s", plain)
    return [re.sub(r"[ █·]+", " ", line).strip() for line in plain.splitlines()]


def test_every_command_of_the_page_runs_and_prints_what_the_page_shows():
    page = PAGE.read_text(encoding="utf-8")
    assert shape(walked(page)) == shape(page), "`make docs` writes it anew"


def test_the_page_walks_through_all_nine_steps_and_shows_pictures_that_are_there():
    page = PAGE.read_text(encoding="utf-8")
    assert re.findall(r"(?m)^## (\d)\. ", page) == list("123456789")
    targets = re.findall(r"\]\(([^)#]+)\)", page)
    assert targets
    assert all((DOCS / target).is_file() for target in targets)
    assert "not a safety function" in page


def test_output_is_renewed_and_kept_as_short_as_it_was():
    page = "a\n```console\n$ x one\nold\n...\n$ y\n$ z\nold\n...\nold\n```\nb\n```sh\n$ z\n```\n"
    printed = {"x one": ["1", "2", "3"], "y": ["new"], "z": ["1", "2", "3"]}
    new = "a\n```console\n$ x one\n1\n...\n$ y\nnew\n$ z\n1\n...\n3\n```\nb\n```sh\n$ z\n```\n"
    assert remade(page, printed.__getitem__) == new


@pytest.mark.parametrize("line", ["wirecue check nowhere.toml", "ls", "wirecue nonsense"])
def test_a_command_that_fails_is_not_written_into_the_page(line):
    with pytest.raises(CommandFailedError):
        remade(f"```console\n$ {line}\n```\n", run_here)


def test_another_answer_is_another_shape():
    assert shape("check: 0 errors, it may be built") != shape("check: 1 error, it must not be built")
    assert shape("a  12 ms ██··") == shape("a 3.5 s █·")
