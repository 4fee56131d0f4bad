"""What a logic analyser saw: channels with their changes, whatever file they came in."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from timing.errors import WirecueError

NS_PER_S = 1_000_000_000
MOST_CHANNELS = 1_000
MOST_CHANGES = 1_000_000
"""Of one channel. A weld makes a few; a trigger that chops at 120 Hz makes 15,000 a minute."""
LONGEST_GUESSED_STEP_NS = 100_000
"""A coarser step than this is not guessed: 10,000 samples a second is less than anybody sets."""

_RATE = re.compile(r"(?:samplerate:?|acquisition .* at)\s*([0-9.]+)\s*([kMG]?)(?:Hz)?", re.IGNORECASE)
_FACTORS = {"": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}


class CaptureError(WirecueError):
    """A capture, or how its channels are named, is of no use. Keeps where, what was found, and what is allowed."""

    def __init__(self, source: str, found: str, allowed: str, line: int | None = None) -> None:
        super().__init__(source, found, allowed, line)
        self.source, self.found, self.allowed, self.line = source, found, allowed, line

    def __str__(self) -> str:
        where = self.source if self.line is None else f"{self.source}, line {self.line}"
        return f"{where}: {self.found}; allowed: {self.allowed}."


class TooManyChangesError(ValueError):
    """A channel changes more often than anything that is looked at here. Keeps its name."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name

    def __str__(self) -> str:
        return f"more than {MOST_CHANGES:,} changes on {self.name}: an input that is connected to nothing?"


@dataclass(frozen=True)
class Channel:
    """One channel. Times in nanoseconds from the first sample."""

    name: str
    begins: int
    """Level at the first sample, 0 or 1."""
    changes: tuple[tuple[int, int], ...]
    """Instant and new level, in order; levels alternate."""
    unknown_ns: int | None = None
    """First instant at which its level is not known; None: it always is."""


@dataclass(frozen=True)
class Capture:
    """One capture."""

    source: str
    channels: Mapping[str, Channel]
    end_ns: int
    step_ns: float
    """From one sample to the next: a change may have come that much before the sample that shows it."""
    step_from: str
    """How that is known."""
    logical: bool = False
    """True for a simulation of ours: 1 is on or closed, whatever level the pins have."""


@dataclass
class Building:
    """A channel in the making."""

    name: str
    _begins: int | None = None
    _changes: list[tuple[int, int]] = field(default_factory=list)
    _unknown_ns: int | None = None

    def take(self, at_ns: int, level: int | None) -> None:
        """Take a level; None: not known, such as x or z."""
        if level is None:
            self._unknown_ns = at_ns if self._unknown_ns is None else self._unknown_ns
            return
        if self._begins is None:
            # Many writers say x before the first sample.
            self._begins, self._unknown_ns = level, None
            return
        if self._changes and self._changes[-1][0] == at_ns:
            self._changes.pop()
        standing = self._changes[-1][1] if self._changes else self._begins
        if at_ns == 0:
            self._begins = level
        elif level != standing:
            if len(self._changes) == MOST_CHANGES:
                raise TooManyChangesError(self.name)
            self._changes.append((at_ns, level))

    def done(self) -> Channel | None:
        """Return the channel, or None where it never had a level."""
        if self._begins is None:
            return None
        return Channel(self.name, self._begins, tuple(self._changes), self._unknown_ns)


def stated_rate_hz(text: str) -> float | None:
    """Return the sample rate that a comment states, in samples a second, or None."""
    match = _RATE.search(text)
    try:
        rate_hz = None if match is None else float(match[1]) * _FACTORS[match[2]]
    except (KeyError, ValueError):
        return None
    return rate_hz or None


def sample_step(
    given_hz: float | None, stated_hz: float | None, instants_ns: Iterable[int], tick_ns: float
) -> tuple[float, str]:
    """Return the time from sample to sample in nanoseconds, and how it is known.

    given_hz: by the user. stated_hz: by the file. instants_ns: of all changes. tick_ns: unit of the file's times.
    """
    if given_hz is not None:
        return NS_PER_S / given_hz, "as given"
    if stated_hz is not None:
        return NS_PER_S / stated_hz, "stated in the file"
    common_ns = math.gcd(*instants_ns)
    if tick_ns <= common_ns <= LONGEST_GUESSED_STEP_NS:
        return float(common_ns), "guessed from the instants; --sample-rate tells it"
    return tick_ns, "unit of the file's times; --sample-rate tells more"
