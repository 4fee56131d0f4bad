"""The virtual recorder's inside: what its looks at the lines find, bridged openings, the disc's slots, the trace.

It looks every SAMPLE_US, as the firmware does; looks that cannot find anything new are left out. All instants are on
the recorder's clock, unwrapped.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from timing.protocol.recorder import (
    LINE_BIT,
    RECORDER_INPUTS,
    RECORDER_RECORDS,
    SAMPLE_US,
    recorder_input,
)

DISC_BIT = recorder_input("disc").bit
"""The line whose slots are counted, whatever is bridged (derived)."""


@dataclass(frozen=True)
class RecorderFaults:
    """What may be wrong with a recorder. Nothing by default."""

    deaf: frozenset[str] = frozenset()
    """Keys of inputs that never show anything: a broken wire, a dead coupler."""
    stuck: frozenset[str] = frozenset()
    """Keys of inputs that always show on: a short."""
    swapped: tuple[str, str] | None = None
    """Two inputs wired crosswise."""
    dead_presses: frozenset[str] = frozenset()
    """What it believes to press, and does not."""
    holds_presses: frozenset[str] = frozenset()
    """What it goes on pressing once pressed, whatever its pin says: a welded contact."""
    no_jumper: bool = False
    mute: bool = False
    """It never answers."""
    noisy: bool = False
    """It answers noise."""
    clock_stands: bool = False
    """The clock that it answers is frozen."""
    loses_every: int = 0
    """Of so many records it loses one, and does not count it; 0 for none."""
    lies: bool = False
    """Asked for the lines, it says the opposite of every input's."""

    def seen(self, lines: int) -> int:
        """Return what the pins show of the lines as they are."""
        if self.swapped is not None:
            first, second = (recorder_input(key).bit for key in self.swapped)
            lines = lines & ~(first | second) | second * bool(lines & first) | first * bool(lines & second)
        for key in self.deaf:
            lines &= ~recorder_input(key).bit
        for key in self.stuck:
            lines |= recorder_input(key).bit
        return lines


SOUND = RecorderFaults()


@dataclass(frozen=True, slots=True)
class LinesRecord:
    """How the lines stood once one of them had changed."""

    time_us: int
    lines: int


@dataclass
class DiscSlots:
    """What was counted of the disc since the last clear."""

    slots: int = 0
    first_us: int = 0
    latest_us: int = 0

    def count(self, at_us: int) -> None:
        """Take the beginning of a slot."""
        self.first_us = self.first_us if self.slots else at_us
        self.slots, self.latest_us = self.slots + 1, at_us


@dataclass
class Looks:
    """All lines of one recorder, switched on at 0 with everything off."""

    faults: RecorderFaults = SOUND
    trace: list[LinesRecord] = field(default_factory=list)
    lost: int = 0
    disc: DiscSlots = field(default_factory=DiscSlots)
    bridges_us: list[int] = field(default_factory=lambda: [0] * len(RECORDER_INPUTS))
    """By place of the input, from 0."""
    gaps_us: list[int] = field(default_factory=lambda: [0] * len(RECORDER_INPUTS))
    _pins: int = 0
    """The lines as they are now."""
    _found: int = 0
    """As the latest look found them."""
    _openings: dict[int, int] = field(default_factory=dict)
    """By place of an input that still shows on: the look that saw it go."""
    _due_us: int | None = None
    """The look that will find something new, if nothing moves before it."""
    _recorded: int = 0

    def __post_init__(self) -> None:
        self._sees(0)

    @property
    def lines(self) -> int:
        """How inputs and presses show, openings bridged."""
        return self._found | sum(1 << place for place in self._openings)

    def move(self, at_us: int, line: str, on: bool) -> None:
        """Let a line change: an input, by its key, or 'press_trigger', 'press_purge'."""
        look_us = -(-at_us // SAMPLE_US) * SAMPLE_US
        if self._due_us is not None and self._due_us < look_us:
            self._look(self._due_us)
        bit = LINE_BIT[line]
        self._pins = self._pins | bit if on else self._pins & ~bit
        self._sees(look_us)

    def run_to(self, now_us: int) -> None:
        """Take every look up to an instant."""
        if self._due_us is not None and self._due_us <= now_us:
            self._look(self._due_us)
        self._end_openings(now_us)

    def set_bridge(self, place: int, bridge_us: int) -> None:
        """Bridge an input's openings shorter than that; its longest gap is forgotten."""
        self.bridges_us[place], self.gaps_us[place] = bridge_us, 0

    def end_bridges(self) -> None:
        """Bridge nothing any more."""
        for place in range(len(RECORDER_INPUTS)):
            self.set_bridge(place, 0)

    def take_gap_us(self, place: int) -> int:
        """Return the longest opening of an input that was bridged, and forget it."""
        gap_us, self.gaps_us[place] = self.gaps_us[place], 0
        return gap_us

    def clear(self) -> None:
        """Empty the trace."""
        self.trace.clear()
        self.lost = 0

    def _sees(self, look_us: int) -> None:
        self._due_us = look_us if self.faults.seen(self._pins) != self._found else None

    def _look(self, at_us: int) -> None:
        """Take the look that finds the lines changed."""
        self._due_us = None
        self._end_openings(at_us)
        before, found = self.lines, self.faults.seen(self._pins)
        if found & ~self._found & DISC_BIT:
            self.disc.count(at_us)
        for place, bridge_us in enumerate(self.bridges_us):
            bit = 1 << place
            if self._found & ~found & bit and bridge_us:
                self._openings[place] = at_us
            elif found & bit and place in self._openings:
                self.gaps_us[place] = max(self.gaps_us[place], at_us - self._openings.pop(place))
        self._found = found
        if self.lines != before:
            self._record(at_us)

    def _end_openings(self, now_us: int) -> None:
        """Record the openings that have lasted, each stamped with its beginning."""
        if not self._openings:
            return
        for place, off_us in sorted(self._openings.items()):
            if now_us - off_us >= self.bridges_us[place]:
                del self._openings[place]
                self._record(off_us)

    def _record(self, at_us: int) -> None:
        self._recorded += 1
        if self.faults.loses_every and self._recorded % self.faults.loses_every == 0:
            return
        if len(self.trace) < RECORDER_RECORDS:
            self.trace.append(LinesRecord(at_us, self.lines))
        else:
            self.lost += 1
