"""A test weld as it is: the burnback it was made with, what became of the wire, and how the gun was held.

    90 ms: 9 mm
    mark 90: 3/8 in, ball
    115 ms: frozen
    mark 4 of 10: fused to the tip, 15 mm away, 200 in/min

One grammar for the command line, the page and the logbook: the burnback as a time or as a mark of its dial, a colon,
the extension left or 'frozen' or 'fused', then what else is known, parted by commas.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from timing.design.extension_left import LONGEST_EXTENSION_MM
from timing.design.times import LONGEST_BURNBACK_US, TIME_KEYS
from timing.design.units import QuantityError, Typed, as_typed, format_quantity, parse_quantity

if TYPE_CHECKING:
    from timing.circuit.dial import PanelDial

WELD_EXAMPLE = "90 ms: 9 mm"
"""A weld that would do, for messages and help."""
TAKEN_BACK = "left_out"
"""Key of an entry that takes a weld back, by its number: from 1, entries that take one back not counted."""

RULE_MM = 0.5
"""Standard deviation of an extension read with a steel rule (practice)."""


class WeldOutcome(StrEnum):
    """What became of the wire's end. The word stands in the grammar and in the logbook."""

    FREE = "free"
    """Clear of puddle and tip; what is left of it was measured."""
    FROZEN = "frozen"
    """Frozen in the puddle."""
    FUSED = "fused"
    """Fused to the contact tip."""


OUTCOME_WORDS = {
    WeldOutcome.FREE: "free",
    WeldOutcome.FROZEN: "frozen in the puddle",
    WeldOutcome.FUSED: "fused to the tip",
}
"""The outcomes in full."""
_SAID = {
    "frozen": WeldOutcome.FROZEN,
    "frozen in the puddle": WeldOutcome.FROZEN,
    "stuck": WeldOutcome.FROZEN,
    "fused": WeldOutcome.FUSED,
    "fused to the tip": WeldOutcome.FUSED,
}


class WeldError(ValueError):
    """A text, or an entry of a logbook, that is no test weld. Keeps what was found and what to do."""

    def __init__(self, found: str, hint: str) -> None:
        super().__init__(found, hint)
        self.found, self.hint = found, hint

    def __str__(self) -> str:
        return f"{self.found}: {self.hint}"


@dataclass(frozen=True)
class TestWeld:
    """A weld on scrap: the burnback it was made with, and what it left."""

    __test__ = False

    burnback_s: float
    extension_mm: float | None = None
    """From the contact tip to the wire's end; None unless the wire came free."""
    outcome: WeldOutcome = WeldOutcome.FREE
    ball: bool | None = None
    """Whether the reading goes to the end of a ball on the wire's end; None where nothing was said."""
    ball_mm: float | None = None
    """Diameter of that ball; None where it was not measured."""
    distance_mm: float | None = None
    """Contact-tip-to-work distance; None: as the design has it."""
    feed_mm_s: float | None = None
    """Wire feed speed; None: as the design has it."""
    mark: str = ""
    """Mark of the dial that it was set to, as read from the plate; empty where a time was given."""

    @property
    def sentence(self) -> str:
        """The weld in the words of the grammar: read again it is the same."""
        parts = [self.text_of("extension") or OUTCOME_WORDS[self.outcome]]
        if self.ball is not None:
            parts.append(f"ball {self.text_of('ball')}".strip() if self.ball else "no ball")
        if self.distance_mm is not None:
            parts.append(f"{self.text_of('distance')} away")
        if self.feed_mm_s is not None:
            parts.append(self.text_of("speed"))
        return f"{self.set_to}: {', '.join(parts)}"

    @property
    def set_to(self) -> str:
        """The burnback as it was given: the mark, or the time."""
        return self.mark or self.text_of("burnback")

    def text_of(self, key: str) -> str:
        """Return one of its quantities, by its key in the logbook, as it was typed; empty where it was not given."""
        numbers = {
            "burnback": (round(self.burnback_s * 1e6), "us"),
            "extension": (self.extension_mm, "mm"),
            "ball": (self.ball_mm, "mm"),
            "distance": (self.distance_mm, "mm"),
            "speed": (self.feed_mm_s, "mm/s"),
        }
        number, unit = numbers[key]
        return "" if number is None else as_typed(number, unit)


@dataclass(frozen=True)
class _Kind:
    """A quantity of a weld: what it is called, its unit and its bounds."""

    what: str
    unit: str
    low: float
    high: float
    example: str
    bare: str = ""
    """The unit that a bare number is taken in; empty: it must have its own."""

    def read(self, text: str) -> float:
        """Return the number in `text`. Raises WeldError."""
        text = f"{text} {self.bare}" if self.bare and _BARE.fullmatch(text) else text
        try:
            number = parse_quantity(text, self.unit)
        except QuantityError as error:
            raise WeldError(f"{self.what} {text!r}", f"{error.hint}; for example {self.example!r}") from None
        if not self.low <= number <= self.high:
            low, high = format_quantity(self.low, self.unit), format_quantity(self.high, self.unit)
            raise WeldError(f"{self.what} {text!r}", f"{low} to {high}, for example {self.example!r}")
        return Typed(number, text)


SETTING_KEY = f"{TIME_KEYS['burnback']}.setting"
"""Where what the welds find stands in the design file."""
_SETTING = _Kind("burnback", "us", 0, LONGEST_BURNBACK_US, "90 ms")
_EXTENSION = _Kind("extension left", "mm", 0.1, LONGEST_EXTENSION_MM, "9 mm", bare="mm")
_BALL = _Kind("ball", "mm", 0.3, 8, "1.5 mm")
_DISTANCE = _Kind("gun distance", "mm", 4, 40, "15 mm")
_SPEED = _Kind("wire feed speed", "mm/s", 10, 500, "200 in/min")

_BARE = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"[0-9],[0-9]")
_MARK = re.compile(r"mark\s+(?P<number>[0-9]{1,6}(?:\.[0-9]{1,4})?)(?:\s+of\s+(?P<all>[0-9]{1,4})|\s*(?P<unit>ms|s))?")


def read_weld(text: str, dial: PanelDial | None) -> TestWeld:
    """Return the weld that `text` tells of, such as '90 ms: 9 mm'. Raises WeldError, which says how to write it.

    dial: that of burnback, by which a mark is read; None where the design has none.
    """
    setting, colon, told = text.partition(":")
    if not colon:
        raise WeldError(
            repr(text), f"burnback, a colon, then the extension left, 'frozen' or 'fused', such as {WELD_EXAMPLE!r}"
        )
    if _DECIMAL_COMMA.search(text):
        raise WeldError(repr(text), "write a decimal point, not a comma")
    outcome, *details = (part.strip() for part in told.split(","))
    weld = _outcome(_setting(" ".join(setting.split()), dial), " ".join(outcome.split()), repr(text))
    for detail in details:
        weld = _with_detail(weld, " ".join(detail.split()), repr(text))
    return weld


def _setting(text: str, dial: PanelDial | None) -> TestWeld:
    if not text.startswith("mark"):
        return TestWeld(_SETTING.read(text) / 1e6)
    found = _MARK.fullmatch(text)
    if found is None:
        raise WeldError(repr(text), "'mark 90' for what is printed there, 'mark 4 of 10' on a knob's own scale")
    if dial is None:
        raise WeldError(repr(text), "burnback has no dial in this design: give the time that was set, such as '90 ms'")
    number, of_all = float(found["number"]), found["all"]
    if of_all is None:
        return TestWeld(_plate_mark_s(number, found["unit"], dial, text), mark=text)
    if not 0 <= number <= float(of_all) or float(of_all) == 0:
        raise WeldError(repr(text), f"0 to {of_all}, as the knob's own scale has it")
    return TestWeld(dial.time_at_us(number / float(of_all) * dial.setting.rotation_deg) / 1e6, mark=text)


def _plate_mark_s(number: float, given_unit: str | None, dial: PanelDial, text: str) -> float:
    unit_us, unit = dial.plate_unit
    number *= {None: 1, "ms": 1_000 / unit_us, "s": 1_000_000 / unit_us}[given_unit]
    low_us, high_us = dial.reach_us
    if not low_us - dial.count_us <= number * unit_us <= high_us + dial.count_us:
        raise WeldError(
            repr(text),
            f"the plate reads from {low_us / unit_us:.3g} to {high_us / unit_us:.3g} {unit}: give the number printed "
            "there, or 'mark 4 of 10' on a knob with a scale of its own",
        )
    return number * unit_us / 1e6


def _outcome(weld: TestWeld, text: str, whole: str) -> TestWeld:
    said = text.removeprefix("free").strip() if text != "free" else text
    outcome = _SAID.get(said.lower())
    if outcome is not None:
        return replace(weld, outcome=outcome)
    if said in ("", "free") or not said[0].isdigit():
        raise WeldError(whole, "after the colon the extension left, such as '9 mm', or 'frozen', or 'fused'")
    return replace(weld, extension_mm=_EXTENSION.read(said))


def _with_detail(weld: TestWeld, text: str, whole: str) -> TestWeld:
    if text in ("ball", "no ball"):
        return replace(weld, ball=text == "ball")
    for read in (_ball, _distance, _speed):
        more = read(weld, text)
        if more is not None:
            return more
    raise WeldError(
        f"{text!r} in {whole}",
        "'ball', 'ball 1.5 mm', 'no ball', '15 mm away' (the gun), or a wire feed speed such as '200 in/min'",
    )


def _ball(weld: TestWeld, text: str) -> TestWeld | None:
    size = text.removeprefix("ball ")
    if size == text:
        return None
    return replace(weld, ball=True, ball_mm=_BALL.read(size))


def _distance(weld: TestWeld, text: str) -> TestWeld | None:
    away = text.removesuffix(" away")
    if away == text:
        return None
    return replace(weld, distance_mm=_DISTANCE.read(away))


def _speed(weld: TestWeld, text: str) -> TestWeld | None:
    if not text.endswith("min") and not text.endswith("/s") and not text.endswith("ipm"):
        return None
    return replace(weld, feed_mm_s=_SPEED.read(text))


def weld_values(weld: TestWeld) -> dict[str, str | bool]:
    """Return a weld as the values of a logbook's entry: quantities as they were typed, the burnback always as a time.

    A dial's marks may mean other times later; the time that was set does not change.
    """
    values: dict[str, str | bool] = {"burnback": weld.text_of("burnback"), "outcome": weld.outcome.value}
    if weld.mark:
        values["mark"] = weld.mark
    if weld.ball is not None:
        values["ball"] = weld.text_of("ball") or weld.ball
    given = {key: weld.text_of(key) for key in ("extension", "distance", "speed")}
    return values | {key: text for key, text in given.items() if text}


def weld_of_values(values: Mapping[str, object]) -> TestWeld:
    """Return the weld of a logbook's entry. Raises WeldError for values that tell of none."""
    burnback, outcome, ball = values.get("burnback"), values.get("outcome"), values.get("ball")
    left = values.get("extension") if outcome == WeldOutcome.FREE else outcome
    if not isinstance(burnback, str) or not isinstance(left, str):
        raise WeldError(
            "a weld without burnback or outcome", 'burnback = "90 ms", outcome = "free", extension = "9 mm"'
        )
    details = [f"ball {ball}" if isinstance(ball, str) else "ball" if ball else "no ball"] * (ball is not None)
    details += [f"{values[key]}{tail}" for key, tail in (("distance", " away"), ("speed", "")) if key in values]
    weld = read_weld(f"{burnback}: {', '.join([left, *details])}", None)
    return replace(weld, mark=str(values.get("mark", "")))
