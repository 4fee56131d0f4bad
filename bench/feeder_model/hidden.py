"""What nobody knows of a machine: every lag with its spread, the wire's run-up and coast, the line, the adapters.

A measurement is judged by how well it finds these again. Times are whole microseconds; the numbers of usual and of
random machines are in `bench.feeder_model.machines`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from random import Random

FAR_SPREADS = 3.0
"""No operation lies farther from the mean than this many standard deviations: a lag has no long tail (choice)."""


@dataclass(frozen=True)
class DrawnLag:
    """A lag that is drawn anew at each operation: normal, cut at `FAR_SPREADS`, and never less than 1 us."""

    mean_us: int
    spread_us: int = 0
    """Standard deviation from one operation to the next."""

    def draw(self, random: Random) -> int:
        """Return the lag of one operation."""
        if not self.spread_us:
            return max(1, self.mean_us)
        apart = max(-FAR_SPREADS, min(random.gauss(0.0, 1.0), FAR_SPREADS))
        return max(1, round(self.mean_us + apart * self.spread_us))

    def less(self, part_us: int) -> DrawnLag:
        """Return what is left of it behind a part that does not vary."""
        return DrawnLag(self.mean_us - part_us, self.spread_us)


@dataclass(frozen=True)
class Switching:
    """How something follows what works it: a contact its coil, a valve its coil, a coupler its lamp."""

    on: DrawnLag
    off: DrawnLag
    bounce_us: int = 0
    """Longest time from its first touch until a closing contact rests; the off lag itself is clean."""

    def after(self, first: Switching) -> Switching:
        """Return what is left of it behind something that has taken up a part of each lag."""
        return Switching(self.on.less(first.on.mean_us), self.off.less(first.off.mean_us), self.bounce_us)


AT_ONCE = Switching(DrawnLag(1), DrawnLag(1))
"""Follows in the least time that the model tells apart (exact)."""
RIDES = Switching(DrawnLag(1), DrawnLag(3_000))
"""The flux of a coil: there from the first touch of the contact that feeds it, and not gone before this, so that a
contact's bounce does not begin the pull-in anew (choice: longer than usual bounces, shorter than usual drop-outs)."""


@dataclass(frozen=True)
class HiddenLoad:
    """One output of the add-on with what hangs on it."""

    relay: Switching
    """From the board's pin to the contact on the add-on's terminals."""
    acts: Switching
    """From voltage at the load to its acting: gas, a turning motor's voltage, the main contact."""
    ac: bool = False
    """What the load runs on."""
    volts: float = 24.0
    """At the load; RMS with ac."""
    from_winding: bool = False
    """Fed from the 24 VAC winding: its voltage is then the winding's, and it pulls that down."""
    inrush_a: float = 0.0
    """While it pulls in."""
    hold_a: float = 0.0


@dataclass(frozen=True)
class HiddenLine:
    """The 24 VAC winding."""

    frequency_hz: float = 60.0
    open_v: float = 27.0
    """RMS with nothing drawn."""
    source_ohm: float = 1.0
    """Takes the voltage down as loads draw."""


@dataclass(frozen=True)
class HiddenCoupler:
    """An isolated input of the recorder, or the add-on's trigger sense: lit above a voltage, either way round."""

    threshold_v: float = 5.0
    """Peak, with ac."""
    lag: Switching = Switching(DrawnLag(5), DrawnLag(40))
    """From crossing the threshold to its transistor: charge leaves a base more slowly than it comes in."""


@dataclass(frozen=True)
class HiddenDrive:
    """The wire motor."""

    speed_mm_s: float = 85.0
    run_up_us: int = 40_000
    """Time constant with which it comes up to speed."""
    coast_us: int = 50_000
    """What the wire runs on, as time at full speed."""
    friction: float = 0.25
    """The coast's shape: k of timing.process.coast."""
    braked: bool = False
    """Shorted while it is off: there is no voltage at its terminals then, however it turns."""
    volts: float = 24.0
    direct: bool = False
    """True where the add-on's contact feeds the motor itself: its input across the load is across the motor."""


@dataclass(frozen=True)
class HiddenDisc:
    """The slotted disc on the drive roll; its light barrier is in the coupler."""

    slots: int = 36
    mm_per_turn: float = 94.0
    duty: float = 0.5
    """Share of a pitch that is slot."""
    eccentricity: float = 0.01
    """How far the disc's centre stands off the roll's, over the radius at which the barrier looks."""


@dataclass(frozen=True)
class HiddenArc:
    """How the arc starts and ends."""

    gap_mm: float = 4.0
    """What the wire runs from its start until it touches."""
    gap_spread_mm: float = 1.0
    strikes: DrawnLag = DrawnLag(8_000, 2_500)
    """From touching, with voltage on, to a burning arc."""
    ends: DrawnLag = DrawnLag(3_000, 600)
    """From the main contact's opening to the end of the current: the source's inductance feeds it on."""
    burn_off: DrawnLag = DrawnLag(600_000, 30_000)
    """From the drive's letting go to an arc that has grown too long, where the main contact stays closed."""
    sensor: Switching = Switching(DrawnLag(1_500, 100), DrawnLag(2_000, 150))
    """From the current to the contact of the add-on's own arc sensor."""
    reed: Switching = Switching(DrawnLag(300, 20), DrawnLag(70, 10))
    """From the current to the contact of the recorder's reed at the welding cable."""
    open_v: float = 23.0
    """Welding voltage behind the main contact."""
    holds_us: int = 0
    """How long a capacitor bank keeps that up behind an open contact, with nothing drawn; 0: there is none."""


@dataclass(frozen=True)
class HiddenPress:
    """An isolated output of the recorder across a button, and how the add-on senses that button."""

    lag: Switching = Switching(DrawnLag(600, 10), DrawnLag(300, 10))
    sense: HiddenCoupler = HiddenCoupler(lag=AT_ONCE)
    """From the closed contact to the add-on's pin."""
    sensed_ac: bool = False
    """The circuit of the button carries the winding's ac: its coupler goes dark at every zero of it."""
    both_ways: bool = True
    """With ac: the coupler has a diode either way; else it is dark in every second half-wave."""


@dataclass(frozen=True)
class HiddenMachine:
    """The whole of it. `drive` is None on the bench, where lamps hang on the outputs and nothing else is there."""

    loads: Mapping[str, HiddenLoad]
    """By role: gas_valve (where there is one), wire_drive, contactor."""
    line: HiddenLine = HiddenLine()
    couplers: Mapping[str, HiddenCoupler] = field(default_factory=dict)
    """Of the recorder's inputs, by their keys; one like any other on those left out."""
    presses: Mapping[str, HiddenPress] = field(
        default_factory=lambda: {"trigger": HiddenPress(), "purge": HiddenPress()}
    )
    drive: HiddenDrive | None = None
    disc: HiddenDisc = HiddenDisc()
    arc: HiddenArc = HiddenArc()
    flag: Switching = Switching(DrawnLag(60_000, 4_000), DrawnLag(120_000, 8_000))
    """From the gas valve's acting to a flag at the nozzle: travel along the hose, then lifting; and falling."""

    def coupler(self, key: str) -> HiddenCoupler:
        """Return the coupler of an input of the recorder, or of the add-on's sense."""
        return self.couplers.get(key, HiddenCoupler())
