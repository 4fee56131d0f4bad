"""The link to a board: lines out, answers in, errors fetched and told. Works over any file-like port."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import serial

from bench.errors import (
    LONGEST_TEXT,
    BenchError,
    EchoError,
    EditedSettingsError,
    GarbledError,
    NoAnswerError,
    NotFittedError,
    PortMissingError,
    RefusedError,
    VanishedError,
    WrongDesignError,
    device_text,
)
from bench.message import Answer, AnswerError, Identity, Message, answer_line, message, read_answer, read_identity
from bench.port import WRITE_TIMEOUT_S, Transport, locked, open_port
from timing.protocol.commands import RECEIVE_ROOM, SCPI_VERSION
from timing.protocol.status import error_named

ANSWER_TIMEOUT_S = 3.0
"""Longest wait for an answer. A board answers within milliseconds; a busy computer, or a simulator, takes longer."""
PATIENCE_S = 12.0
"""Longest wait for a board to show up. Bootloaders take up to 8 s; a port that comes back takes 2 s (practice)."""
ASK_AGAIN_S = 0.5
"""How often a board that may still be in its bootloader is asked who it is."""
ASKED_FOR_S = 1.5
"""How long it is asked at first (choice: boards of any other kind have answered by then)."""
LEFT_ALONE_S = 9.0
"""How long a board that has not answered by then is left alone, once: a bootloader that has heard a byte waits for the
next, that of the largest board for 8.0 s (measured: in the simulator)."""
READ_AT_ONCE = 4096
"""Bytes taken from the port in one go; a device that floods it is not given more memory than that."""
_NEXT_ERROR = message("next_error")


class Link:
    """One board behind one port. Every wait is bounded by the host's clock.

    follows_host: the board's clock must keep to the host's while it is watched; one of software need not.
    host_s: the host's clock, in seconds.
    """

    def __init__(
        self,
        transport: Transport,
        port: str,
        timeout_s: float | None = None,
        *,
        follows_host: bool = True,
        host_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self.port = port
        self.follows_host = follows_host
        self.host_s = host_s
        self.asked_s = self.answered_s = host_s()
        """When the latest line was sent, and when the latest came, on the host's clock."""
        self._transport = transport
        self._timeout_s = ANSWER_TIMEOUT_S if timeout_s is None else timeout_s
        self._buffer = b""
        self._heard = b""

    def query(self, name: str, *parameters: int) -> Answer:
        """Ask one thing. Raises BenchError."""
        return self.ask(message(name, *parameters))[0]

    def command(self, name: str, *parameters: int) -> None:
        """Order one thing, and see that the board took it. Raises RefusedError, NotFittedError, BenchError."""
        self.order(message(name, *parameters))

    def ask(self, *messages: Message) -> list[Answer]:
        """Send messages on one line; return the answers of the queries among them. Raises BenchError."""
        line = answer_line(*messages)
        self._put(line)
        return self._answers(messages, line, self.read_line(line).split(";"))

    def ask_lines(self, lines: list[tuple[Message, ...]]) -> list[list[Answer]]:
        """Send a few lines in one write, so that hardly any time passes between them; return the answers to each.

        Raises ValueError for more than a board takes at once, and BenchError.
        """
        texts = [answer_line(*messages) for messages in lines]
        if len(whole := "\n".join(texts)) >= RECEIVE_ROOM:
            raise ValueError(f"{len(whole)} characters at once are more than a board takes")
        self._put(whole)
        return [
            self._answers(messages, text, self.read_line(text).split(";"))
            for messages, text in zip(lines, texts, strict=True)
        ]

    def order(self, *messages: Message) -> list[Answer]:
        """Send messages on one line and fetch the oldest error with them. Raises as `command`."""
        line = answer_line(*messages, _NEXT_ERROR)
        self._put(line)
        *texts, last = self.read_line(line).split(";")
        error = self._answers((_NEXT_ERROR,), line, [last])[0]
        if (number := error.number("number")) == 0:
            return self._answers(messages, line, texts)
        if number == error_named("PROTECTED").number:
            raise NotFittedError(self.port)
        raise RefusedError(self.port, answer_line(*messages), number, error.text("text"))

    def send(self, line: str) -> None:
        """Send one line as it is. Raises VanishedError, and NoAnswerError for a port that takes nothing."""
        self.asked_s = self.host_s()
        try:
            with self._port_errors():
                self._transport.write(line.encode("ascii") + b"\n")
        except serial.SerialTimeoutException:
            raise NoAnswerError(self.port, line.strip(), WRITE_TIMEOUT_S) from None

    def read_line(self, asked: str) -> str:
        """Return the next line. Raises NoAnswerError, GarbledError, VanishedError; `asked` is for their words."""
        line = self._next_line(self._timeout_s)
        if line is None:
            raise NoAnswerError(self.port, asked, self._timeout_s)
        return self._decoded(line, asked)

    def identify(self, patience_s: float = PATIENCE_S, *, clears: bool = True) -> Identity:
        """Wait until the board says who it is, and empty its error queue, unless `clears` is False.

        A board that was just opened may reset and sit in its bootloader; it is asked again and again.
        Raises NoAnswerError, GarbledError, VanishedError.
        """
        question = message("identity")
        deadline_s = self.host_s() + patience_s
        line: bytes | None = None
        self._heard = b""
        leave_alone_s: float | None = self.host_s() + ASKED_FOR_S
        # What stands half-read on either side is ended by the first line end; it may leave an error behind.
        while line is None and self.host_s() < deadline_s:
            self.send(f"\n{question.text}")
            wait_s = ASK_AGAIN_S
            if leave_alone_s is not None and self.host_s() >= leave_alone_s:
                wait_s, leave_alone_s = LEFT_ALONE_S, None
            line = self._identity_line(min(wait_s, patience_s, max(deadline_s - self.host_s(), ASK_AGAIN_S)))
        if line is None:
            raise self._not_identified(question.text, patience_s)
        try:
            identity = read_identity(self._decoded(line, question.text))
        except AnswerError as error:
            raise GarbledError(self.port, question.text, str(error)) from None
        self._overtake_late_answers(clears)
        return identity

    def close(self) -> None:
        """Let go of the port."""
        self._transport.close()

    def _identity_line(self, wait_s: float) -> bytes | None:
        """Return a line that looks like an identity, passing over a bootloader's chatter."""
        deadline_s = self.host_s() + wait_s
        while (left_s := deadline_s - self.host_s()) > 0:
            line = self._next_line(left_s)
            if line is not None and line.count(b",") == 3:
                return line
            self._heard = line or self._heard
        return None

    def _not_identified(self, asked: str, waited_s: float) -> BenchError:
        heard = self._heard.rstrip(b"\r")
        if not heard:
            return NoAnswerError(self.port, asked, waited_s)
        return EchoError(self.port) if heard == asked.encode() else GarbledError(self.port, asked, device_text(heard))

    def _overtake_late_answers(self, clears: bool) -> None:
        # A board that was asked several times answers several times; the version is no identity.
        marker = message("version").text
        deadline_s = self.host_s() + self._timeout_s
        self.send(f"*CLS;{marker}" if clears else marker)
        while (line := self.read_line(marker)) != SCPI_VERSION:
            if self.host_s() >= deadline_s:
                raise GarbledError(self.port, marker, line)

    def _put(self, question: str) -> None:
        """Send a question. Raises GarbledError where something came that nobody asked for: what follows is no answer.

        It is sent all the same: it may be the one that gives the inputs back.
        """
        with self._port_errors():
            unasked = self._buffer or self._transport.read(min(self._transport.in_waiting, READ_AT_ONCE))
        self._buffer = b""
        self.send(question)
        if unasked:
            raise GarbledError(self.port, "no question", device_text(unasked.strip()))

    def _answers(self, messages: tuple[Message, ...], line: str, texts: list[str]) -> list[Answer]:
        queries = [item.command for item in messages if item.command.query]
        if len(texts) != len(queries):
            raise GarbledError(self.port, line, ";".join(texts))
        try:
            return [read_answer(command, text) for command, text in zip(queries, texts, strict=True)]
        except AnswerError as error:
            raise GarbledError(self.port, line, str(error)) from None

    def _decoded(self, line: bytes, asked: str) -> str:
        """Return a line as text. Raises GarbledError for one that is not fit to be shown as it stands."""
        said = line.rstrip(b"\r")
        if (text := device_text(said)) != said.decode("latin-1"):
            raise GarbledError(self.port, asked, text)
        return text

    def _next_line(self, wait_s: float) -> bytes | None:
        deadline_s = self.host_s() + wait_s
        while b"\n" not in self._buffer:
            with self._port_errors():
                got = self._transport.read(min(max(1, self._transport.in_waiting), READ_AT_ONCE))
            self._buffer += got
            if len(self._buffer) > LONGEST_TEXT and b"\n" not in self._buffer:
                found, self._buffer = self._buffer, b""
                raise GarbledError(self.port, "a question", device_text(found))
            # What arrived while this computer was elsewhere counts; what trickles in for ever does not.
            if b"\n" not in self._buffer and self.host_s() >= deadline_s:
                return None
        line, _, self._buffer = self._buffer.partition(b"\n")
        self.answered_s = self.host_s()
        return line

    @contextmanager
    def _port_errors(self) -> Iterator[None]:
        try:
            yield
        except serial.SerialTimeoutException:
            raise
        except (serial.SerialException, OSError):
            raise VanishedError(self.port) from None


@contextmanager
def connected(
    port: str,
    patience_s: float = PATIENCE_S,
    opener: Callable[[str], Transport] = open_port,
    *,
    follows_host: bool = True,
    clears: bool = True,
) -> Iterator[tuple[Link, Identity]]:
    """Open a port, wait for the board behind it and hold both until the end. Raises BenchError.

    A board that restarts may take its port away and bring it back: it is opened again until the patience is over.
    follows_host: see Link; clears: see Link.identify.
    """
    with locked(port):
        link, identity = _connect(patience_s, lambda: Link(opener(port), port, follows_host=follows_host), clears)
        try:
            yield link, identity
        finally:
            link.close()


def _connect(patience_s: float, opened: Callable[[], Link], clears: bool) -> tuple[Link, Identity]:
    deadline_s = time.monotonic() + patience_s
    seen = False
    while True:
        left_s = max(deadline_s - time.monotonic(), ASK_AGAIN_S)
        try:
            link = opened()
            seen = True
            try:
                return link, link.identify(left_s, clears=clears)
            except BenchError:
                link.close()
                raise
        except (VanishedError, PortMissingError):
            if not seen or time.monotonic() >= deadline_s:
                raise
            time.sleep(0.1)  # The port is away; there is nothing to wait on.


def require_design(identity: Identity, port: str, design: str, digest: str) -> None:
    """Raise WrongDesignError for a board with another design, EditedSettingsError for this one with edited settings."""
    if (identity.design, identity.digest) != (design, digest):
        raise WrongDesignError(port, identity.carries, design, digest)
    if identity.edited:
        raise EditedSettingsError(port, design, digest)


def require_bench_link(link: Link) -> None:
    """Raise NotFittedError unless the bench link was fitted at power-up."""
    if not link.query("bench").number("fitted"):
        raise NotFittedError(link.port)
