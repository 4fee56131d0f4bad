"""Reads the table of changes that `wirecue simulate --csv` writes: an instant, a trace and its new value in each row.

A simulation goes through the same comparison as a measurement: so a script is tried out before an analyser is at hand,
and a table that somebody has edited shows what the comparison finds.
"""

from __future__ import annotations

import csv
import re
from typing import TextIO

from bench.capture.capture import MOST_CHANNELS, Building, Capture, CaptureError, sample_step
from timing.sequence.simulate import CHANGES_HEAD

HEAD = ",".join(CHANGES_HEAD)
_NS_PER_US = 1_000
_LEVELS = {"0": 0, "1": 1}
_ALLOWED = f"rows of {HEAD}, as `wirecue simulate --csv` writes them"
_INSTANT = re.compile(r"-?[0-9]{1,15}")
_LONGEST_QUOTE = 60


def read_changes(file: TextIO, source: str, given_hz: float | None = None) -> Capture:
    """Read such a table, its heading first. Raises CaptureError with the line."""
    buildings: dict[str, Building] = {}
    first_us: int | None = None
    now_us = 0
    rows = csv.reader(file)
    try:
        for cells in rows:
            line = rows.line_num
            if line == 1 or not cells:
                continue
            if len(cells) != len(CHANGES_HEAD):
                raise CaptureError(source, repr(",".join(cells)[:_LONGEST_QUOTE]), _ALLOWED, line)
            at, name, value = cells
            at_us = _instant_us(at, source, line)
            first_us = at_us if first_us is None else first_us
            if at_us < now_us:
                raise CaptureError(source, f"time goes back at {at!r}", "times in order", line)
            now_us = at_us
            if not _is_measured(name):
                continue
            if value not in _LEVELS:
                raise CaptureError(source, f"{value[:_LONGEST_QUOTE]!r} for a level of {name!r}", "0 or 1", line)
            if name not in buildings and len(buildings) == MOST_CHANNELS:
                raise CaptureError(source, f"more than {MOST_CHANNELS} traces", _ALLOWED, line)
            buildings.setdefault(name, Building(name)).take((at_us - first_us) * _NS_PER_US, _LEVELS[value])
    except csv.Error as error:
        raise CaptureError(source, f"no table: {error}", _ALLOWED, rows.line_num) from None
    end_ns = (now_us - (first_us or 0)) * _NS_PER_US
    if end_ns == 0:
        raise CaptureError(source, "no time passes in it", f"two instants or more: {_ALLOWED}")
    channels = {channel.name: channel for building in buildings.values() if (channel := building.done()) is not None}
    instants_ns = {at_ns for channel in channels.values() for at_ns, _ in channel.changes}
    step_ns, step_from = sample_step(given_hz, None, instants_ns, float(_NS_PER_US))
    return Capture(source, channels, end_ns, step_ns, step_from, logical=True)


def _is_measured(name: str) -> bool:
    """Tell whether a trace is one that a wire could show: phases are words, the wire end's traces lengths."""
    return name != "phase" and not name.endswith("_mm")


def _instant_us(text: str, source: str, line: int) -> int:
    if _INSTANT.fullmatch(text) is None:
        found = f"{text[:_LONGEST_QUOTE]!r} for an instant"
        raise CaptureError(source, found, "a whole number of microseconds", line)
    return int(text)
