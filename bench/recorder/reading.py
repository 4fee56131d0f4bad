"""One case as both boards told of it, read: what the model expects, what was claimed and what was seen, edge by edge.

All instants are on the add-on's clock, from the case's start. The model runs from the recorder's own stamps of its
presses, filters and all; what was forced over the link stands where the add-on says that it took effect.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum
from itertools import zip_longest
from statistics import median

from bench.cases import Case
from bench.compare import EDGE_TOLERANCE, CaseResult, Record, compare, observe
from bench.forcing import rig_as_forced
from bench.random_course import too_close
from bench.recorder.clocks import ClockMap, ClockRatio, Meeting, map_of
from bench.recorder.lags import PairLags
from bench.recorder.monitor import PRESS_LINE, LineEdge
from timing.formatting import exact_ms
from timing.protocol.recorder import SAMPLE_US
from timing.protocol.target import OUTPUT_BIT, Target
from timing.sequence.core.engine import Edge, Timeline, run_script
from timing.sequence.core.filters import ContactFilter
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Output

PRESSED = tuple(PRESS_LINE)
"""Contacts that the recorder presses."""
_SHIFT_US = 200
"""How far causes are moved to find which edges follow them."""


class Follows(Enum):
    """What an edge follows."""

    PRESS = "a press"
    RELEASE = "letting go"
    FORCED = "a forced input"


@dataclass(frozen=True)
class RawCase:
    """One case as it was played."""

    case: Case
    start: Record
    """How the add-on stood; its instant on its own clock, unwrapped."""
    records: tuple[Record, ...]
    """Of the add-on's trace, counted from the start."""
    forced: tuple[tuple[Change, int], ...]
    """Forced changes as they took effect, from the start, each with how much later that may have been."""
    edges: tuple[LineEdge, ...]
    """Of the recorder, on its own clock."""
    meetings: tuple[Meeting, ...]
    took_us: int
    troubles: tuple[str, ...]
    """What makes it worthless, or stood at rest."""


@dataclass(frozen=True)
class WitnessedEdge:
    """One edge of one output: expected by the model, claimed by the add-on, seen by the recorder; some may be missing.

    expected_us is that of the pin, without any lag.
    """

    output: Output
    on: bool | None
    """None where the three are not of one kind."""
    expected: Edge | None
    claimed: Edge | None
    seen: Edge | None
    cause: Follows
    early_us: float = 0.0
    """What clocks and windows leave open, beyond lags and passes."""
    late_us: float = 0.0

    @property
    def whole(self) -> bool:
        """True where the model expected it and the recorder saw it."""
        return self.on is not None and self.expected is not None and self.seen is not None

    @property
    def late_by_us(self) -> int:
        """How much later it was seen than expected. Only where it is whole."""
        assert self.seen is not None
        assert self.expected is not None
        return self.seen.at_us - self.expected.at_us


@dataclass(frozen=True)
class CaseReading:
    """One case, read."""

    raw: RawCase
    claims: CaseResult
    """The add-on's own trace against the model."""
    predicted: Timeline
    """From the recorder's presses."""
    edges: tuple[WitnessedEdge, ...]
    presses: tuple[Change, ...]
    """As the recorder stamped them."""
    within_us: float
    """How far the two clocks may be apart."""
    common: tuple[Meeting, ...]
    """Presses that both boards told of, as instants on both clocks; the add-on's without its filter."""
    troubles: tuple[str, ...]
    """Of presses that the add-on took otherwise than they were."""
    too_close: bool
    """True where the outcome hangs on less than can be told; such a run proves nothing."""


def filtered(changes: Iterable[tuple[int, bool]], filter_us: int, bridge_us: int) -> list[tuple[int, bool]]:
    """Return when a contact counts as closed and as open again, for its raw changes in order of time."""
    contact, raw, found = ContactFilter(filter_us, bridge_us), False, []

    def read(at_us: int) -> None:
        before = contact.closed
        if contact.read(raw, at_us) != before:
            found.append((at_us, contact.closed))

    for at_us, closed in changes:
        while (due_us := contact.deadline_us(raw)) is not None and due_us < at_us:
            read(due_us)
        read(at_us)
        raw = closed
        read(at_us)
    while (due_us := contact.deadline_us(raw)) is not None:
        read(due_us)
    return found


def wired_outputs(target: Target) -> list[Output]:
    """Return the outputs that have a pin."""
    return [Output(bit) for role, bit in OUTPUT_BIT.items() if role in target.fitted]


def pressed_contacts(target: Target) -> tuple[str, ...]:
    """Return the contacts of a design that the recorder can press."""
    return tuple(what for what in PRESSED if what in target.fitted)


def claims(target: Target, raw: RawCase) -> CaseResult:
    """Hold the add-on's trace against the model, presses at the instants at which it says that it saw them."""
    changes = [change for change, _ in raw.forced]
    resets = [change for change in changes if change.what == "reset"]
    seen = _presses_claimed(target, raw)
    # Its filters start anew with it: what was pressed is not seen for a while.
    open_again = [Change(reset.at_us, what, 0) for reset in resets for what in pressed_contacts(target)]
    script = Script(tuple(sorted([*changes, *open_again, *seen], key=lambda change: change.at_us)))
    rig = rig_as_forced(target)
    rig = replace(rig, filters_us=dict(rig.filters_us) | dict.fromkeys(pressed_contacts(target), (0, 0)))
    predicted = run_script(rig, replace(script, end_us=raw.case.script.end_us), fault=raw.start.fault)
    observed = observe(replace(raw.start, at_us=0), raw.records, wired_outputs(target))
    comparison = compare(predicted, raw.forced, observed, EDGE_TOLERANCE)
    return CaseResult(
        raw.case.name,
        raw.case.title,
        (*raw.troubles, *map(str, comparison.differences)),
        comparison.compared,
        comparison.earliest_us,
        comparison.latest_us,
        raw.took_us,
        predicted,
        observed,
    )


def _presses_claimed(target: Target, raw: RawCase) -> list[Change]:
    found, before = [], raw.start
    for record in raw.records:
        found += [
            Change(record.at_us, what, int(record.sees(what)))
            for what in pressed_contacts(target)
            if record.sees(what) != before.sees(what)
        ]
        before = record
    return found


def expected_course(target: Target, raw: RawCase, ratio: ClockRatio) -> Timeline:
    """Return what the model expects of a case, as far as its presses and forced inputs are known by now."""
    near_us = raw.meetings[0].recorder_from_us
    script = _script(target, raw, map_of(raw.meetings, ratio, near_us), _Shift())
    return run_script(rig_as_forced(target), script, fault=raw.start.fault)


def read_case(target: Target, raw: RawCase, ratio: ClockRatio, lags: PairLags) -> CaseReading:
    """Read one case. The clocks meet where both were asked; the presses that both know of narrow that down."""
    near_us = raw.edges[0].at_us if raw.edges else raw.meetings[0].recorder_from_us
    meets = map_of(raw.meetings, ratio, near_us)
    troubles: list[str] = []
    common: list[Meeting] = []
    for matched in [_matched(target, raw, meets, what) for what in pressed_contacts(target)]:
        meets, trouble = _narrowed(raw, meets, matched, lags)
        troubles += [trouble] if trouble else []
        common += _common(raw, matched, lags)
    reading = _read(target, raw, ratio, lags, meets)
    return replace(reading, common=tuple(common), troubles=tuple(troubles))


def _presses(target: Target, raw: RawCase, meets: ClockMap, what: str) -> list[tuple[int, bool]]:
    line = PRESS_LINE[what]
    return [
        (round(meets.to_board(edge.at_us) - raw.start.at_us), edge.on)
        for edge in raw.edges
        if edge.line == line and what in target.fitted
    ]


@dataclass(frozen=True)
class _Matched:
    """The presses of one contact, as the recorder made them and as the add-on says that it saw them."""

    what: str
    told: tuple[tuple[float, int, bool], ...]
    """The recorder's stamp, the add-on's instant less its filter (counted from the start), and to what."""
    trouble: str = ""


def _matched(target: Target, raw: RawCase, meets: ClockMap, what: str) -> _Matched:
    if any(change.what == "reset" for change, _ in raw.forced):
        return _Matched(what, ())  # Its filters began anew: what it saw when says nothing.
    filter_us, bridge_us = target.rig.filters_us[what]
    expected = filtered(_presses(target, raw, meets, what), filter_us, bridge_us)
    told = [change for change in _presses_claimed(target, raw) if change.what == what]
    if [on for _, on in expected] != [bool(change.value) for change in told]:
        return _Matched(
            what,
            (),
            f"The recorder closed the {what}'s contact long enough {_times(on for _, on in expected)}; the board says "
            f"that it saw it {_times(bool(change.value) for change in told)}.",
        )
    # A filter counts from the press, or from letting go, as long as the contact did not change meanwhile.
    stamps = [
        (meets.from_board(due_us - filter_us + raw.start.at_us), change.at_us - filter_us, on)
        for (due_us, on), change in zip(expected, told, strict=True)
    ]
    return _Matched(what, tuple(stamps))


def _narrowed(raw: RawCase, meets: ClockMap, matched: _Matched, lags: PairLags) -> tuple[ClockMap, str]:
    """Return the map narrowed by presses, and what speaks against the add-on's account of them."""
    least_us, most_us, apart = -meets.within_us, meets.within_us, []
    for stamp_us, told_us, on in matched.told:
        lag = lags.press if on else lags.release
        apart.append(told_us + raw.start.at_us - meets.to_board(stamp_us))
        least_us = max(least_us, apart[-1] - lag.most_us - EDGE_TOLERANCE.late_us)
        most_us = min(most_us, apart[-1] - lag.least_us + EDGE_TOLERANCE.early_us + SAMPLE_US)
    if (narrowed := meets.narrowed(least_us, most_us)) is not None:
        return narrowed, matched.trouble
    late_us = round(median(apart))
    return meets, (
        f"The board saw the {matched.what} {exact_ms(abs(late_us))} {'later' if late_us > 0 else 'earlier'} than its "
        "filter lets it after the recorder's press: the filter, or what the board tells of it, is wrong."
    )


def _common(raw: RawCase, matched: _Matched, lags: PairLags) -> list[Meeting]:
    return [
        Meeting(
            stamp_us - SAMPLE_US,
            stamp_us,
            told_us + raw.start.at_us - lag.most_us - EDGE_TOLERANCE.late_us,
            told_us + raw.start.at_us - lag.least_us + EDGE_TOLERANCE.early_us,
        )
        for stamp_us, told_us, on in matched.told
        for lag in (lags.press if on else lags.release,)
    ]


def _times(closed: Iterable[bool]) -> str:
    count = sum(closed)
    return "once" if count == 1 else f"{count} times"


@dataclass(frozen=True)
class _Shift:
    """How far causes are moved, in microseconds, and how much faster the clocks are taken to be."""

    press_us: int = 0
    release_us: int = 0
    forced_us: int = 0
    share: float = 0.0


def _script(target: Target, raw: RawCase, meets: ClockMap, shift: _Shift) -> Script:
    changes = [replace(change, at_us=change.at_us + shift.forced_us) for change, _ in raw.forced]
    for what in pressed_contacts(target):
        for at_us, on in _presses(target, raw, meets, what):
            moved_us = shift.press_us if on else shift.release_us
            changes.append(Change(max(round(at_us * (1 + shift.share)) + moved_us, 0), what, int(on)))
    return Script(tuple(sorted(changes, key=lambda change: change.at_us)), raw.case.script.end_us)


def _read(
    target: Target,
    raw: RawCase,
    ratio: ClockRatio,
    lags: PairLags,
    meets: ClockMap,
) -> CaseReading:
    rig, claimed = rig_as_forced(target), claims(target, raw)
    shifts = {
        Follows.PRESS: _Shift(press_us=_SHIFT_US),
        Follows.RELEASE: _Shift(release_us=_SHIFT_US),
        Follows.FORCED: _Shift(forced_us=_SHIFT_US),
        None: _Shift(share=ratio.uncertainty),
    }
    script = _script(target, raw, meets, _Shift())
    predicted = run_script(rig, script, fault=raw.start.fault)
    moved = {
        cause: run_script(rig, _script(target, raw, meets, shift), fault=raw.start.fault)
        for cause, shift in shifts.items()
    }
    slack_us = round(EDGE_TOLERANCE.early_us + EDGE_TOLERANCE.late_us + lags.press.most_us + meets.within_us)
    edges: list[WitnessedEdge] = []
    for output in wired_outputs(target):
        edges += _edges_of(output, raw, claimed, predicted, moved, meets, ratio)
    return CaseReading(
        raw,
        claimed,
        predicted,
        tuple(edges),
        tuple(change for change in script.changes if change.what in PRESSED),
        meets.within_us,
        (),
        (),
        too_close(rig, script, raw.start.fault, slack_us),
    )


def _edges_of(
    output: Output,
    raw: RawCase,
    claimed: CaseResult,
    predicted: Timeline,
    moved: dict[Follows | None, Timeline],
    meets: ClockMap,
    ratio: ClockRatio,
) -> Iterable[WitnessedEdge]:
    role = next(role for role, bit in OUTPUT_BIT.items() if bit == output.value)
    seen = [
        Edge(round(meets.to_board(edge.at_us) - raw.start.at_us), output, edge.on)
        for edge in raw.edges
        if edge.line == role
    ]
    told = claimed.seen.edges[output] if claimed.seen is not None else ()
    courses = {cause: timeline.edges_of(output) for cause, timeline in moved.items()}
    for place, (wanted, said, saw) in enumerate(zip_longest(predicted.edges_of(output), told, seen)):
        kinds = {edge.on for edge in (wanted, said, saw) if edge is not None}
        by_us = {
            cause: course[place].at_us - wanted.at_us if wanted is not None and place < len(course) else 0
            for cause, course in courses.items()
        }
        cause = max(Follows, key=lambda one: by_us[one])
        at_us = min(edge.at_us for edge in (wanted, said, saw) if edge is not None)
        # From cause to effect both clocks count: what the ratio leaves open of that.
        open_us = abs(at_us * ratio.uncertainty - by_us[None])
        window_us = 0
        if cause is Follows.FORCED:
            open_us += meets.within_us
            window_us = max((width for change, width in raw.forced if change.at_us <= at_us), default=0)
        yield WitnessedEdge(
            output, kinds.pop() if len(kinds) == 1 else None, wanted, said, saw, cause, open_us, open_us + window_us
        )
