"""A board behind TCP: what came is read whole, and a connection that is lost is told as a port that is gone."""

from __future__ import annotations

import socket

import pytest

from bench.errors import PortFailedError
from bench.port import open_port
from bench.tcp_port import TcpPort


@pytest.fixture
def ends():
    """A port, and the other end of its connection."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = TcpPort("127.0.0.1", server.getsockname()[1], 0.01, 1.0)
        far, _ = server.accept()
        with far:
            yield port, far
        port.close()


def test_what_came_is_there_at_once_and_in_pieces_of_any_size(ends):
    port, far = ends
    assert port.in_waiting == 0
    far.sendall(b"one answer\n")
    assert port.read(3) == b"one"
    assert port.in_waiting == 8
    assert port.read(100) == b" answer\n"
    assert port.read(1) == b""
    assert port.write(b"*IDN?\n") == 6
    assert far.recv(100) == b"*IDN?\n"


def test_the_other_end_may_go(ends):
    port, far = ends
    far.close()
    with pytest.raises(ConnectionError):
        port.read(1)


@pytest.mark.parametrize("place", ["socket://127.0.0.1:1", "socket://127.0.0.1:99999", "socket://nowhere"])
def test_what_cannot_be_connected_is_told(place):
    with pytest.raises(PortFailedError):
        open_port(place)
