"""A TCP connection that is read as a serial port is: what came is taken whole.

pyserial's own port of this kind says of any number of waiting bytes that it is one, so that each costs several calls of
the system; on Windows, where virtual boards are behind TCP, a bench took minutes by that.
"""

from __future__ import annotations

import select
import socket
import time

_CHUNK = 4096


class TcpPort:
    """One connection, from its making until `close`."""

    def __init__(self, host: str, port: int, read_timeout_s: float, write_timeout_s: float) -> None:
        """Connect. Raises OSError."""
        self._read_timeout_s = read_timeout_s
        self._came = bytearray()
        self._socket = socket.create_connection((host, port), timeout=write_timeout_s)
        # A question is one short piece: held back for more to come, each would wait for the answer before it.
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting. Raises OSError where the connection is lost."""
        if not self._came:
            self._take(0.0)
        return len(self._came)

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes; fewer, or none, after the time-out. Raises OSError where it is lost."""
        deadline_s = time.monotonic() + self._read_timeout_s
        while len(self._came) < size and self._take(max(0.0, deadline_s - time.monotonic())):
            pass
        got = bytes(self._came[:size])
        del self._came[:size]
        return got

    def write(self, data: bytes, /) -> int:
        """Send `data`. Raises OSError."""
        self._socket.sendall(data)
        return len(data)

    def close(self) -> None:
        """Let go."""
        self._socket.close()

    def _take(self, wait_s: float) -> bool:
        """Take what came, after waiting for it; tell whether anything did."""
        if not select.select([self._socket], [], [], wait_s)[0]:
            return False
        got = self._socket.recv(_CHUNK)
        if not got:
            raise ConnectionResetError("the other side closed the connection")
        self._came += got
        return True
