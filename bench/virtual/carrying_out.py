"""One line of a port, carried out: read by the board's command table, each command by its handler."""

from __future__ import annotations

from collections.abc import Mapping

from bench.virtual.commands import Commanded, Handler, OutOfRangeError
from bench.virtual.reading import CommandTable, Order, read_line
from timing.protocol.commands import LONGEST_LINE


def answer_to(
    line: bytes, board: Commanded, table: CommandTable, handlers: Mapping[str, Handler], *, allowed: bool
) -> bytes:
    """Carry out a line; return what the board sends back.

    allowed: the jumper is fitted without which some commands are protected.
    """
    if len(line) > LONGEST_LINE:
        board.status.report("TOO_MUCH_DATA")
        return b""
    # Bytes beyond ASCII are no part of any command and read as such.
    orders = read_line(line.decode("latin-1"), table)
    answers = [answer for order in orders if (answer := _carry_out(order, board, handlers, allowed))]
    return ";".join(answers).encode() + b"\n" if answers else b""


def _carry_out(order: Order, board: Commanded, handlers: Mapping[str, Handler], allowed: bool) -> str:
    command = order.command
    if command is None or order.error:
        board.status.report(order.error)
        return ""
    if command.needs_bench_link and not allowed:
        board.status.report("PROTECTED")
        return ""
    try:
        answer = handlers[command.name](board, *order.parameters)
    except OutOfRangeError:
        board.status.report("OUT_OF_RANGE")
        return ""
    return "" if answer is None else ",".join(map(str, answer))
