"""UF2, the form in which a board that shows itself as a drive takes a program: blocks, each with its place.

Published: the format's own specification (its repository, README), for the three magic numbers, the fields and the
flag that a family is named; the family's number stands in its list of families.
"""

from __future__ import annotations

import struct

BLOCK_BYTES = 512
RP2040_FAMILY = 0xE48BFF56
_MAGIC, _MAGIC_2, _MAGIC_END = 0x0A324655, 0x9E5D5157, 0x0AB16F30
_HEAD = struct.Struct("<8I")
_NAMES_FAMILY = 0x2000
_MOST_IN_A_BLOCK = 476


class Uf2Error(ValueError):
    """A file that is no UF2 for the chip."""


def program_in(content: bytes, family: int = RP2040_FAMILY) -> bytes:
    """Return the program that a UF2 file carries, its blocks joined in order of their addresses. Raises Uf2Error."""
    if not content or len(content) % BLOCK_BYTES:
        raise Uf2Error(f"{len(content)} bytes, not a multiple of {BLOCK_BYTES}: cut short, or something else")
    pieces: dict[int, bytes] = {}
    for start in range(0, len(content), BLOCK_BYTES):
        block = content[start : start + BLOCK_BYTES]
        magic, magic_2, flags, address, size, number, total, block_family = _HEAD.unpack_from(block)
        if (magic, magic_2, struct.unpack_from("<I", block, BLOCK_BYTES - 4)[0]) != (_MAGIC, _MAGIC_2, _MAGIC_END):
            raise Uf2Error(f"block {start // BLOCK_BYTES} is no block of a UF2 file")
        if flags & _NAMES_FAMILY and block_family != family:
            raise Uf2Error(f"made for the family {block_family:#x}, not {family:#x}")
        if size > _MOST_IN_A_BLOCK or number != start // BLOCK_BYTES or total != len(content) // BLOCK_BYTES:
            raise Uf2Error(f"block {start // BLOCK_BYTES} is out of place: blocks are missing")
        pieces[address] = block[_HEAD.size : _HEAD.size + size]
    return b"".join(pieces[address] for address in sorted(pieces))
