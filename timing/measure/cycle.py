"""One operation that the recorder starts: what it presses and for how long, and when the board's pins follow.

The pins' instants come from the model of the sequence, counted from the press and from the let-go as the recorder
stamps them; every time that a dial sets is at its low end meanwhile, so that hardly anything hangs on the board's
clock.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from timing.circuit.trigger_input import trigger_sense
from timing.commission.held_run import DryPanel
from timing.commission.setup import reach_us
from timing.commission.step import PanelSetup
from timing.design.design import Design
from timing.measure.dark_sense import DarkSense
from timing.measure.fixed_parts import FixedPart, evenly, lag_part
from timing.project import Project
from timing.recorder.presses import press_circuits
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Output
from timing.sequence.simulate import simulate

CLOCK_SHARE = 0.005
"""How far a board's clock may be off, as a share: boards with a ceramic resonator are within half a percent
(practice)."""
BOARD_PASS_US = 80.0
"""The board looks at its contacts once a pass, and a pass is no longer than this (measured: by the tests in the
simulator, as what the firmware promises)."""
RUN_RESTS_US = 600_000
"""From the last thing that goes off to the next press: longer than a motor coasts and than the board's trigger must be
open (choice)."""
RECORDER_TAP_US = 150_000
"""A press that only has to be seen (choice: several filters long)."""
LEAST_RISE = 0.3
"""Share of the longest time in which the pin of a trigger sense rises that it takes at the least (practice: threshold
and capacitor the other way)."""
LIMIT_PERCENT = 85
"""A run that a limit of the design would end is ended after this much of it (choice)."""
LEAST_HOLD_US = 400_000
"""What is to be seen of a coil's pull-in is over by then (practice)."""


class NoCycleError(ValueError):
    """The sequence of this design makes no such run."""


@dataclass(frozen=True)
class PinLag:
    """When a pin goes one way, counted from the press or the let-go that causes it."""

    after_us: float
    by_start: bool
    """True: counted from the first press; False: from what ends the run."""
    parts: tuple[FixedPart, ...]
    """What it may be later by, beside that, the same at each repeat."""
    dark: DarkSense | None = None
    """Where it is counted from an ac sense: what the dark of that adds."""

    @property
    def bound_us(self) -> float:
        """How far it may be off, to either side: the root of three variances, as of an evenly spread part."""
        return math.sqrt(3 * sum(part.variance for part in self.parts))


@dataclass(frozen=True)
class MeasuringCycle:
    """What the recorder does once, and what the board makes of it."""

    key: str
    """What it presses: 'trigger' or 'purge'."""
    presses: tuple[tuple[int, bool], ...]
    """From the beginning: when it closes and opens its contact, in us."""
    ends_at: int
    """Which of them ends the run."""
    pins: Mapping[tuple[Output, bool], PinLag]
    wire_us: int
    """How long the wire runs, by the board."""
    rests_us: int
    """From what ends it until the last pin has gone off."""
    lasts_us: int
    """Until everything has settled."""
    setup: PanelSetup
    """Where the panel stands for it."""

    @property
    def line(self) -> str:
        """The line that reads the press back."""
        return f"press_{self.key}"


def trigger_cycle(project: Project, wire_us: int) -> MeasuringCycle:
    """Return a pull of the trigger in which the wire runs for about `wire_us`. Raises NoCycleError."""
    panel = DryPanel(project)
    low_us = {name: reach_us(project, name)[0] for name in project.features.times}
    setup = panel.setup(panel.weld, dials_us={**low_us, **_longest_spot(project)})
    start_us = panel.filter_us + low_us.get("preflow", 0)
    limit_us = panel.limit_us
    if limit_us is not None:
        wire_us = min(wire_us, LIMIT_PERCENT * limit_us // 100)
    if panel.four_step_alone:
        end_us = max(start_us, RECORDER_TAP_US + 2 * panel.filter_us) + wire_us
        presses = ((0, True), (RECORDER_TAP_US, False), (end_us, True), (end_us + RECORDER_TAP_US, False))
        return _cycle(project, "trigger", presses, 2, setup)
    return _cycle(project, "trigger", ((0, True), (start_us + wire_us, False)), 1, setup)


def purge_cycle(project: Project) -> MeasuringCycle:
    """Return a press of the purge button, in which gas flows and nothing else happens. Raises NoCycleError."""
    panel = DryPanel(project)
    if not project.design.buttons.purge:
        raise NoCycleError("no purge button")
    hold_us = min(LEAST_HOLD_US, project.design.limits.purge_us // 2)
    return _cycle(project, "purge", ((0, True), (hold_us, False)), 1, panel.setup(panel.weld))


def _longest_spot(project: Project) -> Mapping[str, int]:
    """Where every weld is a spot, that is as long as it can be: the let-go ends it."""
    return {"spot": reach_us(project, "spot")[1]} if "spot" in project.features.times else {}


def _cycle(
    project: Project, key: str, presses: tuple[tuple[int, bool], ...], ends_at: int, setup: PanelSetup
) -> MeasuringCycle:
    design, end_us = project.design, presses[ends_at][0]
    changes = (*setup.changes, *(Change(at_us, key, int(on)) for at_us, on in presses))
    timeline = simulate(design, Script(changes))
    pins: dict[tuple[Output, bool], PinLag] = {}
    for output in Output:
        edges = timeline.edges_of(output)
        for edge in edges[:2]:
            by_start = edge.at_us <= end_us
            after_us = edge.at_us - (0 if by_start else end_us)
            pins[output, edge.on] = _pin_lag(project, key, after_us, by_start, presses[0 if by_start else ends_at][1])
        if len(edges) > 2:
            raise NoCycleError(f"{output.name.lower()} comes on more than once in a run")
    spans = timeline.on_spans_us(Output.WIRE)
    wire_us = sum(off_us - on_us for on_us, off_us in spans)
    rests_us = max([presses[-1][0], *(edge.at_us for edge in timeline.edges)])
    return MeasuringCycle(key, presses, ends_at, pins, wire_us, rests_us - end_us, rests_us + RUN_RESTS_US, setup)


def _pin_lag(project: Project, key: str, after_us: int, by_start: bool, closes: bool) -> PinLag:
    """Return when a pin follows a press or a let-go: the sequence, the contact that presses, half a pass."""
    lag = press_circuits(project, project.board)[key].lag
    press = lag_part(lag.on_us if closes else lag.off_us)
    rise_us = trigger_sense(project.design, project.board).rise_us if key == "trigger" and not closes else 0.0
    rise, look = FixedPart(LEAST_RISE * rise_us, rise_us), FixedPart(0.0, BOARD_PASS_US)
    # The board counts a time by its clock, and the recorder sees it by its own.
    clocks = (evenly(CLOCK_SHARE * after_us),) * 2
    late_us = press.mean + rise.mean + look.mean
    dark = _dark_sense(project) if key == "trigger" and project.design.trigger.sense == "ac" else None
    return PinLag(after_us + late_us, by_start, (press, rise, look, *clocks), dark)


def _dark_sense(project: Project) -> DarkSense:
    trigger, hz = project.design.trigger, project.design.supply.line_frequency_hz
    single = trigger.optocoupler == "single"
    period_us = 1e6 / hz if single else 0.5e6 / hz
    gap_us = min(trigger_sense(project.design, project.board).gap_us, period_us)
    # One LED is dark in every second half-wave, whatever else.
    return DarkSense(min(period_us / 2, gap_us) if single else 0.0, gap_us, period_us, trigger.filter_us)


def dark_late_us(gap_us: float, period_us: float) -> float:
    """Return by how much a coupler that is dark for `gap_us` of each period shows a voltage late, on average.

    It falls into the dark with the chance gap over period, and anywhere in it: gap^2 / (2 period) (exact).
    """
    return gap_us * gap_us / (2 * period_us)


def longest_wire_mm(design: Design, cycle: MeasuringCycle, repeats: int) -> float:
    """Return the most wire that comes out of so many runs, in mm: at the highest speed that the design states."""
    process = design.process
    speed_mm_s = max(process.wire_feed_speed_mm_s, process.wire_feed_speed_high_mm_s or 0.0)
    coast_us = 2 * design.feeder.wire_drive.likely_coast_us
    return float(repeats * (cycle.wire_us + coast_us) * speed_mm_s / 1e6)
