"""Bytes from a port to the lines that a board carries out, and what becomes of those that it lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from timing.protocol.commands import LONGEST_LINE


@dataclass
class IncomingLines:
    """The receiving end of one board's port.

    report: is told the name of an error, OVERRUN or FRAMING, that stands for a line that was given up.
    keeps: characters that the receive buffer keeps of what comes in at once; None for any number.
    """

    report: Callable[[str], None]
    keeps: int | None = None
    _line: bytearray = field(init=False, default_factory=bytearray)
    _dropping: bool = field(init=False, default=False)

    def take(self, data: bytes) -> Iterator[bytes]:
        """Take bytes; yield each line that they end, without its end. What was lost is reported after them."""
        came = data[: self.keeps]
        lost = data[len(came) :]
        *ended, rest = self._undropped(came).split(b"\n")
        for piece in ended:
            self._keep(piece)
            line = bytes(self._line).removesuffix(b"\r")
            self._line.clear()
            yield line
        self._keep(rest)
        if lost:
            self.lose("OVERRUN")
            self._dropping = not lost.endswith(b"\n")

    def lose(self, error: str) -> None:
        """Give the present line up, as after a character that was lost or mutilated: it is dropped to its end."""
        self._line.clear()
        self._dropping = True
        self.report(error)

    def _undropped(self, data: bytes) -> bytes:
        """Return what follows the end of a line that was given up."""
        if self._dropping:
            _, ended, data = data.partition(b"\n")
            self._dropping = not ended
        return data

    def _keep(self, piece: bytes) -> None:
        self._line += piece
        # One more than a line may have, so that a longer one is known as such; a carriage return comes on top.
        del self._line[LONGEST_LINE + 2 :]
