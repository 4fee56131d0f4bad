"""Serial ports: which there are, how one is opened, and a lock on each, so that two benches do not share one board.

The operating system's own exclusive mode does not hold a second opener off everywhere (a superuser, or a pseudo
terminal); a lock file in a folder of the user's own does, for all that this user starts.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Protocol

import serial
from serial.tools import list_ports

from bench.errors import LockFailedError, PortBusyError, PortDeniedError, PortFailedError, PortMissingError, device_text
from timing.protocol.commands import BAUD

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


READ_TIMEOUT_S = 0.25
"""Longest wait of one read. A time-out of an answer is several of them."""
WRITE_TIMEOUT_S = 3.0
"""Longest wait until a line is sent: a device that reads nothing fills the computer's buffers."""


class Transport(Protocol):
    """What the link needs of a port; pyserial's ports are such."""

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting."""

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes; fewer, or none, after the time-out."""

    def write(self, data: bytes, /) -> int | None:
        """Send `data`."""

    def close(self) -> None:
        """Let go."""


def listed_ports() -> list[str]:
    """Return a line of text for each serial port that is plugged in over USB: its name and what it says it is.

    The ports that are built into a computer stand in its list whether anything is wired to them or not, and none of
    the boards is wired to such a one; who has an adapter there may still name it.
    """
    # What a port says it is comes from the device.
    return [
        f"{port.device}  {device_text(port.description)}" if port.description not in ("", "n/a") else port.device
        for port in sorted(list_ports.comports(), key=lambda port: port.device)
        if port.vid is not None
    ]


def require_present(port: str) -> None:
    """Raise PortMissingError where this machine has no port of that name. A URL is not looked at."""
    if "://" in port or port.upper() in {found.device.upper() for found in list_ports.comports()}:
        return
    try:
        there = Path(port).exists() or port.startswith("\\\\.\\")
    except OSError as error:
        raise _reason(port, error) from None
    if not there:
        raise PortMissingError(port, listed_ports())


def open_port(port: str, baud: int = BAUD) -> Transport:
    """Open a port by its name, or by a URL that pyserial knows, such as socket://127.0.0.1:5025.

    Raises PortBusyError, PortDeniedError, PortMissingError, PortFailedError.
    """
    try:
        if "://" in port:
            opened = serial.serial_for_url(port, baudrate=baud)
        else:
            opened = serial.Serial(port, baudrate=baud, exclusive=True)
        opened.timeout, opened.write_timeout = READ_TIMEOUT_S, WRITE_TIMEOUT_S
    except (serial.SerialException, OSError, ValueError) as error:
        raise _reason(port, error) from None
    return opened


def _reason(port: str, error: Exception) -> Exception:
    number = getattr(error, "errno", None)
    text = str(error).lower()
    if number == errno.ENOENT or "filenotfound" in text:
        return PortMissingError(port, listed_ports())
    if number == errno.EACCES or "permissionerror" in text or "permission denied" in text:
        # Windows says 'access denied' of a port that is in use.
        return PortBusyError(port) if "permissionerror" in text else PortDeniedError(port)
    if number in (errno.EBUSY, errno.EWOULDBLOCK) or "exclusively lock" in text:
        return PortBusyError(port)
    return PortFailedError(port, str(error.args[-1] if error.args else error).rstrip("."))


@contextmanager
def locked(port: str) -> Iterator[None]:
    """Hold the lock of a port. Raises PortBusyError where another bench holds it, LockFailedError."""
    lock = PortLock(port)
    if not lock.acquire():
        raise PortBusyError(port, "another bench")
    try:
        yield
    finally:
        lock.release()
