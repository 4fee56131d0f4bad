"""The link to a board: lines out, answers in, errors fetched and told. Works over any file-like port."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import serial

from bench.errors import (
    BenchError,
    EditedSettingsError,
    GarbledError,
    NoAnswerError,
    NotFittedError,
    PortMissingError,
    RefusedError,
    VanishedError,
    WrongDesignError,
)
from bench.identity import Identity, read_identity
from bench.message import Answer, AnswerError, Message, line_of, message, read_answer
from bench.port import Transport, locked, open_port
from timing.protocol.commands import RECEIVE_ROOM, SCPI_VERSION
from timing.protocol.errors import error_named

ANSWER_TIMEOUT_S = 3.0
"""Longest wait for an answer. A board answers within milliseconds; a busy computer, or a simulator, takes longer."""
PATIENCE_S = 12.0
"""Longest wait for a board to show up. Bootloaders take up to 8 s; a port that comes back takes 2 s (practice)."""
ASK_AGAIN_S = 0.5
"""How often a board that may still be in its bootloader is asked who it is."""
LONGEST_ANSWER = 256
"""Characters; more without a line end is no answer of ours."""
_NEXT_ERROR = message("next_error")


class Link:
    """One board behind one port."""

    def __init__(self, transport: Transport, port: str, timeout_s: float = ANSWER_TIMEOUT_S) -> None:
        self.port = port
        self._transport = transport
        self._timeout_s = timeout_s
        self._buffer = b""

    def query(self, name: str, *parameters: int) -> Answer:
        """Ask one thing. Raises BenchError."""
        return self.ask(message(name, *parameters))[0]

    def command(self, name: str, *parameters: int) -> None:
        """Order one thing, and see that the board took it. Raises RefusedError, NotFittedError, BenchError."""
        self.order(message(name, *parameters))

    def ask(self, *messages: Message) -> list[Answer]:
        """Send messages on one line; return the answers of the queries among them. Raises BenchError."""
        line = line_of(*messages)
        self.send(line)
        return self._answers(messages, line, self.read_line(line).split(";"))

    def ask_lines(self, lines: list[tuple[Message, ...]]) -> list[list[Answer]]:
        """Send a few lines in one write, so that hardly any time passes between them; return the answers to each.

        Raises ValueError for more than a board takes at once, and BenchError.
        """
        texts = [line_of(*messages) for messages in lines]
        if len(whole := "\n".join(texts)) >= RECEIVE_ROOM:
            raise ValueError(f"{len(whole)} characters at once are more than a board takes")
        self.send(whole)
        return [
            self._answers(messages, text, self.read_line(text).split(";"))
            for messages, text in zip(lines, texts, strict=True)
        ]

    def order(self, *messages: Message) -> list[Answer]:
        """Send messages on one line and fetch the oldest error with them. Raises as `command`."""
        line = line_of(*messages, _NEXT_ERROR)
        self.send(line)
        *texts, last = self.read_line(line).split(";")
        error = self._answers((_NEXT_ERROR,), line, [last])[0]
        if (number := error.number("number")) == 0:
            return self._answers(messages, line, texts)
        if number == error_named("PROTECTED").number:
            raise NotFittedError(self.port)
        raise RefusedError(self.port, line_of(*messages), number, error.text("text"))

    def send(self, line: str) -> None:
        """Send one line as it is. Raises VanishedError."""
        with self._port_errors():
            self._transport.write(line.encode("ascii") + b"\n")

    def read_line(self, asked: str) -> str:
        """Return the next line. Raises NoAnswerError, GarbledError, VanishedError; `asked` is for their words."""
        line = self._next_line(self._timeout_s)
        if line is None:
            raise NoAnswerError(self.port, asked, self._timeout_s)
        return self._decoded(line, asked)

    def identify(self, patience_s: float = PATIENCE_S) -> Identity:
        """Wait until the board says who it is, and empty its error queue.

        A board that was just opened may reset and sit in its bootloader; it is asked again and again.
        Raises NoAnswerError, GarbledError, VanishedError.
        """
        question = message("identity")
        deadline_s = time.monotonic() + patience_s
        line: bytes | None = None
        # What stands half-read on either side is ended by the first line end; it may leave an error behind.
        while line is None and time.monotonic() < deadline_s:
            self.send(f"\n{question.text}")
            line = self._identity_line(min(ASK_AGAIN_S, patience_s))
        if line is None:
            raise NoAnswerError(self.port, question.text, patience_s)
        try:
            identity = read_identity(self._decoded(line, question.text))
        except AnswerError as error:
            raise GarbledError(self.port, question.text, str(error)) from None
        self._overtake_late_answers()
        return identity

    def close(self) -> None:
        """Let go of the port."""
        self._transport.close()

    def _identity_line(self, wait_s: float) -> bytes | None:
        """Return a line that looks like an identity, passing over a bootloader's chatter."""
        deadline_s = time.monotonic() + wait_s
        while (left_s := deadline_s - time.monotonic()) > 0:
            line = self._next_line(left_s)
            if line is not None and line.count(b",") == 3:
                return line
        return None

    def _overtake_late_answers(self) -> None:
        # A board that was asked several times answers several times; the version is no identity.
        marker = message("version").text
        self.send(f"*CLS;{marker}")
        while self.read_line(marker) != SCPI_VERSION:
            pass

    def _answers(self, messages: tuple[Message, ...], line: str, texts: list[str]) -> list[Answer]:
        queries = [item.command for item in messages if item.command.query]
        if len(texts) != len(queries):
            raise GarbledError(self.port, line, ";".join(texts))
        try:
            return [read_answer(command, text) for command, text in zip(queries, texts, strict=True)]
        except AnswerError as error:
            raise GarbledError(self.port, line, str(error)) from None

    def _decoded(self, line: bytes, asked: str) -> str:
        try:
            return line.decode("ascii").rstrip("\r")
        except UnicodeDecodeError:
            raise GarbledError(self.port, asked, line.decode("latin-1")) from None

    def _next_line(self, wait_s: float) -> bytes | None:
        deadline_s = time.monotonic() + wait_s
        while b"\n" not in self._buffer:
            with self._port_errors():
                got = self._transport.read(max(1, self._transport.in_waiting))
            self._buffer += got
            if len(self._buffer) > LONGEST_ANSWER and b"\n" not in self._buffer:
                found, self._buffer = self._buffer, b""
                raise GarbledError(self.port, "a question", found.decode("latin-1"))
            if not got and time.monotonic() >= deadline_s:
                return None
        line, _, self._buffer = self._buffer.partition(b"\n")
        return line

    @contextmanager
    def _port_errors(self) -> Iterator[None]:
        try:
            yield
        except (serial.SerialException, OSError):
            raise VanishedError(self.port) from None


@contextmanager
def connected(
    port: str,
    patience_s: float = PATIENCE_S,
    opener: Callable[[str], Transport] = open_port,
) -> Iterator[tuple[Link, Identity]]:
    """Open a port, wait for the board behind it and hold both until the end. Raises BenchError.

    A board that restarts may take its port away and bring it back: it is opened again until the patience is over.
    """
    with locked(port):
        link, identity = _connect(port, patience_s, opener)
        try:
            yield link, identity
        finally:
            link.close()


def _connect(port: str, patience_s: float, opener: Callable[[str], Transport]) -> tuple[Link, Identity]:
    deadline_s = time.monotonic() + patience_s
    seen = False
    while True:
        left_s = max(deadline_s - time.monotonic(), ASK_AGAIN_S)
        try:
            link = Link(opener(port), port)
            seen = True
            try:
                return link, link.identify(left_s)
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
