"""A lock on a port, so that two benches do not share one board.

The operating system's own exclusive mode does not hold a second opener off everywhere (a superuser, or a pseudo
terminal); a lock file in a folder of the user's own does, for all that this user starts.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import tempfile
from pathlib import Path
from types import ModuleType

from bench.errors import LockFailedError

fcntl: ModuleType | None
try:
    import fcntl
except ImportError:  # Windows opens serial ports exclusively by itself.
    fcntl = None

_MOST_READABLE = 60
"""Characters of a port's name that a lock's name shows."""


class PortLock:
    """Held from a successful `acquire` until `release`, or until the process ends."""

    def __init__(self, port: str) -> None:
        self.port = port
        self._descriptor: int | None = None

    def path(self) -> Path:
        """Return the lock file's place, its folder made. Raises LockFailedError where this user has none."""
        whole = os.path.realpath(self.port) if os.path.exists(self.port) else self.port  # noqa: PTH110
        readable = re.sub(r"[^A-Za-z0-9]+", "-", whole).strip("-")[-_MOST_READABLE:]
        return self._folder() / f"{readable}-{hashlib.sha256(os.fsencode(whole)).hexdigest()[:12]}.lock"

    def acquire(self) -> bool:
        """Take the lock; False where somebody else holds it. Raises LockFailedError."""
        if fcntl is None:
            return True
        path = self.path()
        try:
            # No link is followed, and a pipe does not hold this up.
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK, 0o600)
        except OSError as error:
            raise self._failed(path, error) from None
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            os.close(descriptor)
            raise LockFailedError(self.port, str(path), "is no file")
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(descriptor)
            if isinstance(error, BlockingIOError):
                return False
            raise self._failed(path, error) from None
        self._descriptor = descriptor
        return True

    def release(self) -> None:
        """Give the lock back. The file stays: to remove it would open a race."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def _folder(self) -> Path:
        """Return this user's folder for locks, after making it. Nobody else can put anything there."""
        try:
            folder = Path(tempfile.gettempdir()) / f"wirecue-{_user()}"
        except OSError as error:
            raise self._failed(Path("the folder for temporary files"), error) from None
        try:
            folder.mkdir(mode=0o700, exist_ok=True)
            facts = folder.lstat()
        except OSError as error:
            raise self._failed(folder, error) from None
        if not stat.S_ISDIR(facts.st_mode):
            raise LockFailedError(self.port, str(folder), "is a link, not a folder")
        if facts.st_uid != _user() or facts.st_mode & 0o022:
            raise LockFailedError(self.port, str(folder), "is a folder that others can write to")
        return folder

    def _failed(self, path: Path, error: OSError) -> LockFailedError:
        why = "is a link" if path.is_symlink() else f"cannot be used ({(error.strerror or str(error)).lower()})"
        return LockFailedError(self.port, str(path), why)


def _user() -> int:
    return os.getuid() if os.name == "posix" else 0
