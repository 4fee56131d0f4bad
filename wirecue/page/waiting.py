"""Connections that never ask for anything are let go of, so that none is held for ever."""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol

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
