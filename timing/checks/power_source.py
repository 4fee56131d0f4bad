"""Rules on what was read of the power source: whether its figures can belong to one weld."""

from __future__ import annotations

import math
from collections.abc import Iterator

from timing.checks.finding import Figure, Finding, Remedy, warning
from timing.design.units import as_typed
from timing.process.case import burnback_case, computed_current_a
from timing.process.errors import ProcessError
from timing.process.source import SLOPE_STATED_SPREAD, PowerSource
from timing.project import Project

FAR_FROM_USUAL_V = 4.0
"""Volts from the usual load voltage at which a weld is asked about (choice: some two and a half of the standard
deviations that machines are set with)."""
AMPERES_APART = 0.30
"""Share by which amperes that were read may differ from what the wire must draw (choice: some three standard deviations
of melting constants, wire feed speed and reading together)."""
SLOPES_APART = 3.0
"""A stated slope and the one that readings make are asked about from so many of its standard deviations on (choice)."""
_MEASURE = (
    "have somebody read the volts at the terminals while you weld, and state them as process.load_voltage; leave slope "
    "out unless it was measured"
)


def source_readings_agree(project: Project) -> Iterator[Finding]:
    """Ask about volts far from usual for the current, amperes that the wire cannot draw, and a slope that contradicts.

    Nothing where no arc can burn: `arc-can-burn` tells of that.
    """
    try:
        case = burnback_case(project.design)
        case.operating_point()
        wire_a = computed_current_a(project.design)
    except ProcessError:
        return
    source = case.source
    yield from _volts(source)
    load_a = source.readings.load_a
    if load_a is not None and abs(load_a / wire_a - 1) > AMPERES_APART:
        yield _finding(
            "process.load_current",
            f"{load_a:.0f} A were read while welding; this wire at this wire feed speed draws about {wire_a:.0f} A",
            "wire feed speed, wire diameter or the amperes are not as stated, and burnback follows from them",
            "run wire for 6 s and measure it, measure its diameter, and read the amperes again in a steady bead",
            Figure("current read", load_a, "A"),
            Figure("current that melts the wire", wire_a, "A"),
        )
    yield from _slope(source)


def _volts(source: PowerSource) -> Iterator[Finding]:
    read, load_v = source.readings, source.readings.load_v or source.likely[0]
    off_v = load_v - source.usual_v
    if abs(off_v) <= FAR_FROM_USUAL_V:
        return
    key, remedy = "process.open_circuit_voltage", _MEASURE
    said = f"the open-circuit voltage of {as_typed(read.open_v, 'V')}" if read.open_v is not None else "the design"
    if read.load_v is not None:
        key, said = "process.load_voltage", f"a load voltage of {as_typed(read.load_v, 'V')}"
        remedy = (
            "read the volts again, at the terminals in a steady bead, and measure the wire feed speed by running wire"
        )
    elif read.slope_v_per_a is not None:
        said += f" with a slope of {as_typed(read.slope_v_per_a, 'V/A')}"
    than = "longer" if off_v > 0 else "shorter"
    yield _finding(
        key,
        f"{said} makes {load_v:.1f} V at the terminals at {source.current_a:.0f} A; usual there are "
        f"{source.usual_v:.1f} V",
        f"a machine that welds well is set near 14 V + 0.05 V/A (IEC 60974-1): this arc would be much {than}, and "
        "burnback, ball and spot are computed for it",
        remedy,
        Figure("volts at the terminals", load_v, "V"),
        Figure("usual load voltage", source.usual_v, "V"),
    )


def _slope(source: PowerSource) -> Iterator[Finding]:
    read = source.readings
    if read.slope_v_per_a is None or read.load_v is None or read.open_v is None:
        return
    made = max((read.open_v - read.load_v) / source.current_a, 1e-4)
    if abs(math.log(made / read.slope_v_per_a)) <= SLOPES_APART * SLOPE_STATED_SPREAD:
        return
    yield _finding(
        "process.slope",
        f"the slope is stated as {as_typed(read.slope_v_per_a, 'V/A')}; {as_typed(read.open_v, 'V')} open and "
        f"{as_typed(read.load_v, 'V')} at {source.current_a:.0f} A make {1000 * made:.0f} mV/A",
        "the slope decides how far the arc burns back by itself",
        "leave slope out: it follows from the readings",
        Figure("slope as stated", 1000 * read.slope_v_per_a, "mV/A"),
        Figure("slope by the readings", 1000 * made, "mV/A"),
    )


def _finding(key: str, text: str, reason: str, remedy: str, *figures: Figure) -> Finding:
    return warning("source-readings-agree", key, text, reason, Remedy(remedy), figures=figures)
