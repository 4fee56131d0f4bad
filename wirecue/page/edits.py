"""Edits of a design file's text that change its keys, not only their values. Comments stay."""

from __future__ import annotations

from typing import Any

import tomlkit


def without_key(text: str, key: str) -> str:
    """Return `text` without the key of that dotted path, or as it is where it has none."""
    document = tomlkit.parse(text)
    *above, last = key.split(".")
    table = _table(document, above)
    if table is None or last not in table:
        return text
    del table[last]
    return tomlkit.dumps(document)


def as_dial(text: str, key: str, setting: str, from_: str, to: str) -> str:
    """Return `text` with the fixed time at `key` on a dial."""
    dial = tomlkit.inline_table()
    dial.update({"from": from_, "to": to, "setting": setting})
    return _replaced(text, key, dial)


def as_fixed(text: str, key: str, setting: str) -> str:
    """Return `text` with the time at `key` fixed."""
    return _replaced(text, key, setting)


def _replaced(text: str, key: str, value: object) -> str:
    document = tomlkit.parse(text)
    *above, last = key.split(".")
    table = _table(document, above)
    if table is None:
        raise KeyError(key)
    table[last] = value
    return tomlkit.dumps(document)


def _table(document: Any, path: list[str]) -> Any | None:
    table = document
    for step in path:
        table = table.get(step) if hasattr(table, "get") else None
        if table is None:
            return None
    return table
