"""On which line of a design file a key stands, for messages."""

from __future__ import annotations

import copy
from collections.abc import Sequence

import tomlkit
from tomlkit.exceptions import TOMLKitError

_MARK = "wirecue-position-7f3a"


def line_of(text: str, path: Sequence[str | int]) -> int | None:
    """Return the line (from 1) of the key at `path`, of its nearest table if it is missing, or None.

    The value is swapped for a mark by the round-trip parser and the mark looked up in what that writes, which
    holds for every way of writing TOML: dotted keys, inline tables, arrays.
    """
    for length in range(len(path), 0, -1):
        line = _marked_line(text, path[:length])
        if line is not None:
            return line
    return None


def _marked_line(text: str, path: Sequence[str | int]) -> int | None:
    document = tomlkit.parse(text)
    try:
        parent = document
        for step in path[:-1]:
            parent = parent[step]  # type: ignore[index]
        target = parent[path[-1]]  # type: ignore[index]
        if isinstance(target, dict) and target:
            # A table is found by its first key; its header stands just above unless the table is inline.
            first = next(iter(target))
            below = _marked_line(text, [*path, first])
            header = f"[{'.'.join(str(step) for step in path)}]"
            lines = text.splitlines()
            for number in range(below or 0, 0, -1):
                if lines[number - 1].strip().startswith(header):
                    return number
            return below
        parent[path[-1]] = copy.copy(_MARK)  # type: ignore[index]
    except (KeyError, IndexError, TypeError, TOMLKitError):
        return None
    written = tomlkit.dumps(document)
    position = written.find(_MARK)
    return None if position < 0 else written.count("\n", 0, position) + 1
