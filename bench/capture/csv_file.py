"""Reads a table of samples: a column a channel, a row a sample.

Time stands in a first column named 'time' (with its unit, such as 'time [ms]'; seconds without), or follows from the
sample rate, which a comment states or the user tells. Lines that begin with ; or # are comments; one of them may name
the channels.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
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
_LONGEST_LINE = 100_000


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


@dataclass
class _Table:
    """A table in the reading."""

    source: str
    given_hz: float | None
    head: _Head = field(default_factory=_Head)
    buildings: list[Building] = field(default_factory=list)
    samples: int = 0
    first_ns: int = 0
    now_ns: int = 0

    def take(self, cells: Sequence[str], line: int) -> None:
        """Take a row: headings first, then samples. Raises CaptureError."""
        levels = cells if self.head.time_unit_ns is None else cells[1:]
        if not self.buildings:
            if not _are_levels(levels) and not self.head.complete:
                self.head.headings(cells)
                return
            self.buildings = _channels(self.head, len(levels), self.source, line)
        if len(levels) != len(self.buildings):
            found = f"{len(levels)} levels where {len(self.buildings)} channels are"
            raise CaptureError(self.source, found, "a level for each channel in every row", line)
        if not _are_levels(levels):
            raise CaptureError(self.source, repr(",".join(cells)[:_LONGEST_QUOTE]), _ALLOWED, line)
        self._advance(cells[0], line)
        for building, level in zip(self.buildings, levels, strict=True):
            building.take(self.now_ns - self.first_ns, _LEVELS[level])

    def repeat(self) -> bool:
        """Take the latest sample once more; False where that cannot be done without its row."""
        if self.samples == 0 or self.head.time_unit_ns is not None:
            return False
        self.samples += 1
        return True

    def done(self) -> Capture:
        """Return the capture. Raises CaptureError where there is none."""
        if self.samples and self.head.time_unit_ns is None:
            self.now_ns = self._counted_ns(self.samples - 1, None)
        end_ns = self.now_ns - self.first_ns
        if end_ns == 0:
            raise CaptureError(self.source, "no time passes in it", f"two samples or more: {_ALLOWED}")
        channels = {channel.name: channel for building in self.buildings if (channel := building.done()) is not None}
        instants_ns = {at_ns for channel in channels.values() for at_ns, _ in channel.changes}
        step_ns, step_from = sample_step(self.given_hz, self.head.rate_hz, instants_ns, 1.0)
        return Capture(self.source, channels, end_ns, step_ns, step_from)

    def _advance(self, cell: str, line: int) -> None:
        timed = self.head.time_unit_ns is not None
        at_ns = self._timed_ns(cell, line) if timed else self._counted_ns(self.samples, line)
        if self.samples == 0:
            self.first_ns = at_ns
        elif at_ns < self.now_ns:
            raise CaptureError(self.source, f"time goes back at {cell!r}", "times in order", line)
        self.now_ns = at_ns
        self.samples += 1

    def _timed_ns(self, cell: str, line: int) -> int:
        try:
            return round(float(cell) * (self.head.time_unit_ns or 1.0))
        except (ValueError, OverflowError):
            raise CaptureError(self.source, f"{cell[:_LONGEST_QUOTE]!r} for a time", "a number", line) from None

    def _counted_ns(self, samples: int, line: int | None) -> int:
        rate_hz = self.given_hz or self.head.rate_hz
        if rate_hz is None:
            found, allowed = (
                "neither a sample rate nor a time column",
                'one of them; --sample-rate "1 MHz" tells the rate',
            )
            raise CaptureError(self.source, found, allowed, line)
        return round(samples * NS_PER_S / rate_hz)


def read_csv(file: TextIO, source: str, given_hz: float | None = None) -> Capture:
    """Read a table. Raises CaptureError with the line."""
    table = _Table(source, given_hz)
    delimiter, before = "", ""
    try:
        for number, line in enumerate(iter(lambda: file.readline(_LONGEST_LINE), ""), 1):
            if len(line) == _LONGEST_LINE:
                raise CaptureError(source, f"a line of {_LONGEST_LINE} characters or more", _ALLOWED, number)
            # Most samples are as the one before: a second of them is a million rows.
            if line == before and table.repeat():
                continue
            before, text = line, line.strip()
            if not text:
                continue
            if text[0] in ";#" or text.startswith("META"):
                table.head.comment(text)
                continue
            delimiter = delimiter or next((mark for mark in (",", "\t", ";") if mark in text), ",")
            table.take([cell.strip() for cell in next(csv.reader([text], delimiter=delimiter))], number)
    except csv.Error as error:
        raise CaptureError(source, f"no table: {error}", _ALLOWED) from None
    return table.done()


def _are_levels(cells: Sequence[str]) -> bool:
    return bool(cells) and all(cell in _LEVELS for cell in cells)


def _channels(head: _Head, count: int, source: str, line: int) -> list[Building]:
    names = head.names or [f"D{number}" for number in range(count)]
    if len(names) != count or len(set(names)) != count:
        raise CaptureError(source, f"{count} columns and the names {', '.join(names)}", "a name for each column", line)
    return [Building(name) for name in names]
