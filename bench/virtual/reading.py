"""A line as a command table describes it: orders with their numbers, or the errors that they are."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from timing.protocol.commands import (
    COMMANDS,
    LARGEST_EXPONENT,
    LARGEST_PARAMETER,
    RECORDER_COMMANDS,
    Command,
)

WHITE_SPACE = "".join(chr(code) for code in range(33) if chr(code) != "\n")
"""IEEE 488.2, 7.4.1.2."""
_BLANKS = re.compile(f"[{re.escape(WHITE_SPACE)}]+")
_DECIMAL = re.compile(
    rf"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(?:[{re.escape(WHITE_SPACE)}]*E[{re.escape(WHITE_SPACE)}]*([+-]?[0-9]+))?",
    re.IGNORECASE,
)
_RADIX = re.compile(r"#(?:H(?P<H>[0-9A-F]+)|Q(?P<Q>[0-7]+)|B(?P<B>[01]+))", re.IGNORECASE)
_BASE = {"H": 16, "Q": 8, "B": 2}
_START = re.compile(r"[A-Za-z*:]")
BEYOND = LARGEST_PARAMETER + 1
"""Stands for a number that is negative, or larger than any command takes."""


@dataclass(frozen=True)
class Order:
    """One command with its parameters, or the name of the error that it is."""

    command: Command | None
    parameters: tuple[int, ...] = ()
    error: str = ""


class CommandTable:
    """Commands by every way to write their headers. Each table is itself alone."""

    def __init__(self, commands: Iterable[Command]) -> None:
        self.headers: Mapping[str, Command] = {
            spelling: command for command in commands for header in command.headers for spelling in _spellings(header)
        }


@lru_cache(maxsize=2048)
def read_line(line: str, table: CommandTable) -> tuple[Order, ...]:
    """Return what a line asks for, in order; after a command error there is nothing more."""
    orders: list[Order] = []
    path = ""
    for text in (part.strip(WHITE_SPACE) for part in line.split(";")):
        if text:
            order, path = _read(text, path, table)
            orders.append(order)
            if order.error:
                break
    return tuple(orders)


def _read(text: str, path: str, table: CommandTable) -> tuple[Order, str]:
    """Return the order, and the path from which the next header begins (SCPI-99, volume 1, 6.2.4)."""
    if _START.match(text) is None:
        return Order(None, error="SYNTAX"), path
    header, *rest = _BLANKS.split(text, maxsplit=1)
    header = header.upper()
    whole = header if header.startswith("*") else header[1:] if header.startswith(":") else path + header
    command = table.headers.get(whole)
    if command is None or header.startswith(":*"):
        return Order(None, error="UNDEFINED_HEADER"), path
    if not header.startswith("*"):
        path = whole[: whole.rfind(":") + 1]
    texts = [item.strip(WHITE_SPACE) for item in rest[0].split(",")] if rest else []
    if len(texts) != len(command.takes):
        error = "MISSING_PARAMETER" if len(texts) < len(command.takes) else "PARAMETER_NOT_ALLOWED"
        return Order(command, error=error), path
    numbers = [_number(item) for item in texts]
    if None in numbers:
        return Order(command, error="DATA_TYPE"), path
    return Order(command, tuple(number for number in numbers if number is not None)), path


def _number(text: str) -> int | None:
    """Return the whole number that a text rounds to, half away from zero, or BEYOND; None where it is no number."""
    if (radix := _RADIX.fullmatch(text)) is not None:
        found = next(letter for letter in _BASE if radix[letter])
        return min(int(radix[found], _BASE[found]), BEYOND)
    decimal = _DECIMAL.fullmatch(text)
    if decimal is None:
        return None
    # A number of a thousand digits in the exponent is no reason to compute it.
    exponent = max(-LARGEST_EXPONENT, min(int((decimal[2] or "0")[:6]), LARGEST_EXPONENT))
    number = Decimal(decimal[1]).scaleb(exponent).to_integral_value(ROUND_HALF_UP)
    return int(number) if 0 <= number <= LARGEST_PARAMETER else BEYOND


def _spellings(header: str) -> Iterator[str]:
    """Yield each way to write a header: short or long in every part."""
    spellings = [""]
    for index, part in enumerate(header.removesuffix("?").split(":")):
        ways = {re.sub("[a-z]", "", part), part.upper()}
        spellings = [f"{before}{':' if index else ''}{way}" for before in spellings for way in sorted(ways)]
    mark = "?" if header.endswith("?") else ""
    for spelling in spellings:
        yield spelling + mark


ADD_ON_TABLE = CommandTable(COMMANDS)
RECORDER_TABLE = CommandTable(RECORDER_COMMANDS)
