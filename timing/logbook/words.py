"""Entries of a logbook in plain words, for people."""

from __future__ import annotations

from datetime import datetime

from timing.logbook.entry import Entry, EntryKind, EntryValue

_HEADS = {
    EntryKind.BUILD: "built",
    EntryKind.FLASH: "flashed",
    EntryKind.BENCH: "bench test",
    EntryKind.STEP: "commissioning",
    EntryKind.WELD: "test weld",
    EntryKind.SETTING: "set",
    EntryKind.PLATES: "plates made",
    EntryKind.NOTE: "note",
}
_TOLD_BY_THEMSELVES = ("text", "verdict", "step", "outcome")
"""Keys whose values need no name in front, in the order in which they are told."""


def head_of(entry: Entry) -> str:
    """Return what kind of thing happened, in a word or two."""
    return _HEADS[entry.kind]


def when(entry: Entry) -> str:
    """Return day and minute on the clock of the place where it was entered."""
    return datetime.fromisoformat(entry.at).strftime("%Y-%m-%d %H:%M")


def entry_words(entry: Entry) -> str:
    """Return what an entry says, without its kind: 'burnback 115 ms, outcome frozen'. Any key has a place in it."""
    values = dict(entry.values)
    parts = []
    if {"key", "new"} <= values.keys():
        old = f"{_plain(values.pop('old'))} -> " if "old" in values else ""
        parts.append(f"{_plain(values.pop('key'))}: {old}{_plain(values.pop('new'))}")
    parts += [_plain(values.pop(key)) for key in _TOLD_BY_THEMSELVES if key in values]
    parts += [f"{key.replace('_', ' ')} {_plain(value)}" for key, value in values.items()]
    return ", ".join(parts)


def _plain(value: EntryValue) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
