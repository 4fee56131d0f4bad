"""Many welds at once: the phase table over NumPy arrays, with the very same instants as one weld alone.

A reading of the table of its own, for tests and for studies of scatter and of dials swept end to end; no command calls
it, so it is not shipped. The trigger is all that moves: no purge, no faults, no arc sensor. The phase table is asked
once for every combination of phase and conditions; the welds then only look up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from timing.sequence.core.columns import Condition, Dialled, Time
from timing.sequence.core.engine import Rig
from timing.sequence.core.scan import Inputs, Scan, State
from timing.sequence.core.settings import specialise
from timing.sequence.core.table import TABLE, Phase, Table

Times = NDArray[np.int32]

NEVER = np.int32(2**31 - 1)
LATEST_US = 2**30
"""Instants must stay below this (about 18 min), so that sums of two fit 32 bits."""
CHUNK = 16384
"""Welds worked on together: what a second-level cache holds."""

# A lane's state is a byte: the phase, whether the contact is closed, and three flags that are kept.
_PHASE = 0x0F
_CLOSED, _AGAIN, _LIMITED, _LET_GO = 0x10, 0x20, 0x40, 0x80
# What comes to pass is the byte above it.
_EDGE, _TIME_OVER, _LIMIT_OVER = 0x100, 0x200, 0x400
_COMBINATIONS = 0x800
# An outcome is the next state, and above it what follows.
_RESTART, _BEGIN, _ASKS_LIMIT = 0x1, 0x2, 0x4
# Later than NEVER, so that what never comes is never found to be due.
_PAST_NEVER = np.uint32(2**31)
_MOST_EVENTS = 10_000


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
    _refuse_bad_edges(rig, welds)
    count = welds.trigger_us.shape[1]
    outcomes, durations_us = _outcomes(rig), _durations(rig, welds)
    chunks = [
        _run_chunk(rig, outcomes, welds.trigger_us[:, part], _part_of(durations_us, part))
        for part in (slice(first, first + CHUNK) for first in range(0, count, CHUNK))
    ]
    events = max(len(phases) for phases, _ in chunks)
    phases = np.empty((events, count), np.uint8)
    instants_us = np.empty((events, count), np.int32)
    first = 0
    for states, at_us in chunks:
        part = slice(first, first + len(states[0]))
        for event, (state, now_us) in enumerate(zip(states, at_us, strict=True)):
            np.bitwise_and(state, _PHASE, out=phases[event, part])
            instants_us[event, part] = now_us
        phases[len(states) :, part] = phases[len(states) - 1, part]
        instants_us[len(states) :, part] = NEVER
        first = part.stop
    return Batch(phases, instants_us)


def _part_of(durations_us: list[NDArray[np.uint32]], part: slice) -> list[NDArray[np.uint32]]:
    return [one[part] if one.ndim else one for one in durations_us]


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


def _durations(rig: Rig, welds: Welds) -> list[NDArray[np.uint32]]:
    """Return the time of each phase: one for all welds, or shape (N,); NEVER where no time ends the phase."""
    return [np.asarray(_duration(rig, welds, TABLE[phase].time)).astype(np.uint32) for phase in Phase]


def _duration(rig: Rig, welds: Welds, time: Time) -> Times | int:
    lasts = time.lasts
    if not isinstance(lasts, Dialled) or (time is Time.SPOT and not _on(rig, lasts.name)):
        return int(NEVER)
    if lasts.off_is_zero and not _on(rig, lasts.name):
        return 0
    return welds.times_us.get(lasts.name, rig.times_us.get(lasts.name, 0))


def _on(rig: Rig, name: str) -> bool:
    return name in rig.times_us and rig.switches[name]


def _run_chunk(
    rig: Rig, outcomes: NDArray[np.uint16], trigger_us: Times, durations_us: list[NDArray[np.uint32]]
) -> tuple[list[NDArray[np.uint8]], list[NDArray[np.uint32]]]:
    """Return the state and the instant after each event; at least one, and none in which nothing happens."""
    seen_us = _edges_seen(rig, trigger_us)
    count = trigger_us.shape[1]
    next_edge = np.arange(0, seen_us.size, seen_us.shape[1], dtype=np.intp)
    flat_us, last_us = seen_us.ravel(), _Durations(durations_us, outcomes, count)
    limit_us = rig.settings.weld_limit_us
    # State below, what comes to pass above: together the number of a combination.
    combination = np.zeros((count, 2), np.uint8)
    combination[:, 0] = int(Phase.IDLE)
    number = combination.view("<u2").ravel()
    due_us, limit_due_us = np.full(count, _PAST_NEVER), np.full(count, _PAST_NEVER)
    asked_us = limit_due_us
    now_us: NDArray[np.uint32] = np.zeros(count, np.uint32)
    states, instants_us = [], []
    while True:
        edge_us = flat_us.take(next_edge)
        at_us = np.minimum(edge_us, due_us)
        if limit_us is not None:
            # A limit that ran out where it is not asked counts as soon as it is.
            np.maximum(np.minimum(at_us, asked_us, out=at_us), now_us, out=at_us)
        np.minimum(at_us, np.uint32(NEVER), out=at_us)
        if at_us.min() == NEVER:
            break
        at_edge = edge_us == at_us
        next_edge += at_edge
        happens = (due_us == at_us).view(np.uint8) << 1
        happens |= at_edge.view(np.uint8)
        if limit_us is not None:
            happens |= (asked_us <= at_us).view(np.uint8) << 2
        combination[:, 1] = happens
        which = number.astype(np.intp)
        outcome = outcomes.take(which)
        state, follows = outcome.astype(np.uint8), (outcome >> 8).astype(np.uint8)
        fresh_us = np.minimum(at_us + last_us.of(which, state), _PAST_NEVER)
        due_us = np.where((follows & _RESTART).view(bool), fresh_us, due_us)
        if limit_us is not None:
            begins = (follows >> 1 & 1).view(bool)
            limit_due_us = np.where(begins, np.minimum(at_us + np.uint32(limit_us), _PAST_NEVER), limit_due_us)
            asked_us = np.where((follows >> 2).view(bool), limit_due_us, _PAST_NEVER)
        combination[:, 0] = state
        now_us = at_us
        states.append(state)
        instants_us.append(at_us)
        if len(states) > _MOST_EVENTS:
            raise ValueError("a weld does not come to rest: the trigger must open in the end")
    if not states:
        return [combination[:, 0].copy()], [np.full(count, NEVER, np.uint32)]
    return states, instants_us


def _edges_seen(rig: Rig, trigger_us: Times) -> NDArray[np.uint32]:
    """Return when the filter shows each edge, shape (N, K + 1): a last one that never comes ends every row."""
    filter_us, _ = rig.filters_us["trigger"]
    edges, count = trigger_us.shape
    seen_us = np.full((count, edges + 1), _PAST_NEVER)
    np.add(trigger_us.T, filter_us, out=seen_us[:, :edges], where=trigger_us.T < LATEST_US, casting="unsafe")
    return seen_us


class _Durations:
    """The time of the phase that each lane has just entered."""

    def __init__(self, by_phase: list[NDArray[np.uint32]], outcomes: NDArray[np.uint16], count: int) -> None:
        # Where all welds have the same times, the number of the combination says it; else phase and lane do.
        self._shared = all(one.ndim == 0 for one in by_phase)
        each = np.array([np.broadcast_to(one, count) for one in by_phase])
        self._flat = np.array([int(one) for one in by_phase], np.uint32) if self._shared else each.ravel()
        if self._shared:
            phases = outcomes & _PHASE
            self._flat = self._flat[np.minimum(phases, len(by_phase) - 1)]
        self._count = count
        self._lane = np.arange(count, dtype=np.intp)

    def of(self, which: NDArray[np.intp], state: NDArray[np.uint8]) -> NDArray[np.uint32]:
        """Return the durations after the combinations `which`, which lead to `state`."""
        if self._shared:
            return self._flat.take(which)
        return self._flat.take((state & _PHASE).astype(np.intp) * self._count + self._lane)


def _asking(table: Table, condition: Condition) -> list[int]:
    """Return the phases that have an exit on `condition`."""
    return [
        int(phase)
        for phase, row in table.items()
        if any(question.condition is condition for transition in row.transitions for question in transition.when)
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
        phase = combination & _PHASE
        if phase in table:
            found[combination] = _outcome(rig, table, combination, phase)
    asking = np.isin(found & _PHASE, _asking(TABLE, Condition.WELD_LIMIT_OVER))
    return found | np.where(asking, _ASKS_LIMIT << 8, 0).astype(np.uint16)


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
    closed = bool(combination & _CLOSED) != bool(combination & _EDGE)
    inputs = Inputs(trigger=closed, spot=spot, stitch=stitch, four_step=rig.four_step)
    one = Scan(table, rig.settings, state, inputs, _NOW_US)
    one.press = closed and bool(combination & _EDGE)
    state.weld_since_us = _LONG_AGO_US if limit_over else _NOW_US - 1
    moved = one.take_transition()
    weld_since_us = state.weld_since_us
    # What is left of the press may serve in the phase just entered; times there count as not yet over, and a zero
    # time ends in an event of its own at the same instant.
    while moved and one.press:
        state.since_us, state.duration_us = _NOW_US, 1
        if not one.take_transition():
            break
    follows = (_RESTART if moved else 0) | (_BEGIN if weld_since_us == _NOW_US else 0)
    return (
        follows << 8
        | int(state.phase)
        | (_CLOSED if closed else 0)
        | (_AGAIN if state.pressed_again else 0)
        | (_LET_GO if state.let_go else 0)
        | (_LIMITED if state.limited else 0)
    )
