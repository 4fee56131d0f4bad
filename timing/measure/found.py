"""From repeats of one quantity to its figures, what was left out, what is likely wrong, and values for the design."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from timing.design.feeder import Actuator, Spread
from timing.design.suppression import off_delay_of, on_delay_of
from timing.design.units import Typed, format_duration
from timing.measure.cycle import CLOCK_SHARE
from timing.measure.dark_sense import estimate_behind
from timing.measure.dips import dip_shares
from timing.measure.fixed_parts import evenly
from timing.measure.lag import LAG_WORDS, BadRepeatError, ends_us, lags_of, line_words, wrong_wiring
from timing.measure.quantities import Quantity, motor_line
from timing.measure.repeats import SeenRepeat
from timing.measure.run_on import RunOn, run_on
from timing.measure.small_sample import FEWEST_GOOD, OUTLIER_LEAST, Estimate, estimate_of, thrown_out
from timing.measure.turning import TurningWire, at_full_speed, run_up_us, turning_wire
from timing.process.coast import usual_friction
from timing.process.fit import MEASURED_LEAST_S, MEASURED_SHARE
from timing.project import Project
from timing.recorder.disc import DISC_SLOTS
from timing.sequence.core.table import Output

RULE_LEAST_MM = 50.0
"""A shorter piece of wire is not measured well enough (choice)."""
DELAY_STEP_US = 100
"""Delays go into the design in steps of this (choice: finer than any of them is known)."""
NORMAL_95 = 1.96
"""Standard deviations to either side that hold 95 % of a normal distribution (exact: to three digits)."""
FEWEST_LENGTHS = 3
"""Runs with a length that make a speed (choice)."""

DesignValue = str | bool | dict[str, str]


@dataclass(frozen=True)
class MeasuredFigure:
    """One figure that was found."""

    key: str
    title: str
    unit: str
    """us, mm/s, mm or %."""
    estimate: Estimate
    goes_into: str = ""
    """Key of the design file that it fills in; empty: it is only told."""


@dataclass(frozen=True)
class MeasuredResult:
    """What some repeats of one quantity tell."""

    quantity: Quantity
    repeats: int
    figures: tuple[MeasuredFigure, ...]
    left_out: tuple[str, ...]
    """Repeats that were left out, and why."""
    trouble: tuple[str, ...]
    """What to look at; nothing goes into the design while something stands here."""
    notes: tuple[str, ...]
    values: Mapping[str, DesignValue]
    """For the design file, by dotted key."""

    def figure(self, key: str) -> MeasuredFigure:
        """Return one figure. Raises KeyError."""
        return {one.key: one for one in self.figures}[key]


def measured(
    project: Project,
    quantity: Quantity,
    repeats: Sequence[SeenRepeat],
    lengths_mm: Sequence[float | None] = (),
    slots: int = DISC_SLOTS,
) -> MeasuredResult:
    """Return what repeats tell. lengths_mm: the wire of each, where a person measured it; slots: of the disc."""
    if quantity.key == "supply":
        found = _supply(project, quantity, repeats)
    elif quantity.key == "coast":
        found = _coast(project, quantity, repeats, slots)
    elif quantity.key == "wire_speed":
        found = _wire_speed(project, quantity, repeats, lengths_mm, slots)
    elif quantity.key == "arc":
        found = _arc(quantity, repeats)
    else:
        found = _lags(project, quantity, repeats)
    trouble = tuple(found.trouble)
    if not found.figures and not trouble:
        trouble = (_too_few(quantity, len(repeats)),)
    return MeasuredResult(
        quantity,
        len(repeats),
        tuple(found.figures),
        tuple(found.left_out),
        trouble,
        tuple(found.notes),
        {} if trouble else found.values,
    )


class _Found:
    """What comes together."""

    def __init__(self) -> None:
        self.figures: list[MeasuredFigure] = []
        self.left_out: list[str] = []
        self.trouble: list[str] = []
        self.notes: list[str] = []
        self.values: dict[str, DesignValue] = {}


def _too_few(quantity: Quantity, count: int) -> str:
    needed = ", ".join(line_words(line) for line in quantity.watches)
    return (
        f"Fewer than {FEWEST_GOOD} of {count} repeats can be used. Look at {needed}: its adapter, its lamp, and what "
        "each left-out repeat says; then measure again."
    )


def _lags(project: Project, quantity: Quantity, repeats: Sequence[SeenRepeat]) -> _Found:
    lines, cycle, found = quantity.lines, quantity.cycle, _Found()
    assert lines is not None
    assert cycle is not None
    found.trouble += wrong_wiring(repeats, cycle, lines)
    lags = lags_of(repeats, cycle, lines)
    found.left_out += lags.left_out
    for (name, on), estimate in lags.lags.items():
        way = "on" if on else "off"
        key = f"feeder.{quantity.key}.{way}_delay" if name == "whole" else ""
        goes_into = key if key in quantity.fills else ""
        if goes_into:
            found.values |= _delay_values(project, quantity.key, on, estimate)
        title = _title(quantity, name, on)
        found.figures.append(MeasuredFigure(f"{name}_{way}", title, "us", estimate, goes_into))
    missing = [key for key in quantity.fills if key not in found.values]
    if missing and not found.trouble:
        found.trouble.append(_too_few(quantity, len(repeats)))
    if lags.bounced_us:
        found.notes.append(
            f"It bounces for up to {lags.bounced_us / 1000:.1f} ms as it closes; its first closing is what counts."
        )
    if quantity.key == "gas_valve":
        found.notes.append(
            "The flag moves when the gas is at the nozzle: valve, hose and flag are in it, so that nothing of it goes "
            "into the design. Preflow should be no shorter than this and what `wirecue advise` says of purging."
        )
    return found


def _title(quantity: Quantity, name: str, on: bool) -> str:
    if quantity.key == "gas_valve" and name != "relay":
        from_ = "the coil's" if name == "works" else "the command's"
        return f"gas at the nozzle {'begins' if on else 'ends'} after {from_}"
    return LAG_WORDS[name, on]


def _delay_values(project: Project, role: str, on: bool, whole: Estimate) -> dict[str, DesignValue]:
    """Return a measured delay as the design states it: without what suppression and interposing contactor add."""
    actuator: Actuator = getattr(project.design.feeder, role)
    stated, real = _stated_and_real(project, actuator, on)
    added_us = real.typical_us - stated.typical_us
    ends = (whole.next_low - added_us, whole.mean - added_us, whole.next_high - added_us)
    low_us, typical_us, high_us = (max(0, round(end / DELAY_STEP_US) * DELAY_STEP_US) for end in ends)
    names = ("min", "typical", "max")
    told = (format_duration(one) for one in (low_us, typical_us, high_us))
    return {f"feeder.{role}.{'on' if on else 'off'}_delay": dict(zip(names, told, strict=True))}


def _stated_and_real(project: Project, actuator: Actuator, on: bool) -> tuple[Spread, Spread]:
    if on:
        return actuator.on_delay, on_delay_of(actuator)
    return actuator.off_delay, off_delay_of(project.design, actuator)


# ---- the disc


def _runs(
    project: Project, quantity: Quantity, repeats: Sequence[SeenRepeat], slots: int, found: _Found
) -> dict[int, TurningWire]:
    cycle, motor = quantity.cycle, motor_line(project)
    assert cycle is not None
    off = cycle.pins[Output.WIRE, False]
    runs: dict[int, TurningWire] = {}
    for number, repeat in enumerate(repeats, 1):
        try:
            _, ended_us = ends_us(repeat, cycle)
            dark_us = 0.0 if off.dark is None else off.dark.longest_us
            runs[number] = turning_wire(repeat, slots, ended_us + off.after_us - off.bound_us - dark_us, motor)
        except BadRepeatError as error:
            found.left_out.append(f"repeat {number}: {error}")
    for line, where in (("disc", "the disc's sensor"), (motor, "the motor's adapter")):
        if repeats and not any(repeat.of(line) for repeat in repeats):
            found.trouble.append(
                f"{line_words(line)} never moves: look at {where}. Does the sensor's own lamp follow the slots when "
                "the roll is turned by hand, machine unplugged? Does the motor turn at all?"
            )
    return runs


def _coast(project: Project, quantity: Quantity, repeats: Sequence[SeenRepeat], slots: int) -> _Found:
    found, drive = _Found(), project.design.feeder.wire_drive
    runs = _runs(project, quantity, repeats, slots, found)
    if len(runs) < FEWEST_GOOD:
        found.trouble.append(_too_few(quantity, len(repeats)))
        return found
    settled = at_full_speed(list(runs.values()))
    coast = run_on(settled, usual_friction(drive.braked), hidden=not drive.braked)
    estimate = _coast_estimate(coast, len(runs))
    found.figures.append(MeasuredFigure("coast", "coast, as time at full speed", "us", estimate, quantity.fills[0]))
    speed_mm_s = project.design.process.wire_feed_speed_mm_s
    found.figures.append(
        MeasuredFigure("coast_mm", "the same at the design's wire feed speed", "mm", estimate.scaled(speed_mm_s / 1e6))
    )
    tau_us = run_up_us(list(runs.values()))
    if len(tau_us) >= FEWEST_GOOD:
        title = "comes up to speed with a time constant of"
        found.figures.append(MeasuredFigure("run_up", title, "us", estimate_of(tau_us)))
    found.values["feeder.wire_drive.coast"] = format_duration(round(estimate.mean / DELAY_STEP_US) * DELAY_STEP_US)
    good = coast.deviation_us <= max(MEASURED_SHARE * coast.median_us, MEASURED_LEAST_S * 1e6)
    found.values["feeder.wire_drive.coast_measured"] = bool(good)
    if not good:
        found.notes.append("The limits are too wide to call the coast measured: more repeats, or a longer run.")
    if not drive.braked:
        _off_by_disc(project, quantity, repeats, runs, coast, found)
    if any(run.turn_us is None for run in settled):
        found.notes.append("The runs are shorter than a turn of the roll: the disc's slots are taken for alike.")
    return found


def _coast_estimate(coast: RunOn, count: int) -> Estimate:
    # The recorder's clock is off as well.
    fixed_us = NORMAL_95 * CLOCK_SHARE * coast.median_us / math.sqrt(3)
    lowest = coast.median_us - math.hypot(coast.median_us - coast.low_us, fixed_us)
    highest = coast.median_us + math.hypot(coast.high_us - coast.median_us, fixed_us)
    return Estimate(
        count,
        coast.median_us,
        coast.median_us,
        coast.deviation_us,
        lowest,
        highest,
        min(lowest, coast.median_us),
        highest,
    )


def _off_by_disc(
    project: Project,
    quantity: Quantity,
    repeats: Sequence[SeenRepeat],
    runs: Mapping[int, TurningWire],
    coast: RunOn,
    found: _Found,
) -> None:
    """Add the off-delay of a motor that runs on: from the pin to the instant at which the disc begins to slow down."""
    cycle = quantity.cycle
    assert cycle is not None
    pin = cycle.pins[Output.WIRE, False]
    values = [
        float(at_us) - ends_us(repeats[number - 1], cycle)[1] - pin.after_us
        for number, at_us in zip(runs, coast.let_go_us, strict=True)
    ]
    least_us = OUTLIER_LEAST + (0.0 if pin.dark is None else 2 * pin.dark.longest_us)
    out = thrown_out(values, least_us)
    numbers = list(runs)
    found.left_out += [f"repeat {numbers[place]}: off-delay {values[place] / 1000:.1f} ms" for place in out]
    good = [value for place, value in enumerate(values) if place not in out]
    # When the disc slows down is known as closely as the coast itself; the recorder's clock is off as well.
    slows = evenly(math.sqrt(3) * coast.deviation_us)
    parts = (*(part.off() for part in pin.parts), slows, evenly(CLOCK_SHARE * float(np.mean(values))))
    if pin.dark is None:
        estimate = estimate_of(good, parts)
    else:
        estimate = estimate_behind(good, pin.dark, late=False, parts=parts, shift=0.0)
    key = "feeder.wire_drive.off_delay"
    found.figures.append(MeasuredFigure("whole_off", LAG_WORDS["whole", False], "us", estimate, key))
    found.values |= _delay_values(project, "wire_drive", False, estimate)


def _wire_speed(
    project: Project,
    quantity: Quantity,
    repeats: Sequence[SeenRepeat],
    lengths_mm: Sequence[float | None],
    slots: int,
) -> _Found:
    found = _Found()
    runs = _runs(project, quantity, repeats, slots, found)
    told = dict(enumerate(lengths_mm, 1))
    lengths = {number: mm for number in runs if (mm := told.get(number)) is not None}
    short = [number for number, mm in lengths.items() if mm < RULE_LEAST_MM]
    found.left_out += [f"repeat {number}: {lengths[number]:g} mm of wire are too short to measure" for number in short]
    good = [number for number in lengths if number not in short]
    settled = dict(zip(good, at_full_speed([runs[number] for number in good]), strict=True))
    a_turn = {number: lengths[number] / runs[number].turns for number in good}
    speeds = {number: a_turn[number] / settled[number].likely_turn_us * 1e6 for number in good}
    least = 0.05 * float(np.median(list(speeds.values()))) if speeds else 0.0
    out = [good[place] for place in thrown_out(list(speeds.values()), least)]
    found.left_out += [f"repeat {number}: {speeds[number]:.1f} mm/s" for number in out]
    kept = [number for number in good if number not in out]
    if len(kept) < FEWEST_LENGTHS:
        if not found.trouble:
            found.trouble.append(f"Fewer than {FEWEST_LENGTHS} runs with a length: measure the wire of each run.")
        return found
    seen_mm_s = [speeds[number] for number in kept]
    speed = estimate_of(seen_mm_s, [evenly(CLOCK_SHARE * float(np.mean(seen_mm_s)))])
    turn = estimate_of([a_turn[number] for number in kept])
    key = "process.wire_feed_speed"
    typed = _speed_typed(project, speed.mean)
    process = project.design.process
    low, high = process.wire_feed_speed_low_mm_s, process.wire_feed_speed_high_mm_s
    inside = (low is None or speed.mean >= low) and (high is None or speed.mean <= high)
    found.figures.append(MeasuredFigure("wire_feed_speed", "wire feed speed", "mm/s", speed, key if inside else ""))
    found.figures.append(MeasuredFigure("mm_per_turn", "wire that a turn of the roll feeds", "mm", turn))
    if inside:
        found.values[key] = typed
    else:
        found.notes.append(
            f"{typed} lies outside the range of wire feed speeds that the design states: put both in by hand."
        )
    return found


def _speed_typed(project: Project, speed_mm_s: float) -> str:
    """Return a speed in the unit in which the design has it."""
    stated = project.design.process.wire_feed_speed_mm_s
    if isinstance(stated, Typed) and "in" in stated.written.replace("min", ""):
        return f"{speed_mm_s * 60 / 25.4:.1f} in/min"
    return f"{speed_mm_s * 60 / 1000:.3f} m/min"


# ---- what is only told


def _arc(quantity: Quantity, repeats: Sequence[SeenRepeat]) -> _Found:
    """A hand pulls the trigger: from the coil's edges to those of the arc sensor."""
    found, lines = _Found(), quantity.lines
    assert lines is not None
    assert lines.coil is not None
    assert lines.acts is not None
    values: dict[bool, list[float]] = {True: [], False: []}
    for number, repeat in enumerate(repeats, 1):
        coil = (repeat.ons_us(lines.coil), repeat.offs_us(lines.coil))
        arc = (repeat.ons_us(lines.acts), repeat.offs_us(lines.acts))
        if not all((*coil, *arc)) or arc[0][0] < coil[0][0] or arc[1][-1] < coil[1][-1]:
            found.left_out.append(f"repeat {number}: no arc between the contactor's coil on and the arc's end after it")
            continue
        values[True].append(float(arc[0][0] - coil[0][0]))
        values[False].append(float(arc[1][-1] - coil[1][-1]))
    titles = {True: "arc seen after the contactor's coil is on", False: "arc goes out after the coil is off"}
    for on, every in values.items():
        good = [value for place, value in enumerate(every) if place not in thrown_out(every, 20_000.0)]
        if len(good) >= FEWEST_GOOD:
            found.figures.append(MeasuredFigure(f"arc_{'on' if on else 'off'}", titles[on], "us", estimate_of(good)))
    return found


def _supply(project: Project, quantity: Quantity, repeats: Sequence[SeenRepeat]) -> _Found:
    found, cycle = _Found(), quantity.cycle
    assert cycle is not None
    shares = []
    for number, repeat in enumerate(repeats, 1):
        try:
            shares.append(dip_shares(repeat, cycle, project.design.supply.line_frequency_hz))
        except BadRepeatError as error:
            found.left_out.append(f"repeat {number}: {error}")
    if len(shares) < 2:
        found.trouble.append(_too_few(quantity, len(repeats)))
        return found
    titles = ("the 24 VAC falls by, while coils pull in", "the 24 VAC falls by, while they hold")
    for key, title, values in zip(("pull_in", "hold"), titles, zip(*shares, strict=True), strict=True):
        estimate = estimate_of([100 * (1 - share) for share in values])
        found.figures.append(MeasuredFigure(f"dip_{key}", title, "%", estimate))
    found.notes.append(
        "Against what it is with the board alone; volts come from a meter, so that nothing of it goes into the design. "
        "`wirecue supply` says what it should be."
    )
    return found


def told_figures(result: MeasuredResult) -> Iterator[tuple[str, str, str, str]]:
    """Yield each figure as text: what, its middle, its 95 % limits, the next operation."""
    for one in result.figures:
        e = one.estimate
        yield (
            one.title,
            _shown(e.mean, one.unit),
            f"{_shown(e.low, one.unit)} to {_shown(e.high, one.unit)}",
            f"{_shown(e.next_low, one.unit)} to {_shown(e.next_high, one.unit)}",
        )


def _shown(value: float, unit: str) -> str:
    if unit == "us":
        return f"{value / 1000:.1f} ms"
    return f"{value:.1f} {unit}"
