"""The served page from outside: what is foreign is refused by the real server, and bad commands are told."""

from __future__ import annotations

import contextlib
import http.client
import importlib.util
import json
import socket

import pytest
from click.testing import CliRunner
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from tests.wirecue.page.conftest import Served, fill, serve
from wirecue.cli import main


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    folder = tmp_path_factory.mktemp("served")
    fill(folder)
    (folder.parent / "secret.txt").write_text("a secret")
    served = serve(folder)
    yield served
    served.stop()


@pytest.fixture(scope="module")
def cookie(served) -> str:
    answer = ask(served, served.link.removeprefix(served.address))
    assert answer.status == 200
    return answer.headers["set-cookie"].partition(";")[0]


def ask(served: Served, path: str, method: str = "GET", body: bytes = b"", **headers: str) -> http.client.HTTPResponse:
    """Ask once, with exactly these headers."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=20)
    connection.putrequest(method, path, skip_host="Host" in headers, skip_accept_encoding=True)
    for name, value in headers.items():
        connection.putheader(name, value)
    if body:
        connection.putheader("Content-Length", str(len(body)))
    connection.endheaders(body or None)
    answer = connection.getresponse()
    answer.body = answer.read()
    connection.close()
    return answer


def handshake(served: Served, **headers: str) -> int:
    """Ask for a websocket; return the status of the answer."""
    upgrade = {
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
    }
    path = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=20)
    connection.putrequest("GET", path, skip_host="Host" in headers)
    for name, value in {**upgrade, **headers}.items():
        connection.putheader(name, value)
    connection.endheaders()
    status = connection.getresponse().status
    connection.close()
    return status


def test_without_a_design_it_begins_with_what_one_can_begin_with(served, cookie):
    body = ask(served, "/", Cookie=cookie).body.decode()
    for words in ("Begin the survey", "Two-step shop feeder", "gasless_four_step.toml"):
        assert words in body
    assert (served.folder / "design.toml").exists()


def test_a_survey_that_cannot_be_is_told_and_nothing_is_written(served, cookie):
    for name, words in (("design", "design.toml is there already"), ("CON", "perhaps")):
        assert words in ask(served, f"/survey/{name}", Cookie=cookie).body.decode()
    assert not list(served.folder.glob("*.survey.json"))


def test_it_listens_on_this_machine_alone(served):
    # Listening on every address would answer to this one as well.
    with pytest.raises(ConnectionRefusedError), socket.create_connection(("127.0.0.2", served.port), timeout=20):
        pass


def test_with_the_cookie_the_page_is_there_and_without_it_is_not(served, cookie):
    assert ask(served, "/").status == 403
    answer = ask(served, "/", Cookie=cookie)
    assert answer.status == 200
    assert b"wirecue" in answer.body


def test_the_link_works_once(served, cookie):
    assert cookie
    assert ask(served, served.link.removeprefix(served.address)).status == 403


@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1:1"])
def test_a_foreign_host_is_refused(served, cookie, host):
    assert ask(served, "/", Host=host, Cookie=cookie).status == 400
    assert handshake(served, Host=host, Origin=f"http://{host}", Cookie=cookie) == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null"])
def test_a_foreign_origin_is_refused(served, cookie, origin):
    assert ask(served, "/", Origin=origin, Cookie=cookie).status == 403
    assert handshake(served, Origin=origin, Cookie=cookie) == 403
    assert handshake(served, Cookie=cookie) == 403
    polling = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
    assert ask(served, polling, "POST", Origin=origin, Cookie=cookie).status == 403


def test_the_own_origin_is_let_in_with_the_cookie_only(served, cookie):
    assert handshake(served, Origin=served.address, Cookie=cookie) == 101
    assert handshake(served, Origin=served.address) == 403


@pytest.mark.parametrize(
    "path",
    [
        "/../secret.txt",
        "/..%2fsecret.txt",
        "/%2e%2e/secret.txt",
        "/_nicegui/3.0.0/static/..%2f..%2f..%2fsecret.txt",
        "/_nicegui/3.0.0/resources/x/%252e%252e/secret.txt",
        "/design.toml",
        "/etc/passwd",
        "//etc/passwd",
    ],
)
def test_no_file_of_the_machine_is_served(served, cookie, path):
    answer = ask(served, path, Cookie=cookie)
    assert answer.status in (400, 404)
    assert b"a secret" not in answer.body
    assert b"root:" not in answer.body


NONSENSE = (
    "451-",
    "451-[",
    "4999",
    "42[[[[",
    '42{"a":1}',
    '42["event"]',
    '42["event",5]',
    '40{"a":',
    "bAAA",
    "x",
    "6",
    "4",
)


def test_what_makes_no_sense_prints_nothing_and_does_no_harm(tmp_path):
    fill(tmp_path)
    served = serve(tmp_path, "design.toml")
    try:
        cookie = ask(served, served.link.removeprefix(served.address)).headers["set-cookie"].partition(";")[0]
        for message in (*NONSENSE, b"\xff\x00\x01", b""):
            send(served, cookie, message)
        polling = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
        own = {"Cookie": cookie, "Origin": served.address}
        for body in (b"\xff\xff", b"4\x1e", b"451-[]", b"bQUJD", b"1000:4x"):
            session = json.loads(ask(served, polling, **own).body[1:])["sid"]
            assert ask(served, f"{polling}&sid={session}", "POST", body, **own).status in (200, 400)
        assert ask(served, "/", Cookie=cookie).status == 200
    finally:
        said = served.stop()
    assert said == ""


def send(served: Served, cookie: str, message: str | bytes) -> None:
    """Open a websocket, send one message after the greeting, and close it."""
    address = f"ws://127.0.0.1:{served.port}/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
    with (
        contextlib.suppress(ConnectionClosed),
        connect(address, origin=served.address, additional_headers={"Cookie": cookie}) as opened,
    ):
        opened.recv(timeout=20)
        opened.send(message)


def run(*arguments: str):
    return CliRunner().invoke(main, ["page", "--no-browser", *arguments])


def test_a_design_outside_the_folder_is_refused(tmp_path, monkeypatch):
    inner = tmp_path / "inner"
    inner.mkdir()
    fill(tmp_path)
    monkeypatch.chdir(inner)
    result = run("../design.toml")
    assert result.exit_code == 2
    assert "a file outside" in result.stderr
    assert "start it in the design's own folder" in result.stderr


def test_a_design_that_is_none_is_told_like_everywhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.toml").write_text("format = 2")
    for name in ("bad.toml", "nowhere.toml"):
        result = run(name)
        assert result.exit_code == 2
        assert name in result.stderr


def test_a_port_that_is_taken_is_told(tmp_path, monkeypatch, served):
    fill(tmp_path)
    monkeypatch.chdir(tmp_path)
    result = run("design.toml", "--port", str(served.port))
    assert result.exit_code == 2
    assert f"port {served.port} of this machine cannot be used: another program uses it" in result.stderr


def test_without_the_library_one_sentence_says_what_to_install(tmp_path, monkeypatch):
    fill(tmp_path)
    monkeypatch.chdir(tmp_path)
    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *more: None if name == "nicegui" else real(name, *more)
    )
    result = run("design.toml")
    assert result.exit_code == 2
    assert "pip install 'wirecue[page]'" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
