"""UF2 files, read back to the program that they carry."""

from __future__ import annotations

import random
import struct

import pytest

from codegen.uf2 import BLOCK_BYTES, RP2040_FAMILY, Uf2Error, program_in
from tests.support.uf2_files import uf2_of

PROGRAM = random.Random(1).randbytes(3 * 256 + 100)


def test_the_program_comes_back_whatever_the_order_of_its_addresses():
    assert program_in(uf2_of(PROGRAM)) == PROGRAM.ljust(4 * 256, b"\0")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda content: content[:0], "0 bytes"),
        (lambda content: content[:-1], "not a multiple"),
        (lambda content: content[:-BLOCK_BYTES], "blocks are missing"),
        (lambda content: content[BLOCK_BYTES:], "blocks are missing"),
        (lambda content: b":" + content[1:], "no block of a UF2"),
        (lambda content: content[:-2] + b"xx", "no block of a UF2"),
        (lambda content: content[:28] + struct.pack("<I", 0x12345678) + content[32:], "made for the family 0x12345678"),
    ],
)
def test_what_is_no_whole_file_for_the_chip_says_why(spoil, says):
    with pytest.raises(Uf2Error, match=says):
        program_in(spoil(uf2_of(PROGRAM)), RP2040_FAMILY)
