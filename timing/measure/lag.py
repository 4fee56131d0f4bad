"""From what the recorder saw to lags: of the add-on's relay, of what its coil works, and of both together.

The first closing of a contact counts; what bounces after it is told. A coupler on ac is dark round each zero of the
voltage: on average it shows a coil late and loses it early by gap^2 / (2 half periods), which is taken off, and what
the correction itself may be off by widens the limits.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from timing.measure.cycle import CLOCK_SHARE, MeasuringCycle, PinLag, dark_late_us
from timing.measure.dark_sense import estimate_behind
from timing.measure.fixed_parts import FixedPart, evenly, lag_part
from timing.measure.repeats import SeenEdge, SeenRepeat
from timing.measure.small_sample import FEWEST_GOOD, OUTLIER_LEAST, Estimate, estimate_of, thrown_out
from timing.protocol.recorder import recorder_input
from timing.recorder.couplers import AdapterLag
from timing.sequence.core.table import Output

EARLY_US = 2_000
"""What comes this much before its cause is not its effect (choice: more than every tolerance together)."""
BOUNCES_US = 30_000
"""A contact that is open for longer than this does not bounce (practice)."""
LONGEST_RELAY_US = 40_000.0
"""An add-on's relay that seems slower than this is another thing: a dial that does not stand as told (practice)."""


NOTHING_BETWEEN = AdapterLag((0.0, 0.0), (0.0, 0.0))
"""Of an input whose lag is left out (exact)."""


@dataclass(frozen=True)
class LoadLines:
    """One output of the add-on, and the recorder's lines that watch what it works."""

    output: Output
    coil: str | None
    """The line across its coil; None where there is none, or where it is what acts."""
    acts: str | None
    """The line that shows that it acts; None where nothing does."""
    half_period_us: float = 0.0
    """Of the coil's ac; 0 for dc."""
    coil_lag: AdapterLag = NOTHING_BETWEEN
    """How late the coil's input follows, on steady dc."""
    acts_lag: AdapterLag = NOTHING_BETWEEN
    """The same of what acts."""
    off_hidden: bool = False
    """True where what acts cannot be seen to cease: a motor that runs on makes a voltage of its own."""


class BadRepeatError(Exception):
    """A repeat that tells nothing: why, as the rest of a sentence about it."""


@dataclass(frozen=True)
class LagSeen:
    """What one repeat shows of one load, in us: from pin to coil, from coil to acting, from pin to acting."""

    pressed_us: int
    ended_us: int
    pin_us: Mapping[bool, float]
    """When the pin went on and off, by the press and the let-go."""
    coil_us: Mapping[bool, int]
    acts_us: Mapping[bool, int]
    bounced_us: int
    """From the first closing of what acts to its last bounce; 0 where it does not."""


def ends_us(repeat: SeenRepeat, cycle: MeasuringCycle) -> tuple[int, int]:
    """Return when the run was started and when it was ended. Raises BadRepeatError where it was not as ordered."""
    edges = repeat.of(cycle.line)
    if cycle.line in repeat.at_start:
        raise BadRepeatError("was pressed before it began")
    if [edge.on for edge in edges] != [on for _, on in cycle.presses]:
        raise BadRepeatError("was not pressed as ordered: the computer was too slow, or the recorder lost records")
    return edges[0].at_us, edges[cycle.ends_at].at_us


def lag_seen(repeat: SeenRepeat, cycle: MeasuringCycle, lines: LoadLines) -> LagSeen:
    """Return what one repeat shows. Raises BadRepeatError."""
    pressed_us, ended_us = ends_us(repeat, cycle)
    pin_us = {}
    for on in (True, False):
        lag = cycle.pins[lines.output, on]
        pin_us[on] = (pressed_us if lag.by_start else ended_us) + lag.after_us
    # A let-go in the dark of an ac sense counts from when that went dark.
    dark = cycle.pins[lines.output, False].dark
    early_us = EARLY_US + (0.0 if dark is None else dark.longest_us)
    coil_us: dict[bool, int] = {}
    acts_us: dict[bool, int] = {}
    bounced_us = 0
    if lines.coil is not None:
        coil_us, _ = _moves_us(repeat, lines.coil, pin_us, early_us, both=True)
    if lines.acts is not None:
        acts_us, bounced_us = _moves_us(repeat, lines.acts, pin_us, early_us, both=not lines.off_hidden)
    return LagSeen(pressed_us, ended_us, pin_us, coil_us, acts_us, bounced_us)


def _moves_us(
    repeat: SeenRepeat, line: str, pin_us: Mapping[bool, float], early_us: float, both: bool
) -> tuple[dict[bool, int], int]:
    """Return when a line came on and went off, and how long it bounced as it came on.

    early_us: so much before the pin may seem to go off, it may go off.
    """
    edges = repeat.of(line)
    if line in repeat.at_start:
        raise BadRepeatError(f"{line} was on before anything was pressed")
    ons_us = [edge.at_us for edge in edges if edge.on]
    if not ons_us:
        raise BadRepeatError(f"{line} never came on")
    if ons_us[0] < pin_us[True] - EARLY_US:
        raise BadRepeatError(f"{line} came on {(pin_us[True] - ons_us[0]) / 1000:.0f} ms before its cause")
    earliest_us = pin_us[False] - early_us
    by_itself(edges, line, earliest_us)
    moved, bounced_us = {True: ons_us[0]}, _bounced_us(edges, earliest_us)
    if both:
        offs_us = [edge.at_us for edge in edges if not edge.on and edge.at_us >= earliest_us]
        if not offs_us:
            raise BadRepeatError(f"{line} never went off")
        moved[False] = offs_us[0]
    return moved, bounced_us


def by_itself(edges: Sequence[SeenEdge], line: str, until_us: float) -> None:
    """Raise BadRepeatError for a line that goes off, and stays so, before the run can have been ended."""
    for edge, after in pairwise([*edges, None]):
        if edge is None or edge.on or edge.at_us >= until_us:
            continue
        if after is None or after.at_us - edge.at_us > BOUNCES_US:
            raise BadRepeatError(
                f"{line} went off {(until_us - edge.at_us) / 1000:.0f} ms before it was let go: do switches stand as "
                "told, spot and stitch off?"
            )


def _bounced_us(edges: Sequence[SeenEdge], until_us: float) -> int:
    ons_us = [edge.at_us for edge in edges if edge.on and edge.at_us < until_us]
    return ons_us[-1] - ons_us[0] if len(ons_us) > 1 else 0


@dataclass(frozen=True)
class LagEstimates:
    """Every lag of one load, in us, by name: 'relay', 'works', 'whole', each for on and off."""

    lags: Mapping[tuple[str, bool], Estimate]
    bounced_us: int
    """The longest bounce that was seen."""
    left_out: tuple[str, ...]
    """What was thrown out, and why."""


def lags_of(repeats: Sequence[SeenRepeat], cycle: MeasuringCycle, lines: LoadLines) -> LagEstimates:
    """Return the lags of one load from repeats. Those with too few good repeats are not there."""
    seen: dict[int, LagSeen] = {}
    left_out = []
    for number, repeat in enumerate(repeats, 1):
        try:
            seen[number] = lag_seen(repeat, cycle, lines)
        except BadRepeatError as error:
            left_out.append(f"repeat {number}: {error}")
    dark_us = _dark_us(repeats, lines)
    lags: dict[tuple[str, bool], Estimate] = {}
    for name, on in ((name, on) for name in ("relay", "works", "whole") for on in (True, False)):
        values = {number: value for number, one in seen.items() if (value := _value_us(one, name, on)) is not None}
        pin = cycle.pins[lines.output, on]
        dark = None if name == "works" else pin.dark
        least_us = OUTLIER_LEAST + (0.0 if dark is None else 2 * dark.longest_us)
        out = [list(values)[place] for place in thrown_out(list(values.values()), least_us)]
        left_out += [f"repeat {number}: {LAG_WORDS[name, on]} {values[number] / 1000:.1f} ms" for number in out]
        good = [value for number, value in values.items() if number not in out]
        if len(good) >= FEWEST_GOOD:
            lags[name, on] = _estimate(good, name, on, pin, dark_us, lines)
    return LagEstimates(lags, max((one.bounced_us for one in seen.values()), default=0), tuple(left_out))


LAG_WORDS = {
    ("relay", True): "the add-on's relay closes after",
    ("relay", False): "the add-on's relay opens after",
    ("works", True): "pulls in after",
    ("works", False): "drops out after",
    ("whole", True): "on-delay",
    ("whole", False): "off-delay",
}
"""How each lag is told (choice)."""


def _value_us(one: LagSeen, name: str, on: bool) -> float | None:
    begins, ends = {
        "relay": (one.pin_us, one.coil_us),
        "works": (one.coil_us, one.acts_us),
        "whole": (one.pin_us, one.acts_us),
    }[name]
    return None if on not in begins or on not in ends else float(ends[on] - begins[on])


def _dark_us(repeats: Sequence[SeenRepeat], lines: LoadLines) -> float:
    """Return by how much the coil is seen late, on average."""
    if lines.coil is None or not lines.half_period_us:
        return 0.0
    gaps_us = sorted(repeat.gaps_us.get(lines.coil, 0) for repeat in repeats)
    return dark_late_us(min(gaps_us[len(gaps_us) // 2], lines.half_period_us), lines.half_period_us) if gaps_us else 0.0


def _estimate(values: Sequence[float], name: str, on: bool, pin: PinLag, dark_us: float, lines: LoadLines) -> Estimate:
    """Return a lag with the inputs' own lags and what the dark hides taken off."""
    coil, acts = _input_lag(lines.coil_lag, on), _input_lag(lines.acts_lag, on)
    seen_us = coil.mean + (dark_us if on else -dark_us)
    shift_us = {"relay": -seen_us, "works": seen_us - acts.mean, "whole": -acts.mean}[name]
    # Of what was seen, all that made it late is taken off: the pin's own lateness as well, it is counted from there.
    pins = tuple(part.off() for part in pin.parts)
    parts = {
        "relay": (*pins, coil.off(), evenly(dark_us)),
        "works": (coil, acts.off(), evenly(dark_us)),
        "whole": (*pins, acts.off()),
    }[name]
    clock = evenly(CLOCK_SHARE * statistics.fmean(values))
    if name == "works" or pin.dark is None:
        return estimate_of(values, (*parts, clock), shift_us)
    return estimate_behind(values, pin.dark, late=on, parts=(*parts, clock), shift=shift_us)


def _input_lag(lag: AdapterLag, on: bool) -> FixedPart:
    ends_us = lag.on_us if on else lag.off_us
    return lag_part(ends_us) if ends_us[1] > 0 else FixedPart(0.0, 0.0)


def wrong_wiring(repeats: Sequence[SeenRepeat], cycle: MeasuringCycle, lines: LoadLines) -> Iterator[str]:
    """Yield what is likely wired wrong, where no repeat, or hardly one, shows what it should."""
    for line, what in ((lines.coil, "coil"), (lines.acts, "acts")):
        if line is None:
            continue
        never = [one for one in repeats if not one.ons_us(line) and line not in one.at_start]
        always = [one for one in repeats if line in one.at_start]
        if 2 * len(never) > len(repeats):
            yield _NEVER[what].format(line=line_words(line))
        elif 2 * len(always) > len(repeats):
            yield (
                f"{line_words(line)} shows voltage all the time: its adapter hangs on something that is always live, "
                "across a contact instead of across the load, or its wire to recorder common is crossed."
            )
        elif what == "coil" and _slow(repeats, cycle, lines):
            yield (
                f"{line_words(line)} follows the trigger far later than any relay: does every dial stand as told, at "
                "its low end, and every switch? A dial that stands higher is counted as the relay's lag."
            )
        elif 2 * len([one for one in repeats if _early(one, cycle, lines, line)]) > len(repeats):
            yield (
                f"{line_words(line)} comes on before the add-on can have switched it: two inputs are swapped, or it "
                "hangs on another load. Compare with the recorder's wiring, machine off."
            )


_NEVER = {
    "coil": "{line} never shows voltage: is its adapter across the coil itself, of the right kind (24 VAC or dc, "
    "polarity), and does the load click at all? If it clicks, the adapter or its wire is open.",
    "acts": "{line} never comes on: is there voltage behind the contact at all (motor fed, welding voltage or a "
    "meter's battery), does the sensor see its flag, slot or arc (its own lamp shows it), is its polarity right?",
}


def _slow(repeats: Sequence[SeenRepeat], cycle: MeasuringCycle, lines: LoadLines) -> bool:
    slow = 0
    for repeat in repeats:
        try:
            seen = lag_seen(repeat, cycle, lines)
        except BadRepeatError:
            continue
        lags_us = [_value_us(seen, "relay", on) for on in (True, False)]
        slow += any(lag_us is not None and lag_us > LONGEST_RELAY_US for lag_us in lags_us)
    return 2 * slow > len(repeats)


def _early(repeat: SeenRepeat, cycle: MeasuringCycle, lines: LoadLines, line: str) -> bool:
    ons_us = repeat.ons_us(line)
    try:
        pressed_us, ended_us = ends_us(repeat, cycle)
    except BadRepeatError:
        return False
    lag = cycle.pins[lines.output, True]
    return bool(ons_us) and ons_us[0] < (pressed_us if lag.by_start else ended_us) + lag.after_us - EARLY_US


def line_words(line: str) -> str:
    """Return an input of the recorder as its papers call it."""
    one = recorder_input(line)
    return f"Input {one.number} ({one.key.replace('_', ' ')})"
