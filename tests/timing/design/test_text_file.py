"""Files that anybody may have put there: read whole, or told in one sentence, and never waited for."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.text_file import UnreadableFileError, decoded_text, open_file, read_text_file

LARGEST = 100


def refused(path):
    """Return what is said of a file that is not read."""
    with pytest.raises(UnreadableFileError) as caught:
        read_text_file(path, LARGEST)
    assert caught.value.exit_code == 2
    return caught.value


@given(st.text())
def test_any_text_comes_back_with_or_without_a_byte_order_mark(text):
    text = text.removeprefix("\ufeff")
    for codec in ("utf-8", "utf-8-sig"):
        assert decoded_text(Path("x"), text.encode(codec)) == text


def test_a_file_is_read_up_to_its_bound_and_line_ends_stay(tmp_path):
    path = tmp_path / "file"
    path.write_bytes(b"\r\n" + b"a" * (LARGEST - 2))
    assert read_text_file(path, LARGEST) == "\r\n" + "a" * (LARGEST - 2)
    (tmp_path / "link").symlink_to(path)
    assert read_text_file(tmp_path / "link", LARGEST).endswith("a")


def test_a_larger_one_is_told_with_its_size(tmp_path):
    (tmp_path / "file").write_bytes(b"a" * (LARGEST + 1))
    assert refused(tmp_path / "file").found == "a file of 101 bytes"


def test_no_pipe_is_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    assert str(refused(tmp_path / "pipe")).endswith("pipe\n  found    a pipe\n  allowed  a file: save it as one first")


def test_what_is_no_file_is_told_by_its_kind(tmp_path):
    with socket.socket(socket.AF_UNIX) as opened:
        opened.bind(str(tmp_path / "socket"))
    assert refused(tmp_path).found == "a folder"
    assert refused(Path("/dev/zero")).found == "a device"
    assert refused(tmp_path / "socket").found == "no such device or address"


def test_a_file_of_the_system_that_says_it_is_empty_is_bounded_too():
    assert Path("/proc/self/status").stat().st_size == 0
    assert refused(Path("/proc/self/status")).found == "an endless file"


@pytest.mark.parametrize(
    ("name", "found", "missing"),
    [
        ("none", "no such file or directory", True),
        ("a\0b", "embedded null byte", False),
        ("a" * 300, "file name too long", False),
    ],
)
def test_a_name_that_leads_nowhere_is_told(tmp_path, name, found, missing):
    error = refused(tmp_path / name)
    assert (error.found, error.missing) == (found, missing)


def test_bytes_that_are_no_text_are_told(tmp_path):
    (tmp_path / "file").write_bytes(b"\xff\xfe")
    assert refused(tmp_path / "file").found == "bytes that are not UTF-8 text"


def test_nothing_is_left_open_after_a_refusal(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with open_file(Path(__file__), 10**6) as file:
        free = file.fileno()
    for _ in range(5):
        refused(tmp_path / "pipe")
    with open_file(Path(__file__), 10**6) as file:
        assert file.fileno() == free
