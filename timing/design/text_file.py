"""Opens files that anybody may have put there: a plain file of bounded size, and nothing that blocks or never ends."""

from __future__ import annotations

import os
import stat
from io import BufferedReader
from pathlib import Path

from timing.design.errors import shown
from timing.errors import WirecueError

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
