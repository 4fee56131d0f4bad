"""Puts the page behind its guard on a port of this machine alone, and lets go of connections that ask nothing."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import logging
import socket
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from nicegui import ui
from uvicorn.protocols.http.h11_impl import H11Protocol

from timing.errors import WirecueError
from timing.system.listening import listening_alone
from wirecue.page.desk import Desk
from wirecue.page.guard import LinkGuard
from wirecue.page.layout import show_page
from wirecue.page.start import show_start
from wirecue.page.survey_form import show_survey

REQUEST_S = 10.0
"""How long a browser may take to send the head of a request. On one machine it takes milliseconds."""


class ImpatientProtocol(H11Protocol):
    """HTTP as the server speaks it, with a bound on the wait for a request; the server itself has none."""

    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take what came: a whole request ends the wait, a piece of one begins it."""
        before = self.cycle
        if self._waiting is None and self._idle:
            self._wait()
        super().data_received(data)
        if self.cycle is not before or self.transport.get_protocol() is not self:
            self._wait_no_more()

    def connection_lost(self, exc: Exception | None) -> None:
        """End with the connection."""
        self._wait_no_more()
        super().connection_lost(exc)

    @property
    def _idle(self) -> bool:
        return self.cycle is None or self.cycle.response_complete

    def _wait(self) -> None:
        self._waiting = self.loop.call_later(REQUEST_S, self._close)

    def _wait_no_more(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _close(self) -> None:
        self._waiting = None
        self.transport.close()


FIRST_FREE_TO_USE = 1024
"""Lower ports are not for everybody on most systems."""
_READERS = {"engineio.packet", "engineio.payload", "socketio.packet"}
"""Modules that read what a browser sent."""
RECONNECT_S = 120.0
"""How long a tab may be away, such as on a laptop asleep, and still go on where it was."""


class PortTakenError(WirecueError):
    """The port cannot be had. Says why and what to do."""

    def __init__(self, port: int, why: str) -> None:
        super().__init__(port, why)
        self.port = port
        self.why = why

    def __str__(self) -> str:
        return f"port {self.port} of this machine cannot be used: {self.why}. Leave --port out and a free one is found."


def serve(desk: Desk, port: int, ready: Callable[[str], Callable[[], None]]) -> None:
    """Serve the page until it is interrupted. `port` 0 finds a free one; `ready` gets the link that opens it, once.

    What `ready` returns is called when the link was used. Raises PortTakenError.
    """
    with _listening(port) as listener:
        guard = guarded(desk, listener.getsockname()[1])
        config = uvicorn.Config(
            guard,
            http=ImpatientProtocol,
            log_level="warning",
            access_log=False,
            lifespan="on",
            timeout_graceful_shutdown=1,
        )

        def announce() -> None:
            link = guard.new_link()
            guard.on_used(ready(link))

        asyncio.run(_serve(uvicorn.Server(config), listener, announce))


async def _serve(server: uvicorn.Server, listener: socket.socket, ready: Callable[[], None]) -> None:
    serving = asyncio.create_task(server.serve(sockets=[listener]))
    while not server.started and not serving.done():
        await asyncio.sleep(0.01)
    if server.started:
        ready()
    with contextlib.suppress(KeyboardInterrupt, asyncio.CancelledError):
        await serving


def guarded(desk: Desk, port: int) -> LinkGuard:
    """Return the whole application behind its guard."""
    logging.getLogger("nicegui").setLevel(logging.ERROR)
    # What they say, with a traceback, is that a browser sent what makes no sense; our own handlers are not theirs.
    for name in ("engineio.server", "socketio.server"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    for name in ("uvicorn.error", "asyncio"):
        logging.getLogger(name).addFilter(_is_news)
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    ui.page("/")(lambda: show_start(desk) if desk.shared is None else show_page(desk.shared))
    ui.page("/start")(lambda: show_start(desk))
    ui.page("/survey/{name}")(lambda name: show_survey(desk, name))
    ui.run_with(
        app,
        title="wirecue",
        favicon=Path(__file__).parent / "icon.svg",
        language="en-US",
        reconnect_timeout=RECONNECT_S,
        tailwind=False,
        show_welcome_message=False,
    )
    return LinkGuard(app, port)


def _is_news(record: logging.LogRecord) -> bool:
    """Tell whether a person wants to read it: not that a browser dropped a request, nor that it sent nonsense."""
    error = record.exc_info[1] if record.exc_info else None
    if error is None:
        return True
    modules = {frame.f_globals.get("__name__") for frame, _ in traceback.walk_tb(error.__traceback__)}
    dropped = isinstance(error, RuntimeError) and str(error) == "No response returned."
    return not (dropped or modules & _READERS)


@contextlib.contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    try:
        listener = listening_alone(port)
    except (OSError, OverflowError) as error:
        # Windows also says "access denied" of a port that another program has for itself.
        taken = getattr(error, "errno", None) in (errno.EADDRINUSE, errno.EACCES) and port >= FIRST_FREE_TO_USE
        why = "another program uses it" if taken else (getattr(error, "strerror", None) or str(error)).lower()
        raise PortTakenError(port, why) from None
    with listener:
        yield listener
