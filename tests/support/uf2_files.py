"""UF2 files as an IDE exports them, made from the format's own description."""

from __future__ import annotations

import struct

from codegen.uf2 import RP2040_FAMILY

_PAYLOAD = 256
_FLASH = 0x10000000


def uf2_of(program: bytes, family: int = RP2040_FAMILY) -> bytes:
    """Return the UF2 file of a program at the beginning of the flash."""
    pieces = [program[at : at + _PAYLOAD].ljust(_PAYLOAD, b"\0") for at in range(0, len(program), _PAYLOAD)]
    blocks = []
    for number, piece in enumerate(pieces):
        address = _FLASH + number * _PAYLOAD
        head = (0x0A324655, 0x9E5D5157, 0x2000, address, _PAYLOAD, number, len(pieces), family)
        blocks.append(struct.pack("<8I", *head) + piece.ljust(476, b"\0") + struct.pack("<I", 0x0AB16F30))
    return b"".join(blocks)
