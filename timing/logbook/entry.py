"""What a logbook holds: entries of a few kinds, newest last, and the lines that could not be read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

EntryValue = str | int | float | bool
"""What an entry may say under a key; quantities are texts with their units, as they were given."""


LONGEST_NOTE = 2_000
"""Most letters of a text that somebody types into one (choice)."""


class EntryKind(StrEnum):
    """What happened. The word stands in the file."""

    BUILD = "build"
    """Files were made from the design."""
    FLASH = "flash"
    """A build went onto the board."""
    BENCH = "bench"
    """A board was tested over its link."""
    STEP = "step"
    """A step of commissioning was done, failed or left out."""
    WELD = "weld"
    """A test weld, and how it ended."""
    MEASURE = "measure"
    """A recorder measured something at the machine; the edges that it saw stand with it."""
    SETTING = "setting"
    """A value changed, in the design file or on a dial."""
    PLATES = "plates"
    """Plates were printed and fixed."""
    NOTE = "note"
    """Anything worth keeping."""


@dataclass(frozen=True)
class Entry:
    """One thing that happened."""

    at: str
    """Local time with its offset from UTC, ISO 8601 to the second."""
    kind: EntryKind
    values: Mapping[str, EntryValue]


@dataclass(frozen=True)
class UnreadLine:
    """A line that is no entry: torn by a flat battery, edited by hand, or of a later version. It is kept as it is."""

    number: int
    """In the file, from 1."""
    text: str
    why: str


@dataclass(frozen=True)
class Logbook:
    """All that a logbook says, in the order of the file."""

    entries: tuple[Entry, ...] = ()
    unread: tuple[UnreadLine, ...] = ()

    def of(self, *kinds: EntryKind) -> tuple[Entry, ...]:
        """Return the entries of some kinds, oldest first."""
        return tuple(entry for entry in self.entries if entry.kind in kinds)
