"""One burnback case: a design at one wire feed speed, in the numbers that the computation needs, and draws of it.

What a machine not yet measured, and a hand that is no clamp, may do to a case, is drawn. Two kinds of not knowing are
kept apart. *Machine*: constants of wire, arc and source, the coast. They are the same from weld to weld, and test
welds find them. *Weld*: actuator delays, the distance the gun is held at, the mains of the day and how hot the source
is, where in a short-circuit cycle the release falls and where in the ripple the cut. They differ every time, and no
measurement takes them away.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from timing.process.lattice import Lattice

from timing.design.design import Design
from timing.design.feeder import Spread
from timing.design.suppression import off_delay_of
from timing.elementwise import Floats, Values
from timing.process.arc import (
    ARC_OUT_A,
    ARC_OUT_SPREAD_A,
    ARCS,
    SHORTEST_EXTENSION_MM,
    ArcConstants,
    OperatingPoint,
    Plant,
    arc_constants,
    operating_point,
    settle,
)
from timing.process.ball import wire_melt
from timing.process.burnback import Release, WireEnd, WireRest, run_one
from timing.process.coast import UsualFriction, usual_friction
from timing.process.errors import ProcessError
from timing.process.melting import WireConstants, balance_current_a, wire_constants
from timing.process.source import (
    HOT_SLOPE,
    INDUCTANCE_SPREAD,
    MAINS_SPREAD,
    CurrentAgreement,
    PowerSource,
    SourceReadings,
    fed_by,
    ripple_of,
    usual_load_voltage_v,
)


@dataclass(frozen=True)
class SpreadS:
    """A delay in seconds as it varies from one operation to the next."""

    min_s: float
    typical_s: float
    max_s: float

    @staticmethod
    def of(spread: Spread) -> SpreadS:
        """From the design file's microseconds."""
        return SpreadS(spread.min_us / 1e6, spread.typical_us / 1e6, spread.max_us / 1e6)

    def moved_to(self, typical_s: float) -> SpreadS:
        """The same spread around another typical value, never below zero."""
        by = typical_s - self.typical_s
        return SpreadS(max(self.min_s + by, 0.0), max(typical_s, 0.0), max(self.max_s + by, 0.0))


@dataclass(frozen=True)
class BurnbackCase:
    """Everything that burnback depends on, at its most likely value, with the spreads of the actuators."""

    wire: WireConstants
    arc: ArcConstants
    feed_mm_s: float
    distance_mm: float
    source: PowerSource
    filter_s: float
    """Trigger filter: from the release to the command; nothing changes at the wire meanwhile."""
    wire_off: SpreadS
    contactor_off: SpreadS
    coast_s: float
    coast_measured: bool
    braked: bool
    """What stops the wire: the motor itself, armature shorted, or friction alone; see `friction`."""
    end: WireEnd
    contactor_later_s: float = 0.0
    """What the suppression of the contactor's coil adds to the off-delay that the design states; it is counted in
    `contactor_off` already."""

    def plant(self) -> Plant:
        """Wire, arc and source in single numbers."""
        return self._plant

    @cached_property
    def _plant(self) -> Plant:
        fed = fed_by(bare_plant(self.wire, self.arc, self.source), *self.source.likely, self.source.distance_mm)
        return replace(fed, feed_mm_s=self.feed_mm_s, distance_mm=self.distance_mm)

    @property
    def open_v(self) -> float:
        """Open-circuit voltage, likely."""
        return float(self._plant.open_v)

    @property
    def slope_v_per_a(self) -> float:
        """Slope of the power source, likely."""
        return float(self._plant.slope_ohm)

    @property
    def friction(self) -> UsualFriction:
        """How the wire slows down, as far as the brake, or that there is none, tells."""
        return usual_friction(self.braked)

    def release(self) -> Release:
        """The actuators at their typical values, as a release in single numbers."""
        return Release(
            wire_off_s=self.wire_off.typical_s,
            coast_s=self.coast_s,
            contactor_off_s=self.contactor_off.typical_s,
            friction=self.friction.median,
            start_shift_mm=0.0,
        )

    def operating_point(self) -> OperatingPoint:
        """Where the arc settles in the weld. Raises ProcessError when no steady arc is possible."""
        return operating_point(self.plant())

    def current_a(self, feed_mm_s: float | None = None) -> float:
        """Current that melts a wire feed speed (the case's own if left out), two diameters of arc allowed for."""
        feed = self.feed_mm_s if feed_mm_s is None else feed_mm_s
        return _first_current_a(self.wire, feed, self.distance_mm)

    def at_speed(self, feed_mm_s: float) -> BurnbackCase:
        """The same machine at another wire feed speed, with the voltage turned to suit, as a welder does.

        The voltage follows the current along the usual load voltage (14 V + 0.05 V/A).
        """
        source = self.source.turned(feed_mm_s, self.current_a(), self.current_a(feed_mm_s))
        return replace(self, feed_mm_s=feed_mm_s, source=source)

    def turned_up(self, more_v: float) -> BurnbackCase:
        """The same machine with its voltage turned up."""
        return replace(self, source=replace(self.source, turned_v=self.source.turned_v + more_v))


def _first_extension_mm(wire: WireConstants, distance_mm: float) -> float:
    """Extension with two diameters of arc: where one begins that has not looked at the volts."""
    return distance_mm - 2 * wire.diameter_mm


def _first_current_a(wire: WireConstants, feed_mm_s: float, distance_mm: float) -> float:
    """Current that melts what is fed with that extension."""
    extension_mm = _first_extension_mm(wire, distance_mm)
    return float(balance_current_a(feed_mm_s, extension_mm, wire.alpha_mm_per_a_s, wire.beta_per_a2_s))


def bare_plant(wire: WireConstants, arc: ArcConstants, source: PowerSource) -> Plant:
    """Return wire and arc at the weld that a source is set for, with the source's volts still to come."""
    return Plant(
        feed_mm_s=source.feed_mm_s,
        distance_mm=source.distance_mm,
        alpha_mm_per_a_s=wire.alpha_mm_per_a_s,
        beta_per_a2_s=wire.beta_per_a2_s,
        wire_ohm_per_mm=wire.resistance_ohm_per_mm,
        fall_v=arc.fall_v,
        arc_ohm=arc.resistance_ohm,
        gradient_v_per_mm=arc.gradient_v_per_mm,
        open_v=0.0,
        slope_ohm=0.0,
        inductance_h=source.inductance_h,
        arc_out_a=ARC_OUT_A,
        diameter_mm=wire.diameter_mm,
        capacitance_f=source.capacitance_f,
        ripple_v=source.ripple_v,
        ripple_hz=source.ripple_hz,
    )


def _source_and_wire(design: Design, wire: WireConstants, arc: ArcConstants) -> tuple[PowerSource, WireConstants]:
    """Return the power source as the design knows it, and the wire with constants that agree with a current read."""
    process = design.process
    read = SourceReadings(
        process.open_circuit_voltage_v, process.load_voltage_v, process.load_current_a, process.slope_v_per_a
    )
    feed_mm_s, distance_mm = process.wire_feed_speed_mm_s, process.contact_tip_to_work_mm
    share, hz = ripple_of(process.source_phases, design.supply.line_frequency_hz)

    def source(current_a: float) -> PowerSource:
        # An arc in helium takes more volts than any other, and the machine is turned up for it.
        usual_v = usual_load_voltage_v(current_a) + max(arc.fall_v - ARCS["C1"].fall_v, 0.0)
        return PowerSource(
            read,
            usual_v,
            current_a,
            feed_mm_s,
            distance_mm,
            process.inductance_h,
            process.source_capacitance_f or 0.0,
            share,
            hz,
        )

    def held(guess: PowerSource) -> OperatingPoint:
        return settle(replace(bare_plant(wire, arc, guess), open_v=guess.likely[0]))

    if read.load_a is None:
        # The volts decide the arc's length, and that what the extension takes from the current.
        return source(float(held(source(_first_current_a(wire, feed_mm_s, distance_mm))).current_a)), wire
    found = source(read.load_a)
    point = held(found)
    agreement = CurrentAgreement.of(wire, read.load_a, float(point.extension_mm), FEED_SPREAD)
    alpha, beta = agreement.likely_factors(read.load_a / float(point.current_a))
    agreed = replace(wire, alpha_mm_per_a_s=alpha * wire.alpha_mm_per_a_s, beta_per_a2_s=beta * wire.beta_per_a2_s)
    return found, agreed


def computed_current_a(design: Design) -> float:
    """Return the current that melts a design's wire by the likely constants, whatever was read. Raises ProcessError."""
    process = design.process
    unread = process.model_copy(update={"load_current_a": None})
    return float(burnback_case(design.model_copy(update={"process": unread})).operating_point().current_a)


def burnback_case(design: Design) -> BurnbackCase:
    """Return the case of a design at its starting wire feed speed.

    Raises ProcessError for a wire without constants and for a distance that leaves no room for a wire end.
    """
    process, drive, contactor = design.process, design.feeder.wire_drive, design.feeder.contactor
    wire = wire_constants(process.wire, process.wire_diameter_mm, process.polarity)
    end = WireEnd.usual(wire_melt(process.wire, wire))
    room_mm = process.contact_tip_to_work_mm - end.sticking_gap_mm - end.short_mm
    if room_mm <= 0:
        raise ProcessError(
            f"the contact-tip-to-work distance is {process.contact_tip_to_work_mm:g} mm: a wire end clear of the "
            "puddle would be too short to start again",
            f"more than {end.sticking_gap_mm + end.short_mm:.1f} mm with wire of {wire.diameter_mm:g} mm",
            "hold the gun further off, 8 mm to 15 mm for thin wire",
        )
    arc = arc_constants(process.gas, process.helium_percent)
    source, wire = _source_and_wire(design, wire, arc)
    return BurnbackCase(
        wire=wire,
        arc=arc,
        feed_mm_s=process.wire_feed_speed_mm_s,
        distance_mm=process.contact_tip_to_work_mm,
        source=source,
        filter_s=design.trigger.filter_us / 1e6,
        wire_off=SpreadS.of(off_delay_of(design, drive)),
        contactor_off=SpreadS.of(off_delay_of(design, contactor)),
        contactor_later_s=(off_delay_of(design, contactor).typical_us - contactor.off_delay.typical_us) / 1e6,
        coast_s=drive.likely_coast_us / 1e6,
        coast_measured=drive.coast_measured,
        braked=drive.braked,
        end=end,
    )


def _agreement(case: BurnbackCase) -> CurrentAgreement:
    extension_mm = _first_extension_mm(case.wire, case.source.distance_mm)
    return CurrentAgreement.of(case.wire, case.source.current_a, extension_mm, FEED_SPREAD)


def burnback_setting_s(design: Design) -> float:
    """Return the design's own burnback in seconds."""
    return design.times.burnback.setting_us / 1e6


def wire_speeds_mm_s(design: Design, count: int = 5) -> Floats:
    """Wire feed speeds that the dials must serve, evenly from slowest to fastest, in mm/s; one if there is one."""
    # Draws are arrays; what computes with single numbers alone shall not wait for numpy at start-up.
    import numpy as np

    process = design.process
    low = process.wire_feed_speed_low_mm_s or process.wire_feed_speed_mm_s
    high = process.wire_feed_speed_high_mm_s or process.wire_feed_speed_mm_s
    return np.linspace(low, high, count) if high > low else np.array([low])


def run_likely(case: BurnbackCase, settings_s: Iterable[float]) -> list[WireRest]:
    """Burn back at each setting with every input at its likely value. Raises ProcessError."""
    return run_one(case.plant(), case.operating_point(), case.release(), case.end, settings_s)


DRAWS = 4096
"""Draws of a burnback: closer than 10,000 random ones (measured: by a test)."""
SEED = 20_260_101
"""Makes draws repeatable (choice)."""
_WIDEST = 3.0
"""Normal draws are cut off at this many standard deviations: nature has tails, a workshop repairs them."""

# Standard deviations from common practice, no source, unless they stand beside the constants themselves.
FEED_SPREAD = 0.03
"""Relative standard deviation of the wire feed speed as read (practice)."""
COAST_SPREAD_MEASURED = 0.10
"""The same of a coast that test welds found (practice)."""
COAST_SPREAD_ASSUMED = 0.30
"""The same of a coast from the survey (practice)."""
HAND_SPREAD_MM = 1.0
"""Standard deviation of the distance with a gun held by hand, in mm (practice)."""


@dataclass(frozen=True)
class Scatter:
    """The draws of a case: plant, release and where each settles, all of shape (draws,)."""

    plant: Plant
    release: Release
    point: OperatingPoint
    causes: dict[str, Values]
    """What was varied, by name, for telling which cause widens the band."""


def together(drawn: Sequence[Scatter]) -> Scatter:
    """Return the draws of cases that differ in no more than their draws, one after the other: to be run at once."""
    # As in `scatter`, which makes them.
    import numpy as np

    def end_to_end(parts: Sequence[Any]) -> dict[str, Any]:
        first = {one.name: getattr(parts[0], one.name) for one in fields(parts[0])}
        return {
            name: np.concatenate([getattr(part, name) for part in parts]) if isinstance(value, np.ndarray) else value
            for name, value in first.items()
        }

    return Scatter(
        Plant(**end_to_end([one.plant for one in drawn])),
        Release(**end_to_end([one.release for one in drawn])),
        OperatingPoint(**end_to_end([one.point for one in drawn])),
        {name: np.concatenate([np.asarray(one.causes[name]) for one in drawn]) for name in drawn[0].causes},
    )


def _between(lattice: Lattice, spread: SpreadS) -> Values:
    """Triangular draws of a delay, in seconds; one value where it does not vary."""
    if spread.max_s <= spread.min_s:
        return spread.typical_s
    return lattice.triangular(spread.min_s, spread.typical_s, spread.max_s)


def scatter(
    case: BurnbackCase,
    draws: int = DRAWS,
    seed: int = SEED,
    *,
    machine: bool | Lattice = True,
    weld: bool = True,
    hand_mm: float = HAND_SPREAD_MM,
    steady: bool = False,
) -> Scatter:
    """Return `draws` draws of a case, the same for the same seed.

    `machine` and `weld` choose which kind of not knowing is drawn; what is not drawn stays at its likely value. A
    lattice as `machine` gives the draws of the machine itself, as many: of machines that are known so far, or better.
    `hand_mm` is the standard deviation of the contact-tip-to-work distance from weld to weld. `steady`: mains and heat
    of the source stay as they are, as within an hour.
    """
    # Draws are arrays; what computes with single numbers alone shall not wait for numpy at start-up.
    import numpy as np

    # Late, as numpy: what computes with single numbers alone shall not wait for either at start-up.
    from timing.process.lattice import Lattice

    lattice = Lattice(draws, seed)
    machines = machine if isinstance(machine, Lattice) else lattice

    def of_machine(deviation: float) -> Floats:
        return np.clip(machines.normal(), -_WIDEST, _WIDEST) * deviation if machine else np.zeros(draws)

    def of_weld(deviation: float) -> Floats:
        return np.clip(lattice.normal(), -_WIDEST, _WIDEST) * deviation if weld else np.zeros(draws)

    def factor(deviation: float) -> Floats:
        return np.exp(of_machine(deviation))

    coast_spread = COAST_SPREAD_MEASURED if case.coast_measured else COAST_SPREAD_ASSUMED
    alpha, beta = of_machine(case.wire.material.alpha_spread), of_machine(case.wire.material.beta_spread)
    fall, gradient = of_machine(case.arc.fall_spread_v), factor(case.arc.gradient_spread)
    load_v, drop_v = case.source.drawn(of_machine(1.0), of_machine(1.0))
    inductance = factor(INDUCTANCE_SPREAD)
    feed, coast, friction = of_machine(FEED_SPREAD), factor(coast_spread), factor(case.friction.spread)
    if case.source.readings.load_a is not None and machine:
        alpha, beta, feed = _agreement(case).agreed(alpha, beta, feed, of_machine(1.0))
    hand, out = of_weld(hand_mm), of_weld(ARC_OUT_SPREAD_A)
    wire_off, contactor_off = np.full(draws, case.wire_off.typical_s), np.full(draws, case.contactor_off.typical_s)
    cycle, line, heat = np.zeros(draws), np.zeros(draws), np.ones(draws)
    mains = np.exp(of_weld(0.0 if steady else MAINS_SPREAD))
    if weld:
        wire_off[:], contactor_off[:] = _between(lattice, case.wire_off), _between(lattice, case.contactor_off)
        cycle[:] = lattice.uniform(-1.0, 1.0)
        hot = 0.0 if steady else HOT_SLOPE
        heat[:] = lattice.uniform(1 - hot / 2, 1 + hot / 2)
        if case.source.ripple_hz:
            line[:] = lattice.uniform(0.0, 2 * np.pi)

    plant = replace(
        bare_plant(case.wire, case.arc, case.source).repeated(draws),
        feed_mm_s=case.source.feed_mm_s * np.exp(feed),
        alpha_mm_per_a_s=case.wire.alpha_mm_per_a_s * np.exp(alpha),
        beta_per_a2_s=case.wire.beta_per_a2_s * np.exp(beta),
        fall_v=case.arc.fall_v + fall,
        gradient_v_per_mm=case.arc.gradient_v_per_mm * gradient,
        inductance_h=case.source.inductance_h * inductance,
        arc_out_a=np.maximum(ARC_OUT_A + out, 1.0),
    )
    fed = fed_by(plant, load_v, drop_v, np.full(draws, case.source.distance_mm))
    least_mm = SHORTEST_EXTENSION_MM + 2 * case.wire.diameter_mm
    plant = replace(
        fed,
        feed_mm_s=case.feed_mm_s * np.exp(feed),
        distance_mm=np.maximum(case.distance_mm + hand, least_mm),
        open_v=fed.open_v * mains,
        slope_ohm=fed.slope_ohm * heat,
    )
    point = settle(plant)
    shift = np.where(point.dip_v > 0, cycle * point.arc_length_mm(plant), 0.0)
    slowing = case.friction.median * friction
    release = Release(wire_off, case.coast_s * coast, contactor_off, slowing, shift, line_phase=line)
    causes = {
        "distance the gun is held at": plant.distance_mm,
        "melting constants": alpha + beta / 2,
        "wire feed speed": feed,
        "arc voltage": fall,
        "arc gradient": gradient,
        "volts at the terminals": load_v,
        "slope of the power source": fed.slope_ohm,
        "inductance of the power source": inductance,
        "mains voltage": mains,
        "heat of the power source": heat,
        "coast": release.coast_s,
        "how the wire slows down": friction,
        "wire drive's drop-out": wire_off,
        "contactor's drop-out": contactor_off,
        "short-circuit cycle at the release": shift,
        "phase of the mains at the cut": np.sin(line),
    }
    return Scatter(plant, release, point, causes)
