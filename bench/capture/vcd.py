"""Reads a value change dump (IEEE 1364) by any writer.

Takes what a logic analyser can have seen: wires of one bit, and the bits of buses. Numbers and texts are passed over.
What some writers put before the first keyword is skipped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from io import BufferedIOBase

from vcd.reader import Token, TokenKind, VarDecl, VCDParseError, tokenize

from bench.capture.capture import (
    MOST_CHANNELS,
    Building,
    Capture,
    CaptureError,
    TooManyChangesError,
    sample_step,
    stated_rate_hz,
)

_UNIT_NS = {"s": 1e9, "ms": 1e6, "us": 1e3, "ns": 1.0, "ps": 1e-3, "fs": 1e-6}
_NO_LEVELS = {"real", "realtime", "string", "event", "parameter"}
_WIDEST_BUS = 64
_LONGEST_LINE = 10_000
_ALLOWED = "a value change dump with wires of one bit"


@dataclass
class _Dump:
    source: str
    tick_ns: float = 1.0
    rate_hz: float | None = None
    logical: bool = False
    scopes: list[str] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    bits: dict[str, list[list[Building]]] = field(default_factory=dict)
    """By id: for each variable that has it, its bits, the least first."""
    first: int | None = None
    now: int = 0

    @property
    def now_ns(self) -> int:
        """The present instant, from the first."""
        return round((self.now - (self.first or 0)) * self.tick_ns)

    def declare(self, variable: VarDecl) -> None:
        """Take a variable."""
        if variable.type_.value in _NO_LEVELS or not 1 <= variable.size <= _WIDEST_BUS:
            return
        name = variable.reference
        if isinstance(variable.bit_index, int):
            name = f"{name}[{variable.bit_index}]"
        if name in self.names:
            name = ".".join([*self.scopes, name])
        if name in self.names:
            return
        if len(self.names) == MOST_CHANNELS:
            raise CaptureError(self.source, f"more than {MOST_CHANNELS} wires", _ALLOWED)
        self.names.add(name)
        names = [name] if variable.size == 1 else [f"{name}[{bit}]" for bit in range(variable.size)]
        self.bits.setdefault(variable.id_code, []).append([Building(each) for each in names])

    def advance(self, time: int, line: int) -> None:
        """Go to an instant. Raises CaptureError where it lies before the present one."""
        if self.first is None:
            self.first = time
        elif time < self.now:
            raise CaptureError(self.source, f"time goes back from #{self.now} to #{time}", "times in order", line)
        self.now = time

    def take(self, id_code: str, value: int | str) -> None:
        """Take a value; levels that are neither 0 nor 1 are unknown."""
        for buildings in self.bits.get(id_code, ()):
            for bit, building in enumerate(buildings):
                building.take(self.now_ns, _level(value, bit))


def _level(value: int | str, bit: int) -> int | None:
    if isinstance(value, int):
        return value >> bit & 1
    # Bits that are left out are 0, or what the leftmost one is where that is not known.
    digits = value.lower()
    digit = digits[-1 - bit] if bit < len(digits) else digits[0] if digits[:1] in ("x", "z") else "0"
    return int(digit) if digit in "01" else None


def read_vcd(file: BufferedIOBase, source: str, given_hz: float | None = None) -> Capture:
    """Read a dump. Raises CaptureError with the line."""
    dump = _Dump(source)
    dump.rate_hz = _skip_preface(file)
    line = 0
    try:
        for token in tokenize(file):
            line = token.span.start.line
            _take(dump, token, line)
    except VCDParseError as error:
        raise CaptureError(source, str(error), _ALLOWED) from None
    except TooManyChangesError:
        raise
    except (ValueError, IndexError, KeyError, OverflowError, StopIteration, RuntimeError):
        raise CaptureError(source, "something that is no dump", _ALLOWED, line) from None
    if dump.first is None:
        raise CaptureError(source, "no instant at all: the dump has no samples", _ALLOWED)
    buildings = _each(dump.bits.values())
    channels = {channel.name: channel for building in buildings if (channel := building.done()) is not None}
    if not channels:
        raise CaptureError(source, "no wire in the dump", _ALLOWED)
    instants_ns = {at_ns for channel in channels.values() for at_ns, _ in channel.changes}
    step_ns, step_from = sample_step(given_hz, dump.rate_hz, instants_ns, dump.tick_ns)
    return Capture(source, channels, dump.now_ns, step_ns, step_from, dump.logical)


def _each(variables: Iterable[list[list[Building]]]) -> Iterator[Building]:
    for same_id in variables:
        for buildings in same_id:
            yield from buildings


def _skip_preface(file: BufferedIOBase) -> float | None:
    """Go to the first line that begins with a keyword; return the sample rate if what is skipped states it."""
    rate_hz = None
    at = file.tell()
    while line := file.readline(_LONGEST_LINE):
        if line.lstrip().startswith(b"$"):
            break
        rate_hz = stated_rate_hz(line.decode("latin-1")) or rate_hz
        at = file.tell()
    file.seek(at)
    return rate_hz


def _take(dump: _Dump, token: Token, line: int) -> None:
    match token.kind:
        case TokenKind.TIMESCALE:
            dump.tick_ns = int(token.timescale.magnitude) * _UNIT_NS[token.timescale.unit.value]
        case TokenKind.COMMENT:
            dump.rate_hz = stated_rate_hz(token.comment) or dump.rate_hz
        case TokenKind.VERSION:
            dump.logical = token.version.strip().startswith("wirecue")
        case TokenKind.SCOPE:
            dump.scopes.append(token.scope.ident)
        case TokenKind.UPSCOPE:
            del dump.scopes[-1:]
        case TokenKind.VAR:
            dump.declare(token.var)
        case TokenKind.CHANGE_TIME:
            dump.advance(token.time_change, line)
        case TokenKind.CHANGE_SCALAR:
            dump.take(token.scalar_change.id_code, token.scalar_change.value)
        case TokenKind.CHANGE_VECTOR:
            dump.take(token.vector_change.id_code, token.vector_change.value)
        case _:
            pass
