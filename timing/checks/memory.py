"""The rule on memory: the sketch must fit its board with room for the stack."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, error, info
from timing.project import Project

# Measured: deepest stack of the generated sketch with all interrupts, with a margin of two.
STACK_BYTES = 256
"""Room left for the stack (choice: several times what the simulator sees)."""


def memory_fit(project: Project) -> Iterator[Finding]:
    """Compare the sketch's flash and RAM with the board's."""
    footprint, board = project.footprint, project.board
    how = "as compiled" if footprint.measured else "estimated"
    says = (
        f"the sketch takes {footprint.flash_bytes} of {board.flash_bytes} bytes of flash and {footprint.ram_bytes} of "
        f"{board.ram_bytes} bytes of RAM ({how})"
    )
    if footprint.flash_bytes > board.flash_bytes or footprint.ram_bytes + STACK_BYTES > board.ram_bytes:
        yield error(
            "memory-fit",
            "board.type",
            says,
            f"the stack needs about {STACK_BYTES} bytes of RAM on top",
            "a board with more memory",
        )
    else:
        yield info("memory-fit", "board.type", says, "it fits")
