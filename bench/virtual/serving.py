"""Puts a virtual board behind a pseudo terminal, behind a TCP socket, or straight behind a link."""

from __future__ import annotations

import contextlib
import os
import select
import socket
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from bench.virtual.board import VirtualBoard

CHUNK = 4096


@contextlib.contextmanager
def behind_pty(board: VirtualBoard) -> Iterator[str]:
    """Serve a board behind a pseudo terminal; yield its name, which opens like a serial port. Unix only."""
    import pty
    import tty

    far, near = pty.openpty()
    try:
        # The near end stays open, so that the far end outlives clients that come and go.
        tty.setraw(near)
        with _served(far, lambda data: os.write(far, data), lambda: os.read(far, CHUNK), board):
            yield os.ttyname(near)
    finally:
        os.close(near)
        os.close(far)


@contextlib.contextmanager
def behind_socket(board: VirtualBoard) -> Iterator[tuple[str, int]]:
    """Serve a board on a free TCP port of this machine, one client after the other; yield host and port."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        stop, wake = socket.socketpair()
        thread = threading.Thread(target=_serve_clients, args=(server, stop, board), daemon=True)
        thread.start()
        try:
            host, port = server.getsockname()
            yield host, port
        finally:
            wake.close()
            thread.join()
            stop.close()


def _serve_clients(server: socket.socket, stop: socket.socket, board: VirtualBoard) -> None:
    while True:
        ready, _, _ = select.select([server, stop], [], [])
        if stop in ready:
            return
        client, _ = server.accept()
        with client:
            if _serve(client.fileno(), stop.fileno(), client.sendall, lambda: client.recv(CHUNK), board):  # noqa: B023
                return


@contextlib.contextmanager
def behind_port(board: VirtualBoard) -> Iterator[str]:
    """Serve a board behind whatever this system has; yield an address that bench.port opens."""
    if os.name == "posix":
        with behind_pty(board) as name:
            yield name
    else:
        with behind_socket(board) as (host, port):
            yield f"socket://{host}:{port}"


@contextlib.contextmanager
def _served(
    descriptor: int, write: Callable[[bytes], object], read: Callable[[], bytes], board: VirtualBoard
) -> Iterator[None]:
    stop, wake = os.pipe()
    thread = threading.Thread(target=_serve, args=(descriptor, stop, write, read, board), daemon=True)
    thread.start()
    try:
        yield
    finally:
        os.close(wake)
        thread.join()
        os.close(stop)


def _serve(
    descriptor: int,
    stop: int,
    write: Callable[[bytes], object],
    read: Callable[[], bytes],
    board: VirtualBoard,
) -> bool:
    """Serve until the other side goes (False) or `stop` becomes readable (True)."""
    while True:
        ready, _, _ = select.select([descriptor, stop], [], [])
        if stop in ready:
            return True
        try:
            data = read()
            if not data:
                return False
            if answer := board.receive(data):
                write(answer)
        except OSError:
            return False


@dataclass
class Loopback:
    """A board straight behind a link: a transport without a port. Reading never waits."""

    board: VirtualBoard
    _answers: bytearray = field(default_factory=bytearray)

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read."""
        return len(self._answers)

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes."""
        taken = bytes(self._answers[:size])
        del self._answers[:size]
        return taken

    def write(self, data: bytes, /) -> int:
        """Send to the board."""
        self._answers += self.board.receive(data)
        return len(data)

    def close(self) -> None:
        """Nothing to let go of."""
