"""A compiled sketch as Intel hex, the form in which uploaders and the board maker's IDE take it.

The same sketch gives the same bytes, as long as compiler and core are the same.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from codegen.toolchain import AvrTools


def hex_name(design: str) -> str:
    """Return the name of the compiled sketch in the build of the design of that name."""
    return f"{design}.hex"


def hex_of(program: Path, tools: AvrTools) -> bytes:
    """Return a compiled program as Intel hex. Raises ToolchainError with the tool's words."""
    # Not beside the program: two builds at once share its folder.
    with tempfile.TemporaryDirectory(prefix="wirecue-hex-") as folder:
        made = Path(folder) / program.with_suffix(".hex").name
        tools.run([tools.tool("avr-objcopy"), "-O", "ihex", "-R", ".eeprom", str(program), str(made)])
        return made.read_bytes()
