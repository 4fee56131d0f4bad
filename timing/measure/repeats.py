"""What a recorder saw of one operation, and the same as text that fits into a logbook and can be computed again."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from timing.errors import WirecueError
from timing.protocol.recorder import LINE_BIT

LINE_LETTERS = dict(zip(LINE_BIT, "gwkmcsdvtp", strict=True))
"""Letter of each line in the text, in the order of the lines' bits (choice)."""
LONGEST_REPEATS = 16_000
"""Characters of all repeats of one entry; what is said beside them takes some more (choice)."""
_EDGE = re.compile(r"([a-z])([+-])(-?[0-9]{1,10})")
_REPEAT = re.compile(r"([a-z]*)((?:\|[a-z][0-9]{1,5})*):((?: ?[a-z][+-]-?[0-9]{1,10})*)")


class RepeatTextError(WirecueError):
    """A text that holds no repeats."""

    def __str__(self) -> str:
        return f"{self.args[0]!r} holds no edges of a recorder: `wirecue log` shows what measuring has entered"


@dataclass(frozen=True, order=True)
class SeenEdge:
    """One line of the recorder changes."""

    at_us: int
    line: str
    """A key of LINE_BIT in timing.protocol.recorder."""
    on: bool


@dataclass(frozen=True)
class SeenRepeat:
    """One operation as the recorder saw it. Instants are on its clock."""

    edges: tuple[SeenEdge, ...]
    at_start: frozenset[str] = frozenset()
    """Lines that were on when it began."""
    gaps_us: Mapping[str, int] = field(default_factory=dict)
    """By line: the longest opening that was bridged, of a coupler that is dark round each zero of an ac voltage."""

    def of(self, line: str) -> tuple[SeenEdge, ...]:
        """Return the edges of one line."""
        return tuple(edge for edge in self.edges if edge.line == line)

    def ons_us(self, line: str) -> tuple[int, ...]:
        """Return when one line came on."""
        return tuple(edge.at_us for edge in self.edges if edge.line == line and edge.on)

    def offs_us(self, line: str) -> tuple[int, ...]:
        """Return when one line went off."""
        return tuple(edge.at_us for edge in self.edges if edge.line == line and not edge.on)

    def only(self, lines: Iterable[str]) -> SeenRepeat:
        """Return what was seen of these lines."""
        kept = frozenset(lines)
        edges = tuple(edge for edge in self.edges if edge.line in kept)
        gaps_us = {line: gap_us for line, gap_us in self.gaps_us.items() if line in kept}
        return SeenRepeat(edges, self.at_start & kept, gaps_us)


def repeats_text(repeats: Sequence[SeenRepeat]) -> str:
    """Return repeats as text: lines on at the start, bridged gaps, then each edge as letter, sign, us since the last.

    'v|g900:t+0 g+18250' is: supply on at the start, gaps of 900 us on the gas valve's coil, trigger pressed, coil on
    18.25 ms later. Instants count from the first edge.
    """
    return "; ".join(map(_repeat_text, repeats))


def _repeat_text(repeat: SeenRepeat) -> str:
    before_us = repeat.edges[0].at_us if repeat.edges else 0
    words = []
    for edge in repeat.edges:
        words.append(f"{LINE_LETTERS[edge.line]}{'+' if edge.on else '-'}{edge.at_us - before_us}")
        before_us = edge.at_us
    started = "".join(sorted(LINE_LETTERS[line] for line in repeat.at_start))
    gaps = "".join(f"|{LINE_LETTERS[line]}{gap_us}" for line, gap_us in sorted(repeat.gaps_us.items()))
    return f"{started}{gaps}:{' '.join(words)}"


def fitting(repeats: Sequence[SeenRepeat]) -> tuple[SeenRepeat, ...]:
    """Return as many repeats, from the first on, as an entry of the logbook can hold."""
    kept = list(repeats)
    while kept and len(repeats_text(kept)) > LONGEST_REPEATS:
        kept.pop()
    return tuple(kept)


def repeats_of_text(text: str) -> tuple[SeenRepeat, ...]:
    """Return the repeats of a text of `repeats_text`. Raises RepeatTextError."""
    return tuple(_repeat_of(part) for part in text.split("; "))


def _repeat_of(text: str) -> SeenRepeat:
    lines = {letter: line for line, letter in LINE_LETTERS.items()}
    found = _REPEAT.fullmatch(text)
    if found is None or not set(re.findall("[a-z]", text)) <= lines.keys():
        raise RepeatTextError(text if len(text) < 60 else f"{text[:60]}...")
    at_us, edges = 0, []
    for letter, sign, later_us in _EDGE.findall(found[3]):
        at_us += int(later_us)
        edges.append(SeenEdge(at_us, lines[letter], sign == "+"))
    gaps_us = {lines[gap[0]]: int(gap[1:]) for gap in found[2].split("|")[1:]}
    return SeenRepeat(tuple(edges), frozenset(lines[letter] for letter in found[1]), gaps_us)
