"""What a table of symptoms is made of: a symptom, its causes, and how the design's figures stand to each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from timing.symptoms.evidence import Evidence


class Standing(IntEnum):
    """How the design's own figures stand to a cause; the first is looked into first."""

    LIKELY = 0
    """The figures point here."""
    OPEN = 1
    """A usual cause; the figures do not tell."""
    UNLIKELY = 2
    """The figures speak against it."""

    @property
    def words(self) -> str:
        """What stands beside the cause."""
        return ("the figures point here", "usual, the figures do not tell", "the figures speak against it")[self]


@dataclass(frozen=True)
class Cause:
    """One thing that may be behind a symptom. Its texts are whole sentences."""

    standing: Standing
    text: str
    """What is wrong."""
    figures: str
    """What this design's figures say of it; empty where they say nothing."""
    check: str
    """What to look at or measure, with hands."""
    remedy: str
    """What to do when it is so."""


CauseFunction = Callable[["Evidence"], Cause | None]
"""Weighs one cause for one design; None where the design has nothing of the kind."""


@dataclass(frozen=True)
class Symptom:
    """Something that a person sees, hears or smells."""

    key: str
    title: str
    """In the words of somebody at the machine."""
    words: tuple[str, ...]
    """Other ways to say it; each word counts when it is looked for."""
    causes: tuple[CauseFunction, ...]
    """In the order in which they are looked into where the figures rank them alike (common practice, no source)."""
    caution: str = ""
    """What to mind before anything is checked."""


@dataclass(frozen=True)
class Diagnosis:
    """A symptom with the causes that one design can have, the likeliest first."""

    symptom: Symptom
    causes: tuple[Cause, ...]
