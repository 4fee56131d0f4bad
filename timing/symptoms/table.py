"""The one table of symptoms; what of it one design can have; and the row that somebody's own words mean."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from timing.errors import WirecueError
from timing.project import Project
from timing.symptoms.evidence import Evidence
from timing.symptoms.gas_flow import CRATER_PORES, GAS_RUNS_ON, NO_GAS, START_PORES
from timing.symptoms.lamp import lamp_symptoms
from timing.symptoms.supply_and_board import CHATTERS, FUSE_BLOWS, RESETS, SILENT
from timing.symptoms.symptom import Cause, Diagnosis, Symptom
from timing.symptoms.trigger_and_panel import (
    DIAL_DOES_NOTHING,
    DOES_NOT_START,
    SPOTS_DIFFER,
    STARTS_BY_ITSELF,
    WIRE_RUNS_ON,
)
from timing.symptoms.wire_end import BALL, BURNS_INTO_TIP, STICKS

SYMPTOMS = (
    *(STICKS, BURNS_INTO_TIP, BALL, START_PORES, CRATER_PORES, WIRE_RUNS_ON, SPOTS_DIFFER, DOES_NOT_START),
    *(STARTS_BY_ITSELF, NO_GAS, GAS_RUNS_ON, CHATTERS, RESETS, SILENT, FUSE_BLOWS, DIAL_DOES_NOTHING),
)
"""What every design may show, in the order in which it is met; the lamp's codes come after it."""
_COMMON = frozenset(
    [
        *("a", "an", "and", "the", "it", "its", "is", "are", "at", "by", "in", "into", "of", "on", "off", "to", "my"),
        *("i", "too", "very", "has", "have", "be", "when", "while", "with", "after"),
    ]
)
"""Words that tell no symptom from another."""
_COUNTED = {
    word: str(number)
    for number, word in enumerate(("once", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"), 1)
} | {"one": "1", "twice": "2"}
"""Numbers as people write them."""
_LAMP = frozenset(["lamp", "light", "led", "blink", "wink", "flash", "code"])
"""Words, in their plainest form, by which somebody tells of the lamp."""
_CLOSE = 0.75
"""A symptom that meets this share of the best one's words may be meant as well (choice)."""


class UnknownSymptomError(WirecueError):
    """Words that fit no symptom. Keeps them, and the symptoms that there are."""

    def __init__(self, words: str, known: Sequence[Symptom]) -> None:
        super().__init__(words, known)
        self.words = words
        self.known = known

    def __str__(self) -> str:
        rows = "\n".join(f"  {one.key:<14} {one.title}" for one in self.known)
        return f"no symptom is known by {self.words!r}; say it by one of these:\n{rows}"


def symptoms_of(project: Project) -> tuple[Symptom, ...]:
    """Return the symptoms that have at least one cause in this design, the lamp's codes last."""
    evidence = Evidence(project)
    found = (*SYMPTOMS, *lamp_symptoms(project))
    return tuple(one for one in found if any(cause(evidence) is not None for cause in one.causes))


def diagnosis(symptom: Symptom, evidence: Evidence) -> Diagnosis:
    """Return the causes of a symptom that a design can have, by their standing, else in the order of the table."""
    causes = (cause(evidence) for cause in symptom.causes)
    return Diagnosis(symptom, tuple(sorted((one for one in causes if one is not None), key=_standing)))


def _standing(cause: Cause) -> int:
    return cause.standing


def meant_by(words: str, known: Sequence[Symptom]) -> tuple[Symptom, ...]:
    """Return what somebody's words may mean, the nearest first. Raises UnknownSymptomError where nothing fits."""
    exact = [one for one in known if words.strip().lower() == one.key]
    if exact:
        return tuple(exact)
    asked = _stems(words)
    counted = _codes(asked)
    if counted:
        codes = tuple(one for one in known if one.key in counted)
        if not codes:
            raise UnknownSymptomError(words, known)
        return codes
    scores = {one.key: _score(asked, one) for one in known}
    best = max(scores.values(), default=0.0)
    if best <= 0.0:
        raise UnknownSymptomError(words, known)
    near = [one for one in known if scores[one.key] >= _CLOSE * best]
    return tuple(sorted(near, key=lambda one: -scores[one.key]))


def _codes(asked: frozenset[str]) -> tuple[str, ...]:
    """Return the keys of the lamp's codes that words with a number in them mean; none where they tell of no lamp.

    A neighbour of the number that was counted would be worse than no answer.
    """
    numbers = [int(one) for one in asked if one.isdigit()]
    if not numbers or not asked & _LAMP:
        return ()
    kinds = ["winks"] * ("blink" not in asked) + ["lamp"] * ("wink" not in asked)
    return tuple(f"{kind}-{number}" for kind in reversed(kinds) for number in numbers)


def _score(asked: frozenset[str], symptom: Symptom) -> float:
    """Share of the words asked that one way of saying it has, the best of its ways, with a little for its length."""
    ways = (symptom.title, symptom.key, *symptom.words)
    return max(_share(asked, _stems(way)) for way in ways)


def _share(asked: frozenset[str], said: frozenset[str]) -> float:
    shared = len(asked & said)
    return shared / len(asked | said) + shared if shared else 0.0


def _stems(text: str) -> frozenset[str]:
    """Return the words of a text that carry meaning, in their plainest form."""
    words = re.findall(r"[a-z]+|[0-9]{1,3}", text.lower())
    return frozenset(_COUNTED.get(word) or _stem(word) for word in words if word not in _COMMON)


def _stem(word: str) -> str:
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word.removesuffix(ending)
    return word


def diagnoses(project: Project, symptoms: Iterable[Symptom]) -> tuple[Diagnosis, ...]:
    """Return the diagnosis of several symptoms, the figures computed once."""
    evidence = Evidence(project)
    return tuple(diagnosis(one, evidence) for one in symptoms)
