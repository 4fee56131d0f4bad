"""Files that anybody may have put there: read whole where they are plain and of bounded size, and complained of.

A complaint says where, what was found, what is allowed, what was likely meant.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path

from timing.errors import WirecueError

_LONGEST = 240


def shown(path: str | os.PathLike[str]) -> str:
    """Return a file's name as it may be printed: control characters, line ends and bytes of no text escaped."""
    return "".join(one if one.isprintable() else ascii(one)[1:-1] for one in os.fspath(path))


def _shortened(text: str) -> str:
    """Return what stood in a file as it may be printed: escaped, and no longer than a few lines."""
    if len(text) > _LONGEST:
        text = f"{text[: _LONGEST // 2]}... ({len(text)} characters)"
    return shown(text)


@dataclass(frozen=True)
class Complaint:
    """One thing wrong with one key of a design file."""

    key: str
    """Dotted path of the key, such as ``times.burnback``; empty when the file itself cannot be read."""
    found: str
    """What stands there, as the file's author would recognise it."""
    allowed: str
    """What may stand there."""
    hint: str = ""
    """A likely meaning or the next step; empty when there is nothing better to say than `allowed`."""
    line: int | None = None
    """Line in the file, counted from 1; None when it cannot be told."""


class DesignFileError(WirecueError):
    """A design file cannot be used. Keeps every complaint, and shows them on one screen."""

    shown_at_most = 5

    def __init__(self, source: str, complaints: list[Complaint]) -> None:
        super().__init__(source, complaints)
        self.source = source
        self.complaints = complaints

    def __str__(self) -> str:
        blocks = [self._block(complaint) for complaint in self.complaints[: self.shown_at_most]]
        hidden = len(self.complaints) - self.shown_at_most
        if hidden > 0:
            blocks.append(f"... and {hidden} more of the kind; fix these first.")
        return "\n".join(blocks)

    def _block(self, complaint: Complaint) -> str:
        source = shown(self.source)
        place = source if complaint.line is None else f"{source}, line {complaint.line}"
        lines = [f"{place}: {_shortened(complaint.key)}" if complaint.key else place]
        lines.append(f"  found    {_shortened(complaint.found)}")
        lines.append(f"  allowed  {complaint.allowed}")
        if complaint.hint:
            lines.append(f"  hint     {_shortened(complaint.hint)}")
        return "\n".join(lines)


# A pipe that nobody writes to would hold `open` for ever.
_READING = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOCTTY", 0)
_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


class UnreadableFileError(WirecueError):
    """A file cannot be read. Keeps its path, what was found, what is allowed, and whether nothing is there."""

    def __init__(self, path: Path, found: str, allowed: str, *, missing: bool = False) -> None:
        super().__init__(path, found, allowed)
        self.path = path
        self.found = found
        self.allowed = allowed
        self.missing = missing

    def __str__(self) -> str:
        return f"{shown(self.path)}\n  found    {self.found}\n  allowed  {self.allowed}"


def open_file(path: Path, largest_bytes: int) -> BufferedReader:
    """Open a plain file of at most that size, or a link to one. Raises UnreadableFileError."""
    try:
        descriptor = os.open(path, _READING)
    except FileNotFoundError as error:
        raise _unreadable(path, error, missing=True) from None
    except (OSError, ValueError) as error:
        raise _unreadable(path, error) from None
    facts = os.fstat(descriptor)
    kind = next((word for is_kind, word in _KINDS if is_kind(facts.st_mode)), "")
    if kind or facts.st_size > largest_bytes:
        os.close(descriptor)
        if kind:
            raise UnreadableFileError(path, kind, "a file: save it as one first")
        raise _too_large(path, f"a file of {facts.st_size} bytes", largest_bytes)
    return os.fdopen(descriptor, "rb")


def read_file(path: Path, largest_bytes: int) -> bytes:
    """Return what is in such a file. Raises UnreadableFileError."""
    with open_file(path, largest_bytes) as file:
        try:
            # What was written since it was looked at counts, too; some files of the system say that they are empty.
            content = file.read(largest_bytes + 1)
        except OSError as error:
            raise _unreadable(path, error) from None
    if len(content) > largest_bytes:
        raise _too_large(path, "an endless file", largest_bytes)
    return content


def read_text_file(path: Path, largest_bytes: int) -> str:
    """Return the text of such a file, UTF-8 with or without a byte order mark, its line ends as they are.

    Raises UnreadableFileError.
    """
    return decoded_text(path, read_file(path, largest_bytes))


def decoded_text(path: Path, content: bytes) -> str:
    """Return bytes as text, without a byte order mark. Raises UnreadableFileError; `path` is for its words."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnreadableFileError(path, "bytes that are not UTF-8 text", "a text file in UTF-8") from None


def _unreadable(path: Path, error: OSError | ValueError, *, missing: bool = False) -> UnreadableFileError:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return UnreadableFileError(path, reason.lower(), "a readable file", missing=missing)


def _too_large(path: Path, found: str, largest_bytes: int) -> UnreadableFileError:
    return UnreadableFileError(path, found, f"{largest_bytes:,} bytes at most")
