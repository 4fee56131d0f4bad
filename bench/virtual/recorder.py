"""A virtual recorder: bytes of commands in, bytes of answers out, lines that somebody moves, presses that it makes."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field

from bench.virtual.board import NOISE, AheadClock, Clock
from bench.virtual.carrying_out import answer_to
from bench.virtual.incoming import IncomingLines
from bench.virtual.link_status import BegunConditions, LinkStatus, kept_bits
from bench.virtual.looks import SOUND, DiscSlots, Looks, RecorderFaults
from bench.virtual.reading import RECORDER_TABLE
from bench.virtual.recorder_commands import RECORDER_HANDLERS
from timing.protocol.recorder import PRESS_LAPSE_US, RECORDER, RECORDER_PRESSES
from timing.protocol.resets import Reset

NO_DIGEST = "0" * 16
"""Stands where the firmware has the digest of its sketch: there is none here (choice)."""

Press = Callable[[int, str, bool], None]
"""Is told of every change of an output's contact: when, what it presses, to what."""


@dataclass
class VirtualRecorder:
    """One virtual recorder, switched on at 0. Safe to be used from several threads.

    told: what hangs on its outputs. The contacts of `faults.dead_presses` never close.
    """

    version: str = "0"
    clock: Clock = field(default_factory=AheadClock)
    faults: RecorderFaults = SOUND
    told: Press | None = None
    digest: str = NO_DIGEST
    lock: AbstractContextManager[object] = field(default_factory=threading.Lock)
    """Held while it works; boards that share a machine share one."""
    looks: Looks = field(init=False)
    status: LinkStatus = field(init=False, default_factory=LinkStatus)
    conditions: BegunConditions = field(init=False, default_factory=BegunConditions)
    pressed: int = field(init=False, default=0)
    """Outputs as their pins show them."""
    last_line_us: int = field(init=False, default=0)
    _closed: dict[str, bool] = field(init=False, default_factory=dict)
    _incoming: IncomingLines = field(init=False)

    def __post_init__(self) -> None:
        self.looks = Looks(self.faults)
        self._incoming = IncomingLines(self.status.report)

    @property
    def has_jumper(self) -> bool:
        """True where it may press."""
        return not self.faults.no_jumper

    @property
    def identity(self) -> tuple[str, str, str]:
        """What it calls itself, digest, version."""
        return RECORDER, self.digest, self.version

    @property
    def reset_cause(self) -> Reset:
        """Why it last started."""
        return Reset.POWER_UP

    def standing(self) -> int:
        """Return what stands at this moment, as kept bits of the status registers: a press is a forced state."""
        return kept_bits(["FORCED"]) if self.pressed else 0

    def now_us(self) -> int:
        """Return the clock as it is answered."""
        return 0 if self.faults.clock_stands else self.clock.now_us()

    def receive(self, data: bytes) -> bytes:
        """Take bytes from the port; return what the recorder sends back."""
        with self.lock:
            return b"".join(map(self._line_came, self._incoming.take(data)))

    def lose(self, error: str) -> None:
        """Give the present line up, as after a character that was lost or mutilated: OVERRUN or FRAMING."""
        self._incoming.lose(error)

    def move(self, at_us: int, line: str, on: bool) -> None:
        """Let one of its inputs change, on its clock; instants must not run back."""
        self.looks.move(at_us, line, on)

    def lapses_us(self) -> int | None:
        """Return when what is pressed lapses if no line comes; None where nothing is."""
        return self.last_line_us + PRESS_LAPSE_US if self.pressed else None

    def run_to(self, now_us: int) -> None:
        """Let all happen that happens by itself up to an instant on its clock."""
        if (lapse_us := self.lapses_us()) is not None and lapse_us <= now_us:
            self._set_presses(lapse_us, 0)
        self.looks.run_to(now_us)
        self.conditions.watch(self.standing())

    def press(self, presses: int) -> None:
        """Close these outputs and open the others, now."""
        self._set_presses(self.clock.now_us(), presses)
        self.conditions.watch(self.standing())

    def reset(self) -> None:
        """With the jumper: let go, and end every bridge."""
        if self.has_jumper:
            self.press(0)
            self.looks.end_bridges()

    def clear_disc(self) -> None:
        """Count the disc's slots from 0 again."""
        self.looks.disc = DiscSlots()

    def _set_presses(self, at_us: int, presses: int) -> None:
        before, self.pressed = self.pressed, presses
        for one in RECORDER_PRESSES:
            if not (before ^ presses) & one.bit:
                continue
            on = bool(presses & one.bit)
            # The look of the instant at which the command was carried out has been.
            self.looks.move(at_us + 1, f"press_{one.key}", on)
            works = one.key not in (self.faults.dead_presses if on else self.faults.holds_presses)
            if works and self._closed.get(one.key, False) is not on:
                self._closed[one.key] = on
                if self.told is not None:
                    self.told(at_us, one.key, on)

    def _line_came(self, line: bytes) -> bytes:
        self.clock.line_came()
        now_us = self.clock.now_us()
        self.run_to(now_us)
        if self.faults.mute:
            return b""
        self.last_line_us = now_us
        if self.faults.noisy:
            return NOISE
        return answer_to(line, self, RECORDER_TABLE, RECORDER_HANDLERS, allowed=self.has_jumper)
