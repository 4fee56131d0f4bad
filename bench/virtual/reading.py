"""Reads a line of commands, as the command table describes it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from timing.protocol.commands import COMMANDS, Command

_WHOLE_NUMBER = re.compile(r"[+-]?[0-9]+")
_START = re.compile(r"[A-Za-z*:]")
LARGEST = (1 << 32) - 1


@dataclass(frozen=True)
class Order:
    """One command with its parameters, or the name of the error that it is."""

    command: Command | None
    parameters: tuple[int, ...] = ()
    error: str = ""


@lru_cache(maxsize=1024)
def read_line(line: str) -> tuple[Order, ...]:
    """Return what a line asks for, in order."""
    texts = (text.strip(" \t") for text in line.split(";"))
    return tuple(_read(text) for text in texts if text)


def _read(text: str) -> Order:
    if _START.match(text) is None:
        return Order(None, error="SYNTAX")
    header, *rest = re.split(r"[ \t]+", text, maxsplit=1)
    command = _HEADERS.get(header.upper())
    if command is None:
        return Order(None, error="UNDEFINED_HEADER")
    texts = [item.strip(" \t") for item in rest[0].split(",")] if rest else []
    if len(texts) != len(command.takes):
        error = "MISSING_PARAMETER" if len(texts) < len(command.takes) else "PARAMETER_NOT_ALLOWED"
        return Order(command, error=error)
    if any(_WHOLE_NUMBER.fullmatch(item) is None for item in texts):
        return Order(command, error="DATA_TYPE")
    # The length is looked at first: a number of a thousand digits is no reason to compute it.
    numbers = [LARGEST + 1 if len(item.lstrip("+-0")) > len(str(LARGEST)) else int(item) for item in texts]
    return Order(command, tuple(numbers))


def _spellings(header: str) -> Iterator[str]:
    """Yield each way to write a header: short or long in every part, with or without leading colon."""
    spellings = [""]
    for index, part in enumerate(header.removesuffix("?").split(":")):
        ways = {re.sub("[a-z]", "", part), part.upper()}
        spellings = [f"{before}{':' if index else ''}{way}" for before in spellings for way in sorted(ways)]
    mark = "?" if header.endswith("?") else ""
    for spelling in spellings:
        yield spelling + mark
        if not spelling.startswith("*"):
            yield f":{spelling}{mark}"


_HEADERS = {spelling: command for command in COMMANDS for spelling in _spellings(command.header)}
