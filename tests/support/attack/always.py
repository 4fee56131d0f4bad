"""What must be true at every instant, seen from the pins: no word of the sequence's own inside, but for its phase and
what was latched.

Each watcher says only what is sure: a contact counts where it stood so in every pass for its filter time, a reading
where two in a row agree.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from tests.support.attack.panel import Feeder
from timing.sequence.core.table import Output, Phase

GAS, WIRE, CONTACTOR = (output.value for output in Output)
WELDING = WIRE | CONTACTOR
BUTTONS = ("trigger", "purge", "inch")


class Moment(NamedTuple):
    """One pass: raw contacts, what it switched, the phase it ended in, and what is latched."""

    closed: dict[str, bool]
    outputs: int
    phase: int
    four_step: bool
    completes: bool
    """The weld is a spot that completes when the trigger is let go."""
    now_us: int


@dataclass
class Standing:
    """A raw contact, and since which pass it stands as it does."""

    filter_us: int
    closed: bool = True
    since_us: int = 0

    def look(self, closed: bool, now_us: int) -> None:
        """Take one pass."""
        if closed != self.closed:
            self.closed, self.since_us = closed, now_us

    def counts(self, closed: bool, now_us: int) -> bool:
        """Tell whether it surely counts as closed, or as open."""
        return self.closed == closed and now_us - self.since_us >= self.filter_us


@dataclass
class Always:
    """Watches one board from power-up, at `start_us`, on."""

    feeder: Feeder
    start_us: int = 0
    _unseen: set[str] = field(init=False)
    """Buttons not yet found open since power-up or an interlock that opened."""
    _fresh: bool = False
    """The trigger was found open and then closed since the last weld began."""
    _outputs: int = 0
    _phase: int = Phase.HOLD_OFF
    _was_closed: bool = True
    _was_late: bool = False
    """By the pass before, the trigger had been open for its filter time."""

    def __post_init__(self) -> None:
        filters_us = self.feeder.target.rig.filters_us
        self.settings = self.feeder.target.rig.settings
        self._forget()
        self._trigger = Standing(filters_us["trigger"][0], since_us=self.start_us)
        self._arc = Standing(filters_us.get("arc", (0, 0))[0], since_us=self.start_us)
        self._open_us: int | None = None
        """First pass in which the trigger surely counted as open."""
        self._let_go = False
        """The trigger surely counted as open during this weld."""
        self._alone_us: int | None = None
        """Pass after which the contactor was on alone."""
        self._began_us: int | None = None
        """Pass in which wire and contactor came on."""
        self._off_us = self.start_us
        """Latest pass that found the contactor on."""
        self._arc_seen_open = False
        """In some pass since the contactor went off."""
        self._readings: list[tuple[int, int]] = []
        """The two latest readings of the supply: instant and counts."""
        self._good_us: int | None = None
        self._low_us: int | None = None
        self._low = False
        self._unsettled = self.feeder.supply is not None
        """The supply was not yet good for long enough since power-up or a fault."""

    def _forget(self) -> None:
        self._unseen = {role for role in BUTTONS if role in self.feeder.contacts}

    def after_reading(self, counts: int, now_us: int) -> None:
        """Take one reading of the supply."""
        limits = self.feeder.supply
        assert limits is not None
        self._readings = [*self._readings[-1:], (now_us, counts)]
        both = [each for _, each in self._readings]
        if counts >= limits.good_counts:
            self._good_us = now_us if self._good_us is None else self._good_us
        elif len(both) == 2 and max(both) < limits.good_counts:
            self._good_us = None
        if len(both) == 2 and max(both) < limits.low_counts:
            self._low_us = now_us if self._low_us is None else self._low_us
        elif counts >= limits.low_counts:
            self._low_us = None
        # Looked at with a reading only.
        filter_us = self.feeder.target.rig.supply_filter_us
        self._low = self._low_us is not None and now_us - self._low_us >= filter_us

    def after_pass(self, now: Moment) -> None:
        """Look at one pass. Raises AssertionError."""
        self._look(now)
        self._nothing_on_too_soon(now)
        self._outputs_agree(now)
        self._supply_is_good(now)
        self._ends_with_the_trigger_open(now)
        if "arc" in self.feeder.contacts:
            self._arc_goes_with_the_contactor(now)
        if now.outputs & WELDING == WELDING:
            self._weld_goes_on(now)
        self._outputs, self._phase = now.outputs, now.phase
        self._was_late = self._open_us is not None

    def _look(self, now: Moment) -> None:
        closed, now_us = now.closed["trigger"], now.now_us
        self._trigger.look(closed, now_us)
        self._fresh = self._fresh or (closed and not self._was_closed)
        self._was_closed = closed
        if closed:
            self._open_us = None
        elif self._open_us is None and self._trigger.counts(False, now_us):
            self._open_us = now_us
        self._arc.look(now.closed.get("arc", False), now_us)

    def _nothing_on_too_soon(self, now: Moment) -> None:
        self._unseen -= {role for role in self._unseen if not now.closed[role]}
        if not now.closed.get("interlock", True):
            assert now.outputs == 0, "interlock open, and something is on"
            self._forget()
            self._unsettled = self.feeder.supply is not None
        assert now.outputs == 0 or not self._unseen, f"on before {self._unseen} was seen open"

    def _outputs_agree(self, now: Moment) -> None:
        gas, wire, contactor = now.outputs & GAS, now.outputs & WIRE, now.outputs & CONTACTOR
        assert gas or not contactor, "contactor without gas"
        assert not wire or contactor or now.phase == Phase.INCH, "wire alone"
        assert not contactor or wire or now.phase == Phase.BURNBACK, "contactor alone"

    def _supply_is_good(self, now: Moment) -> None:
        if self._low:
            assert now.outputs == 0, "supply low, and something is on"
            self._unsettled = True
        if self._unsettled and self._good_us is not None:
            self._unsettled = now.now_us - self._good_us < self.settings.settle_us
        assert now.outputs == 0 or not self._unsettled, "on before the supply was good for long enough"

    def _ends_with_the_trigger_open(self, now: Moment) -> None:
        """The contactor is off within the longest burnback, or a spot that completes within its time and burnback."""
        wire, contactor = now.outputs & WIRE, now.outputs & CONTACTOR
        burnback_us = self.settings.longest_us["burnback"]
        if contactor and not wire:
            if self._alone_us is None:
                self._alone_us = now.now_us
            else:
                assert now.now_us - self._alone_us < burnback_us, "burnback lasts too long"
        else:
            self._alone_us = None
        if contactor and self._open_us is not None and not now.four_step:
            open_us = now.now_us - self._open_us
            if not now.completes:
                assert open_us < max(burnback_us, 1), "contactor on with the trigger open"
            elif wire:
                assert open_us < self.settings.longest_us["spot"], "a spot completes for too long"

    def _arc_goes_with_the_contactor(self, now: Moment) -> None:
        was_on, on = self._outputs & CONTACTOR, now.outputs & CONTACTOR
        arc_end_us, arc_limit_us = self.settings.arc_end_us, self.settings.arc_limit_us
        assert arc_end_us is not None
        assert arc_limit_us is not None
        if was_on:
            self._off_us = now.now_us
        elif now.now_us - self._off_us >= arc_end_us and self._arc.counts(True, now.now_us):
            assert now.outputs == 0, "an arc stays, and something is on"
            assert now.phase == Phase.HOLD_OFF, "an arc stays, and that is no fault"
        self._arc_seen_open = (self._arc_seen_open or not now.closed["arc"]) and not (was_on and not on)
        if now.outputs & WIRE and on and self._began_us is not None and self._outputs & WELDING == WELDING:
            overdue = now.now_us - self._began_us >= arc_limit_us
            assert self._arc_seen_open or not overdue, "a sensor that is stuck closed counts as an arc"

    def _weld_goes_on(self, now: Moment) -> None:
        begins = self._outputs & WELDING != WELDING
        if begins:
            assert self._fresh or self._phase == Phase.PAUSE, "a weld began without a fresh press"
            self._fresh = self._let_go = False
            self._began_us = now.now_us
        two_step = not now.four_step and not now.completes
        assert not (two_step and self._was_late and self._open_us is not None), "the wire runs on after the release"
        if not now.four_step:
            pressed = self._let_go and self._trigger.counts(True, now.now_us)
            assert not pressed, "a press does not end a spot that completes"
            self._let_go = self._let_go or self._open_us is not None
