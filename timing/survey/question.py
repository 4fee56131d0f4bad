"""What a question of the survey is; `replies` reads what is answered."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from timing.design.design import Design
from timing.design.section import field_at, field_measure
from timing.design.units import Measure, parse_quantity

AnswerKind = Literal["choice", "yes-no", "measure", "spread", "wire", "gas"]
"""choice: one of the options; yes-no; measure: one quantity; spread: shortest, usual and longest of a delay; wire and
gas: as spool and cylinder name them, or one of the options.
"""
YES, NO = "yes", "no"
NO_ANSWER = "no answer"
"""What is found in an empty reply that has to be one."""
OVER_RANGE = ("ol", "o.l", "open", "infinite", "overload", "over range")
"""What an ohmmeter shows, or a person says, where nothing conducts."""
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
    """Any of these; none named: any answer at all."""
    words: str
    """The condition for people, such as 'with shielding gas'."""

    def holds(self, answers: Mapping[str, str]) -> bool:
        """Tell whether one of the answers was given."""
        given = answers.get(self.key, "")
        return given in self.answers if self.answers else bool(given)


_MET = {
    "mm": ("mm", "in"), "mm/s": ("m/min", "in/min", "mm/s"), "L/min": ("L/min", "ft3/h"), "us": ("ms", "s"),
    "A": ("mA", "A"), "F": ("nF", "uF"), "ohm": ("ohm", "kohm", "Mohm"),
}  # fmt: skip
"""Units in which tapes, gauges and meters are read, by what a quantity is kept in."""


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
    at_most: str = ""
    """Key of an earlier answer that this one may not be above."""
    typed_key: str = ""
    """Key under which what was typed is kept, where the answer is only what it stands for."""

    def applies(self, answers: Mapping[str, str]) -> bool:
        """Tell whether the question is asked after these answers."""
        return self.when is None or self.when.holds(answers)

    @property
    def measure(self) -> Measure:
        """What a measure or a spread is measured in. Raises KeyError for a question of another kind."""
        return measure_of(f"{self.key}.typical" if self.kind == "spread" else self.key)

    @property
    def unit(self) -> str:
        """Unit behind the blank, which a bare number is taken in; empty for a question that asks for no quantity."""
        if self.kind not in ("measure", "spread"):
            return ""
        return (self.usual or self.measure.example).split()[-1]

    @property
    def other_units(self) -> tuple[str, ...]:
        """Other units that are likely to be read or measured; more are understood."""
        if not self.unit:
            return ()
        return tuple(unit for unit in _met(self.measure) if unit != self.unit)

    @property
    def allowed(self) -> str:
        """What may be answered, in words."""
        if self.kind == "yes-no":
            return f"{YES} or {NO}"
        if self.kind == "choice":
            return f"1 to {len(self.options)}, or {', '.join(option.word for option in self.options)}"
        if self.kind in ("wire", "gas"):
            what = "a class as on the spool, such as ER70S-6"
            if self.kind == "gas":
                what = "a gas as on the cylinder, such as 75/25 argon CO2"
            return f"1 to {len(self.options)}, or {what}"
        three = "; three of them, shortest first, parted by commas" if self.kind == "spread" else ""
        return _range_in(self.measure, self.unit) + three


@dataclass(frozen=True)
class Topic:
    """Questions that are settled in one go."""

    title: str
    questions: tuple[Question, ...]


def _met(measure: Measure) -> tuple[str, ...]:
    # Nobody reads the amperes of an arc in mA.
    return ("A",) if measure.unit == "A" and measure.low > 1 else _MET.get(measure.unit, ())


def _range_in(measure: Measure, unit: str) -> str:
    """Return what is allowed in the unit behind the blank, rounded inwards: '24 in/min to 1181 in/min'."""
    size = parse_quantity(f"1 {unit}", measure.unit)
    if size == 1 or measure.unit in ("us", "A", "ohm", "F"):
        return measure.allowed
    low, high = math.ceil(measure.low / size), math.floor(measure.high / size)
    return f'{low} {unit} to {high} {unit}, for example "{measure.example}"'


class ReplyError(ValueError):
    """An answer that does not do. Keeps what was found, what is allowed, and a likely meaning."""

    def __init__(self, found: str, allowed: str, hint: str = "") -> None:
        super().__init__(found, allowed, hint)
        self.found, self.allowed, self.hint = found, allowed, hint

    def __str__(self) -> str:
        return f"{self.found} is not {self.allowed}" + (f"; {self.hint}" if self.hint else "")


class UnclearReplyError(ReplyError):
    """An answer that stands for more than one thing: which is meant is asked."""

    def __init__(self, found: str, options: tuple[Option, ...]) -> None:
        super().__init__(found, " or ".join(option.word for option in options), "which is meant?")
        self.options = options


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
