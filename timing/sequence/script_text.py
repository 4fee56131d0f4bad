"""Trigger scripts as text: small, readable, one step after the other.

    0 ms      press             # comments run to the end of the line
    +400 ms   release
    1.2 s     press bounce 6 ms
    +2 s      release; +100 ms purge press
    +1 s      purge release

A time stands alone for an instant counted from the start, with + for one counted from the step before. Steps
are parted by line ends or semicolons.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from timing.design.front_panel import WeldMode
from timing.design.text_file import Complaint, DesignFileError
from timing.design.times import SELECTED
from timing.design.units import QuantityError, format_duration, parse_quantity
from timing.errors import meant
from timing.sequence.core.columns import TIME_NAMES
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.script import Change, Dial, Script, Switch, What

LONGEST_INSTANT_US = 3_600_000_000
BOUNCE_STEP_US = 1_000
"""A bouncing contact opens and closes once in this time, in scripts."""


# The words of a step, and what they change to what. A press and a release may bounce.
_WORDS: Mapping[str, tuple[What, int]] = {
    "press": ("trigger", 1),
    "release": ("trigger", 0),
    "purge press": ("purge", 1),
    "purge release": ("purge", 0),
    "inch press": ("inch", 1),
    "inch release": ("inch", 0),
    "arc on": ("arc", 1),
    "arc off": ("arc", 0),
    "interlock open": ("interlock", 0),
    "interlock close": ("interlock", 1),
    "supply low": ("supply", SupplyLevel.LOW),
    "supply between": ("supply", SupplyLevel.BETWEEN),
    "supply good": ("supply", SupplyLevel.GOOD),
    "mode four-step": ("four_step", 1),
    "mode two-step": ("four_step", 0),
    "dials broken": ("dial_fault", 1),
    "dials whole": ("dial_fault", 0),
    "reset": ("reset", 1),
    **{f"{Switch(name)} on": (Switch(name), 1) for name in TIME_NAMES},
    **{f"{Switch(name)} off": (Switch(name), 0) for name in TIME_NAMES},
}
_SELECTOR = {
    f"selector {weld}": [(Switch(role.removesuffix("_switch")), int(role in weld.closes)) for role in SELECTED]
    for weld in WeldMode
}
"""The positions of the selector for spot and stitch: two contacts at a time."""
_TEXTS = {meaning: words for words, meaning in _WORDS.items()}
_BOUNCING = ("press", "release", "purge press", "purge release", "inch press", "inch release")
_STEP = re.compile(r"(?P<relative>\+)?\s*(?P<time>[0-9.eE]+\s*[a-zµ]+)\s+(?P<words>.+)")
_DIAL = re.compile(rf"dial (?P<name>{'|'.join(TIME_NAMES)}) (?P<time>.+)")
_BOUNCE = re.compile(r"(?P<words>.+?) bounce (?P<time>.+)")


def parse_script(text: str, source: str = "script") -> Script:
    """Read a trigger script. Raises DesignFileError (exit code 2) that names the line, what was found and allowed."""
    changes: list[Change] = []
    end_us: int | None = None
    at_us = 0
    for number, line in enumerate(text.splitlines(), 1):
        for step in line.partition("#")[0].split(";"):
            words = " ".join(step.split())
            if not words:
                continue
            match = _STEP.fullmatch(words)
            if match is None:
                raise _refuse(source, number, words, 'a time and what happens: "250 ms press"')
            time_us = _time_us(match["time"], source, number)
            before_us = at_us
            at_us = at_us + time_us if match["relative"] else time_us
            if at_us < before_us:
                earliest = format_duration(before_us)
                raise _refuse(source, number, words, f"{earliest} or later", "steps stand in order of time")
            if at_us > LONGEST_INSTANT_US:
                raise _refuse(source, number, words, f"times up to {format_duration(LONGEST_INSTANT_US)}")
            if match["words"] == "end":
                end_us = at_us
            else:
                changes += _changes(match["words"], at_us, source, number)
    changes.sort(key=lambda change: change.at_us)
    return Script(tuple(changes), end_us)


def _changes(words: str, at_us: int, source: str, number: int) -> Iterable[Change]:
    if words in _WORDS:
        what, value = _WORDS[words]
        return [Change(at_us, what, value)]
    if words in _SELECTOR:
        return [Change(at_us, what, value) for what, value in _SELECTOR[words]]
    if (dial := _DIAL.fullmatch(words)) is not None:
        return [Change(at_us, Dial(dial["name"]), _time_us(dial["time"], source, number))]
    if (bounce := _BOUNCE.fullmatch(words)) is not None and bounce["words"] in _BOUNCING:
        what, value = _WORDS[bounce["words"]]
        return _bouncing(what, value, at_us, _time_us(bounce["time"], source, number))
    known = [*_WORDS, *_SELECTOR, *(f"{Dial(name)} 120 ms" for name in TIME_NAMES), "end"]
    raise _refuse(source, number, words, ", ".join(known), meant(words, known))


def _bouncing(what: What, value: int, at_us: int, bounce_us: int) -> list[Change]:
    instants = range(0, bounce_us, BOUNCE_STEP_US)
    chatter = [
        Change(at_us + instant + half, what, value if half == 0 else 1 - value)
        for instant in instants
        for half in (0, BOUNCE_STEP_US // 2)
    ]
    return [*chatter, Change(at_us + bounce_us, what, value)]


def _time_us(text: str, source: str, number: int) -> int:
    try:
        return round(parse_quantity(text, "us"))
    except QuantityError as error:
        raise _refuse(source, number, error.found, 'a time, such as "250 ms" or "1.5 s"', error.hint) from None


def _refuse(source: str, number: int, found: str, allowed: str, hint: str = "") -> DesignFileError:
    return DesignFileError(source, [Complaint("", repr(found), allowed, hint, number)])


def words_of(change: Change) -> str:
    """Return what a step of a script says of `change`, without its time."""
    if isinstance(change.what, Dial):
        return f"{change.what} {format_duration(change.value)}"
    return _TEXTS[change.what, change.value]


def write_script(script: Script) -> str:
    """Return `script` as text that parse_script reads back to the same changes."""
    lines = [f"{change.at_us} us {words_of(change)}" for change in script.changes]
    if script.end_us is not None:
        lines.append(f"{script.end_us} us end")
    return "\n".join(lines) + "\n"
