"""Test welds of one machine: read from the logbook beside its design, and added to it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from timing.design.design import Design
from timing.logbook.entry import EntryKind, Logbook
from timing.process.welds import TAKEN_BACK, TestWeld, WeldError, weld_of_values, weld_values
from wirecue.logbooks import append_entry, logbook_path, read_logbook


@dataclass(frozen=True)
class LoggedWelds:
    """The test welds of a logbook that count for a design."""

    welds: tuple[TestWeld, ...]
    numbers: tuple[int, ...]
    """Of each of them among the logbook's entries of welds, from 1."""
    days: tuple[str, ...]
    """On which each of them was entered, ISO 8601."""
    told: tuple[str, ...]
    """What was passed over, and why."""


def wire_of(design: Design) -> str:
    """Return the wire and gas that a weld was made with, as an entry keeps it, however the diameter was typed."""
    process = design.process
    return f"{process.wire} {process.wire_diameter_mm:.2g} mm, gas {process.gas}"


def logged_welds(path: Path, design: Design) -> LoggedWelds:
    """Return the welds of the logbook beside the design file at `path`. Raises UnreadableFileError."""
    book = read_logbook(logbook_path(path))
    unread = tuple(f"{logbook_path(path).name}, line {line.number}: passed over, {line.why}" for line in book.unread)
    found = welds_of(book, design)
    return replace(found, told=unread + found.told)


def welds_of(logbook: Logbook, design: Design) -> LoggedWelds:
    """Return the welds that count: those with the design's wire and gas, and not taken back since."""
    entries = logbook.of(EntryKind.WELD)
    gone = {entry.values[TAKEN_BACK] for entry in entries if TAKEN_BACK in entry.values}
    welds, numbers, days, told = [], [], [], []
    others = 0
    made = [entry for entry in entries if TAKEN_BACK not in entry.values]
    for number, entry in enumerate(made, 1):
        values = entry.values
        if number in gone:
            continue
        if values.get("wire", wire_of(design)) != wire_of(design):
            others += 1
            continue
        try:
            welds.append(weld_of_values(values))
            numbers.append(number)
            days.append(entry.at[:10])
        except WeldError as error:
            told.append(f"weld {number} of the logbook is passed over: {error}")
    if others:
        told.append(f"{others} of the logbook's welds passed over: made with another wire or gas")
    return LoggedWelds(tuple(welds), tuple(numbers), tuple(days), tuple(told))


def as_made(weld: TestWeld, design: Design, feed_mm_s: float | None = None) -> TestWeld:
    """Return a weld with distance and wire feed speed said: the design's may be others by the time it is read."""
    process = design.process
    speed = weld.feed_mm_s or feed_mm_s or process.wire_feed_speed_mm_s
    return replace(weld, distance_mm=weld.distance_mm or process.contact_tip_to_work_mm, feed_mm_s=speed)


def entry_of_weld(weld: TestWeld, design: Design) -> dict[str, str | bool]:
    """Return a weld as the values of its entry, with the wire it was made with."""
    return {**weld_values(weld), "wire": wire_of(design)}


def log_welds(path: Path, design: Design, welds: Iterable[TestWeld]) -> None:
    """Add welds to the logbook beside the design file at `path`. Raises OutputError, UnreadableFileError."""
    for weld in welds:
        append_entry(logbook_path(path), EntryKind.WELD, entry_of_weld(weld, design))


def log_left_out(path: Path, number: int) -> None:
    """Take a weld back, by the number of its entry; the entry itself stays. Raises as log_welds."""
    append_entry(logbook_path(path), EntryKind.WELD, {TAKEN_BACK: number})
