"""A logbook as text: a heading, then an entry a line, time, kind and an inline table of TOML.

    2026-03-01T10:22:05+01:00 weld { burnback = "115 ms", outcome = "frozen" }

So it can be read without any program, added to by hand, and a line that is bad takes no other with it.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from datetime import datetime

from timing.logbook.entry import Entry, EntryKind, EntryValue, Logbook, UnreadLine

FIRST_WORDS = "# wirecue logbook"
LONGEST_ENTRY = 20_000
"""Characters of an entry: several times what any needs (choice)."""
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_CONTROLS = re.compile("[\x7f]")
_MARK = "\ufeff"
"""What some editors put before the text of a file that they save."""


def heading(name: str) -> str:
    """Return the first lines of the logbook of the design `name`."""
    return f"{FIRST_WORDS}: {name}. An entry a line, newest last: add lines, change none.\n"


def is_logbook(text: str) -> bool:
    """Tell whether a file's text begins as a logbook does."""
    return text.removeprefix(_MARK).startswith(FIRST_WORDS)


def line_of_entry(entry: Entry) -> str:
    """Return an entry as its line, without the line's end. Raises ValueError for a key that is no plain word."""
    pairs = ", ".join(f"{_key(key)} = {_value(value)}" for key, value in entry.values.items())
    return " ".join((entry.at, entry.kind.value, f"{{ {pairs} }}" if pairs else "{}"))


def _key(key: str) -> str:
    if not _BARE_KEY.fullmatch(key):
        raise ValueError(f"{key!r} is no key of a logbook: letters, digits, '-' and '_'")
    return key


def _value(value: EntryValue) -> str:
    if not isinstance(value, str):
        return json.dumps(value, allow_nan=False)
    # A lone surrogate has no UTF-8; what JSON escapes TOML reads, and TOML wants one more escaped.
    text = value.encode("utf-8", "replace").decode()
    return _CONTROLS.sub(lambda found: f"\\u{ord(found[0]):04x}", json.dumps(text, ensure_ascii=False))


def read_logbook_text(text: str) -> Logbook:
    """Return what the text of a logbook says. Bad lines are kept beside the entries; nothing is raised."""
    entries: list[Entry] = []
    unread: list[UnreadLine] = []
    for number, line in _lines(text):
        found = _entry(line)
        if isinstance(found, Entry):
            entries.append(found)
        else:
            unread.append(UnreadLine(number, line, found))
    return Logbook(tuple(entries), tuple(unread))


def _lines(text: str) -> Iterator[tuple[int, str]]:
    # Not splitlines: a text may hold what Unicode counts as the end of a line.
    for number, line in enumerate(text.removeprefix(_MARK).split("\n"), 1):
        bare = line.rstrip("\r")
        if bare.strip() and not bare.startswith("#"):
            yield number, bare


def _is_value(value: object) -> bool:
    # TOML's own bounds; a longer one could not even be printed.
    return isinstance(value, EntryValue) and not (isinstance(value, int) and not -(1 << 63) <= value < 1 << 63)


def _entry(line: str) -> Entry | str:
    """Return the entry of a line, or why it is none."""
    if len(line) > LONGEST_ENTRY:
        return f"{len(line)} characters, {LONGEST_ENTRY} at most"
    parts = line.split(" ", 2)
    if len(parts) < 3:
        return "not a time, a kind and what happened in braces"
    at, kind, table = parts
    try:
        if datetime.fromisoformat(at).tzinfo is None:
            return f"{at!r} has no offset from UTC, such as +01:00"
    except ValueError:
        return f"{at!r} is no time such as 2026-03-01T10:22:05+01:00"
    if kind not in [known.value for known in EntryKind]:
        return f"{kind!r} is none of {', '.join(EntryKind)}"
    try:
        values = tomllib.loads(f"values = {table}")
    except (ValueError, RecursionError):
        # Python takes no number of some thousand digits: no error of TOML's own.
        return "what happened does not stand in braces as key = value, ..."
    inner = values["values"]
    if len(values) > 1 or not isinstance(inner, dict) or not all(map(_is_value, inner.values())):
        return "a value that is no text, number, true or false"
    return Entry(at, EntryKind(kind), inner)
