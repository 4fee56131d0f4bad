"""A lock on a port, so that two benches do not share one board.

The operating system's own exclusive mode does not hold a second opener off everywhere (a superuser, or a pseudo
terminal); a lock file in the folder for temporary files does, for all who use this module.
"""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path
from types import ModuleType

fcntl: ModuleType | None
try:
    import fcntl
except ImportError:  # Windows opens serial ports exclusively by itself.
    fcntl = None


class PortLock:
    """Held from a successful `acquire` until `release`, or until the process ends."""

    def __init__(self, port: str) -> None:
        name = re.sub(r"[^A-Za-z0-9]+", "-", os.path.realpath(port) if os.path.exists(port) else port)  # noqa: PTH110
        self.path = Path(tempfile.gettempdir()) / f"wirecue-lock{name if name.startswith('-') else '-' + name}"
        self._descriptor: int | None = None

    def acquire(self) -> bool:
        """Take the lock; False where somebody else holds it."""
        if fcntl is None:
            return True
        descriptor = self._open()
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(descriptor)
            return False
        self._descriptor = descriptor
        return True

    def release(self) -> None:
        """Give the lock back. The file stays: to remove it would open a race."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def _open(self) -> int:
        # A file that another user made may not be opened for creating, but its lock works all the same.
        flags = os.O_RDONLY | os.O_NOFOLLOW
        try:
            return os.open(self.path, flags)
        except FileNotFoundError:
            return os.open(self.path, flags | os.O_CREAT, 0o644)
