"""What the computation has to say about a design: findings with their numbers, reason and remedy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "info"]


@dataclass(frozen=True)
class Figure:
    """One number of a finding."""

    name: str
    """Words for people, small letters."""
    value: float
    unit: str


@dataclass(frozen=True)
class Change:
    """One value to write into the design file."""

    key: str
    """Dotted path, such as ``supply.regulator_input_max``."""
    value: str
    """As it is written there, such as ``60 V``."""


@dataclass(frozen=True)
class Remedy:
    """A way out: words, and where a design file can be changed to that effect, the changes."""

    text: str
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True)
class Finding:
    """One thing found. An error means: do not build it like this."""

    rule: str
    """Stable name, such as ``supply.input-voltage``."""
    severity: Severity
    key: str
    """Dotted path of the design's key that it hangs on."""
    text: str
    """What is the matter, in one sentence."""
    reason: str
    figures: tuple[Figure, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    """Best first."""
