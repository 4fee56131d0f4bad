"""Logbooks as files: read, and added to at the end; nothing that stands in one is ever changed.

A line goes through to the disk before its command goes on, so that a Ctrl-C or a flat battery costs nothing.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from io import FileIO
from pathlib import Path

from timing.design.text_file import UnreadableFileError, read_text_file, shown
from timing.errors import WirecueError
from timing.logbook.entry import Entry, EntryKind, EntryValue, Logbook
from timing.logbook.text import heading, is_logbook, line_of_entry, read_logbook_text
from timing.system.locking import lock_file
from wirecue.output_files import OutputError
from wirecue.terminal import say

_LARGEST_BYTES = 16_000_000
_ADDING = os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)


def logbook_path(design: Path) -> Path:
    """Return where the logbook of a design lies: beside it, NAME.log for NAME.toml."""
    return design.with_suffix(".log")


def read_logbook(path: Path) -> Logbook:
    """Return the logbook at `path`, empty where no file is. Raises UnreadableFileError; one bad line is no error."""
    try:
        text = read_text_file(path, _LARGEST_BYTES)
    except UnreadableFileError as error:
        if error.missing:
            return Logbook()
        raise
    _refuse_foreign(path, text)
    return read_logbook_text(text)


def append_entry(path: Path, kind: EntryKind, values: Mapping[str, EntryValue], at: str | None = None) -> Entry:
    """Add an entry, through to the disk, and return it; the file is made where none is.

    at: ISO 8601 with its offset; None: now, here. Raises UnreadableFileError for a file that is no logbook, and
    OutputError where nothing can be written; then nothing is.
    """
    entry = Entry(at or datetime.now().astimezone().isoformat(timespec="seconds"), kind, values)
    line = line_of_entry(entry)
    if path.exists() and not path.is_file():
        raise UnreadableFileError(path, "no file", "a logbook, or a name that is free")
    try:
        descriptor = os.open(path, _ADDING, 0o666)
    except OSError as error:
        raise _cannot(path, error) from None
    with os.fdopen(descriptor, "r+b", buffering=0) as file:
        try:
            lock_file(descriptor, wait=True)
        except OSError as error:
            raise _cannot(path, error) from None
        size = os.fstat(descriptor).st_size
        written = f"{_beginning(path, descriptor, size)}{line}\n".encode()
        try:
            _add(file, written)
        except OSError as error:
            # Back to where it was: a full disk leaves no half of a line.
            with suppress(OSError):
                os.ftruncate(descriptor, size)
            raise _cannot(path, error) from None
    return entry


def enter(design: Path, *happened: tuple[EntryKind, Mapping[str, EntryValue]]) -> None:
    """Add entries to the logbook of a design where it has one, and say so on standard error.

    What is entered has happened: a logbook that cannot take it is told of, and nothing fails by it.
    """
    path = logbook_path(design)
    if not happened or not path.exists():
        return
    try:
        for kind, values in happened:
            append_entry(path, kind, values)
    except WirecueError as error:
        say(f"not entered in the logbook:\n{error}", err=True)
    else:
        say(f"entered in {shown(path)}", err=True)


def enter_changes(design: Path, before: str, after: str, by: str) -> None:
    """Enter key by key what is typed otherwise in a design file that was written, where the design has a logbook.

    by: who wrote it, such as "fit --write".
    """
    if not logbook_path(design).exists():
        return
    from timing.design.difference import typed_differences

    try:
        changes = [one.as_values for one in typed_differences(before, after)]
    except ValueError:
        # What stood there was no design at all, and was written over on demand.
        changes = [{"text": "the whole design file, over something else"}]
    enter(design, *((EntryKind.SETTING, values | {"by": by}) for values in changes))


def told_place(path: Path | str, design: Path) -> str:
    """Return where something lies, as an entry tells it: from the design on what lies below it, else as a whole path.

    So it can be found a year later, whatever folder the command was given in.
    """
    whole, home = Path(os.path.realpath(path)), Path(os.path.realpath(design)).parent
    return whole.relative_to(home).as_posix() if whole.is_relative_to(home) else str(whole)


def latest_entry(design: Path, kind: EntryKind) -> Entry | None:
    """Return the latest entry of a kind in the logbook of a design; None where there is none, or nothing to be read."""
    try:
        entries = read_logbook(logbook_path(design)).of(kind)
    except WirecueError:
        return None
    return entries[-1] if entries else None


def _add(file: FileIO, data: bytes) -> None:
    while data:
        data = data[file.write(data) :]
    os.fsync(file.fileno())


def _beginning(path: Path, descriptor: int, size: int) -> str:
    """Return what goes before the next line: a heading into a new file, a line's end after a torn line."""
    if size == 0:
        return heading(path.stem)
    _refuse_foreign(path, os.read(descriptor, 200).decode(errors="replace"))
    os.lseek(descriptor, -1, os.SEEK_END)
    return "" if os.read(descriptor, 1) == b"\n" else "\n"


def _refuse_foreign(path: Path, text: str) -> None:
    if text and not is_logbook(text):
        first = text.split("\n", 1)[0][:60]
        raise UnreadableFileError(
            path, f"a file that begins {first!r}", "a logbook, whose first line begins '# wirecue logbook'"
        )


def _cannot(path: Path, error: OSError) -> OutputError:
    return OutputError(path, (error.strerror or str(error)).lower())
