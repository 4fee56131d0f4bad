"""The build sheet: everything for the workshop in one file."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from codegen.papers import sheet_board, sheet_settings, sheet_supply
from codegen.papers.blocks import Block, Paper, Section
from codegen.papers.sheet_subject import SheetSubject

Content = Callable[[SheetSubject], Sequence[Block] | None]
"""A section's blocks; None where its data is not there."""

SECTIONS: tuple[tuple[str, str, Content, bool], ...] = (
    ("cautions", "Before you begin", sheet_settings.cautions, False),
    ("settings", "Settings", sheet_settings.settings, False),
    ("sequence", "The sequence", sheet_settings.sequence, False),
    ("burnback", "Burnback and the other times", sheet_settings.burnback, False),
    ("findings", "What the checks say", sheet_settings.findings, False),
    ("budget", "The 24 VAC supply", sheet_supply.budget, False),
    ("drawings", "Schematic and wiring", sheet_supply.drawings, False),
    ("parts", "Parts", sheet_supply.parts, False),
    ("wires", "Wires", sheet_supply.wires, True),
    ("pins", "Pins of the board", sheet_supply.pins, False),
    ("dials", "Dials", sheet_board.dials, False),
    ("lamp", "What the lamp says", sheet_board.lamp, False),
    ("flashing", "Flash and test the board", sheet_board.flashing, False),
    ("brown-out", "Brown-out level of the chip", sheet_board.brown_out, False),
    ("bench", "Bench results", sheet_board.bench, False),
    ("record", "For the record", sheet_board.record, False),
)
"""Key, heading, content, and whether it starts a page; in the order of the work."""


def build_paper(subject: SheetSubject) -> Paper:
    """Return the build sheet."""
    design = subject.design
    sections = [
        Section(key, title, blocks, new_page)
        for key, title, content, new_page in SECTIONS
        if (blocks := content(subject)) is not None
    ]
    foot = f"{design.name}, design {design.digest()}, {subject.board.title}, wirecue {subject.version}"
    return Paper(f"Build sheet: {design.name}", design.title, foot, sections)
