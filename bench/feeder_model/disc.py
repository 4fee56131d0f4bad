"""The slotted disc: the wire's run turned into light and dark.

A disc whose centre stands off the roll's by e of the radius turns past the barrier too far and too short once a turn:
the angle that it shows is that of the roll plus e sin(angle), to the first order of e.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from bench.feeder_model.agenda import Agenda, Appointment, OnOff
from bench.feeder_model.drive import WireRun
from bench.feeder_model.hidden import HiddenDisc

_STEPS = 40


@dataclass(frozen=True)
class Slots:
    """Where on the wire's run the disc's slots begin and end."""

    hidden: HiddenDisc
    start_turns: float
    """How the disc stood at power-up, as it shows."""

    def run_mm(self, edge: int) -> float:
        """Return the run at which an edge comes; even ones begin a slot, odd ones end it, the first begins edge 0."""
        slot, ends = divmod(edge, 2)
        shown = (slot + self.hidden.duty * ends) / self.hidden.slots
        return (self._turned(shown) - self._turned(self.start_turns)) * self.hidden.mm_per_turn

    def first_edge(self) -> int:
        """Return the first edge that comes after power-up."""
        edge = 2 * math.floor(self.start_turns * self.hidden.slots)
        while self.run_mm(edge) <= 0.0:
            edge += 1
        return edge

    def _turned(self, shown: float) -> float:
        """Return the turns of the roll at which the disc shows `shown` turns."""
        turns = shown
        for _ in range(_STEPS):
            turns = shown - self.hidden.eccentricity * math.sin(2 * math.pi * turns) / (2 * math.pi)
        return turns


@dataclass
class Disc:
    """The disc on the drive's roll: light while a slot is in the barrier."""

    agenda: Agenda
    drive: WireRun
    slots: Slots
    light: OnOff = field(default_factory=OnOff)
    _edge: int = 0
    _coming: Appointment | None = None

    def __post_init__(self) -> None:
        self._edge = self.slots.first_edge()
        self.light.on = bool(self._edge % 2)
        self.drive.moved.append(self._plan)

    def _plan(self, at_us: int) -> None:
        if self._coming is not None:
            self._coming.cancel()
        reached_us = self.drive.motion.reaches_us(self.slots.run_mm(self._edge), at_us)
        self._coming = None if reached_us is None else self.agenda.at(reached_us, self._turn)

    def _turn(self, at_us: int) -> None:
        self.light.set(at_us, self._edge % 2 == 0)
        self._edge += 1
        self._plan(at_us)
