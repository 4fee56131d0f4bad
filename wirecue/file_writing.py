"""Files of the user's written at the command line and by the page: whole or not at all, and as they were but for that.

A link is followed and stays, mode, owner and further names of a file stay, a device or a pipe is written into.
"""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

from codegen import disk
from timing.design.errors import WirecueError, shown

_INTO = os.O_WRONLY | getattr(os, "O_BINARY", 0)


class OutputError(WirecueError):
    """A file cannot be written, or must not be. Says where, why, and what may be done."""

    def __init__(self, path: Path, why: str, allowed: str = "a place where a file can be written") -> None:
        super().__init__(path, why, allowed)
        self.path = path
        self.why = why
        self.allowed = allowed

    def __str__(self) -> str:
        return f"{shown(self.path)}\n  found    {self.why}\n  allowed  {self.allowed}"


def write_file(path: Path, content: str | bytes) -> None:
    """Write `content` to `path`, over what is there. Raises OutputError; then what was there still is."""
    data = content.encode() if isinstance(content, str) else content
    try:
        facts = path.stat() if path.exists() else None
        # What a link leads to is written; a link to a pipe has no path of its own to resolve.
        target = Path(os.path.realpath(path))
        if facts is None:
            _make(target, data)
        elif stat.S_ISDIR(facts.st_mode):
            raise OutputError(path, "a folder")
        elif not stat.S_ISREG(facts.st_mode):
            with os.fdopen(os.open(path, _INTO), "wb") as file:
                file.write(data)
        elif not os.access(target, os.W_OK):
            raise OutputError(path, "a file that may only be read", "a file that may be written, or another place")
        elif facts.st_nlink > 1 or not _replaced(target, data, facts):
            _write_into(target, data)
    except OSError as error:
        raise OutputError(path, (error.strerror or str(error)).lower()) from None


def _make(target: Path, data: bytes) -> None:
    part = _part(target)
    disk.make_file(part, data)
    try:
        disk.move(part, target)
    finally:
        disk.drop(part)


def _replaced(target: Path, data: bytes, facts: os.stat_result) -> bool:
    """Put a new file in the place of one, in one step; False where it could not have the same owner."""
    part = _part(target)
    disk.make_file(part, data, stat.S_IMODE(facts.st_mode))
    try:
        made = part.stat()
        if (made.st_uid, made.st_gid) != (facts.st_uid, facts.st_gid):
            try:
                os.chown(part, facts.st_uid, facts.st_gid)
            except OSError:
                return False
            part.chmod(stat.S_IMODE(facts.st_mode))
        part.replace(target)
    finally:
        disk.drop(part)
    return True


def _write_into(target: Path, data: bytes) -> None:
    """Write into a file that has other names or another owner. Until that is done a copy of it lies beside it."""
    before = target.read_bytes()
    names = (target.with_name(f"{target.name}.before{number or ''}") for number in (0, *range(2, 10_000)))
    copy = next(name for name in names if not disk.is_there(name))
    disk.make_file(copy, before, stat.S_IMODE(target.stat().st_mode))
    try:
        _overwrite(target, data)
    except OSError as error:
        with suppress(OSError):
            _overwrite(target, before)
            disk.drop(copy)
        if disk.is_there(copy):
            raise OutputError(target, f"{error.strerror}; as it was it is kept as {shown(copy.name)}") from None
        raise
    disk.drop(copy)


def _overwrite(target: Path, data: bytes) -> None:
    with os.fdopen(os.open(target, _INTO), "wb") as file:
        file.write(data)
        file.truncate()
        file.flush()
        os.fsync(file.fileno())


def _part(target: Path) -> Path:
    return target.with_name(f".wirecue-{secrets.token_hex(8)}.part")
