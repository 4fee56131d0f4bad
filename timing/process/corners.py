"""Wide dials: what every corner of the job asks for, slow and fast wire on thin and thick plate, within round ends.

A dial that serves the middle of a job alone is turned to its end in the first week, and its plate is glued on by then.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from timing.design.design import Design
from timing.design.suppression import off_delay_of
from timing.design.times import LONGEST_BURNBACK_US, LONGEST_US
from timing.process.case import BurnbackCase, burnback_case
from timing.process.ranging import ENOUGH_BURNBACK_US, TimeAdvice
from timing.process.spot import spot_timing

ROUND_FIGURES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)
"""Ends of dials begin with these figures, so that plates are read at a glance (choice)."""
FARTHEST_REACH = 30.0
"""A dial's longest time over its shortest, where the work asks for no shorter one: a hand sets a knob of 300 degrees to
about 2, which is then a fifth of the shortest time (choice)."""
STITCH_US = 200_000
"""Stitches are run down to this, arc on and arc off (practice)."""
BURNBACK_TRIALS = 2.0
"""Burnback dials reach this many times below and above the setting to start with, for test welds (choice)."""


def round_below_us(wanted_us: float) -> int:
    """Return the largest round time that is not above `wanted_us`; 0 for less than a millisecond."""
    if wanted_us < 1_000:
        return 0
    power = 10.0 ** math.floor(math.log10(wanted_us) + 1e-12)
    return round(max(figure * power for figure in ROUND_FIGURES if figure * power <= wanted_us * (1 + 1e-9)))


def round_above_us(wanted_us: float) -> int:
    """Return the smallest round time that is not below `wanted_us`, 1 ms at least."""
    wanted_us = max(wanted_us, 1_000)
    power = 10.0 ** math.floor(math.log10(wanted_us) + 1e-12)
    figures = (*ROUND_FIGURES, 10.0)
    return round(min(figure * power for figure in figures if figure * power >= wanted_us * (1 - 1e-9)))


def corner_designs(design: Design) -> Iterator[Design]:
    """Yield the design as it stands at each corner of its job; nothing where no range is given.

    The voltage is turned to suit the wire feed speed, as a welder does. A seam in thinner plate than usual is run with
    the slowest wire: it would burn through with more (practice). Raises ProcessError.
    """
    process, case = design.process, burnback_case(design)
    usual_mm_s, main_mm = process.wire_feed_speed_mm_s, process.plate_thickness_mm
    ends = process.wire_feed_speed_low_mm_s, usual_mm_s, process.wire_feed_speed_high_mm_s
    plates = process.plate_thickness_low_mm, main_mm, process.plate_thickness_high_mm
    speeds_mm_s = [speed for speed in dict.fromkeys(ends) if speed is not None]
    known_mm = [plate for plate in dict.fromkeys(plates) if plate is not None]
    plates_mm: list[float | None] = [*known_mm] or [None]
    for speed in speeds_mm_s:
        read = _read_at(case, speed)
        for plate in plates_mm:
            burns_through = design.spot is None and speed > min(speeds_mm_s) and (plate or 0) < (main_mm or 0)
            # Nor is a spot without a hole tried in thicker sheet with slower wire: that is turned up for it.
            too_cold = process.spot_diameter_mm is not None and speed < usual_mm_s and (plate or 0) > (main_mm or 0)
            if burns_through or too_cold or (speed, plate) == (usual_mm_s, main_mm):
                continue
            changes = {
                "wire_feed_speed_mm_s": speed,
                "wire_feed_speed_low_mm_s": None,
                "wire_feed_speed_high_mm_s": None,
                **read,
                "plate_thickness_mm": plate,
                "plate_thickness_low_mm": None,
                "plate_thickness_high_mm": None,
                "plug_hole_mm": process.plug_hole_mm if plate == main_mm else None,
            }
            yield design.model_copy(update={"process": process.model_copy(update=changes)})


def _read_at(case: BurnbackCase, speed_mm_s: float) -> dict[str, float | None]:
    """Return what would be read of the power source at another wire feed speed: as much as was read."""
    read, there = case.source.readings, case.at_speed(speed_mm_s)
    load_v, drop_v = there.source.likely
    return {
        "open_circuit_voltage_v": None if read.open_v is None else load_v + drop_v,
        "load_voltage_v": None if read.load_v is None else load_v,
        "load_current_a": None if read.load_a is None else there.current_a(),
    }


def with_spot_time(design: Design, setting_us: int) -> Design:
    """Return the design with another spot time, whatever its dial; the design itself where it has no spot."""
    if design.spot is None:
        return design
    time = design.spot.time.model_copy(update={"setting_us": setting_us, "from_us": None, "to_us": None})
    return design.model_copy(update={"spot": design.spot.model_copy(update={"time": time})})


def burnback_ends_us(setting_us: float, low_us: float, high_us: float, longest_us: float) -> tuple[int, int]:
    """Return round ends for a burnback dial that machines ask to reach from `low_us` to `high_us`.

    There is room for test welds round the setting to start with. No dial goes beyond what burns any wire back, unless
    the longest setting recommended does, `longest_us`.
    """
    asked_us = max(high_us, setting_us * BURNBACK_TRIALS)
    most_us = round_above_us(min(asked_us, max(ENOUGH_BURNBACK_US, longest_us)))
    return round_below_us(min(low_us, setting_us / BURNBACK_TRIALS)), min(most_us, LONGEST_BURNBACK_US)


def wide_dials(design: Design, times: Iterable[TimeAdvice], corners: Iterable[TimeAdvice]) -> Iterator[TimeAdvice]:
    """Yield advice with dials that reach what `corners` ask for, with round ends.

    Where stitches are wanted, spot and pause reach down to STITCH_US, or as far as contactor and arc let them.
    """
    every = list(corners)
    for time in times:
        there = [one for one in every if one.name == time.name]
        low_us, high_us = time.reach_us
        low_us = min([low_us, *(one.setting_us for one in there)])
        high_us = max([high_us, *(one.setting_us for one in there)])
        from_us = min([time.dial_from_us, *(one.low_us for one in there)])
        to_us = round_above_us(max([time.dial_to_us, *(one.high_us for one in there)]))
        least_us = _least_us(design, time.name)
        if from_us:
            from_us = max(from_us, round_above_us(to_us / FARTHEST_REACH))
        if design.stitch is not None and least_us:
            from_us = min(from_us, STITCH_US)
        from_us = max(round_below_us(from_us), least_us if low_us > least_us else 0)
        yield replace(
            time,
            dial_from_us=min(from_us, low_us),
            dial_to_us=min(to_us, LONGEST_US),
            work_us=(low_us, min(high_us, LONGEST_US)),
        )


def _least_us(design: Design, name: str) -> int:
    """Shortest end of a dial of arc on or off, in round figures: the arc must have time to start, and to go out.

    0 for the other times.
    """
    if name == "spot":
        return round_above_us(spot_timing(design).shortest_s * 1e6)
    if name == "pause":
        sensed_us = 0 if design.arc_sensor is None else design.arc_sensor.filter_us
        return round_above_us((off_delay_of(design, design.feeder.contactor).max_us + sensed_us) * 1.25)
    return 0
