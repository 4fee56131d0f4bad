"""Serial ports: which there are, how one is opened, and a lock on each, so that two benches do not share one board.

The operating system's own exclusive mode does not hold a second opener off everywhere (a superuser, or a pseudo
terminal); a lock file in a folder of the user's own does, for all that this user starts.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

import serial

from bench.errors import LockFailedError, PortBusyError, PortDeniedError, PortFailedError, PortMissingError
from bench.tcp_port import TcpPort
from bench.usb_ports import all_ports, usb_ports
from timing.protocol.commands import BAUD
from timing.system.locking import LockPlaceError, own_lock, taken_lock


def one_name(port: str) -> str:
    """Return the one name of a port that may have several: behind links, and in capitals or not."""
    return os.path.realpath(port) if os.path.exists(port) else port.casefold()  # noqa: PTH110


class PortLock:
    """Held from a successful `acquire` until `release`, or until the process ends."""

    def __init__(self, port: str) -> None:
        self.port = port
        self._descriptor: int | None = None

    def path(self) -> Path:
        """Return the lock file's place, its folder made. Raises LockFailedError where this user has none."""
        with self._told():
            return own_lock(one_name(self.port))

    def acquire(self) -> bool:
        """Take the lock; False where somebody else holds it. Raises LockFailedError."""
        path = self.path()
        with self._told():
            self._descriptor = taken_lock(path)
        return self._descriptor is not None

    def release(self) -> None:
        """Give the lock back."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except LockPlaceError as error:
            raise LockFailedError(self.port, error.place, error.why) from None


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
    """Return a line of text for each serial port that is plugged in over USB: its name and what it says it is."""
    return [port.told for port in usb_ports()]


def require_present(port: str) -> None:
    """Raise PortMissingError where this machine has no port of that name. A URL is not looked at."""
    if "://" in port or port.upper() in {found.device.upper() for found in all_ports()}:
        return
    try:
        there = Path(port).exists() or port.startswith("\\\\.\\")
    except OSError as error:
        raise _reason(port, error) from None
    if not there:
        raise PortMissingError(port, listed_ports())


_TCP = re.compile(r"socket://(?P<host>[^:/?#\[\]]+):(?P<port>[0-9]{1,5})/?")


def open_port(port: str, baud: int = BAUD) -> Transport:
    """Open a port by its name, or by a URL that pyserial knows, such as socket://127.0.0.1:5025.

    Raises PortBusyError, PortDeniedError, PortMissingError, PortFailedError.
    """
    try:
        if (tcp := _TCP.fullmatch(port)) is not None:
            return TcpPort(tcp["host"], int(tcp["port"]), READ_TIMEOUT_S, WRITE_TIMEOUT_S)
        if "://" in port:
            opened = serial.serial_for_url(port, baudrate=baud)
        else:
            opened = serial.Serial(port, baudrate=baud, exclusive=True)
        opened.timeout, opened.write_timeout = READ_TIMEOUT_S, WRITE_TIMEOUT_S
    except (serial.SerialException, OSError, ValueError, OverflowError) as error:
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
