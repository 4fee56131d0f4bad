"""A compiled sketch as Intel hex, the form in which uploaders and the board maker's IDE take it.

The same sketch gives the same bytes, as long as compiler and core are the same.
"""

from __future__ import annotations

from pathlib import Path

from codegen.toolchain import AvrTools, ToolchainError


def hex_name(design: str) -> str:
    """Return the name of the compiled sketch in the build of the design of that name."""
    return f"{design}.hex"


def hex_of(program: Path, tools: AvrTools) -> bytes:
    """Return a compiled program as Intel hex. Raises ToolchainError with the tool's words."""
    made = program.with_suffix(".hex")
    if not made.is_file():
        # Under a name of its own first: two builds at once share the folder.
        part = made.with_name(f"{made.name}.{id(tools):x}")
        tools.run([tools.tool("avr-objcopy"), "-O", "ihex", "-R", ".eeprom", str(program), str(part)])
        part.replace(made)
    try:
        return made.read_bytes()
    except OSError as error:
        raise ToolchainError(f"{made} cannot be read: {(error.strerror or str(error)).lower()}") from None
