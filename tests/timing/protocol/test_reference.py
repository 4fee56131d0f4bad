"""The serial reference says everything that the tables say, in plain values."""

from __future__ import annotations

from timing.protocol.commands import COMMANDS
from timing.protocol.errors import ERRORS
from timing.protocol.reference import serial_page


def test_every_command_and_error_is_in_it():
    page = serial_page()
    assert all(f"| `{command.header}`" in page for command in COMMANDS)
    assert all(f"| {error.number} | {error.text} |" in page for error in ERRORS)


def test_names_of_the_code_are_put_as_values():
    page = serial_page()
    assert "more than 47 characters" in page
    assert "no complete line came for 1 s" in page
    assert "LONGEST_LINE" not in page
    assert "levels." not in page
