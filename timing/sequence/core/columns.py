"""The columns of the phase table: what a condition asks, what an action does, what a time is, for every reader.

Each carries its sentence for people, the field or method by which the model knows it, and the text by which the C core
does. The interpreter, the generator and the proof look these up; none of them has a list of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Reads(Enum):
    """Where a pass, the model's and the C core's alike, finds the answer to a condition."""

    INPUT = "inputs"
    """In what the pass sees."""
    PRESS = "fresh presses"
    """In the contacts that have just closed."""
    STATE = "state"
    """In what is kept from pass to pass."""
    RULE = "rule"
    """It is worked out."""


@dataclass(frozen=True)
class ConditionColumns:
    """Columns of a condition beside its sentence."""

    otherwise: str
    """The sentence for people where it does not hold."""
    reads: Reads
    field: str
    """Field of scan.Inputs or scan.State; of a fresh press or a rule, the member of scan.Scan that tells."""
    c: str
    """How the C core asks it; empty where every design settles it beforehand."""
    shown_by: str = ""
    """Field of scan.Inputs, and of the C core's inputs, that shows it; empty where none does."""


def _seen(says: str, otherwise: str, field: str) -> tuple[str, ConditionColumns]:
    return says, ConditionColumns(otherwise, Reads.INPUT, field, f"inputs->{field}", field)


def _fresh(says: str, otherwise: str, field: str, contact: str) -> tuple[str, ConditionColumns]:
    return says, ConditionColumns(otherwise, Reads.PRESS, field, f"fresh.{field}", contact)


def _kept(says: str, otherwise: str, field: str) -> tuple[str, ConditionColumns]:
    return says, ConditionColumns(otherwise, Reads.STATE, field, f"state->{field}")


def _worked_out(
    says: str, otherwise: str, field: str, c: str = "", *, shown_by: str = ""
) -> tuple[str, ConditionColumns]:
    return says, ConditionColumns(otherwise, Reads.RULE, field, c, shown_by)


class Condition(Enum):
    """What an exit can ask. The value is the sentence for people."""

    answer: ConditionColumns

    def __new__(cls, says: str, answer: ConditionColumns) -> Condition:
        """Take the sentence for the value, the rest as columns beside it."""
        condition = object.__new__(cls)
        condition._value_ = says
        condition.answer = answer
        return condition

    INTERLOCK_OPEN = _seen("interlock open", "interlock closed", "interlock_open")
    SUPPLY_LOW = _seen("supply low", "supply not low", "supply_low")
    SUPPLY_POOR = _worked_out(
        "supply not good", "supply good", "supply_poor", "supply_poor(inputs)", shown_by="supply_poor"
    )
    DIAL_FAULT = _seen("a dial broken or shorted", "dials sound", "dial_fault")
    TRIGGER_CLOSED = _seen("trigger closed", "trigger open", "trigger")
    PRESS = _fresh("fresh press", "no fresh press", "press", "trigger")
    PURGE_CLOSED = _seen("purge button closed", "purge button open", "purge")
    PURGE_PRESS = _fresh("fresh purge", "no fresh purge", "purge_press", "purge")
    INCH_CLOSED = _seen("inch button closed", "inch button open", "inch")
    INCH_PRESS = _fresh("fresh inch", "no fresh inch", "inch_press", "inch")
    ARC_SEEN = _seen("arc sensed", "no arc sensed", "arc")
    ARC_STAYS = _worked_out("an arc stays with the contactor off", "no arc stays", "arc_stays", "stays")
    FOUR_STEP = _kept("four-step", "two-step", "four_step")
    SPOT = _kept("spot on", "spot off", "spot")
    STITCH = _kept("stitch on", "stitch off", "stitch")
    COMPLETES = _worked_out("spots complete when released", "spots end when released", "completes")
    ARC_ESTABLISHED = _kept("arc established", "arc not yet established", "arc_established")
    ARC_SEEN_OPEN = _kept(
        "arc seen open since the contactor was last off",
        "arc not seen open since the contactor was last off",
        "arc_seen_open",
    )
    PRESSED_AGAIN = _kept("pressed again and still held", "not pressed again", "pressed_again")
    LET_GO = _kept("let go during the spot", "not let go during the spot", "let_go")
    LIMITED = _kept("a limit ended the weld", "no limit ended the weld", "limited")
    ALL_WELL = _kept("supply good and no fault", "not yet seen well", "all_well")
    SETTLED = _kept("supply settled", "supply not yet settled", "settled")
    SEEN_OPEN = _kept("trigger and buttons seen open since", "not yet seen open", "seen_open")
    TIME_OVER = _worked_out("its time over", "its time not over", "time_over", "time_over(state, now_us)")
    WELD_LIMIT_OVER = _worked_out(
        "weld limit over", "weld limit not over", "weld_limit_over", "over(state->weld_since_us, WELD_LIMIT_US, now_us)"
    )
    ARC_LIMIT_OVER = _worked_out(
        "arc-start limit over",
        "arc-start limit not over",
        "arc_limit_over",
        "over(state->since_us, ARC_START_LIMIT_US, now_us)",
    )


@dataclass(frozen=True)
class Sets:
    """Sets a flag of the state."""

    flag: str
    value: bool

    @property
    def c(self) -> str:
        """The C statement."""
        return f"state->{self.flag} = {str(self.value).lower()};"

    @property
    def sets(self) -> tuple[str, ...]:
        """Flags of the state that come out of it."""
        return (self.flag,)


@dataclass(frozen=True)
class Stamps:
    """Keeps the instant in a field of the state."""

    field: str

    @property
    def c(self) -> str:
        """The C statement, with {at_us} for the instant."""
        return f"state->{self.field} = {{at_us}};"


@dataclass(frozen=True)
class Calls:
    """Does more than that."""

    name: str
    """Method of scan.Scan, given the instant."""
    c: str
    """The C statement, with {scan} for the arguments that every such function takes, {at_us} for the instant."""
    sets: tuple[str, ...] = ()
    """Flags of the state that come out of it, whichever way."""
    takes_instant: bool = False


Effect = Sets | Stamps | Calls


class Action(Enum):
    """What an exit or note does beside moving. The value is the sentence for people."""

    effect: Effect

    def __new__(cls, says: str, effect: Effect) -> Action:
        """Take the sentence for the value, the effect as a column beside it."""
        action = object.__new__(cls)
        action._value_ = says
        action.effect = effect
        return action

    LATCH = (
        "latch trigger mode, spot and stitch",
        Calls("latch", "latch(state, inputs);", sets=("four_step", "spot", "stitch")),
    )
    BEGIN_WELD = "the weld limit counts from here", Stamps("weld_since_us")
    LIMIT = "nothing starts before the trigger was seen open", Sets("limited", True)
    ESTABLISH_ARC = "the arc is established", Sets("arc_established", True)
    FORGET_ARC = "the arc is to be seen open anew", Sets("arc_seen_open", False)
    SET_AGAIN = "remember the press", Sets("pressed_again", True)
    CLEAR_AGAIN = "forget the press", Sets("pressed_again", False)
    SET_LET_GO = "remember that the trigger was let go", Sets("let_go", True)
    CLEAR_LET_GO = "not let go yet", Sets("let_go", False)
    SEE_WELL = "all is well from here", Sets("all_well", True)
    SEE_ILL = "not all is well", Sets("all_well", False)
    SETTLE = "the supply is settled", Sets("settled", True)
    UNSETTLE = "settle anew", Sets("settled", False)
    SEE_OPEN = "everything is open from here", Sets("seen_open", True)
    SEE_CLOSED = "not everything is open", Sets("seen_open", False)
    AWAIT_ARC = (
        "the arc is still to be established",
        Calls("await_arc", "state->arc_established = false;", sets=("arc_established",)),
    )
    UNLIMIT = "a limit no longer stands", Sets("limited", False)
    RESTART = "the time counts from here", Calls("restart", "restart({scan}{at_us});", takes_instant=True)
    COUNT = "the time, as it stands, counts from here", Stamps("since_us")


@dataclass(frozen=True)
class Dialled:
    """A time of the design: fixed, or on a dial."""

    name: str
    """Its short name: on the panel, on the link, in scripts."""
    off_is_zero: bool = True
    """What its switch does: True takes the time to zero; False is latched, and the phase is not entered."""

    @property
    def field(self) -> str:
        """Field of scan.Inputs, and of the C core's inputs where the time can vary."""
        return f"{self.name}_us"

    @property
    def macro(self) -> str:
        """The constant in C where it cannot."""
        return f"{self.name.upper()}_US"


@dataclass(frozen=True)
class Constant:
    """A time that stands in the settings."""

    field: str
    """Field of settings.Settings."""
    macro: str
    """The constant in C."""


@dataclass(frozen=True)
class WorkedOut:
    """A time that goes by what is kept."""

    name: str
    """Method of scan.Scan."""
    c: str
    asks: tuple[str, ...]
    """Flags of the state that it goes by."""


Lasts = Dialled | Constant | WorkedOut


class Time(Enum):
    """The time that ends a phase. The value is the sentence for people."""

    lasts: Lasts | None
    """Where the time stands; None for a phase without one."""

    def __new__(cls, says: str, lasts: Lasts | None) -> Time:
        """Take the sentence for the value, where the time stands as a column beside it."""
        time = object.__new__(cls)
        time._value_ = says
        time.lasts = lasts
        return time

    NONE = "none", None
    HOLD_OFF = (
        "supply good for 500 ms, then trigger and buttons open",
        WorkedOut("hold_off_us", "state->settled ? OPEN_US : SETTLE_US", asks=("settled",)),
    )
    PREFLOW = "preflow time", Dialled("preflow")
    SPOT = "spot weld time", Dialled("spot", off_is_zero=False)
    BURNBACK = "burnback time", Dialled("burnback")
    POSTFLOW = "postflow time", Dialled("postflow")
    PAUSE = "stitch pause time", Dialled("pause", off_is_zero=False)
    PURGE_LIMIT = "purge limit", Constant("purge_limit_us", "PURGE_LIMIT_US")
    INCH_LIMIT = "inch limit", Constant("inch_limit_us", "INCH_LIMIT_US")


DIALLED: tuple[Dialled, ...] = tuple(time.lasts for time in Time if isinstance(time.lasts, Dialled))
"""The times that can be on a dial, in the order of the panel."""
TIME_NAMES = tuple(time.name for time in DIALLED)
"""Their names."""
BY_NAME = {time.name: time for time in DIALLED}
