"""What must be true at every instant, seen from the pins: no word of the sequence's own inside, but for its phase."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.attack.panel import Feeder
from timing.sequence.table import Output, Phase

GAS, WIRE, CONTACTOR = (output.value for output in Output)
BUTTONS = ("trigger", "purge", "inch")


@dataclass
class Always:
    """Watches one board from power-up on."""

    feeder: Feeder
    _unseen: set[str] = field(init=False)
    """Buttons not yet found open since power-up or an interlock that opened."""
    _fresh: bool = False
    """The trigger was found open and then closed since the last weld began."""
    _open_since_us: int | None = None
    _latest_us: int = 0
    _late: bool = False
    """By the pass before, the trigger had been open for its filter time."""
    _outputs: int = 0
    _phase: int = Phase.HOLD_OFF
    _was_closed: bool = True

    def __post_init__(self) -> None:
        self._forget()

    def _forget(self) -> None:
        self._unseen = {role for role in BUTTONS if role in self.feeder.contacts}

    def after_pass(self, closed: dict[str, bool], outputs: int, phase: int, two_step: bool, now_us: int) -> None:
        """Look at one pass: raw contacts, what it switched, and the phase it ended in. Raises AssertionError."""
        self._look_at_trigger(closed["trigger"], now_us)
        self._unseen -= {role for role in self._unseen if not closed[role]}
        if not closed.get("interlock", True):
            assert outputs == 0, "interlock open, and something is on"
            self._forget()
        assert outputs == 0 or not self._unseen, f"on before {self._unseen} was seen open"
        gas, wire, contactor = outputs & GAS, outputs & WIRE, outputs & CONTACTOR
        assert gas or not contactor, "contactor without gas"
        assert not wire or contactor or phase == Phase.INCH, "wire alone"
        assert not contactor or wire or phase == Phase.BURNBACK, "contactor alone"
        if wire and contactor:
            self._weld_goes_on(two_step)
        self._outputs, self._phase = outputs, phase

    def _look_at_trigger(self, closed: bool, now_us: int) -> None:
        filter_us = self.feeder.target.rig.filters_us["trigger"][0]
        self._late = self._open_since_us is not None and self._latest_us - self._open_since_us >= filter_us
        if closed:
            self._open_since_us = None
            self._fresh = self._fresh or not self._was_closed
        elif self._open_since_us is None:
            self._open_since_us = now_us
        self._was_closed = closed
        self._latest_us = now_us

    def _weld_goes_on(self, two_step: bool) -> None:
        begins = self._outputs & (WIRE | CONTACTOR) != WIRE | CONTACTOR
        if begins:
            assert self._fresh or self._phase == Phase.PAUSE, "a weld began without a fresh press"
            self._fresh = False
        assert not (two_step and self._late), "the wire runs on after the release"
