"""Locks on files, held until the file is closed or the process ends, so that two that work at once do not mix.

A lock that stands for something else, a port or a folder, is a file in a folder of the user's own. Where a system has
no locks (neither POSIX nor Windows) all is as if nobody else were there.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import stat
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

# No link is followed, and a pipe does not hold this up.
_LOCK_FLAGS = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_FAR_BYTE = 0x7FFF_0000
"""Place of the byte that is locked on Windows, far behind any file's end: others cannot even read what is locked."""
_FOLDERS_OPEN = os.name == "posix"
_NO_LOCKS = (errno.EBADF, errno.ENOLCK, errno.ENOTSUP, errno.EINVAL)  # a folder on some network drives
_MOST_READABLE = 60
"""Characters of what a lock stands for that its name shows."""


class LockPlaceError(Exception):
    """A lock file cannot be used. Keeps its place, and why."""

    def __init__(self, place: str, why: str) -> None:
        super().__init__(place, why)
        self.place, self.why = place, why


if sys.platform == "win32":
    import msvcrt

    def lock_file(descriptor: int, *, wait: bool) -> None:
        """Lock an open file.

        wait: until whoever holds it lets go; on Windows ten seconds at most. Raises BlockingIOError where somebody
        holds it, another OSError where the file system has no locks.
        """
        before = os.lseek(descriptor, 0, os.SEEK_CUR)
        os.lseek(descriptor, _FAR_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise BlockingIOError(error.errno, "somebody else is writing it") from None
        finally:
            os.lseek(descriptor, before, os.SEEK_SET)

    def _user() -> int:
        return 0

else:
    fcntl: ModuleType | None
    try:
        import fcntl
    except ImportError:
        fcntl = None

    def lock_file(descriptor: int, *, wait: bool) -> None:
        """Lock an open file, as above."""
        if fcntl is not None:
            fcntl.flock(descriptor, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))

    def _user() -> int:
        return os.getuid()


def own_lock(what: str) -> Path:
    """Return the place of the lock that stands for `what`, its folder made. Raises LockPlaceError."""
    readable = re.sub(r"[^A-Za-z0-9]+", "-", what).strip("-")[-_MOST_READABLE:]
    return _own_folder() / f"{readable}-{hashlib.sha256(os.fsencode(what)).hexdigest()[:12]}.lock"


def taken_lock(path: Path) -> int | None:
    """Take a lock by its place; return the descriptor whose closing gives it back, None where somebody else holds it.

    The file stays: to remove it would open a race. Raises LockPlaceError.
    """
    try:
        descriptor = os.open(path, _LOCK_FLAGS, 0o600)
    except OSError as error:
        raise _unusable(path, error) from None
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise LockPlaceError(str(path), "is no file")
        lock_file(descriptor, wait=False)
    except BlockingIOError:
        os.close(descriptor)
        return None
    except OSError as error:
        os.close(descriptor)
        raise _unusable(path, error) from None
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor


@dataclass(frozen=True)
class FolderLock:
    """Held on a folder until it is released."""

    folder: Path
    descriptor: int | None

    def is_still_there(self) -> bool:
        """Tell whether the folder is the one that was locked: whoever held it before may have removed it meanwhile."""
        if self.descriptor is None or not _FOLDERS_OPEN:
            return self.folder.is_dir()
        try:
            return os.path.samestat(os.fstat(self.descriptor), self.folder.stat())
        except FileNotFoundError:
            return False

    def release(self) -> None:
        """Give it back."""
        if self.descriptor is not None:
            os.close(self.descriptor)


def taken_folder(folder: Path) -> FolderLock:
    """Lock a folder: itself where it can be opened as a file can, else a file that stands for it, for this user.

    Raises BlockingIOError where somebody holds it, another OSError where the folder cannot be opened, LockPlaceError.
    A folder on a drive that knows no locks is as if locked.
    """
    if not _FOLDERS_OPEN:
        descriptor = taken_lock(own_lock(os.path.normcase(folder)))
        if descriptor is None:
            raise BlockingIOError(errno.EAGAIN, os.strerror(errno.EAGAIN), str(folder))
        return FolderLock(folder, descriptor)
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        lock_file(descriptor, wait=False)
    except OSError as error:
        if error.errno not in _NO_LOCKS:
            os.close(descriptor)
            raise
    return FolderLock(folder, descriptor)


def _own_folder() -> Path:
    """Return this user's folder for locks, after making it. Nobody else can put anything there."""
    try:
        folder = Path(tempfile.gettempdir()) / f"wirecue-{_user()}"
    except OSError as error:
        raise _unusable(Path("the folder for temporary files"), error) from None
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        facts = folder.lstat()
    except OSError as error:
        raise _unusable(folder, error) from None
    if not stat.S_ISDIR(facts.st_mode):
        raise LockPlaceError(str(folder), "is a link, not a folder")
    # Windows gives each user a folder for temporary files that is closed to others, and tells no modes.
    if os.name == "posix" and (facts.st_uid != _user() or facts.st_mode & 0o022):
        raise LockPlaceError(str(folder), "is a folder that others can write to")
    return folder


def _unusable(path: Path, error: OSError) -> LockPlaceError:
    why = "is a link" if path.is_symlink() else f"cannot be used ({(error.strerror or str(error)).lower()})"
    return LockPlaceError(str(path), why)
