"""Commands to text and answers back, by the command table, and who a board says it is. No port in here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from timing.protocol.commands import EDITED_MARK, LONGEST_LINE, MAKER, TRACE_RECORDS, Command, command_named
from timing.protocol.recorder import LINES_ALL, PRESS_ALL, RECORDER_RECORDS
from timing.protocol.target import LEVEL_BIT, RAW_ALL

TEXT_ANSWERS = frozenset({"maker", "design", "digest", "version", "text"})
"""Answers that are text; all others are whole numbers."""
LARGEST = 0xFFFFFFFF
"""What no answer goes beyond: the board counts with 32 bits."""
_RANGES = {
    "number": (-0x8000, 0x7FFF),
    "levels": (0, sum(LEVEL_BIT.values())),
    "contacts": (0, RAW_ALL),
    "lines": (0, LINES_ALL),
    "presses": (0, PRESS_ALL),
}
"""Least and greatest of the answers that have ranges of their own; all others go from 0 to LARGEST."""
_MOST_RECORDS = {"trace": TRACE_RECORDS, "recorded": RECORDER_RECORDS}
"""What a trace can hold at the most, by the command that asks for it."""
_WHOLE_NUMBER = re.compile(r"-?[0-9]{1,10}")
_LOWER = re.compile("[a-z]+")


@dataclass(frozen=True)
class Message:
    """One command with its parameters."""

    command: Command
    parameters: tuple[int, ...] = ()

    @property
    def text(self) -> str:
        """As it goes over the link, in the short form."""
        return self._with(_LOWER.sub("", self.command.headers[0]))

    def text_under(self, path: str) -> str:
        """As it follows another command on its line, whose header stands under `path`: 'BENC:', or '' for the root."""
        header = _LOWER.sub("", self.command.headers[0])
        if header.startswith("*") or not path:
            return self._with(header)
        return self._with(header.removeprefix(path) if path == path_of(header) else f":{header}")

    def _with(self, header: str) -> str:
        return f"{header} {','.join(map(str, self.parameters))}" if self.parameters else header


def path_of(header: str) -> str:
    """Return the words of a header before its last, with their colons: those that the next one need not repeat."""
    words = header.partition(" ")[0]
    return words[: words.rfind(":") + 1]


@lru_cache(maxsize=1024)
def message(name: str, *parameters: int) -> Message:
    """Return the message of the command of that name. Raises KeyError, or ValueError for a wrong parameter count."""
    command = command_named(name)
    if len(parameters) != len(command.takes):
        raise ValueError(f"{command.header} takes {len(command.takes)} parameters, not {len(parameters)}")
    return Message(command, parameters)


def answer_line(*messages: Message) -> str:
    """Return the line that carries `messages`. Raises ValueError when the board would not keep it whole."""
    path, texts = "", []
    for item in messages:
        texts.append(item.text_under(path))
        if not item.command.header.startswith("*"):
            path = path_of(item.text)
    line = ";".join(texts)
    if len(line) > LONGEST_LINE:
        raise ValueError(f"{line!r} is longer than the {LONGEST_LINE} characters that a board keeps")
    return line


class AnswerError(ValueError):
    """A text is not an answer to the question."""


@dataclass(frozen=True)
class Answer:
    """What a query was answered: texts by the names of the command table."""

    fields: Mapping[str, str]

    def number(self, name: str) -> int:
        """Return one answer that is a whole number."""
        return int(self.fields[name])

    def text(self, name: str) -> str:
        """Return one answer that is text, without its quotes."""
        return self.fields[name].strip('"')


def read_answer(command: Command, text: str) -> Answer:
    """Read the answer to one query. Raises AnswerError."""
    values = text.split(",")
    if len(values) != len(command.answers):
        raise AnswerError(text)
    fields = dict(zip(command.answers, values, strict=True))
    for name, value in fields.items():
        if name not in TEXT_ANSWERS and not _is_number(name, value):
            raise AnswerError(text)
    if int(fields.get("records", "0")) > _MOST_RECORDS.get(command.name, LARGEST):
        raise AnswerError(text)
    return Answer(fields)


def _is_number(name: str, value: str) -> bool:
    least, greatest = _RANGES.get(name, (0, LARGEST))
    return _WHOLE_NUMBER.fullmatch(value) is not None and least <= int(value) <= greatest


# What a sketch puts there: names of designs, digests, versions. Nothing else reaches a terminal or a report.
_FIELD = re.compile(r"[A-Za-z0-9_.+-]{1,64}")
_DIGEST = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True)
class Identity:
    """Who answered."""

    maker: str
    design: str
    digest: str
    """16 hex digits that stand for the design that the sketch was made from."""
    version: str
    """Version of the tool that made the sketch."""
    edited: bool = False
    """True where a number of the sketch's settings.h was changed after it was made: the board no longer is what the
    digest stands for."""

    @property
    def carries(self) -> str:
        """What the board carries, for people: 'shop with digest 0123456789abcdef, edited in its settings.h'."""
        return f"{self.design} with digest {self.digest}{', edited in its settings.h' if self.edited else ''}"


def read_identity(text: str) -> Identity:
    """Read the answer to `*IDN?`. Raises AnswerError for anything that no sketch of ours would say."""
    answer = read_answer(message("identity").command, text)
    maker, design, digest, version = (answer.fields[name] for name in ("maker", "design", "digest", "version"))
    plain = digest.removesuffix(EDITED_MARK)
    whole = all(_FIELD.fullmatch(field) for field in (design, version)) and _DIGEST.fullmatch(plain)
    if maker != MAKER or not whole:
        raise AnswerError(text)
    return Identity(maker, design, plain, version, edited=digest != plain)
