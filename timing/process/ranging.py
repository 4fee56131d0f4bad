"""Advice on one time, and where it goes: the setting on its dial, and the ends of a dial that does not serve.

A dial whose plate is made keeps its ends: what cannot be set on it is told, with the end that is short and by how much.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from timing.circuit.dial import track_share
from timing.design.design import Design
from timing.design.times import TIME_KEYS, TimeSetting, time_limits_us
from timing.design.units import format_duration
from timing.formatting import ms

DIAL_MARKS = 10
"""A dial step is a tenth of the dial's travel, the distance of its marks (choice)."""
ENOUGH_BURNBACK_US = 400_000
"""End of a burnback dial that burns any wire back (practice)."""
NEAR_END_MARKS = 0.5
"""Nearer to a dial's end than this many of its steps is at the end: no hand sets closer (choice)."""


@dataclass(frozen=True)
class TimeAdvice:
    """Advice on one time, in whole microseconds as in the design file."""

    name: str
    """As in columns.TIME_NAMES."""
    setting_us: int
    low_us: int
    high_us: int
    """Range that does: from the least that serves to the most that is of use."""
    dial_from_us: int
    dial_to_us: int
    """Dial that serves the whole of the design's work, with room at its ends."""
    reasons: tuple[str, ...]
    """Why, one sentence each, most important first."""
    work_us: tuple[int, int] | None = None
    """Shortest and longest setting that the whole of the design's work asks for; None: the one setting serves it."""

    @property
    def reach_us(self) -> tuple[int, int]:
        """What a dial must reach, shortest and longest."""
        low_us, high_us = self.work_us or (self.setting_us, self.setting_us)
        return min(low_us, self.setting_us), max(high_us, self.setting_us)


def as_allowed(time: TimeAdvice) -> TimeAdvice:
    """Return advice that a design may set; where its setting was more, a reason says so."""
    _, most_us = time_limits_us(time.name)
    if time.dial_to_us <= most_us and time.high_us <= most_us:
        return time
    reasons = time.reasons
    if time.setting_us > most_us:
        said = f"{format_duration(time.setting_us)} would serve; more than {format_duration(most_us)} is not allowed."
        reasons = (said, *reasons)
    return replace(
        time,
        setting_us=min(time.setting_us, most_us),
        low_us=min(time.low_us, most_us),
        high_us=min(time.high_us, most_us),
        dial_from_us=min(time.dial_from_us, most_us),
        dial_to_us=min(time.dial_to_us, most_us),
        reasons=reasons,
        work_us=time.work_us and (min(time.work_us[0], most_us), min(time.work_us[1], most_us)),
    )


def round_us(seconds: float, round_s: float = 0.005, way: Callable[[float], float] = round) -> int:
    """Seconds to whole microseconds, in round steps; `way` is round, math.floor or math.ceil."""
    return int(way(round(seconds / round_s, 6)) * round(round_s * 1e6))


def dial_mark_us(dial: TimeSetting) -> float:
    """Return the step of a dial: a tenth of its travel, with a linear taper; 0 for a fixed time."""
    return (dial.high_us - dial.low_us) / DIAL_MARKS


def _near_us(dial: TimeSetting) -> tuple[float, float]:
    """Return how near to its low and to its high end is at the end: an audio taper crowds the times at the low one."""
    span_us, mark = dial.high_us - dial.low_us, NEAR_END_MARKS / DIAL_MARKS
    return span_us * track_share(mark, dial.taper), span_us * (1 - track_share(1 - mark, dial.taper))


def end_of_dial(dial: TimeSetting) -> str:
    """Return which end of its dial a setting sits at, "low" or "high"; empty where there is room both ways.

    A dial that begins at nothing has no shorter time to give.
    """
    if not dial.dial:
        return ""
    near_low_us, near_high_us = _near_us(dial)
    if dial.high_us - dial.setting_us < near_high_us:
        return "high"
    return "low" if dial.low_us and dial.setting_us - dial.low_us < near_low_us else ""


def settable_us(own: TimeSetting, wanted_us: int) -> int:
    """Return the nearest to `wanted_us` that a time can be set to: any where it is fixed in the program."""
    return min(max(wanted_us, own.low_us), own.high_us) if own.dial else wanted_us


@dataclass(frozen=True)
class Shortfall:
    """One end of a dial that does not reach what is advised."""

    name: str
    """Of the time."""
    end: str
    """low or high."""
    has_us: int
    """Where the dial ends."""
    asks_us: int
    """What the advice asks for there."""
    setting_out: bool
    """True where the advised setting itself is out of reach, and not only another wire feed speed's or sheet's."""

    @property
    def fact(self) -> str:
        """Which end, and by how much."""
        word = "begins" if self.end == "low" else "ends"
        what = "the advised setting is" if self.setting_out else "the whole of the work asks for"
        return (
            f"its dial {word} at {ms(self.has_us)} and {what} {ms(self.asks_us)}, "
            f"{ms(abs(self.asks_us - self.has_us))} {'below' if self.end == 'low' else 'above'} it"
        )

    @property
    def sentence(self) -> str:
        """The same with the name of the time."""
        return f"{self.name}: {self.fact}"


def out_of_reach(name: str, own: TimeSetting, asked_us: int) -> Iterator[Shortfall]:
    """Yield the end of a dial that a setting found for it lies beyond; none where it can be set."""
    if settable_us(own, asked_us) != asked_us:
        end = "low" if asked_us < own.low_us else "high"
        yield Shortfall(name, end, own.low_us if end == "low" else own.high_us, asked_us, setting_out=True)


def shortfalls(own: TimeSetting, time: TimeAdvice) -> Iterator[Shortfall]:
    """Yield the ends of a dial that do not reach what is advised; none for a fixed time."""
    if not own.dial:
        return
    near_low_us, near_high_us = _near_us(own)
    low_us, high_us = time.reach_us
    if own.low_us - low_us >= near_low_us:
        yield Shortfall(time.name, "low", own.low_us, low_us, time.setting_us < own.low_us)
    if high_us - own.high_us >= near_high_us:
        yield Shortfall(time.name, "high", own.high_us, high_us, time.setting_us > own.high_us)


@dataclass(frozen=True)
class Placing:
    """What advice changes in a design file, and what it cannot."""

    values: Mapping[str, str]
    """By dotted key, as the file writes them."""
    new_ranges: tuple[str, ...]
    """Names of the times whose dials get the ends that are advised."""
    short: tuple[Shortfall, ...]
    """Ends of made dials that stay short."""


def placing(design: Design, times: Iterable[TimeAdvice], *, new_ranges: bool = False) -> Placing:
    """Return where advice goes in a design.

    Before the plates are made each dial gets the ends that serve best. Once they are made a setting moves within its
    dial alone, and with `new_ranges` the dials that are short get new ends.
    """
    values: dict[str, str] = {}
    short: list[Shortfall] = []
    ranged: list[str] = []
    for time in times:
        own, key = design.setting(time.name), TIME_KEYS[time.name]
        if own is None:
            continue
        lacking = tuple(shortfalls(own, time))
        if own.dial and (not design.panel.made or (new_ranges and lacking)):
            ranged.append(time.name)
            values[f"{key}.from"] = format_duration(time.dial_from_us)
            values[f"{key}.to"] = format_duration(time.dial_to_us)
            values[f"{key}.setting"] = format_duration(time.setting_us)
        else:
            values[f"{key}.setting"] = format_duration(settable_us(own, time.setting_us))
            short += lacking
    return Placing(values, tuple(ranged), tuple(short))
