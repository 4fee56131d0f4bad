"""Reads a table of samples: a column a channel, a row a sample.

Time stands in a first column named 'time' (with its unit, such as 'time [ms]'; seconds without), or follows from the
sample rate, which a comment states or the user tells. Lines that begin with ; or # are comments; one of them may name
the channels.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TextIO

from bench.capture.capture import NS_PER_S, Building, Capture, CaptureError, sample_step, stated_rate_hz

_CHANNELS = re.compile(r"channels \(\d+/\d+\): *(.+)", re.IGNORECASE)
_TIME = re.compile(r"time\b[\s_]*[\[(]?\s*(s|ms|us|µs|ns|)\s*[\])]?", re.IGNORECASE)
_TIME_WITH_UNIT = re.compile(r"time_(s|ms|us|ns)", re.IGNORECASE)
_UNIT_NS = {"": 1e9, "s": 1e9, "ms": 1e6, "us": 1e3, "µs": 1e3, "ns": 1.0}
_LEVELS = {"0": 0, "1": 1}
_KINDS = {"logic"}
"""Headings that tell a column's kind, not its name."""
_ALLOWED = "rows of 0 and 1, a column a channel"
_LONGEST_QUOTE = 60


@dataclass
class _Head:
    """What stands before the samples."""

    rate_hz: float | None = None
    names: list[str] = field(default_factory=list)
    time_unit_ns: float | None = None
    """None: there is no time column."""
    complete: bool = False
    """True once the headings were read."""

    def comment(self, line: str) -> None:
        """Take what a comment states."""
        self.rate_hz = stated_rate_hz(line) or self.rate_hz
        listed = _CHANNELS.search(line)
        if listed is not None:
            self.names = [name.strip() for name in listed[1].split(",")]

    def headings(self, cells: Sequence[str]) -> None:
        """Take the row of headings."""
        self.complete = True
        time = _TIME_WITH_UNIT.fullmatch(cells[0]) or _TIME.fullmatch(cells[0])
        if time is not None:
            self.time_unit_ns = _UNIT_NS[time[1].lower()]
            cells = cells[1:]
        if not _KINDS.issuperset(cells):
            self.names = list(cells)


def read_csv(file: TextIO, source: str, given_hz: float | None = None) -> Capture:
    """Read a table. Raises CaptureError with the line."""
    try:
        return _read(enumerate(file, 1), source, given_hz)
    except csv.Error as error:
        raise CaptureError(source, f"no table: {error}", _ALLOWED) from None


def _read(lines: Iterator[tuple[int, str]], source: str, given_hz: float | None) -> Capture:
    head = _Head()
    buildings: list[Building] = []
    at_ns = first_ns = last_ns = 0
    count = 0
    for number, cells in _rows(lines, head):
        if not buildings and not _is_sample(cells, head):
            if head.complete:
                raise _refuse(source, number, cells)
            head.headings(cells)
            continue
        levels = cells if head.time_unit_ns is None else cells[1:]
        if not buildings:
            buildings = _channels(head, len(levels), source, number)
        if len(levels) != len(buildings):
            found = f"{len(levels)} levels where {len(buildings)} channels are"
            raise CaptureError(source, found, "a level for each channel in every row", number)
        at_ns = _instant_ns(head, given_hz, cells[0], count, source, number)
        if count == 0:
            first_ns = at_ns
        elif at_ns < last_ns:
            raise CaptureError(source, f"time goes back at {cells[0]!r}", "times in order", number)
        last_ns = at_ns
        for building, level in zip(buildings, levels, strict=True):
            if level not in _LEVELS:
                raise _refuse(source, number, cells)
            building.take(at_ns - first_ns, _LEVELS[level])
        count += 1
    if count < 2 or at_ns == first_ns:
        raise CaptureError(source, "no time passes in it", f"two samples or more: {_ALLOWED}")
    return _capture(source, buildings, head, given_hz, at_ns - first_ns)


def _rows(lines: Iterable[tuple[int, str]], head: _Head) -> Iterator[tuple[int, list[str]]]:
    delimiter = ""
    for number, line in lines:
        text = line.strip()
        if not text:
            continue
        if text[0] in ";#" or text.startswith("META"):
            head.comment(text)
            continue
        if not delimiter:
            delimiter = next((mark for mark in (",", "\t", ";") if mark in text), ",")
        cells = next(csv.reader([text], delimiter=delimiter))
        yield number, [cell.strip() for cell in cells]


def _is_sample(cells: Sequence[str], head: _Head) -> bool:
    levels = cells if head.time_unit_ns is None else cells[1:]
    return bool(levels) and all(level in _LEVELS for level in levels)


def _channels(head: _Head, count: int, source: str, line: int) -> list[Building]:
    names = head.names or [f"D{number}" for number in range(count)]
    if len(names) != count or len(set(names)) != count:
        raise CaptureError(source, f"{count} columns and the names {', '.join(names)}", "a name for each column", line)
    return [Building(name) for name in names]


def _instant_ns(head: _Head, given_hz: float | None, cell: str, count: int, source: str, line: int) -> int:
    if head.time_unit_ns is not None:
        try:
            return round(float(cell) * head.time_unit_ns)
        except (ValueError, OverflowError):
            raise CaptureError(source, f"{cell[:_LONGEST_QUOTE]!r} for a time", "a number", line) from None
    rate_hz = given_hz or head.rate_hz
    if rate_hz is None:
        raise CaptureError(
            source, "neither a sample rate nor a time column", 'one of them; --sample-rate "1 MHz" tells the rate', line
        )
    return round(count * NS_PER_S / rate_hz)


def _capture(source: str, buildings: Iterable[Building], head: _Head, given_hz: float | None, end_ns: int) -> Capture:
    channels = {channel.name: channel for building in buildings if (channel := building.done()) is not None}
    instants_ns = {at_ns for channel in channels.values() for at_ns, _ in channel.changes}
    step_ns, step_from = sample_step(given_hz, head.rate_hz, instants_ns, 1.0)
    return Capture(source, channels, end_ns, step_ns, step_from)


def _refuse(source: str, line: int, cells: Sequence[str]) -> CaptureError:
    return CaptureError(source, repr(",".join(cells)[:_LONGEST_QUOTE]), _ALLOWED, line)
