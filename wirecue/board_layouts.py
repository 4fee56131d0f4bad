"""Strip boards that were laid out, kept in the user's cache folder by the net list that they are for.

What comes from there is read back and compared with the circuit before anything is drawn: a file that was damaged, or
made by another version, counts for nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from codegen import disk
from codegen.papers.board_pages import BoardPaper
from timing.placement.board import BoardLayout, layout_of
from timing.placement.items import BoardItems, board_items
from timing.placement.place import confirmed_faults, place
from timing.project import Project
from timing.system.folders import cache_folder
from wirecue import __version__
from wirecue.output_files import OutputError, write_file

_LARGEST = 4_000_000


def kept_board(project: Project) -> BoardPaper | None:
    """Return the board laid out before for a project's circuit; None where there is none.

    Raises PlacementError and FootprintError where there can be none.
    """
    items = board_items(project.netlist)
    layout = _kept(items)
    return None if layout is None else BoardPaper(project, items, layout, __version__)


def laid_out_board(project: Project, seed: int, moves: int, tell: Callable[[int], None]) -> BoardPaper:
    """Return the board of a project's circuit for a seed and a number of moves: the kept one, or one made now.

    tell: told of moves as they are made. Raises PlacementError and FootprintError.
    """
    items = board_items(project.netlist)
    layout = _kept(items)
    if layout is None or (layout.seed, layout.moves) != (seed, moves):
        layout = place(project.netlist, seed, moves, tell)
        # Without a cache folder that can be written it is laid out again the next time.
        with suppress(OSError, OutputError):
            path = _place_of(items)
            path.parent.mkdir(parents=True, exist_ok=True)
            write_file(path, json.dumps(layout.as_data(items.digest)))
    return BoardPaper(project, items, layout, __version__)


def _place_of(items: BoardItems) -> Path:
    return cache_folder() / "boards" / f"{items.digest}.json"


def _kept(items: BoardItems) -> BoardLayout | None:
    try:
        found = disk.read(_place_of(items), _LARGEST)
        data = None if found is None else json.loads(found)
    except (OSError, ValueError, RecursionError):
        return None
    layout = layout_of(data, items.digest)
    return layout if layout is not None and not confirmed_faults(items, layout) else None
