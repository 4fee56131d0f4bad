"""A run on the pair, judged: each edge claimed and seen against the model, and claimed against seen.

How late an edge is seen has parts that are the same each time: press, relay, adapter. They are taken from the run's own
median, but no further than such parts can reach; what is beyond is late, or early, each time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from bench.compare import (
    CLOCK_STEP_US,
    EDGE_TOLERANCE,
    LONGEST_PASS_US,
    CaseResult,
    Difference,
    Event,
    Tolerance,
    output_word,
)
from bench.recorder.lags import LagSpan, PairLags
from bench.recorder.reading import CaseReading, Follows, WitnessedEdge
from timing.formatting import exact_ms
from timing.protocol.recorder import SAMPLE_US
from timing.sequence.core.engine import Edge
from timing.sequence.core.table import Output

TOO_CLOSE = "The outcome hangs on less than the two boards can be told apart by: it proves nothing. Run it again."


@dataclass(frozen=True)
class UsualLag:
    """How late one kind of edge is seen, over a whole run."""

    output: Output
    on: bool
    cause: Follows
    least_us: int
    typical_us: int
    most_us: int
    count: int
    from_us: int
    """What press, drive and adapter are taken to add, from here to `to_us`: the typical lag where such parts can be
    that late; else, for it is no lag of theirs, all that they can be."""
    to_us: int


@dataclass(frozen=True)
class JudgedEdge:
    """One edge with what is wrong with it."""

    edge: WitnessedEdge
    late_us: int | None
    """Seen against expected, usual lags taken off; None where either is missing."""
    tolerance: Tolerance
    apart_us: int | None
    """Seen against claimed, the usual lag taken off; None where either is missing."""
    apart_allowed_us: int
    seen_trouble: str
    apart_trouble: str


@dataclass(frozen=True)
class JudgedCase:
    """One case: what the board claims, what was seen, and how these fit."""

    reading: CaseReading
    edges: tuple[JudgedEdge, ...]
    seen_troubles: tuple[str, ...]
    apart_troubles: tuple[str, ...]
    inconclusive: bool

    @property
    def name(self) -> str:
        """Its case's."""
        return self.reading.raw.case.name

    @property
    def claims_pass(self) -> bool:
        """True where the board's own trace says nothing against it."""
        return self.reading.claims.passed

    @property
    def result(self) -> CaseResult:
        """All of it as one result of a bench run."""
        claimed, whole = self.reading.claims, [one.late_us for one in self.edges if one.late_us is not None]
        close = (TOO_CLOSE,) if self.inconclusive else ()
        troubles = (
            *(f"Claimed by the board: {trouble}" for trouble in claimed.troubles),
            *self.seen_troubles,
            *self.apart_troubles,
        )
        return replace(
            claimed,
            troubles=close or troubles,
            compared=claimed.compared + len(self.edges),
            earliest_us=min([claimed.earliest_us, *whole]),
            latest_us=max([claimed.latest_us, *whole]),
        )


def usual_lags(readings: Iterable[CaseReading], lags: PairLags) -> tuple[UsualLag, ...]:
    """Return how late each kind of edge is seen in a run, and how much of that press, drive and adapter can be."""
    found = _late_by(readings)
    typical = {kind: round(median(late)) for kind, late in found.items()}
    presses = {cause: _press_span(cause, typical, lags) for cause in Follows}
    return tuple(
        UsualLag(
            output,
            on,
            cause,
            min(late),
            typical[output, on, cause],
            max(late),
            len(late),
            *_taken_for_parts(typical[output, on, cause], presses[cause].plus(lags.outputs[output].of(on))),
        )
        for (output, on, cause), late in sorted(found.items(), key=lambda one: _order(*one[0]))
    )


def _late_by(readings: Iterable[CaseReading]) -> dict[tuple[Output, bool, Follows], list[int]]:
    found: dict[tuple[Output, bool, Follows], list[int]] = defaultdict(list)
    for reading in readings:
        for edge in reading.edges if not reading.too_close else ():
            if edge.whole and edge.on is not None:
                found[edge.output, edge.on, edge.cause].append(edge.late_by_us)
    return found


def sharper_presses(readings: Iterable[CaseReading], lags: PairLags) -> PairLags:
    """Return the lags with what a press adds narrowed by the run: no edge is seen before what it follows has come."""
    typical = {kind: round(median(late)) for kind, late in _late_by(readings).items()}
    return replace(
        lags, press=_press_span(Follows.PRESS, typical, lags), release=_press_span(Follows.RELEASE, typical, lags)
    )


def _order(output: Output, on: bool, cause: Follows) -> tuple[int, bool, int]:
    return output.value, not on, list(Follows).index(cause)


def _press_span(cause: Follows, typical: Mapping[tuple[Output, bool, Follows], int], lags: PairLags) -> LagSpan:
    """Return what a press can add: no more than leaves the earliest of its edges a lag of its own."""
    span = _press_of(cause, lags)
    left = [
        late_us - lags.outputs[output].of(on).least_us
        for (output, on, follows), late_us in typical.items()
        if follows is cause
    ]
    most_us = min([span.most_us, *(max(one, span.least_us) for one in left)])
    return replace(span, most_us=most_us)


def _taken_for_parts(typical_us: int, span: LagSpan) -> tuple[int, int]:
    """Return from where to where a lag is that of its parts; a board's passes come on top of them."""
    if span.least_us - EDGE_TOLERANCE.early_us <= typical_us <= span.most_us + EDGE_TOLERANCE.late_us:
        return typical_us, typical_us
    return span.least_us, span.most_us


def judge_case(reading: CaseReading, usual: Sequence[UsualLag], lags: PairLags) -> JudgedCase:
    """Judge one case, with the usual lags of its run."""
    by_kind = {(one.output, one.on, one.cause): (one.from_us, one.to_us) for one in usual}
    stopped: set[Output] = set()
    judged = []
    for edge in reading.edges:
        if edge.output in stopped:
            continue  # Beyond the first one that differs in kind, the rest says nothing.
        judged.append(_judged(edge, reading, by_kind, lags))
        if not edge.whole:
            stopped.add(edge.output)
    return JudgedCase(
        reading,
        tuple(judged),
        (*reading.troubles, *(one.seen_trouble for one in judged if one.seen_trouble)),
        tuple(one.apart_trouble for one in judged if one.apart_trouble),
        reading.too_close,
    )


def _judged(
    edge: WitnessedEdge,
    reading: CaseReading,
    by_kind: Mapping[tuple[Output, bool, Follows], tuple[int, int]],
    lags: PairLags,
) -> JudgedEdge:
    on = _kind(edge)
    span, press = lags.outputs[edge.output].of(on), _press_of(edge.cause, lags)
    from_us, to_us = by_kind.get((edge.output, on, edge.cause), (span.least_us, span.most_us))
    usual_us = max(from_us, min(edge.late_by_us, to_us)) if edge.whole else from_us
    spread_us = span.spread_us + press.spread_us + SAMPLE_US
    tolerance = Tolerance(
        round(EDGE_TOLERANCE.early_us + spread_us + edge.early_us),
        round(EDGE_TOLERANCE.late_us + spread_us + edge.late_us),
    )
    late_us = edge.late_by_us - usual_us if edge.whole else None
    track = f"Seen by the recorder: {output_word(edge.output)}"
    trouble = ""
    if late_us is None or not tolerance.allows(late_us):
        wanted = _event(edge.expected, usual_us)
        trouble = str(Difference(track, wanted, _event(edge.seen), tolerance)) if _differs(edge) or edge.whole else ""
    apart_us, allowed_us, apart = _apart(edge, reading, span)
    return JudgedEdge(edge, late_us, tolerance, apart_us, allowed_us, trouble, apart)


def _kind(edge: WitnessedEdge) -> bool:
    if edge.on is not None:
        return edge.on
    one = edge.seen or edge.expected or edge.claimed
    return one is not None and one.on


def _differs(edge: WitnessedEdge) -> bool:
    return (edge.expected is None) != (edge.seen is None) or (
        edge.expected is not None and edge.seen is not None and edge.expected.on != edge.seen.on
    )


def _press_of(cause: Follows, lags: PairLags) -> LagSpan:
    return {Follows.PRESS: lags.press, Follows.RELEASE: lags.release, Follows.FORCED: LagSpan(0, 0)}[cause]


def _event(edge: Edge | None, lag_us: int = 0) -> Event | None:
    if edge is None:
        return None
    return Event(edge.at_us + lag_us, edge.on, "comes on" if edge.on else "goes off")


def _apart(edge: WitnessedEdge, reading: CaseReading, span: LagSpan) -> tuple[int | None, int, str]:
    """Return how far seen lies from claimed beyond what the parts between can be, how far it may, and a sentence."""
    word = output_word(edge.output)
    allowed_us = round(reading.within_us + span.spread_us + LONGEST_PASS_US + CLOCK_STEP_US + SAMPLE_US)
    if edge.claimed is None and edge.seen is None:
        return None, allowed_us, ""
    if edge.claimed is None or edge.seen is None or edge.claimed.on != edge.seen.on:
        return None, allowed_us, _one_sided(word, edge)
    lag_us = edge.seen.at_us - edge.claimed.at_us
    apart_us = lag_us - max(span.least_us, min(lag_us, span.most_us))
    if abs(apart_us) <= allowed_us:
        return apart_us, allowed_us, ""
    later = f"{exact_ms(abs(lag_us))} {'later' if lag_us > 0 else 'earlier'}"
    trouble = (
        f"Claimed against seen: {word} {'on' if edge.seen.on else 'off'} is claimed at {exact_ms(edge.claimed.at_us)} "
        f"and seen {later}; drive and adapter take {exact_ms(span.least_us)} to {exact_ms(span.most_us)}, the clocks "
        f"are known to {exact_ms(allowed_us)}."
    )
    return apart_us, allowed_us, trouble


def _one_sided(word: str, edge: WitnessedEdge) -> str:
    if edge.claimed is None or edge.seen is None:
        one, by, other = (
            (edge.seen, "seen by the recorder", "the board says nothing of it")
            if edge.claimed is None
            else (edge.claimed, "claimed by the board", "the recorder did not see it")
        )
        assert one is not None
        return f"Claimed against seen: {word} {'on' if one.on else 'off'} at {exact_ms(one.at_us)} is {by}; {other}."
    return (
        f"Claimed against seen: {word} {'on' if edge.claimed.on else 'off'} is claimed at "
        f"{exact_ms(edge.claimed.at_us)}; seen is {'on' if edge.seen.on else 'off'} at {exact_ms(edge.seen.at_us)}."
    )
