"""The steps by which files come and go: each does one thing, takes nothing's place, and follows no link.

What a build does to the disk it does through these, so that a test can let each of them fail in turn.
"""

from __future__ import annotations

import ctypes
import errno
import hashlib
import os
import stat
import sys
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

_NOREPLACE, _CURRENT_FOLDER = 1, -100  # RENAME_NOREPLACE and AT_FDCWD of Linux
_CANNOT = (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM)
HELD_OPEN = (5, 32)
"""Published: Windows' system error codes ERROR_ACCESS_DENIED and ERROR_SHARING_VIOLATION."""
_WAITS_S = (0.05, 0.1, 0.2, 0.4)
"""Longer than such a look takes, short for a person (choice)."""
_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_MAKE = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


def is_file(path: Path) -> bool:
    """Tell whether a file of its own is there: no link, pipe, device or folder."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False


def is_there(path: Path) -> bool:
    """Tell whether anything has that name, a link to nowhere included."""
    return os.path.lexists(path)


def hash_of(path: Path) -> str | None:
    """Return the SHA-256 of a file in hex; None for anything that is no file of its own, or is not there."""
    if not is_file(path):
        return None
    with os.fdopen(os.open(path, _READ), "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def read(path: Path, at_most: int) -> bytes | None:
    """Return what is in a file; None where it is no file of its own, is not there, or is longer than `at_most`."""
    if not is_file(path):
        return None
    with os.fdopen(os.open(path, _READ), "rb") as file:
        content = file.read(at_most + 1)
    return content if len(content) <= at_most else None


def make_file(path: Path, content: bytes, mode: int | None = None) -> None:
    """Write a file where none is, whole and through to the disk. Raises FileExistsError."""
    descriptor = os.open(path, _MAKE, 0o666)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            path.chmod(mode)
    except BaseException:
        path.unlink()
        raise


def make_folder(path: Path) -> None:
    """Make a folder where nothing is. Raises FileExistsError."""
    path.mkdir()


def move(source: Path, target: Path) -> None:
    """Give a file, link or folder another name. Raises FileExistsError where that name is taken."""
    if _moved_in_one_step(source, target):
        return
    if is_there(target):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target))
    _patiently(lambda: source.rename(target))


def replace(source: Path, target: Path) -> None:
    """Put a file in the place of another, in one step."""
    _patiently(lambda: source.replace(target))


def give_owner(path: Path, facts: os.stat_result) -> bool:
    """Give a file owner and group; tell whether that could be done."""
    if sys.platform == "win32":
        return False
    try:
        os.chown(path, facts.st_uid, facts.st_gid)
    except OSError:
        return False
    return True


def drop(path: Path) -> None:
    """Remove a file."""
    _patiently(lambda: path.unlink(missing_ok=True))


def drop_folder(path: Path) -> bool:
    """Remove a folder if nothing is in it; tell whether it is gone."""
    try:
        path.rmdir()
    except OSError:
        return False
    return True


def _patiently(step: Callable[[], object]) -> None:
    """Do a step; where Windows says that somebody else has the file open, again and again for a while.

    What looks for viruses or makes an index there opens each new file for a moment; an editor may keep it open.
    """
    for wait_s in _WAITS_S:
        try:
            step()
        except PermissionError as error:
            if getattr(error, "winerror", None) not in HELD_OPEN:
                raise
            time.sleep(wait_s)
        else:
            return
    step()


def _moved_in_one_step(source: Path, target: Path) -> bool:
    """Rename without replacing, as Linux can; False where system or file system cannot."""
    rename = _renameat2()
    if rename is None:
        return False
    if rename(_CURRENT_FOLDER, os.fsencode(source), _CURRENT_FOLDER, os.fsencode(target), _NOREPLACE) == 0:
        return True
    number = ctypes.get_errno()
    if number in _CANNOT:
        return False
    raise OSError(number, os.strerror(number), str(source), None, str(target))


@cache
def _renameat2() -> Any:
    return getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None) if os.name == "posix" else None
