"""What is answered to a step, read: an outcome, a reading with its unit, or a word that moves the walk."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import Enum

from timing.circuit.dial import PanelDial
from timing.commission.step import CommissionStep, ReadingAsked, YesNo
from timing.commission.walk import StepOutcome
from timing.design.units import QuantityError, parse_quantity
from timing.process.welds import TestWeld, WeldError, read_weld
from timing.survey.question import OVER_RANGE, ReplyError


class WalkWord(Enum):
    """A word that asks for something else than an outcome."""

    BACK = "back"
    LATER = "later"
    HELP = "?"


@dataclass(frozen=True)
class StepReply:
    """An outcome of a step."""

    outcome: StepOutcome
    reading: str = ""
    """As it is kept: with its unit."""
    means: str = ""
    """What a reading outside its band means, and what to do."""


_WORDS: dict[str, WalkWord] = {
    **dict.fromkeys(("back", "b"), WalkWord.BACK),
    **dict.fromkeys(("later", "l", "stop", "quit", "exit"), WalkWord.LATER),
    **dict.fromkeys(("?", "help", "why", "h"), WalkWord.HELP),
}
_YES, _NO, _SKIP = ("yes", "y", "done", "ok"), ("no", "n"), ("skip", "s")
_BARE = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")


def answers_of(step: CommissionStep) -> str:
    """Return what may be answered to a step, in words."""
    skip = "" if step.needed else ", skip"
    if isinstance(step.ask, ReadingAsked):
        asked = "a reading with its unit, OL" if step.ask.unit_needed else f"a reading in {step.ask.shown}"
        return f"{asked}, no (it cannot be read){skip}, back, later"
    if isinstance(step.ask, YesNo):
        return f"yes, no{skip}, back, later"
    return f"what was left (9 mm, ball), frozen, fused, done{skip}, back, later"


def walk_word(text: str) -> WalkWord | None:
    """Return the word of the walk that a text is; None where it is an answer."""
    return _WORDS.get(text.strip().lower())


def skipped(step: CommissionStep, text: str) -> bool:
    """Tell whether a text leaves a step out. Raises ReplyError where it may not be."""
    if text.strip().lower() not in _SKIP:
        return False
    if step.needed:
        raise ReplyError(repr(text.strip()), answers_of(step), "what comes after it is not safe without this step")
    return True


def read_step_reply(step: CommissionStep, text: str) -> StepReply:
    """Return the outcome that a text tells of. Raises ReplyError, which says what is allowed."""
    # Where a mark is asked for, it may be called one.
    said = re.sub(r"(?i)^mark\s+", "", text.strip()) if isinstance(step.ask, ReadingAsked) else text.strip()
    if skipped(step, said):
        return StepReply(StepOutcome.SKIPPED)
    if said.lower() in _NO:
        return StepReply(StepOutcome.FAILED)
    if isinstance(step.ask, ReadingAsked):
        return _reading(step, step.ask, said)
    if said.lower() in _YES:
        return StepReply(StepOutcome.PASSED)
    raise ReplyError(repr(said) if said else "no answer", answers_of(step))


def read_weld_reply(step: CommissionStep, text: str, set_to: str, dial: PanelDial | None) -> TestWeld | None:
    """Return the test weld that a text tells of; None for a text that gives the step an outcome instead.

    set_to: the burnback that was asked for, for a text that does not say another, such as '9 mm' beside '70 ms: 9 mm'.
    dial: that of burnback. Raises ReplyError.
    """
    said = text.strip()
    if said.lower() in (*_YES, *_NO, *_SKIP):
        return None
    if not said:
        raise ReplyError("no answer", answers_of(step))
    try:
        return read_weld(said if ":" in said else f"{set_to}: {said}", dial)
    except WeldError as error:
        raise ReplyError(error.found, answers_of(step), error.hint) from None


def _reading(step: CommissionStep, asked: ReadingAsked, said: str) -> StepReply:
    if asked.unit == "ohm" and said.lower() in OVER_RANGE:
        value, kept = math.inf, "OL"
    else:
        kept = f"{said} {asked.shown}" if _BARE.fullmatch(said) and not asked.unit_needed else said
        value = _value(step, asked, said, kept)
    if value < 0 and not asked.signed:
        raise ReplyError(
            repr(said), answers_of(step), "a reading of zero or more: the leads may be the other way round"
        )
    means = asked.wrong(value)
    return StepReply(StepOutcome.FAILED if means else StepOutcome.PASSED, kept, means)


def _value(step: CommissionStep, asked: ReadingAsked, said: str, kept: str) -> float:
    try:
        return parse_quantity(kept, asked.unit)
    except QuantityError as error:
        found = repr(said) if said else "no answer"
        raise ReplyError(found, answers_of(step), error.hint if said else "") from None
