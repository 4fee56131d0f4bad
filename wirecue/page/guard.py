"""Who may talk to the page: this machine's own browser, by the link that was opened, from the page itself.

The server listens on the loopback address alone. That keeps other machines out, not other web pages in the same
browser nor other users of this machine; hence this guard around everything, websockets included. The link itself goes
to the browser in a private file: what a program is started with can be read by everybody.
"""

from __future__ import annotations

import contextlib
import hmac
import re
import secrets
import tempfile
from collections.abc import Awaitable, Callable, Iterator, MutableMapping
from dataclasses import dataclass, field
from html import escape
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, unquote

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

OPEN_PATH = "/open"
SAFE_METHODS = {"GET", "HEAD"}
_LEAVES = re.compile(r"(^|[/\\])\.\.([/\\]|$)|\\|\x00")

ASK_FOR_LINK = "This page opens by the link that `wirecue page` printed, once. Stop it with Ctrl+C and start it again."
WRONG_HOST = "This page answers to its own address only."
WRONG_ORIGIN = "Another web page asked for this one. That is not allowed."
WRONG_PATH = "There is no such page."

# The page's own scripts stand inline and are compiled in the browser, so `unsafe-*` cannot be left out; nothing of
# it comes from, or goes to, another place.
_POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' ws://{host}; object-src 'none'; "
    "base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
)


@dataclass
class LinkGuard:
    """ASGI middleware; let it be the outermost. `port` is where the server listens."""

    app: App
    port: int
    _tokens: set[str] = field(default_factory=set, repr=False)
    _used: Callable[[], None] = field(default=lambda: None, repr=False)
    _pass: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)

    def new_link(self) -> str:
        """Return an address that opens the page once, in one browser."""
        token = secrets.token_urlsafe(24)
        self._tokens.add(token)
        return f"http://127.0.0.1:{self.port}{OPEN_PATH}?token={token}"

    def on_used(self, used: Callable[[], None]) -> None:
        """Call `used` when a link was used."""
        self._used = used

    @property
    def cookie_name(self) -> str:
        """Cookies know no ports, so the name carries it: two pages of one machine do not disturb each other."""
        return f"wirecue_{self.port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        headers = _headers(scope)
        refused = self._refusal(scope, headers)
        if refused is not None:
            await _refuse(scope, send, *refused)
        elif scope["type"] == "http" and scope["path"] == OPEN_PATH:
            await self._let_in(scope, send)
        elif not self._has_pass(headers):
            await _refuse(scope, send, 403, ASK_FOR_LINK)
        else:
            await self.app(scope, receive, self._with_headers(send, headers["host"][0]))

    def _refusal(self, scope: Scope, headers: dict[str, list[str]]) -> tuple[int, str] | None:
        hosts = headers.get("host", [])
        if len(hosts) != 1 or hosts[0] not in self._own_hosts():
            return 400, WRONG_HOST
        origins = headers.get("origin", [])
        needs_origin = scope["type"] == "websocket" or scope.get("method", "GET") not in SAFE_METHODS
        if (needs_origin or origins) and origins != [f"http://{hosts[0]}"]:
            return 403, WRONG_ORIGIN
        raw = scope.get("raw_path") or scope["path"].encode()
        # Once and twice decoded: what is only one step away from leaving is not let through either.
        path = unquote(raw.decode("latin-1"))
        if _LEAVES.search(path) or _LEAVES.search(unquote(path)):
            return 400, WRONG_PATH
        return None

    def _own_hosts(self) -> tuple[str, str]:
        return f"127.0.0.1:{self.port}", f"localhost:{self.port}"

    def _has_pass(self, headers: dict[str, list[str]]) -> bool:
        try:
            cookies = SimpleCookie("; ".join(headers.get("cookie", [])))
        except CookieError:
            return False
        found = cookies.get(self.cookie_name)
        return found is not None and hmac.compare_digest(found.value.encode(), self._pass.encode())

    async def _let_in(self, scope: Scope, send: Send) -> None:
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [""])[0]
        token = next((one for one in self._tokens if hmac.compare_digest(one.encode(), given.encode())), None)
        if token is None or scope.get("method") != "GET":
            await _refuse(scope, send, 403, ASK_FOR_LINK)
            return
        self._tokens.discard(token)
        self._used()
        cookie = f"{self.cookie_name}={self._pass}; HttpOnly; SameSite=Strict; Path=/"
        # A redirect would count as coming from wherever the link was clicked, and a strict cookie stay behind;
        # a page of our own that moves on does not.
        page = '<!doctype html><title>wirecue</title><meta http-equiv="refresh" content="0; url=/"><a href="/">open</a>'
        await _answer(send, 200, "text/html; charset=utf-8", page, [(b"set-cookie", cookie.encode())])

    def _with_headers(self, send: Send, host: str) -> Send:
        extra = [
            (b"content-security-policy", _POLICY.format(host=host).encode()),
            (b"x-content-type-options", b"nosniff"),
            (b"referrer-policy", b"no-referrer"),
        ]

        async def sending(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", []), *extra]
            await send(message)

        return sending


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope.get("headers", []):
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


async def _refuse(scope: Scope, send: Send, status: int, words: str) -> None:
    if scope["type"] == "websocket":
        # Closing before accepting makes the server answer the handshake with 403.
        await send({"type": "websocket.close", "code": 1008, "reason": words})
    else:
        await _answer(send, status, "text/plain; charset=utf-8", words + "\n", [])


async def _answer(send: Send, status: int, kind: str, body: str, more: list[tuple[bytes, bytes]]) -> None:
    content = body.encode()
    headers = [
        (b"content-type", kind.encode()),
        (b"content-length", str(len(content)).encode()),
        (b"cache-control", b"no-store"),
        (b"referrer-policy", b"no-referrer"),
        (b"x-content-type-options", b"nosniff"),
        *more,
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": content})


_PAGE = (
    '<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer"><title>wirecue</title>'
    '<meta http-equiv="refresh" content="0; url={link}"><a href="{link}">open</a>\n'
)


@contextlib.contextmanager
def private_pages(launch: Callable[[str], object]) -> Iterator[Callable[[str], Callable[[], None]]]:
    """Yield a function that opens a link in the browser by way of a private file; it returns what removes the file.

    launch: opens a file, by its name. At the end the file is gone in any case.
    """
    with tempfile.TemporaryDirectory(prefix="wirecue-page-", ignore_cleanup_errors=True) as folder:
        # The folder is this user's alone (mode 0700), and so is all that is in it.
        path = Path(folder) / "open.html"

        def show(link: str) -> Callable[[], None]:
            path.touch(mode=0o600)
            path.write_text(_PAGE.format(link=escape(link)), encoding="utf-8")
            launch(str(path))
            return lambda: path.unlink(missing_ok=True)

        yield show
