"""Serial ports: which there are, and how one is opened."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

import serial
from serial.tools import list_ports

from bench.device_text import device_text
from bench.errors import PortBusyError, PortDeniedError, PortFailedError, PortMissingError
from bench.lock import PortLock
from timing.protocol.commands import BAUD

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
    """Return a line of text for each serial port that is plugged in: its name and what it says it is."""
    # What a port says it is comes from the device.
    return [
        f"{port.device}  {device_text(port.description)}" if port.description not in ("", "n/a") else port.device
        for port in sorted(list_ports.comports(), key=lambda port: port.device)
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


def open_port(port: str) -> Transport:
    """Open a port by its name, or by a URL that pyserial knows, such as socket://127.0.0.1:5025.

    Raises PortBusyError, PortDeniedError, PortMissingError, PortFailedError.
    """
    try:
        if "://" in port:
            opened = serial.serial_for_url(port, baudrate=BAUD)
        else:
            opened = serial.Serial(port, baudrate=BAUD, exclusive=True)
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
