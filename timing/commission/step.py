"""What a step of commissioning is: where everything stands, what to do, what should happen, what is asked."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from timing.design.front_panel import SwitchPosition
from timing.design.times import TIME_TITLES
from timing.design.units import format_duration, parse_quantity
from timing.sequence.core.script import Change, Dial, Switch
from timing.sequence.core.table import Fault, Output

FINGERPRINT_DIGITS = 12
"""Hex digits of a step's fingerprint (choice)."""


class CommissionStage(Enum):
    """Steps that belong together, in the order in which they are walked."""

    title: str

    def __new__(cls, key: str, title: str) -> CommissionStage:
        """Take the key for the value, the title beside it."""
        stage = object.__new__(cls)
        stage._value_ = key
        stage.title = title
        return stage

    BEFORE_POWER = "before", "Before the first power"
    FIRST_POWER = "power", "First power, welding voltage off"
    DRY_RUNS = "dry", "Dry runs, no arc"
    GAS = "gas", "Gas"
    SAFETY = "safe", "Safety circuits, before the first arc"
    FIRST_ARC = "arc", "First arc, on scrap"
    TEST_WELDS = "weld", "Test welds: burnback"
    DIAL_MARKS = "mark", "Where the dials stand for work"
    SUPPLY = "supply", "Supply off and on again"
    HAND_OVER = "over", "Hand-over"


@dataclass(frozen=True)
class DialPosition:
    """Where one dial stands: at the mark of a time on its plate."""

    name: str
    """Of the time, as in columns.TIME_NAMES."""
    time_us: int
    mark: str
    """How it is found on the plate."""

    def __str__(self) -> str:
        return f"{TIME_TITLES[self.name].removesuffix(' time')} dial at {self.mark}"


@dataclass(frozen=True)
class PanelSetup:
    """Where every switch and every dial of the panel stands."""

    switches: tuple[SwitchPosition, ...] = ()
    dials: tuple[DialPosition, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """One piece of text for each control, switches first."""
        return tuple(str(one) for one in (*self.switches, *self.dials))

    @property
    def changes(self) -> tuple[Change, ...]:
        """The same as what a trigger script says at its start."""
        return tuple(self._changes())

    def _changes(self) -> Iterator[Change]:
        for switch in self.switches:
            for role in switch.control.roles:
                what = role if role == "four_step" else Switch(role.removesuffix("_switch"))
                yield Change(0, what, int(role in switch.position.closes))
        for dial in self.dials:
            yield Change(0, Dial(dial.name), dial.time_us)


@dataclass(frozen=True)
class Promise:
    """What a dry run's outputs do, for the model to confirm. What is None is not said."""

    on: frozenset[Output]
    """Outputs that come on at all."""
    wire_us: tuple[int, ...] | None = None
    """How long the wire runs, each time."""
    gas_first_us: int | None = None
    """From gas to wire and contactor, at the first start."""
    contactor_later_us: int | None = None
    """From the wire's last stop to the contactor's."""
    gas_later_us: int | None = None
    """From the contactor's last drop-out to the gas valve's."""
    fault: Fault = Fault.NONE
    """Shown at the end."""


@dataclass(frozen=True)
class DryRun:
    """What hands do, as a trigger script, and what comes of it."""

    changes: tuple[Change, ...]
    """Without those of the panel's setup."""
    promise: Promise
    settled: bool = True
    """False: from power-up."""


@dataclass(frozen=True)
class YesNo:
    """Asks whether it went as it should."""

    question: str = "Did it?"


@dataclass(frozen=True)
class ReadingAsked:
    """Asks for a figure, and knows at once what a wrong one means. `low` and `high` are in `unit`; None: no bound."""

    what: str
    unit: str
    """A key of units.UNITS."""
    shown: str
    """The unit that a bare number is taken in, printed behind the blank."""
    low: float | None = None
    high: float | None = None
    below: str = ""
    """What a lower reading means, and what to do."""
    above: str = ""
    """What a higher reading means, and what to do."""
    signed: bool = False
    """True where a reading below zero makes sense."""

    @property
    def unit_needed(self) -> bool:
        """True for ohms: a meter ranges by itself, and 500 on it may be a short or sound insulation."""
        return self.unit == "ohm"

    @property
    def band(self) -> str:
        """The readings that pass, in words."""
        low, high = (None if one is None else self._text(one) for one in (self.low, self.high))
        if low is None:
            return "any: write it down" if high is None else f"{high} or less"
        return f"{low} or more" if high is None else f"{low} to {high}"

    def _text(self, value: float) -> str:
        """A bound in the unit shown, to what a meter is read to."""
        return f"{value / parse_quantity(f'1 {self.shown}', self.unit):.3g} {self.shown}"

    def wrong(self, value: float) -> str:
        """Return what a reading outside the band means; empty where it passes."""
        if self.low is not None and value < self.low:
            return self.below or f"too low: {self.band}"
        return (self.above or f"too high: {self.band}") if self.high is not None and value > self.high else ""


@dataclass(frozen=True)
class WeldsAsked:
    """Asks for test welds, one after the other, until they say enough."""

    first_us: tuple[int, ...]
    """Burnback settings to begin with, all within what the panel can be set to."""
    low_us: int
    high_us: int
    """Burnback settings that the panel can be set to; equal where there is no dial."""


Ask = YesNo | ReadingAsked | WeldsAsked


@dataclass(frozen=True)
class CommissionStep:
    """One step. In all texts, what stands in `backticks` is a command or a name."""

    key: str
    """Its stage and what it is about: 'dry.stitch'. Stands in the logbook."""
    stage: CommissionStage
    title: str
    do: tuple[str, ...]
    """What the hands do, in order."""
    expect: str
    """What should happen, with the design's figures."""
    if_not: str
    """What to do where it does not."""
    ask: Ask = YesNo()
    setup: PanelSetup = PanelSetup()
    cautions: tuple[str, ...] = ()
    """What can hurt at this step, beyond what its stage has told."""
    needed: bool = False
    """True where nothing that comes later is safe without it: it may not be skipped."""
    run: DryRun | None = None
    rests_on: str = ""
    """What its outcome holds for, beside its words; a change of that asks for it anew."""

    @property
    def fingerprint(self) -> str:
        """Short digest of what the outcome holds for: an outcome under another one no longer counts."""
        asked = self.rests_on or repr((self.do, self.expect, self.ask))
        return hashlib.sha256(f"{self.key}\n{asked}".encode()).hexdigest()[:FINGERPRINT_DIGITS]


def duration(time_us: int) -> str:
    """Return a time as a dial's plate or the design file has it."""
    return format_duration(time_us)
