"""Advice put into a design file, and in words what moves on the front panel by that and what cannot."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from timing.design.text_file import shown
from wirecue.terminal import paragraph

if TYPE_CHECKING:
    from timing.design.moves import PanelMove
    from timing.process.ranging import Shortfall


@dataclass(frozen=True)
class AdvisedText:
    """A design file's text with the settings in it that were computed or found by test welds."""

    text: str
    moves: tuple[PanelMove, ...]
    """What stands otherwise than before."""
    short: tuple[Shortfall, ...]
    """Ends of made dials that do not reach what is advised."""
    made: bool
    """Whether the plates were made before."""
    unmade: bool
    """True where they no longer count as made."""


def with_advice(text: str, source: str, *, new_ranges: bool = False) -> AdvisedText:
    """Return a design file's text with the advice on every time put in, as `ranging.placing` places it.

    new_ranges: give dials that are short new ends though their plates are made; `panel.made` is false then. Raises
    DesignFileError, or ProcessError where nothing can be computed.
    """
    from timing.design.loading import parse_design
    from timing.design.origin import COMPUTED
    from timing.design.saving import with_values
    from timing.process.advice import advise
    from timing.process.ranging import placing

    before = text
    made = parse_design(text, source).panel.made
    ranged: set[str] = set()
    # Twice: postflow and pause depend on the spot time that the first round gives.
    for _ in range(2):
        plan = parse_design(text, source)
        placed = placing(plan, advise(plan).times, new_ranges=new_ranges)
        ranged.update(placed.new_ranges)
        text, _ = with_values(text, placed.values, source, COMPUTED)
    if made and ranged:
        text, _ = with_values(text, {"panel.made": False}, source)
    return moved_by(before, text, source, placed.short)


def moved_by(before: str, after: str, source: str, short: Iterable[Shortfall] = ()) -> AdvisedText:
    """Return what moves on the panel from one text of a design file to the other.

    short: ends of dials that do not reach what is asked for; of plates that are not made none is told. Raises
    DesignFileError.
    """
    from timing.design.loading import parse_design
    from timing.design.moves import panel_moves

    old, new = parse_design(before, source), parse_design(after, source)
    made = old.panel.made
    return AdvisedText(after, panel_moves(old, new), tuple(short) if made else (), made, made and not new.panel.made)


def moves_text(path: Path, advised: AdvisedText) -> str:
    """Return in words what moves on the panel, which plates to print, and which dials no longer serve."""
    return "\n".join(_lines(path, advised))


def told_moves(path: Path, advised: AdvisedText) -> Iterator[str | tuple[str, ...]]:
    """Yield the same piece by piece: sentences, and the items of lists."""
    from timing.design.moves import plates_to_print

    yield f"On the panel, by {shown(path)}:" if advised.moves else "On the panel nothing moves."
    yield tuple(move.sentence for move in advised.moves)
    plates = plates_to_print(advised.moves)
    if plates:
        yield f"Plates to print anew: {', '.join(plates)} (`wirecue sheet {shown(path)} --dials dials.pdf`)."
        yield "Flash the board again as well: the ends of its dials are in its program."
    if advised.made and any(move.reset and not move.new_plate for move in advised.moves):
        yield "The triangle on a plate stays where it was printed; go by the scale."
    if advised.unmade:
        yield (
            "panel.made is false now: glue the new plates on, then set it to true again. Until then `wirecue advise "
            "--write` may give the other dials new ends as well."
        )
    if advised.short:
        yield "These dials no longer serve, and their plates are made:"
        yield tuple(one.sentence for one in advised.short)
        yield (
            f"Settings go as far as the dials do. `wirecue advise {shown(path)} --write --new-ranges` gives these "
            "dials new ends; their plates must be printed and the board flashed anew then."
        )


def _lines(path: Path, advised: AdvisedText) -> Iterator[str]:
    for piece in told_moves(path, advised):
        if isinstance(piece, str):
            yield paragraph(piece)
        else:
            yield from (paragraph(f"- {sentence}", first="  ", then="    ") for sentence in piece)
