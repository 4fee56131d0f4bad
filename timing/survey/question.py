"""What a question of the survey is, and how its answer is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from pydantic_core import PydanticCustomError

from timing.design.design import Design
from timing.design.section import field_at, field_measure
from timing.design.units import Measure
from timing.errors import meant

AnswerKind = Literal["choice", "yes-no", "measure", "spread"]
"""choice: one of the options; yes-no; measure: one quantity; spread: shortest, usual and longest of a delay."""
YES, NO = "yes", "no"
SPREAD_PARTS = ("min", "typical", "max")
COLD = "Cold (unplugged, locked, measured empty): "
LIVE = "Live (leads clipped on while it is off; switch on, touch nothing, read, switch off): "
HELD = (
    "Live, trigger held (leads clipped on while it is off; pressure arm up, work clamp off, gun clear of everything, "
    "other hand off the machine): "
)
"""How a question says what state the machine is in while it is answered."""


@dataclass(frozen=True)
class Option:
    """One answer to a choice."""

    word: str
    meaning: str
    rules_out: str = ""
    """Why this answer ends the job; empty: it does not."""
    to_do: str = ""
    """What this answer asks for before the add-on goes in; empty: nothing."""


@dataclass(frozen=True)
class When:
    """A condition on an earlier answer."""

    key: str
    answers: tuple[str, ...]
    """Any of these."""
    words: str
    """The condition for people, such as 'with shielding gas'."""

    def holds(self, answers: Mapping[str, str]) -> bool:
        """Tell whether one of the answers was given."""
        return answers.get(self.key) in self.answers


@dataclass(frozen=True)
class Question:
    """One question. `key` is that of the design file, or begins with `survey.` where the answer only steers."""

    key: str
    ask: str
    how: str
    """How to find out, safely."""
    kind: AnswerKind
    usual: str = ""
    """The answer taken where none is given; empty: there must be one, unless the question is optional."""
    options: tuple[Option, ...] = ()
    when: When | None = None
    """Asked only where this holds; None: always."""
    optional: bool = False
    """True where no answer is an answer too."""
    at_least: str = ""
    """Key of an earlier answer that this one may not be below."""

    def applies(self, answers: Mapping[str, str]) -> bool:
        """Tell whether the question is asked after these answers."""
        return self.when is None or self.when.holds(answers)

    @property
    def allowed(self) -> str:
        """What may be answered, in words."""
        if self.kind == "yes-no":
            return f"{YES} or {NO}"
        if self.kind == "choice":
            return f"1 to {len(self.options)}, or {', '.join(option.word for option in self.options)}"
        if self.kind == "spread":
            return f"{measure_of(self.key + '.typical').allowed}; three of them, shortest first, parted by commas"
        return measure_of(self.key).allowed


@dataclass(frozen=True)
class Topic:
    """Questions that are settled in one go."""

    title: str
    questions: tuple[Question, ...]


class ReplyError(ValueError):
    """An answer that does not do. Keeps what was found, what is allowed, and a likely meaning."""

    def __init__(self, found: str, allowed: str, hint: str = "") -> None:
        super().__init__(found, allowed, hint)
        self.found, self.allowed, self.hint = found, allowed, hint

    def __str__(self) -> str:
        return f"{self.found} is not {self.allowed}" + (f"; {self.hint}" if self.hint else "")


def yes_no(key: str, ask: str, how: str, usual: str = NO, when: When | None = None) -> Question:
    """Return a question for yes or no."""
    return Question(key, ask, how, "yes-no", usual, when=when)


def measure_of(key: str) -> Measure:
    """Return what the design file allows at `key`. Raises KeyError for a key that holds no quantity."""
    found = field_at(Design, key.split("."))
    measure = None if found is None else field_measure(found)
    if measure is None:
        raise KeyError(key)
    return measure


def read_reply(question: Question, text: str) -> str:
    """Return an answer in the form in which it is kept; empty where an optional question stays open.

    Raises ReplyError for one that does not do.
    """
    given = text.strip() or question.usual
    if not given:
        if question.optional:
            return ""
        raise ReplyError("no answer", question.allowed)
    return _READERS[question.kind](question, given)


def check_against(question: Question, answer: str, answers: Mapping[str, str]) -> None:
    """Check an answer against the earlier one that it may not be below. Raises ReplyError where it is."""
    least = answers.get(question.at_least, "")
    if answer and least and _quantity(question.key, answer) < _quantity(question.at_least, least):
        raise ReplyError(repr(answer), f"{least} or more, as answered before", "`back` returns to the earlier answer")


def _read_yes_no(question: Question, text: str) -> str:
    for word in (YES, NO):
        if word.startswith(text.lower()):
            return word
    raise ReplyError(repr(text), question.allowed)


def _read_choice(question: Question, text: str) -> str:
    words = [option.word for option in question.options]
    if text.isascii() and text.isdigit() and 1 <= int(text) <= len(words):
        return words[int(text) - 1]
    exact = [word for word in words if word.lower() == text.lower()]
    begun = exact or [word for word in words if word.lower().startswith(text.lower())]
    if len(begun) == 1:
        return begun[0]
    raise ReplyError(repr(text), question.allowed, meant(text, words))


def _read_measure(question: Question, text: str) -> str:
    _quantity(question.key, text)
    return text


def _read_spread(question: Question, text: str) -> str:
    parts = [part.strip() for part in text.split(",")]
    if len(parts) == 1:
        parts *= len(SPREAD_PARTS)
    if len(parts) != len(SPREAD_PARTS):
        raise ReplyError(f"{len(parts)} figures", question.allowed)
    sizes = [_quantity(f"{question.key}.typical", part) for part in parts]
    if sizes != sorted(sizes):
        raise ReplyError(repr(text), "shortest, usual and longest in rising order")
    return ", ".join(parts)


def _quantity(key: str, text: str) -> float:
    try:
        return measure_of(key).read(text)
    except PydanticCustomError as error:
        context = error.context or {}
        raise ReplyError(context["found"], context["allowed"], context["hint"]) from None


_READERS = {"yes-no": _read_yes_no, "choice": _read_choice, "measure": _read_measure, "spread": _read_spread}
