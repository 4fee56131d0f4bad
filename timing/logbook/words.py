"""Entries of a logbook in plain words, for people."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import groupby

from timing.logbook.entry import Entry, EntryKind, EntryValue, Logbook
from timing.process.welds import TAKEN_BACK, WeldError, weld_of_values

_HEADS = {
    EntryKind.BUILD: "built",
    EntryKind.FLASH: "flashed",
    EntryKind.BENCH: "bench test",
    EntryKind.STEP: "commissioning",
    EntryKind.WELD: "test weld",
    EntryKind.MEASURE: "measured",
    EntryKind.SETTING: "set",
    EntryKind.PLATES: "plates made",
    EntryKind.NOTE: "note",
}
_TOLD_BY_THEMSELVES = ("text", "verdict", "step", "outcome")
"""Keys whose values need no name in front, in the order in which they are told."""
_MANY = 6
"""So many keys of one table, set in a row, are a program's work: told as one (choice)."""
_FOR_PROGRAMS = {
    EntryKind.STEP: ("holds_for", "digest"),
    EntryKind.MEASURE: ("quantity", "slots", "digest", "edges"),
}
"""Keys that tell people nothing; JSON has them."""


def head_of(entry: Entry) -> str:
    """Return what kind of thing happened, in a word or two."""
    return _HEADS[entry.kind]


def when(entry: Entry) -> str:
    """Return day and minute on the clock of the place where it was entered."""
    return datetime.fromisoformat(entry.at).strftime("%Y-%m-%d %H:%M")


def entry_words(entry: Entry) -> str:
    """Return what an entry says, without its kind: 'burnback dial to mark 6'. Every key for people is told."""
    values = dict(entry.values)
    for key in _FOR_PROGRAMS.get(entry.kind, ()):
        values.pop(key, None)
    parts = []
    if {"key", "new"} <= values.keys():
        old = f"{_plain(values.pop('old'))} -> " if "old" in values else ""
        parts.append(f"{_plain(values.pop('key'))}: {old}{_plain(values.pop('new'))}")
    parts += [_plain(values.pop(key)) for key in _TOLD_BY_THEMSELVES if key in values]
    parts += [f"{key.replace('_', ' ')} {_plain(value)}" for key, value in values.items()]
    return ", ".join(parts)


def told_entries(logbook: Logbook) -> Iterator[tuple[Entry, str]]:
    """Yield each entry of a logbook with its words; test welds with their number, by which one is left out.

    A table that was set as a whole is told as one, with its first entry.
    """
    number = 0
    for entry, more in _with_its_table(logbook.entries):
        if entry.kind is not EntryKind.WELD:
            told = f"; {more} more values of that table with it" if more else ""
            yield entry, f"{entry_words(entry)}{told}"
        elif TAKEN_BACK in entry.values:
            yield entry, f"{_plain(entry.values[TAKEN_BACK])} is left out from here on"
        else:
            number += 1
            yield entry, f"{number}  {_weld_words(entry)}"


def _with_its_table(entries: Sequence[Entry]) -> Iterator[tuple[Entry, int]]:
    """Yield the entries that are told, each with the number of those behind it that it stands for."""
    for table, run in groupby(entries, _table_set):
        in_a_row = tuple(run)
        if table and len(in_a_row) >= _MANY:
            yield in_a_row[0], len(in_a_row) - 1
        else:
            yield from ((entry, 0) for entry in in_a_row)


def _table_set(entry: Entry) -> str:
    """Return the table of a key that was set, and who set it; empty for all else."""
    key = entry.values.get("key") if entry.kind is EntryKind.SETTING else None
    return f"{key.rpartition('.')[0]} {entry.values.get('by')}" if isinstance(key, str) and "." in key else ""


def _weld_words(entry: Entry) -> str:
    try:
        sentence = weld_of_values(entry.values).sentence
    except WeldError:
        return entry_words(entry)
    wire = entry.values.get("wire")
    return sentence if wire is None else f"{sentence}, {_plain(wire)}"


def _plain(value: EntryValue) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
