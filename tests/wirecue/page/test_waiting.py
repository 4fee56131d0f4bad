"""A connection that never asks for anything is closed; one that is in use is not."""

from __future__ import annotations

import socket
import threading

import pytest
import uvicorn
from websockets.sync.client import connect

from wirecue.page.serving import ImpatientProtocol

HEAD = b"GET / HTTP/1.1\r\nHost: x\r\n"


async def app(scope, receive, send):
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        while (message := await receive())["type"] != "websocket.disconnect":
            if "text" in message:
                await send({"type": "websocket.send", "text": message["text"]})
    else:
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
        await send({"type": "http.response.body", "body": b"ok"})


@pytest.fixture
def port(monkeypatch):
    """Serve with a short patience; yield the port."""
    monkeypatch.setattr("wirecue.page.serving.REQUEST_S", 0.2)
    listener = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(app, http=ImpatientProtocol, lifespan="off", log_level="error", timeout_keep_alive=60)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, args=([listener],))
    thread.start()
    yield listener.getsockname()[1]
    server.should_exit = True
    thread.join()


def opened(port):
    return socket.create_connection(("127.0.0.1", port), timeout=20)


def rest(connection):
    """Return what comes until the other side closes."""
    return b"".join(iter(lambda: connection.recv(4096), b""))


@pytest.mark.parametrize("begun", [b"", b"G", HEAD])
def test_a_request_that_never_ends_its_head_is_let_go(port, begun):
    with opened(port) as connection:
        connection.sendall(begun)
        assert rest(connection) == b""


def test_a_request_is_answered_and_a_second_one_that_does_not_come_is_let_go(port):
    with opened(port) as connection:
        connection.sendall(HEAD + b"\r\n")
        assert connection.recv(4096).startswith(b"HTTP/1.1 200")
        connection.sendall(HEAD)
        rest(connection)


def test_a_websocket_stays_open(port):
    with connect(f"ws://127.0.0.1:{port}/") as websocket:
        for _ in range(2):
            with opened(port) as silent:
                rest(silent)
        websocket.send("still there")
        assert websocket.recv(timeout=20) == "still there"
