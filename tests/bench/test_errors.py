"""What a device says reaches nobody but in printable ASCII."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from bench.errors import (
    LONGEST_TEXT,
    GarbledError,
    NoPortGivenError,
    PortMissingError,
    RefusedError,
    device_text,
    quoted,
)
from bench.port import listed_ports


@given(st.one_of(st.binary(max_size=600), st.text(max_size=600)))
def test_any_bytes_and_any_text_become_short_printable_ascii(raw):
    assert re.fullmatch(r"[ -~]{0,256}", device_text(raw))
    assert re.fullmatch(r"'[ -~]{0,60}'", quoted(raw))


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=LONGEST_TEXT))
def test_what_is_fit_comes_back_as_it_is(text):
    assert device_text(text) == device_text(text.encode()) == text


def test_what_a_terminal_obeys_is_shown_by_its_number():
    assert device_text(b"\x1b[2J\x00\n\xff") == "<1b>[2J<00><0a><ff>"


def test_sentences_quote_no_more_of_a_device_than_that():
    evil = "\x1b]0;mine\x07" * 100
    for error in (
        GarbledError("ttyACM0", "*IDN?", evil),
        RefusedError("ttyACM0", "BENC:REL", -222, evil),
    ):
        assert re.fullmatch(r"[ -~]{0,500}", str(error))


def test_a_ports_description_is_a_devices_text_too(monkeypatch):
    class Port:
        device = "/dev/ttyACM0"
        description = "board\x1b[2J\n"
        vid = 0x1209
        pid = 1

    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: [Port])
    assert listed_ports() == ["/dev/ttyACM0  board<1b>[2J<0a>"]


def test_a_port_built_into_the_computer_is_not_offered_for_a_board(monkeypatch):
    class BuiltIn:
        device = "/dev/ttyS0"
        description = "n/a"
        vid = None

    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: [BuiltIn])
    assert listed_ports() == []
    assert "none is plugged in" in str(NoPortGivenError(listed_ports()))
    assert "Nothing is plugged in" in str(PortMissingError("/dev/ttyACM9", listed_ports()))
