"""Many welds at once: the phase table over NumPy arrays, with the very same instants as one weld alone.

For studies of scatter and for dials swept end to end. The trigger is all that moves: no purge, no faults, no arc
sensor. The phase table is asked once for every combination of phase and conditions; the welds then only look up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from timing.sequence.core.columns import Condition, Time
from timing.sequence.core.engine import Rig
from timing.sequence.core.scan import Inputs, Scan, State
from timing.sequence.core.settings import specialise
from timing.sequence.core.table import TABLE, Phase, Table

Times = NDArray[np.int32]

NEVER = np.int32(2**31 - 1)
LATEST_US = 2**30
"""Instants must stay below this (about 18 min), so that sums fit 32 bits."""
CHUNK = 8192
"""Welds worked on together: what a second-level cache holds."""

# Bits of a combination, above the phase number.
_PHASE_BITS = 4
_CLOSED, _PRESS, _TIME_OVER, _LIMIT_OVER, _AGAIN, _LIMITED, _LET_GO = (1 << (_PHASE_BITS + bit) for bit in range(7))
_COMBINATIONS = 1 << (_PHASE_BITS + 7)
# Bits of an outcome, above the next phase's number.
_RESTART, _BEGIN = 1 << _PHASE_BITS, 1 << (_PHASE_BITS + 1)
_KEPT = _AGAIN | _LIMITED | _LET_GO

_TIMED = {
    Time.PREFLOW: "preflow",
    Time.SPOT: "spot",
    Time.BURNBACK: "burnback",
    Time.POSTFLOW: "postflow",
    Time.PAUSE: "pause",
}


@dataclass(frozen=True)
class Welds:
    """What differs from weld to weld. N welds, K trigger edges each; microseconds."""

    trigger_us: Times
    """Shape (K, N): instants at which the contact closes, opens, closes ... in rising order down each column, further
    apart than the filter time; LATEST_US or later for edges that do not come."""
    times_us: dict[str, Times]
    """Shape (N,) by time name, for times that differ from the rig's; spot times above 0."""


@dataclass(frozen=True)
class Batch:
    """What happened: E events in each of N welds."""

    phase: NDArray[np.uint8]
    """Shape (E, N): phase after each event. A weld at rest repeats its last phase."""
    at_us: Times
    """Shape (E, N): instant of each event; NEVER once the weld is at rest."""


def run_welds(rig: Rig, welds: Welds) -> Batch:
    """Run all welds from idle until they come to rest.

    Raises ValueError for shapes that do not match, instants out of order, too close together or too late, and for a
    stitch that the trigger never ends.
    """
    count = welds.trigger_us.shape[1]
    _refuse_bad_edges(rig, welds)
    table = _outcomes(rig)
    durations_us = _durations(rig, welds, count)
    chunks = [
        _run_chunk(rig, table, welds.trigger_us[:, part], durations_us[:, part])
        for part in (slice(first, first + CHUNK) for first in range(0, count, CHUNK))
    ]
    events = max(len(phase) for phase, _ in chunks)
    phases = np.empty((events, count), np.uint8)
    instants_us = np.full((events, count), NEVER, np.int32)
    first = 0
    for phase, at_us in chunks:
        part = slice(first, first + phase.shape[1])
        phases[: len(phase), part], phases[len(phase) :, part] = phase, phase[-1]
        instants_us[: len(at_us), part] = at_us
        first = part.stop
    return Batch(phases, instants_us)


def _refuse_bad_edges(rig: Rig, welds: Welds) -> None:
    edges_us = welds.trigger_us
    if edges_us.ndim != 2 or any(times.shape != edges_us.shape[1:] for times in welds.times_us.values()):
        raise ValueError("trigger_us must be (K, N), every array of times_us (N,)")
    filter_us, _ = rig.filters_us["trigger"]
    coming = edges_us[1:] < LATEST_US
    if edges_us.size and edges_us.min() < 0:
        raise ValueError("trigger edges before 0")
    if np.any((np.diff(edges_us, axis=0) <= filter_us) & coming):
        raise ValueError(f"trigger edges out of order, or closer together than the filter time, {filter_us} us")
    if any(np.any((times < 0) | (times >= LATEST_US)) for times in welds.times_us.values()):
        raise ValueError(f"times must lie from 0 to below {LATEST_US} us")


def _durations(rig: Rig, welds: Welds, count: int) -> Times:
    """Return the time of each phase in each weld, shape (phases, N); NEVER where no time ends the phase."""
    durations_us = np.full((len(Phase), count), NEVER, np.int32)
    for phase, row in TABLE.items():
        name = _TIMED.get(row.time)
        if name is None or (name == "spot" and not _on(rig, "spot")):
            continue
        off = name in ("preflow", "burnback", "postflow") and not _on(rig, name)
        durations_us[phase] = 0 if off else welds.times_us.get(name, rig.times_us.get(name, 0))
    return durations_us


def _on(rig: Rig, name: str) -> bool:
    return name in rig.times_us and rig.switches[name]


def _run_chunk(
    rig: Rig, outcomes: NDArray[np.uint16], trigger_us: Times, durations_us: Times
) -> tuple[NDArray[np.uint8], Times]:
    edges, count = trigger_us.shape
    filter_us, _ = rig.filters_us["trigger"]
    # A last row of "never" lets every weld run off its edges without a test; one flat array serves plain look-ups.
    seen_us = np.full((edges + 1, count), NEVER, np.int32)
    np.add(trigger_us, np.int32(filter_us), out=seen_us[:edges], where=trigger_us < LATEST_US)
    flat_us, flat_durations_us = seen_us.ravel(), np.ascontiguousarray(durations_us).ravel()
    limit_us = np.int32(min(rig.settings.weld_limit_us or NEVER, NEVER))

    lane = np.arange(count, dtype=np.int32)
    next_edge = lane.copy()
    state = np.full(count, int(Phase.IDLE), np.uint16)
    due_us = np.full(count, NEVER, np.int32)
    limit_due_us = np.full(count, NEVER, np.int32)
    asks_limit = np.isin(np.arange(1 << _PHASE_BITS), _asking(TABLE, Condition.WELD_LIMIT_OVER))
    now_us = np.zeros(count, np.int32)
    phases, instants_us = [], []
    while True:
        edge_us = flat_us[next_edge]
        asked_us = np.where(asks_limit[state & ((1 << _PHASE_BITS) - 1)], limit_due_us, NEVER)
        # A limit that ran out where it is not asked counts as soon as it is.
        at_us = np.maximum(np.minimum(np.minimum(edge_us, due_us), asked_us), now_us)
        if at_us.min() == NEVER:
            break
        live = at_us != NEVER
        at_edge = (edge_us == at_us) & live
        next_edge += at_edge * np.int32(count)
        state ^= at_edge * np.uint16(_CLOSED)
        combination = (
            state
            | (at_edge & (state & _CLOSED != 0)) * np.uint16(_PRESS)
            | ((due_us == at_us) & live) * np.uint16(_TIME_OVER)
            | ((asked_us <= at_us) & live) * np.uint16(_LIMIT_OVER)
        )
        outcome = outcomes[combination]
        phase = outcome & ((1 << _PHASE_BITS) - 1)
        state = (state & _CLOSED) | phase | (outcome & _KEPT)
        restart = outcome & _RESTART != 0
        duration_us = flat_durations_us[phase * np.int32(count) + lane]
        fresh_us = np.where(duration_us == NEVER, NEVER, at_us + np.minimum(duration_us, NEVER - LATEST_US))
        np.copyto(due_us, fresh_us, where=restart & live)
        begin = (outcome & _BEGIN != 0) & live
        np.copyto(limit_due_us, np.minimum(at_us, NEVER - limit_us) + limit_us, where=begin)
        now_us = at_us
        phases.append(phase.astype(np.uint8))
        instants_us.append(at_us)
        if len(phases) > _MOST_EVENTS:
            raise ValueError("a weld does not come to rest: the trigger must open in the end")
    if not phases:
        return np.full((1, count), int(Phase.IDLE), np.uint8), np.full((1, count), NEVER, np.int32)
    return np.array(phases), np.array(instants_us)


_MOST_EVENTS = 10_000


def _asking(table: Table, condition: Condition) -> list[int]:
    """Return the phases that have an exit on `condition`."""
    return [
        int(phase)
        for phase, row in table.items()
        if any(question.condition is condition for way in row.exits for question in way.when)
    ]


def _outcomes(rig: Rig) -> NDArray[np.uint16]:
    """Ask the phase table for every combination of phase and conditions."""
    quiet = dict.fromkeys(
        (
            Condition.INTERLOCK_OPEN,
            Condition.SUPPLY_LOW,
            Condition.SUPPLY_POOR,
            Condition.ARC_STAYS,
            Condition.DIAL_FAULT,
            Condition.PURGE_PRESS,
            Condition.INCH_PRESS,
        ),
        False,
    )
    table = specialise(TABLE, {**quiet, Condition.ARC_ESTABLISHED: True})
    found = np.zeros(_COMBINATIONS, np.uint16)
    for combination in range(_COMBINATIONS):
        phase = combination & ((1 << _PHASE_BITS) - 1)
        if phase in table:
            found[combination] = _outcome(rig, table, combination, phase)
    return found


_NOW_US, _LONG_AGO_US = 1_000_000_000_000, 0


def _outcome(rig: Rig, table: Table, combination: int, phase: int) -> int:
    spot, stitch = _on(rig, "spot"), _on(rig, "pause") and _on(rig, "spot")
    limit_over = bool(combination & _LIMIT_OVER) and rig.settings.weld_limit_us is not None
    state = State(
        phase=phase,
        since_us=_LONG_AGO_US,
        duration_us=1 if combination & _TIME_OVER else 2 * _NOW_US,
        weld_since_us=_LONG_AGO_US if limit_over else _NOW_US,
        spot=spot,
        stitch=stitch,
        four_step=rig.four_step and not spot,
        arc_established=True,
        pressed_again=bool(combination & _AGAIN),
        let_go=bool(combination & _LET_GO),
        limited=bool(combination & _LIMITED),
    )
    inputs = Inputs(trigger=bool(combination & _CLOSED), spot=spot, stitch=stitch, four_step=rig.four_step)
    one = Scan(table, rig.settings, state, inputs, _NOW_US)
    one.press = bool(combination & _PRESS)
    state.weld_since_us = _LONG_AGO_US if limit_over else _NOW_US - 1
    moved = one.take_exit()
    weld_since_us = state.weld_since_us
    # What is left of the press may serve in the phase just entered; times there count as not yet over, and a zero
    # time ends in an event of its own at the same instant.
    while moved and one.press:
        state.since_us, state.duration_us = _NOW_US, 1
        if not one.take_exit():
            break
    return (
        int(state.phase)
        | (_RESTART if moved else 0)
        | (_BEGIN if weld_since_us == _NOW_US else 0)
        | (_AGAIN if state.pressed_again else 0)
        | (_LET_GO if state.let_go else 0)
        | (_LIMITED if state.limited else 0)
    )
