"""Logbooks on the disk: added to, never changed, whoever writes and whatever breaks."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor

import pytest

from timing.design.text_file import UnreadableFileError
from timing.logbook.entry import EntryKind, Logbook
from wirecue.logbooks import append_entry, logbook_path, read_logbook
from wirecue.output_files import OutputError

AT = "2026-03-01T10:22:05+01:00"


@pytest.fixture
def book(tmp_path):
    """Where the logbook of a design lies; no file yet."""
    return logbook_path(tmp_path / "shop.toml")


def test_a_logbook_lies_beside_its_design_and_begins_with_the_first_entry(book):
    assert book.name == "shop.log"
    assert read_logbook(book) == Logbook()
    entry = append_entry(book, EntryKind.WELD, {"burnback": "115 ms", "outcome": "frozen"}, AT)
    assert read_logbook(book).entries == (entry,)
    assert book.read_text() == (
        "# wirecue logbook: shop. An entry a line, newest last: add lines, change none.\n"
        f'{AT} weld {{ burnback = "115 ms", outcome = "frozen" }}\n'
    )


def test_the_clock_is_read_where_no_time_is_given(book):
    entry = append_entry(book, EntryKind.NOTE, {"text": "new liner"})
    assert read_logbook(book).entries == (entry,)


def test_an_entry_after_a_torn_line_stands_on_its_own(book):
    append_entry(book, EntryKind.NOTE, {"text": "one"}, AT)
    torn = book.read_text() + f"{AT} note {{ text = "
    book.write_text(torn)
    append_entry(book, EntryKind.NOTE, {"text": "two"}, AT)
    assert book.read_text().startswith(f"{torn}\n")
    found = read_logbook(book)
    assert [entry.values["text"] for entry in found.entries] == ["one", "two"]
    assert len(found.unread) == 1


def test_all_that_write_at_once_are_in_it(book):
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda number: append_entry(book, EntryKind.NOTE, {"number": number}, AT), range(64)))
    found = read_logbook(book)
    assert sorted(entry.values["number"] for entry in found.entries) == list(range(64))
    assert not found.unread


@pytest.mark.parametrize("content", [b"Dear diary\n", b"\xff\xfe\x00", b"\n# wirecue logbook"])
def test_a_file_that_is_no_logbook_is_left_alone(book, content):
    book.write_bytes(content)
    for act in (lambda: read_logbook(book), lambda: append_entry(book, EntryKind.NOTE, {}, AT)):
        with pytest.raises(UnreadableFileError):
            act()
    assert book.read_bytes() == content


def test_a_folder_or_a_pipe_in_its_place_is_refused(book, tmp_path):
    book.mkdir()
    with pytest.raises(UnreadableFileError):
        append_entry(book, EntryKind.NOTE, {}, AT)
    pipe = tmp_path / "pipe.log"
    os.mkfifo(pipe)
    with pytest.raises(UnreadableFileError):
        append_entry(pipe, EntryKind.NOTE, {}, AT)


def test_a_place_that_does_not_exist_is_told(tmp_path):
    with pytest.raises(OutputError, match="no such file"):
        append_entry(tmp_path / "nowhere" / "shop.log", EntryKind.NOTE, {}, AT)


def test_a_full_disk_leaves_no_half_of_a_line(book, monkeypatch):
    append_entry(book, EntryKind.NOTE, {"text": "one"}, AT)
    before = book.read_bytes()

    def fails(_descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", fails)
    with pytest.raises(OutputError, match="no space left"):
        append_entry(book, EntryKind.NOTE, {"text": "two"}, AT)
    assert book.read_bytes() == before
