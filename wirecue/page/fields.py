"""Every key of the design file as a field to fill in: made from the schema, so that none is missing."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from timing.design.design import Design
from timing.design.section import field_measure
from timing.design.times import TimeSetting
from timing.design.units import format_quantity

# The keys that are turned most stand open; everything else is folded away.
MAIN_KEYS = (
    "process.wire",
    "process.wire_diameter",
    "process.gas",
    "process.gas_flow",
    "process.wire_feed_speed",
    "process.contact_tip_to_work",
    "process.open_circuit_voltage",
    "process.load_voltage",
    "process.load_current",
    "process.inductance",
    "process.plate_thickness",
)
ELSEWHERE = ("format", "name", "title", "notes", "board.pins", "extension_left")
"""Keys that are edited as text, or written by a command, and those below them."""


@dataclass(frozen=True)
class Field:
    """One key that takes one value."""

    key: str
    """Dotted path."""
    kind: Literal["quantity", "choice", "yes-no", "text"]
    description: str
    required: bool
    choices: tuple[str, ...] = ()
    allowed: str = ""
    """In words, for a quantity."""
    unit: str = ""
    """In which a quantity is kept; its default and bounds are in it."""
    default: str = ""
    """What holds where the key is left out; empty where nothing does."""

    @property
    def label(self) -> str:
        """The key without its table, for people: 'wire feed speed'."""
        return self.key.rpartition(".")[2].replace("_", " ")

    @property
    def section(self) -> str:
        """The table it stands in."""
        return self.key.rpartition(".")[0]


@cache
def all_fields() -> dict[str, Field]:
    """Return every field by its key, in the order of the schema; times and free text have controls of their own."""
    return {field.key: field for field in _fields(Design, "") if not field.key.startswith(ELSEWHERE)}


def values_in(text: str) -> dict[str, str | bool]:
    """Return what stands in a design file, by dotted key."""
    found: dict[str, str | bool] = {}

    def walk(table: dict[str, Any], path: str) -> None:
        for key, value in table.items():
            if isinstance(value, dict):
                walk(value, f"{path}{key}.")
            elif isinstance(value, str | bool):
                found[path + key] = value

    walk(tomllib.loads(text), "")
    return found


def tables_in(text: str) -> set[str]:
    """Return the dotted paths of all tables in a design file."""
    found: set[str] = set()

    def walk(table: dict[str, Any], path: str) -> None:
        for key, value in table.items():
            if isinstance(value, dict):
                found.add(path + key)
                walk(value, f"{path}{key}.")

    walk(tomllib.loads(text), "")
    return found


def nearest_key(key: str, known: Collection[str]) -> str:
    """Return the key to show for a finding's key: itself, or else the first of `known` below it or below its table."""
    while key:
        if key in known:
            return key
        below = next((one for one in known if one.startswith(f"{key}.")), None)
        if below is not None:
            return below
        key = key.rpartition(".")[0]
    return ""


def _fields(model: type[BaseModel], path: str) -> Iterator[Field]:
    for field in model.model_fields.values():
        key = f"{path}{field.alias}"
        inner = _model_of(field.annotation)
        if inner is not None and issubclass(inner, TimeSetting):
            continue
        if inner is not None:
            yield from _fields(inner, f"{key}.")
        else:
            yield _field(key, field)


def _field(key: str, info: FieldInfo) -> Field:
    required, default = info.is_required(), info.default
    about = info.description or ""
    measure = field_measure(info)
    if measure is not None:
        shown = "" if required or default is None else format_quantity(default, measure.unit)
        return Field(key, "quantity", about, required, (), measure.allowed, measure.unit, shown)
    choices = _choices(info.annotation)
    if choices:
        return Field(key, "choice", about, required, choices, default="" if required else str(default or ""))
    if info.annotation is bool:
        return Field(key, "yes-no", about, required, default="true" if default is True else "false")
    return Field(key, "text", about, required)


def _choices(annotation: Any) -> tuple[str, ...]:
    if get_origin(annotation) is Literal:
        return tuple(str(choice) for choice in get_args(annotation))
    return next((found for part in get_args(annotation) if (found := _choices(part))), ())


def _model_of(annotation: Any) -> type[BaseModel] | None:
    candidates = [annotation, *get_args(annotation)]
    return next((one for one in candidates if isinstance(one, type) and issubclass(one, BaseModel)), None)
