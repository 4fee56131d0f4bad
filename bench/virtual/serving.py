"""A virtual board behind something that opens like a serial port: a pseudo terminal, else a TCP port."""

from __future__ import annotations

import contextlib
import os
import select
import socket
import sys
import threading
from collections.abc import Callable, Iterator

from bench.virtual.board import Served
from timing.system.listening import listening_alone

CHUNK = 4096


@contextlib.contextmanager
def behind_pty(board: Served) -> Iterator[str]:
    """Serve a board behind a pseudo terminal; yield its name, which opens like a serial port. Unix only."""
    if sys.platform == "win32":
        raise NotImplementedError("no pseudo terminals on Windows")
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
def behind_socket(board: Served) -> Iterator[tuple[str, int]]:
    """Serve a board on a free TCP port of this machine, one client after the other; yield host and port."""
    with listening_alone(0) as server:
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


def _serve_clients(server: socket.socket, stop: socket.socket, board: Served) -> None:
    while True:
        ready, _, _ = select.select([server, stop], [], [])
        if stop in ready:
            return
        client, _ = server.accept()
        client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        with client:
            if _serve(client.fileno(), stop.fileno(), client.sendall, lambda: client.recv(CHUNK), board):  # noqa: B023
                return


@contextlib.contextmanager
def behind_port(board: Served) -> Iterator[str]:
    """Serve a board behind whatever this system has; yield an address that bench.port opens."""
    if _has_pseudo_terminals():
        with behind_pty(board) as name:
            yield name
    else:
        with behind_socket(board) as (host, port):
            yield f"socket://{host}:{port}"


def _has_pseudo_terminals() -> bool:
    if sys.platform == "win32":
        return False
    try:
        import pty
        import tty
    except ImportError:
        return False
    return hasattr(pty, "openpty") and hasattr(tty, "setraw")


@contextlib.contextmanager
def _served(
    descriptor: int, write: Callable[[bytes], object], read: Callable[[], bytes], board: Served
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
    board: Served,
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
