"""The guard: nobody in without the link, and nothing from another host, another page or another folder."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wirecue.page.guard import LinkGuard

PORT = 8123
HOST = f"127.0.0.1:{PORT}"
ORIGIN = f"http://{HOST}"


class Reached:
    """An application that only notes that it was reached."""

    def __init__(self) -> None:
        self.scopes: list[dict[str, Any]] = []

    async def __call__(self, scope, receive, send) -> None:
        self.scopes.append(scope)
        if scope["type"] == "http":
            await send({"type": "http.response.start", "status": 200, "headers": []})
            await send({"type": "http.response.body", "body": b"inside"})
        elif scope["type"] == "websocket":
            await send({"type": "websocket.accept"})


def ask(guard: LinkGuard, path: str = "/", kind: str = "http", method: str = "GET", query: str = "", **headers: str):
    """Return (status, headers, body) of the answer; a websocket's status is 101 or 403."""
    sent: list[dict[str, Any]] = []

    async def send(message):
        sent.append(message)

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    scope = {
        "type": kind,
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
    }
    if kind == "http":
        scope["method"] = method
    asyncio.run(guard(scope, receive, send))
    if kind == "websocket":
        return (101 if sent[0]["type"] == "websocket.accept" else 403), {}, b""
    return sent[0]["status"], dict(sent[0]["headers"]), sent[1]["body"]


def let_in(guard: LinkGuard) -> str:
    """Follow a new link; return the cookie."""
    status, headers, _ = ask(guard, "/open", query=guard.new_link().partition("?")[2], host=HOST)
    assert status == 200
    return headers[b"set-cookie"].decode().partition(";")[0]


@pytest.fixture
def inside() -> Reached:
    return Reached()


@pytest.fixture
def guard(inside) -> LinkGuard:
    return LinkGuard(inside, PORT)


def test_without_the_link_nobody_gets_in(guard, inside):
    for path in ("/", "/_nicegui/x", "/_nicegui_ws/socket.io/"):
        assert ask(guard, path, host=HOST)[0] == 403
    assert ask(guard, kind="websocket", host=HOST, origin=ORIGIN)[0] == 403
    assert inside.scopes == []


def test_the_link_opens_once_and_the_cookie_from_then_on(guard, inside):
    query = guard.new_link().partition("?")[2]
    status, headers, _ = ask(guard, "/open", query=query, host=HOST)
    assert status == 200
    cookie = headers[b"set-cookie"].decode()
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert ask(guard, "/open", query=query, host=HOST)[0] == 403
    pass_ = cookie.partition(";")[0]
    assert ask(guard, host=HOST, cookie=f"other=1; {pass_}")[2] == b"inside"
    assert ask(guard, kind="websocket", host=HOST, origin=ORIGIN, cookie=pass_)[0] == 101
    assert len(inside.scopes) == 2


@pytest.mark.parametrize("query", ["", "token=", "token=guess", "token=%00"])
def test_a_guessed_link_opens_nothing(guard, query):
    guard.new_link()
    status, headers, _ = ask(guard, "/open", query=query, host=HOST)
    assert (status, b"set-cookie" in headers) == (403, False)


@pytest.mark.parametrize("kind", ["http", "websocket"])
@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1", f"127.0.0.1.evil.example:{PORT}", ""]
)
def test_a_foreign_host_is_refused_cookie_or_not(guard, inside, kind, host):
    pass_ = let_in(guard)
    assert ask(guard, kind=kind, host=host, origin=f"http://{host}", cookie=pass_)[0] in (400, 403)
    assert inside.scopes == []


@pytest.mark.parametrize("kind", ["http", "websocket"])
@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://{HOST}", f"http://localhost:{PORT}", ""])
def test_a_foreign_origin_is_refused_cookie_or_not(guard, inside, kind, origin):
    pass_ = let_in(guard)
    assert ask(guard, kind=kind, host=HOST, origin=origin, cookie=pass_)[0] == 403
    assert inside.scopes == []


def test_what_could_change_something_must_say_where_it_comes_from(guard):
    pass_ = let_in(guard)
    assert ask(guard, method="POST", host=HOST, cookie=pass_)[0] == 403
    assert ask(guard, kind="websocket", host=HOST, cookie=pass_)[0] == 403
    assert ask(guard, method="POST", host=HOST, origin=ORIGIN, cookie=pass_)[0] == 200


def test_another_pass_is_refused(guard):
    other = let_in(LinkGuard(Reached(), PORT))
    assert ask(guard, host=HOST, cookie=other)[0] == 403
    assert ask(guard, host=HOST, cookie=f"{guard.cookie_name}=")[0] == 403
    assert ask(guard, host=HOST, cookie="\x01 nonsense")[0] == 403


@pytest.mark.parametrize(
    "path", ["/../etc/passwd", "/_nicegui/..%2f..%2fetc", "/a/%2e%2e/b", "/a/%252e%252e/b", "/a\\..\\b", "/x%00.js"]
)
def test_paths_that_leave_are_refused(guard, inside, path):
    assert ask(guard, path, host=HOST, cookie=let_in(guard))[0] == 400
    assert inside.scopes == []


def test_two_hosts_in_one_request_are_refused(guard):
    scope_headers = {"Host": HOST, "host": "evil.example"}
    assert ask(guard, cookie=let_in(guard), **scope_headers)[0] == 400


def test_what_is_let_through_is_told_to_talk_to_nobody_else(guard):
    _, headers, _ = ask(guard, host=HOST, cookie=let_in(guard))
    policy = headers[b"content-security-policy"].decode()
    assert "default-src 'self'" in policy
    assert f"connect-src 'self' ws://{HOST};" in policy
    assert "frame-ancestors 'none'" in policy


@given(st.binary(max_size=60), st.sampled_from(["host", "origin", "cookie"]))
def test_garbage_in_a_header_is_refused_without_falling_over(garbage, name):
    inside = Reached()
    headers = {"host": HOST, "origin": ORIGIN, "cookie": "x=y"} | {name: garbage.decode("latin-1")}
    assert ask(LinkGuard(inside, PORT), **headers)[0] in (400, 403)
    assert inside.scopes == []
