"""A recorder on a table, whatever it is made of: asked over its link, its inputs moved by hand, its clock let run.

What the tests of the conversation ask for; the virtual recorder and the firmware each have one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from bench.virtual.board import AheadClock
from bench.virtual.looks import SOUND, RecorderFaults
from bench.virtual.recorder import VirtualRecorder


class RecorderRig(Protocol):
    """One recorder, just switched on, all of its inputs off."""

    def now_us(self) -> int:
        """Return its clock now."""

    def ask(self, line: str) -> str:
        """Send a line; return the answer without its end, '' where there is none."""

    def wait(self, time_us: int) -> None:
        """Let time pass."""

    def move(self, key: str, on: bool) -> None:
        """Turn an input on or off, now."""

    def pressed(self) -> set[str]:
        """Return what its outputs press now."""


@dataclass
class VirtualRig:
    """The virtual recorder as such a rig."""

    jumper: bool = True
    faults: RecorderFaults = SOUND
    clock: AheadClock = field(default_factory=lambda: AheadClock(0, 992))
    recorder: VirtualRecorder = field(init=False)
    _pressed: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        faults = self.faults if self.jumper else RecorderFaults(no_jumper=True)
        self.recorder = VirtualRecorder(clock=self.clock, faults=faults, told=self._told)

    def now_us(self) -> int:
        return self.clock.time_us

    def ask(self, line: str) -> str:
        return self.recorder.receive(line.encode("latin-1") + b"\n").decode().removesuffix("\n")

    def wait(self, time_us: int) -> None:
        self.clock.time_us += time_us
        self.recorder.run_to(self.clock.time_us)

    def move(self, key: str, on: bool) -> None:
        # The look of this very instant has been.
        self.recorder.move(self.clock.time_us + 1, key, on)

    def pressed(self) -> set[str]:
        return set(self._pressed)

    def _told(self, _: int, key: str, on: bool) -> None:
        (self._pressed.add if on else self._pressed.discard)(key)
