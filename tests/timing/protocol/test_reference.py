"""The serial reference says everything that the tables say, in plain values."""

from __future__ import annotations

from timing.protocol.commands import COMMANDS, LONGEST_LINE, SCPI_VERSION
from timing.protocol.reference import REQUIRED, serial_page
from timing.protocol.status import ERRORS, REGISTER_MASK, STATUS_CONDITIONS, Register


def test_every_command_and_error_is_in_it():
    page = serial_page()
    assert all(f"| `{command.header}`" in page for command in COMMANDS)
    assert all(f"| {error.number} | {error.text} |" in page for error in ERRORS)


def test_names_of_the_code_are_put_as_values():
    page = serial_page()
    assert f"more than {LONGEST_LINE} characters" in page
    assert "no complete line came for 1 s" in page
    assert "LONGEST_LINE" not in page
    assert "levels." not in page


def test_the_version_is_claimed_with_every_command_that_it_demands():
    assert SCPI_VERSION == "1999.0"
    assert {one.header for one in REQUIRED} <= {command.header for command in COMMANDS}
    assert all(f"| `{one.header}` | {one.where} |" in serial_page() for one in REQUIRED)


def test_each_condition_has_a_bit_of_its_own_that_a_register_can_show():
    assert len(STATUS_CONDITIONS) <= 8, "the board keeps them in one byte"
    for register in Register:
        bits = [one.bit for one in STATUS_CONDITIONS if one.register is register]
        assert len(set(bits)) == len(bits)
        assert all(bit & REGISTER_MASK and bit.bit_count() == 1 for bit in bits)
