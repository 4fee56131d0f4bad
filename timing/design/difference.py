"""What differs between two designs, key by key, each value as it was typed."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from timing.design.design import Design
from timing.design.loading import parse_design
from timing.design.section import field_at, field_measure
from timing.design.times import TIME_KEYS
from timing.design.units import format_quantity


@dataclass(frozen=True)
class KeyDifference:
    """One key that is otherwise in one of two designs."""

    key: str
    """Dotted path."""
    old: str | None
    """As typed; None where it is not there."""
    new: str | None

    @property
    def as_values(self) -> dict[str, str]:
        """The values of a logbook's entry; a key that came has nothing old, one that went says so."""
        old = {} if self.old is None else {"old": self.old}
        return {"key": self.key} | old | {"new": "left out" if self.new is None else self.new}


@dataclass(frozen=True)
class DifferenceGroup:
    """What differs in one part of the design, with the part's name."""

    title: str
    differences: tuple[KeyDifference, ...]


GROUPS = {
    "times and dials": tuple(dict.fromkeys(key.partition(".")[0] for key in TIME_KEYS.values())),
    "trigger, switches and panel": ("trigger", "buttons", "interlock", "arc_sensor", "limits", "panel"),
    "board and pins": ("board",),
    "supply and circuits": ("supply", "circuits"),
    "feeder and process": ("feeder", "process", "extension_left"),
    "names and notes": ("name", "title", "notes", "format"),
}
"""Tables of the design file by what they are about, in the order in which a change of them matters."""


def typed_differences(before: str, after: str) -> tuple[KeyDifference, ...]:
    """Return what is typed otherwise in two texts of design files, in the order of the second.

    Raises tomllib.TOMLDecodeError for a text that is no TOML.
    """
    old, new = (dict(typed_leaves(tomllib.loads(text))) for text in (before, after))
    keys = dict.fromkeys([*new, *old])
    return tuple(KeyDifference(key, old.get(key), new.get(key)) for key in keys if old.get(key) != new.get(key))


def typed_leaves(table: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    """Yield the values of a table of TOML and of those in it, by dotted key, as people type them."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from typed_leaves(value, f"{path}{key}.")
        else:
            yield f"{path}{key}", str(value).lower() if isinstance(value, bool) else str(value)


def design_differences(
    before: str, after: str, sources: tuple[str, str] = ("before", "after")
) -> tuple[DifferenceGroup, ...]:
    """Return what two design files say otherwise, by what it is about; none where they mean the same.

    '0.1 s' and '100 ms' are no difference, nor is a usual value that is left out in one and typed in the other.
    sources: names of the two, for messages. Raises DesignFileError for a text that is no design.
    """
    old, new = _Said.of(before, sources[0]), _Said.of(after, sources[1])
    keys = [key for key in dict.fromkeys([*new.meant, *old.meant]) if old.meant.get(key) != new.meant.get(key)]
    # A table that goes takes what was usual in it with it: nobody typed that.
    typed = [
        KeyDifference(key, old.text_of(key), new.text_of(key))
        for key in keys
        if old.typed_key(key) is not None or new.typed_key(key) is not None
    ]
    groups = []
    for title, tables in GROUPS.items():
        found = tuple(one for one in typed if one.key.partition(".")[0] in tables)
        groups += [DifferenceGroup(title, found)] if found else []
    return tuple(groups)


@dataclass(frozen=True)
class _Said:
    """A design file as it was typed and as it is meant, by dotted key."""

    typed: Mapping[str, str]
    meant: Mapping[str, Any]

    @classmethod
    def of(cls, text: str, source: str) -> _Said:
        design = parse_design(text, source)
        typed = dict(typed_leaves(tomllib.loads(text)))
        return cls(typed, dict(_leaves_meant(design.model_dump(by_alias=True))))

    def typed_key(self, key: str) -> str | None:
        """Return the key under which a value stands in the file: a fixed time stands as bare text."""
        return next((one for one in (key, key.removesuffix(".setting")) if one in self.typed), None)

    def text_of(self, key: str) -> str | None:
        typed = self.typed_key(key)
        if typed is not None:
            return self.typed[typed]
        value = self.meant.get(key)
        return None if value is None else f"{_usual_text(key, value)} (not stated)"


def _leaves_meant(table: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _leaves_meant(value, f"{path}{key}.")
        elif value is not None:
            yield f"{path}{key}", value


def _usual_text(key: str, value: Any) -> str:
    info = field_at(Design, key.split("."))
    measure = None if info is None else field_measure(info)
    if measure is not None:
        return format_quantity(value, measure.unit)
    return str(value).lower() if isinstance(value, bool) else str(value)
