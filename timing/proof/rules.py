"""What must always be true, as data: a name, a sentence for people, and an observer that follows every pass.

An observer gets what it remembers and one pass; it returns what it remembers from then on, and whether the pass broke
the rule. It judges by inputs, outputs, phases and timers, and keeps its own memory of history: it does not trust the
flags that the sequence keeps for itself. (Trigger mode, spot and stitch are what was latched: those it has to ask.)
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, NamedTuple

from timing.design.times import LONGEST_BURNBACK_US, LONGEST_COMPLETED_SPOT_US
from timing.proof.step import CONTACTOR, GAS, WELDING, WIRE, Step
from timing.sequence.core.scan import contactor_on
from timing.sequence.core.table import Fault, Phase

Observer = Callable[[Any, Step], tuple[Any, bool]]


@dataclass(frozen=True)
class ProofRule:
    """Something that must hold in every pass."""

    name: str
    sentence: str
    observe: Observer
    at_power_up: Hashable = None
    """What the observer remembers when the board has just started."""
    at_rest: Hashable = None
    """What it remembers of a board switched on long ago and left alone."""


@dataclass(frozen=True)
class LivenessRule:
    """Something that must come about in the end."""

    name: str
    sentence: str


@dataclass(frozen=True)
class Never:
    """An observer that needs no memory: what must not be in any pass."""

    broken: Callable[[Step], bool]

    def __call__(self, memory: Any, step: Step) -> tuple[Any, bool]:
        """Return the memory as it was, and whether `step` breaks the rule."""
        return memory, self.broken(step)


def _contactor_without_gas(step: Step) -> bool:
    return step.outputs & (CONTACTOR | GAS) == CONTACTOR


def _one_alone(step: Step) -> bool:
    wire, contactor = step.outputs & WIRE, step.outputs & CONTACTOR
    if contactor and not wire:
        return step.after.phase != Phase.BURNBACK
    return bool(wire and not contactor and step.after.phase != Phase.INCH)


def _on_despite_fault(step: Step) -> bool:
    return step.immediate and (step.outputs != 0 or step.after.phase != Phase.HOLD_OFF)


def _ends_in_an_impossible_state(step: Step) -> bool:
    return not step.impossible and step.after.fault == Fault.STATE


def _seen_open(unseen: bool, step: Step) -> tuple[bool, bool]:
    unseen = step.immediate or (unseen and not step.seen.all_open)
    return unseen, unseen and step.outputs != 0


class _Waited(NamedTuple):
    """What hold-off has waited for. The clock is the phase's own: what counts is that it was started late enough."""

    well: bool = False
    """The time runs since all has been well, without a break."""
    settled: bool = False
    """It ran out."""
    open: bool = False
    """The time runs since, then, everything has been open, without a break."""


def _waits_in_hold_off(waited: _Waited, step: Step) -> tuple[_Waited, bool]:
    before, after, settings = step.before, step.after, step.model.settings
    if step.seen.unwell:
        return _Waited(), before.phase == Phase.HOLD_OFF != after.phase
    held = before.phase == Phase.HOLD_OFF
    settled = waited.settled or (held and waited.well and step.over.time)
    left = held and len(step.path) > 1
    broken = left and not (settled and waited.open and step.over.time and step.seen.all_open)
    if after.phase != Phase.HOLD_OFF:
        return _Waited(), broken
    started = not held or before.since_us != after.since_us
    well = waited.well or (started and after.duration_us >= settings.settle_us)
    opened = waited.open or (settled and started and after.duration_us >= settings.open_us)
    return _Waited(well, held and settled, opened and step.seen.all_open), broken


class _Press(IntEnum):
    """The press that the trigger's present closing began with."""

    NONE = 0
    SERVED = 1
    FRESH = 2
    STOPPED = 3
    """It ended a weld, or a four-step weld that was about to begin."""


_Presses = tuple[bool, _Press]


def _fresh_press(memory: _Presses, step: Step) -> tuple[_Presses, bool]:
    """Follow the trigger: whether it was closed in the last pass, and which press it is closed by."""
    was_closed, press = memory
    closed, four_step = step.seen.trigger, step.after.four_step
    if closed and not was_closed:
        in_preflow = step.before.four_step and step.before.phase == Phase.PREFLOW
        press = _Press.STOPPED if in_preflow or step.before.phase == Phase.WELD else _Press.FRESH
    # Four-step: the trigger may be let go while the gas flows ahead.
    elif not closed and not (four_step and Phase.PREFLOW in step.path):
        press = _Press.NONE
    broken = False
    for came in step.entered(Phase.WELD):
        if came == Phase.PAUSE:
            broken |= not closed or press in (_Press.NONE, _Press.STOPPED)
        else:
            broken |= press is not _Press.FRESH or not (closed or four_step)
            press = _Press.SERVED
    return (closed, press), broken


def _on_a_broken_dial(step: Step) -> bool:
    return step.seen.dial and bool(step.entered(Phase.WELD))


def _outlives_its_time(step: Step) -> bool:
    over, after, table = step.over_after, step.after, step.model.table
    phase = after.phase
    ends_by_time = phase in _TIMED or (phase == Phase.WELD and after.spot and after.arc_established)
    waits_for_nothing = phase == Phase.HOLD_OFF and after.settled and after.seen_open
    if phase not in table:
        return True
    return (
        ((ends_by_time or waits_for_nothing) and over.time)
        or (phase in (Phase.WELD, Phase.PAUSE) and over.weld_limit)
        or (phase == Phase.WELD and not after.arc_established and over.arc_limit)
    )


_TIMED = frozenset({Phase.PREFLOW, Phase.BURNBACK, Phase.POSTFLOW, Phase.PAUSE, Phase.PURGE, Phase.INCH})


def _counts_anew(step: Step) -> bool:
    before, after = step.before, step.after
    moved = len(step.path) > 1
    arc_came = step.path[0] == Phase.WELD and after.arc_established and not before.arc_established
    counts_anew = before.since_us != after.since_us and not arc_came
    taken_over_anew = before.duration_us != after.duration_us
    if (counts_anew or taken_over_anew) and not moved and after.phase != Phase.HOLD_OFF:
        return True
    first_start = any(came != Phase.PAUSE for came in step.entered(Phase.WELD))
    weld_anew = before.weld_since_us != after.weld_since_us
    return weld_anew != first_start and step.model.settings.weld_limit_us is not None


def _mode_moves(step: Step) -> bool:
    after = step.after
    return (after.four_step, after.spot, after.stitch) != step.seen.mode


def _welds_on(was_closed: bool, step: Step) -> tuple[bool, bool]:
    """Remember whether the trigger was closed in the last pass."""
    before, after, closed = step.before, step.after, step.seen.trigger
    welds = step.outputs & WELDING == WELDING
    may_complete = step.model.settings.completes and after.spot and after.arc_established
    released = not after.four_step and not closed and not may_complete
    stopped = before.four_step and before.phase == Phase.WELD and closed and not was_closed
    return closed, welds and (released or stopped)


def _button_let_go(step: Step) -> bool:
    purges, inches = step.after.phase == Phase.PURGE, step.after.phase == Phase.INCH
    return (purges and not step.seen.purge) or (inches and not step.seen.inch)


_Arc = tuple[bool, bool]


def _arc_unseen(memory: _Arc, step: Step) -> tuple[_Arc, bool]:
    """Remember whether the arc was sensed in this weld, and whether it was seen open since the contactor was off."""
    sensed, opened = memory
    sensed = step.seen.arc or (sensed and not step.entered(Phase.WELD))
    opened = (opened or step.seen.arc_open) and not _contactor_goes_off(step)
    fitted = step.model.settings.arc_sensor
    established = fitted and step.after.phase == Phase.WELD and step.after.arc_established
    return (sensed, opened), established and not (sensed and opened)


def _contactor_goes_off(step: Step) -> bool:
    if len(step.path) == 1:
        return False
    on = [contactor_on(step.model.table, phase) for phase in step.path]
    return any(was and not now for was, now in itertools.pairwise(on))


def _arc_overlooked(step: Step) -> bool:
    """Tell whether an arc that stays is not answered and shown, or time is not kept of the contactor being off."""
    if step.seen.arc_stays:
        shown = step.after.fault == Fault.ARC_STAYS or step.before.phase == Phase.HOLD_OFF
        return step.outputs != 0 or step.after.phase != Phase.HOLD_OFF or not shown
    if not step.model.settings.arc_end_us:
        return False
    if step.outputs_before & CONTACTOR:
        return step.over_after.arc_end
    return step.over.arc_end and not step.over_after.arc_end


def _spot_goes_on(was_closed: bool, step: Step) -> tuple[bool, bool]:
    """Remember whether the trigger was closed in the last pass."""
    before, after, closed = step.before, step.after, step.seen.trigger
    two_step = before.phase == Phase.WELD and not before.four_step
    pressed = two_step and closed and not was_closed and step.outputs & WELDING == WELDING
    timed = after.phase == Phase.WELD and after.spot and not after.four_step
    unstruck = timed and not closed and not after.arc_established
    settings = step.model.settings
    too_long = timed and settings.completes and settings.longest_us["spot"] > LONGEST_COMPLETED_SPOT_US
    return closed, bool(pressed or unstruck or too_long)


def _on_while_open(spent_us: int | None, step: Step) -> tuple[int | None, bool]:
    """Remember for how long the contactor may be on with the trigger open all the time; None while it is not so."""
    after, settings = step.after, step.model.settings
    on = step.outputs & CONTACTOR and not step.seen.trigger
    if not on or (after.four_step and after.phase == Phase.WELD):
        return None, False
    if spent_us is not None and len(step.path) == 1 and step.before.since_us == after.since_us:
        return spent_us, False
    burnback_us = settings.longest_us["burnback"]
    spot_us = settings.longest_us["spot"] if settings.completes and after.spot else 0
    completes = after.phase == Phase.WELD and after.arc_established and spot_us > 0
    if after.phase != Phase.BURNBACK and not completes:
        return spent_us, True
    longest_us = spot_us if completes else burnback_us
    spent_us = (spent_us or 0) + longest_us
    entered = len(step.path) > 1 and after.duration_us > longest_us
    return spent_us, entered or spent_us > spot_us + burnback_us or burnback_us > LONGEST_BURNBACK_US


def _cut_short(step: Step) -> bool:
    """Tell whether a weld ends past burnback, or a phase ends before its time that only its time may end."""
    if step.immediate or step.after.fault == Fault.STATE:
        return False
    moves = zip(step.path, step.path[1:], step.ran_out, strict=False)
    return any(
        (came == Phase.WELD and to != Phase.BURNBACK)
        or (not ran_out and (came == Phase.BURNBACK or (came, to) in _ONLY_BY_TIME))
        for came, to, ran_out in moves
    )


_ONLY_BY_TIME = frozenset(
    {
        (Phase.PREFLOW, Phase.WELD),
        (Phase.PAUSE, Phase.WELD),
        (Phase.POSTFLOW, Phase.IDLE),
        (Phase.POSTFLOW, Phase.AWAIT_RELEASE),
    }
)


def _contactor_stays(step: Step) -> bool:
    """Tell whether the contactor stays on at the end of a burnback, without a weld that was taken up again."""
    burnback_over = step.before.phase == Phase.BURNBACK and step.over.time
    if not burnback_over or not step.outputs & CONTACTOR:
        return False
    taken_up_again = step.entered(Phase.WELD) and step.seen.trigger
    return not taken_up_again


_Limits = tuple[bool, bool]


def _limited(memory: _Limits, step: Step) -> tuple[_Limits, bool]:
    """Remember whether a limit ended the weld: until the trigger is seen open, and until that weld's end in idle."""
    held, ended = memory
    fell = _limit_falls(step)
    held = (held or fell) and step.seen.trigger
    ended = ended or fell
    # With no time in between, the next press or fault may follow at once and show itself.
    shown = step.after.fault in (Fault.WELD_LIMIT, Fault.ARC_START) or Phase.IDLE in step.path[:-1]
    starts = step.outputs & ~step.outputs_before != 0
    broken = (fell and not shown) or (held and starts) or (ended and bool(step.entered(Phase.WELD)))
    ended = ended and not {Phase.IDLE, Phase.HOLD_OFF} & set(step.path[1:])
    return (held, ended), broken


def _limit_falls(step: Step) -> bool:
    """Tell whether nothing but a limit ends the weld, or the stitches, in this pass."""
    before, over = step.before, step.over
    if step.immediate:
        return False
    if before.phase == Phase.PAUSE:
        return over.weld_limit and step.seen.trigger
    if before.phase != Phase.WELD:
        return False
    # An arc that comes in this very pass keeps the weld going.
    no_arc = not before.arc_established and over.arc_limit and len(step.path) > 1
    timed = before.spot and before.arc_established
    completes = timed and step.model.settings.completes
    released = not before.four_step and not step.seen.trigger and not completes
    stopped = step.seen.press
    return (over.weld_limit or no_arc) and not (released or stopped or (timed and over.time))


ALL_OFF_IN_THE_END = LivenessRule(
    "all-off-in-the-end",
    "All is off in the end when trigger and buttons stay open (four-step: by the weld limit).",
)

PROOF_RULES: tuple[ProofRule | LivenessRule, ...] = (
    ProofRule("contactor-with-gas", "Contactor on implies gas on.", Never(_contactor_without_gas)),
    ProofRule(
        "wire-and-contactor-together",
        "Wire drive and contactor are on together only, save in burnback (contactor alone) and inch (wire alone).",
        Never(_one_alone),
    ),
    ProofRule(
        "off-at-once",
        "Interlock open, supply low, an arc that stays with the contactor off, or an impossible state: all off in that "
        "pass, in any phase, then hold-off.",
        Never(_on_despite_fault),
    ),
    ProofRule(
        "no-impossible-state",
        "No pass that starts well ends in an impossible state.",
        Never(_ends_in_an_impossible_state),
    ),
    ProofRule(
        "seen-open-first",
        "After power-up, dip or reset nothing is on before trigger and buttons were seen open.",
        _seen_open,
        at_power_up=True,
        at_rest=False,
    ),
    ProofRule(
        "hold-off-waits",
        "Hold-off ends only after the supply was good (not merely no longer low) and no fault stood, and then trigger "
        "and buttons were open, each for its time without a break.",
        _waits_in_hold_off,
        at_power_up=_Waited(),
        at_rest=_Waited(),
    ),
    ProofRule(
        "fresh-press",
        "No weld starts without a fresh press (two-step: of a trigger that is still closed; stitch: still closed).",
        _fresh_press,
        at_power_up=(True, _Press.NONE),
        at_rest=(False, _Press.NONE),
    ),
    ProofRule(
        "dials-sound", "No weld, spot or stitch starts while a dial is broken or shorted.", Never(_on_a_broken_dial)
    ),
    ProofRule(
        "no-phase-outlives-its-time",
        "No phase outlives its time, nor a weld its limits, by more than one pass.",
        Never(_outlives_its_time),
    ),
    ProofRule(
        "times-stand",
        "A time is taken over at the start of its phase, never in the middle, and counts from there (a spot's from the "
        "arc); the weld limit counts from the first contactor-on of a pull.",
        Never(_counts_anew),
    ),
    ProofRule(
        "modes-stand",
        "Trigger mode, spot and stitch are latched as the panel has them on entering preflow and by a press in "
        "postflow, and change at no other time.",
        Never(_mode_moves),
    ),
    ProofRule(
        "release-ends-the-weld",
        "Two-step: the wire is off within filter and one pass of the release (where spots complete: within spot time "
        "and arc-start limit). Four-step: of the second press.",
        _welds_on,
        at_power_up=True,
        at_rest=False,
    ),
    ProofRule(
        "buttons-let-go",
        "Purge and inch end within filter and one pass of letting go of their button.",
        Never(_button_let_go),
    ),
    ProofRule(
        "arc-sensed-first",
        "With an arc sensor, the arc counts as established only once it was sensed in this very weld, and seen open "
        "since the contactor was last off.",
        _arc_unseen,
        at_power_up=(False, False),
        at_rest=(False, True),
    ),
    ProofRule(
        "arc-stays",
        "With an arc sensor, an arc sensed while the contactor has been off for longer than its longest off-delay and "
        "the sensor's filter is shown as a fault, and everything is off until it is gone.",
        Never(_arc_overlooked),
    ),
    ProofRule(
        "completing-spots-end",
        "A spot that completes lasts 10 s at most, a fresh press ends it, and so does a release before the arc is "
        "established.",
        _spot_goes_on,
        at_power_up=True,
        at_rest=False,
    ),
    ProofRule(
        "contactor-off-when-open",
        "With the trigger open, the contactor is off within the longest burnback, 2 s at most; where a spot completes, "
        "within its time and burnback (four-step weld: by the weld limit).",
        _on_while_open,
    ),
    ProofRule(
        "no-phase-is-cut-short",
        "A weld ends in a burnback, and a burnback runs its whole time, save at an immediate fault. A weld starts only "
        "after all of preflow or pause, and only a fresh press cuts postflow short.",
        Never(_cut_short),
    ),
    ProofRule(
        "contactor-drops-after-burnback",
        "A burnback, once begun, is followed by contactor off, unless a fresh press that is still held takes the weld "
        "up again.",
        Never(_contactor_stays),
    ),
    ProofRule(
        "limits-let-nothing-start",
        "A limit shows its fault; after it nothing starts until the trigger is seen open, and no weld before idle.",
        _limited,
        at_power_up=(False, False),
        at_rest=(False, False),
    ),
    ALL_OFF_IN_THE_END,
)
