"""The phase table: the ONE definition of the sequence.

The interpreter, the second opinion on the `transitions` library, the C core, the proof, the documentation and the
drawings are all made from what stands here.

How a pass reads it: the notes of the present phase are taken, then the first of its exits whose conditions all
hold; entering a phase, the pass goes on there, so that a zero time passes straight through. Exits stand in the
order fault, release, time over, press. The second press of four-step is that mode's release and takes its place
in the order, so that a press to stop is never lost to a time that runs out in the same pass. A press serves
once: the exit or note that asks for it uses it up.

Before that, where an arc sensor is fitted, the pass looks at it: an open sensor is remembered as seen open, and an
arc stays when it is sensed although the contactor, as the pass before left it, has been off for longer than an arc
can last (see Settings.arc_end_us).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum

from .columns import Action, Condition, Time


class Phase(IntEnum):
    """The phases; the numbers travel over the serial link and stand in the C core."""

    HOLD_OFF = 0
    IDLE = 1
    PREFLOW = 2
    WELD = 3
    BURNBACK = 4
    POSTFLOW = 5
    PAUSE = 6
    AWAIT_RELEASE = 7
    PURGE = 8
    INCH = 9

    @property
    def word(self) -> str:
        """The phase as people write it: 'await-release'."""
        return self.name.lower().replace("_", "-")


class Output(Enum):
    """What the sequence switches; values are bits of an outputs byte."""

    GAS = 1
    WIRE = 2
    CONTACTOR = 4


class Fault(IntEnum):
    """Why the sequence stopped, or refused to start. The lamp blinks the number."""

    NONE = 0
    INTERLOCK = 1
    SUPPLY = 2
    STATE = 3
    DIAL = 4
    WELD_LIMIT = 5
    ARC_START = 6
    PURGE_LIMIT = 7
    INCH_LIMIT = 8
    ARC_STAYS = 9

    @property
    def word(self) -> str:
        """The fault as people write it: 'weld limit'."""
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True)
class Guard:
    """A condition, or its opposite."""

    condition: Condition
    wanted: bool = True

    def __invert__(self) -> Guard:
        return Guard(self.condition, not self.wanted)

    def __str__(self) -> str:
        return self.condition.value if self.wanted else self.condition.answer.otherwise


@dataclass(frozen=True)
class Transition:
    """A way out of a phase: when all conditions hold, do, then go."""

    when: tuple[Guard, ...]
    to: Phase
    do: tuple[Action, ...] = ()
    fault: Fault | None = None
    """Fault to show, where taking this exit is one; NONE clears what is shown."""


@dataclass(frozen=True)
class Note:
    """Something that happens inside a phase: when all conditions hold, do, and stay."""

    when: tuple[Guard, ...]
    do: tuple[Action, ...]
    fault: Fault | None = None


@dataclass(frozen=True)
class Row:
    """One phase: what is on, what time it has, what happens inside, how it ends."""

    outputs: frozenset[Output]
    time: Time
    transitions: tuple[Transition, ...]
    notes: tuple[Note, ...] = ()
    enter: tuple[Action, ...] = ()
    """What happens on the way in, whichever way that is."""

    @property
    def outputs_bits(self) -> int:
        """The outputs as a byte of Output values."""
        return sum(output.value for output in self.outputs)


Table = dict[Phase, Row]

C = Condition
INTERLOCK_OPEN, SUPPLY_LOW, DIAL_FAULT = Guard(C.INTERLOCK_OPEN), Guard(C.SUPPLY_LOW), Guard(C.DIAL_FAULT)
CLOSED, PRESS = Guard(C.TRIGGER_CLOSED), Guard(C.PRESS)
PURGE_CLOSED, PURGE_PRESS = Guard(C.PURGE_CLOSED), Guard(C.PURGE_PRESS)
INCH_CLOSED, INCH_PRESS = Guard(C.INCH_CLOSED), Guard(C.INCH_PRESS)
SUPPLY_POOR, ARC_STAYS = Guard(C.SUPPLY_POOR), Guard(C.ARC_STAYS)
ARC_SEEN, ARC_SEEN_OPEN, ARC_ESTABLISHED = Guard(C.ARC_SEEN), Guard(C.ARC_SEEN_OPEN), Guard(C.ARC_ESTABLISHED)
FOUR_STEP, SPOT, STITCH, COMPLETES = Guard(C.FOUR_STEP), Guard(C.SPOT), Guard(C.STITCH), Guard(C.COMPLETES)
AGAIN, LET_GO, LIMITED = Guard(C.PRESSED_AGAIN), Guard(C.LET_GO), Guard(C.LIMITED)
ALL_WELL, SETTLED, SEEN_OPEN = Guard(C.ALL_WELL), Guard(C.SETTLED), Guard(C.SEEN_OPEN)
TIME_OVER, WELD_LIMIT_OVER, ARC_LIMIT_OVER = Guard(C.TIME_OVER), Guard(C.WELD_LIMIT_OVER), Guard(C.ARC_LIMIT_OVER)

G, W, K = Output.GAS, Output.WIRE, Output.CONTACTOR

_FAULTS = (
    Transition((INTERLOCK_OPEN,), Phase.HOLD_OFF, (), Fault.INTERLOCK),
    Transition((SUPPLY_LOW,), Phase.HOLD_OFF, (), Fault.SUPPLY),
)
# Only where the contactor is off: an arc is then one that nobody commands, from a welded contactor or a stuck sensor.
_ARC_STAYS = Transition((ARC_STAYS,), Phase.HOLD_OFF, (), Fault.ARC_STAYS)
# Hold-off begins from its beginning.
_BEGIN_AGAIN = (Action.SEE_ILL, Action.UNSETTLE, Action.SEE_CLOSED)
# A broken dial does not freeze the wire in a weld that is under way: that weld ends by the table with the last
# good reading, and no weld, stitch or spot starts after it.
_DIAL = Transition((DIAL_FAULT,), Phase.HOLD_OFF, (), Fault.DIAL)


def _row(
    outputs: tuple[Output, ...],
    time: Time,
    *exits: Transition,
    notes: tuple[Note, ...] = (),
    enter: tuple[Action, ...] = (),
    faults: tuple[Transition, ...] | None = None,
) -> Row:
    if faults is None:
        faults = _FAULTS if K in outputs else (*_FAULTS, _ARC_STAYS)
    return Row(frozenset(outputs), time, (*faults, *exits), notes, enter)


TABLE: Table = {
    Phase.HOLD_OFF: _row(
        (),
        Time.HOLD_OFF,
        Transition((SEEN_OPEN, TIME_OVER), Phase.IDLE),
        notes=(
            Note((INTERLOCK_OPEN,), _BEGIN_AGAIN, Fault.INTERLOCK),
            # Shown where it was good before, or once the time is over: one that still rises at power-up is no fault.
            Note((~INTERLOCK_OPEN, SUPPLY_POOR, ALL_WELL), (), Fault.SUPPLY),
            Note((~INTERLOCK_OPEN, SUPPLY_POOR), _BEGIN_AGAIN),
            Note((~INTERLOCK_OPEN, SUPPLY_POOR, TIME_OVER), (), Fault.SUPPLY),
            Note((~INTERLOCK_OPEN, ~SUPPLY_POOR, ARC_STAYS), _BEGIN_AGAIN, Fault.ARC_STAYS),
            Note((~INTERLOCK_OPEN, ~SUPPLY_POOR, ~ARC_STAYS, DIAL_FAULT), _BEGIN_AGAIN, Fault.DIAL),
            Note(
                (~ALL_WELL, ~INTERLOCK_OPEN, ~SUPPLY_POOR, ~ARC_STAYS, ~DIAL_FAULT),
                (Action.SEE_WELL, Action.RESTART),
            ),
            Note((ALL_WELL, ~SETTLED, TIME_OVER), (Action.SETTLE,)),
            Note((CLOSED,), (Action.SEE_CLOSED,)),
            Note((PURGE_CLOSED,), (Action.SEE_CLOSED,)),
            Note((INCH_CLOSED,), (Action.SEE_CLOSED,)),
            Note((SETTLED, ~SEEN_OPEN, ~CLOSED, ~PURGE_CLOSED, ~INCH_CLOSED), (Action.SEE_OPEN, Action.RESTART)),
        ),
        enter=(*_BEGIN_AGAIN, Action.UNLIMIT, Action.FORGET_ARC),
        faults=(),
    ),
    Phase.IDLE: _row(
        (),
        Time.NONE,
        _DIAL,
        Transition((PRESS,), Phase.PREFLOW, (), Fault.NONE),
        Transition((PURGE_PRESS,), Phase.PURGE, (), Fault.NONE),
        Transition((INCH_PRESS,), Phase.INCH, (), Fault.NONE),
        enter=(Action.UNLIMIT,),
    ),
    Phase.PREFLOW: _row(
        (G,),
        Time.PREFLOW,
        _DIAL,
        Transition((~FOUR_STEP, ~CLOSED), Phase.IDLE),
        Transition((FOUR_STEP, PRESS), Phase.IDLE),
        Transition((TIME_OVER,), Phase.WELD, (Action.BEGIN_WELD,)),
        enter=(Action.LATCH,),
    ),
    Phase.WELD: _row(
        (G, W, K),
        Time.SPOT,
        Transition((~FOUR_STEP, ~CLOSED, ~SPOT), Phase.BURNBACK),
        Transition((~FOUR_STEP, ~CLOSED, SPOT, ~COMPLETES), Phase.BURNBACK),
        Transition((~FOUR_STEP, ~CLOSED, SPOT, COMPLETES, ~ARC_ESTABLISHED), Phase.BURNBACK),
        # In two-step the trigger is open only while a spot completes; a press then is to stop it.
        Transition((~FOUR_STEP, PRESS, SPOT, COMPLETES), Phase.BURNBACK),
        Transition((FOUR_STEP, PRESS), Phase.BURNBACK),
        Transition((SPOT, ARC_ESTABLISHED, TIME_OVER), Phase.BURNBACK),
        Transition((WELD_LIMIT_OVER,), Phase.BURNBACK, (Action.LIMIT,), Fault.WELD_LIMIT),
        Transition((~ARC_ESTABLISHED, ARC_LIMIT_OVER), Phase.BURNBACK, (Action.LIMIT,), Fault.ARC_START),
        notes=(
            Note((~ARC_ESTABLISHED, ARC_SEEN_OPEN, ARC_SEEN), (Action.ESTABLISH_ARC, Action.COUNT)),
            Note((SPOT, COMPLETES, STITCH, ~CLOSED), (Action.SET_LET_GO,)),
        ),
        enter=(Action.AWAIT_ARC, Action.CLEAR_LET_GO),
    ),
    Phase.BURNBACK: _row(
        (G, K),
        Time.BURNBACK,
        # A press that stopped a spot is not one to go on stitching, however long it is held.
        Transition((TIME_OVER, STITCH, CLOSED, ~LET_GO, ~LIMITED, ~DIAL_FAULT), Phase.PAUSE),
        Transition((TIME_OVER, AGAIN, ~LIMITED, ~DIAL_FAULT), Phase.WELD, (Action.BEGIN_WELD,)),
        Transition((TIME_OVER,), Phase.POSTFLOW),
        notes=(
            Note((PRESS,), (Action.SET_AGAIN,)),
            Note((~CLOSED,), (Action.CLEAR_AGAIN,)),
        ),
        enter=(Action.CLEAR_AGAIN,),
    ),
    Phase.POSTFLOW: _row(
        (G,),
        Time.POSTFLOW,
        Transition((TIME_OVER, ~CLOSED), Phase.IDLE),
        Transition((TIME_OVER,), Phase.AWAIT_RELEASE),
        Transition((PRESS, ~LIMITED, ~DIAL_FAULT), Phase.WELD, (Action.LATCH, Action.BEGIN_WELD), Fault.NONE),
        enter=(Action.FORGET_ARC,),
    ),
    Phase.PAUSE: _row(
        (G,),
        Time.PAUSE,
        Transition((~CLOSED,), Phase.POSTFLOW),
        Transition((WELD_LIMIT_OVER,), Phase.POSTFLOW, (Action.LIMIT,), Fault.WELD_LIMIT),
        Transition((DIAL_FAULT,), Phase.POSTFLOW),
        Transition((TIME_OVER,), Phase.WELD),
        enter=(Action.FORGET_ARC,),
    ),
    Phase.AWAIT_RELEASE: _row(
        (),
        Time.NONE,
        Transition((~CLOSED,), Phase.IDLE),
    ),
    Phase.PURGE: _row(
        (G,),
        Time.PURGE_LIMIT,
        Transition((~PURGE_CLOSED,), Phase.IDLE),
        Transition((TIME_OVER,), Phase.IDLE, (), Fault.PURGE_LIMIT),
        Transition((PRESS,), Phase.PREFLOW, (), Fault.NONE),
    ),
    Phase.INCH: _row(
        (W,),
        Time.INCH_LIMIT,
        Transition((~INCH_CLOSED,), Phase.IDLE),
        Transition((TIME_OVER,), Phase.IDLE, (), Fault.INCH_LIMIT),
        Transition((PRESS,), Phase.PREFLOW, (), Fault.NONE),
    ),
}
