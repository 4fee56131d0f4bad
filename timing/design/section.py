"""What every table of the design file has in common."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Annotated, Any, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from timing.design.units import Measure, key_of
from timing.system.file_names import is_device_name


class Section(BaseModel):
    """A table of the design file: frozen, and strict about keys it does not know."""

    # Built when it is first used, once for the whole design: most tables are never validated by themselves, and every
    # command waits for this.
    model_config = ConfigDict(extra="forbid", frozen=True, alias_generator=key_of, defer_build=True)


def section_in(annotation: Any) -> type[BaseModel] | None:
    """Return the table that a field's annotation stands for, optional or not; None for a field of another kind."""
    candidates = (annotation, *getattr(annotation, "__args__", ()))
    return next((one for one in candidates if isinstance(one, type) and issubclass(one, BaseModel)), None)


def field_at(model: type[BaseModel], path: Sequence[str | int]) -> FieldInfo | None:
    """Return the field at a path of keys, from the table `model` down; None where there is none."""
    within: type[BaseModel] | None = model
    found = None
    for step in path:
        fields = () if within is None else within.model_fields.values()
        found = next((field for field in fields if field.alias == step), None)
        if found is None:
            return None
        within = section_in(found.annotation)
    return found


def field_measure(info: FieldInfo) -> Measure | None:
    """Return what a field's quantity is measured in; None for a field that is no quantity."""
    parts = [*info.metadata, *get_args(info.annotation)]
    parts += [inner for part in get_args(info.annotation) for inner in get_args(part)]
    return next((part for part in parts if isinstance(part, Measure)), None)


def refuse(found: str, allowed: str, hint: str = "") -> PydanticCustomError:
    """Return the error for a value that a validator turns down, in the terms the user is shown."""
    return PydanticCustomError("refused", "{found}: {allowed}", {"found": found, "allowed": allowed, "hint": hint})


# Names travel into C, file names and HTML. Instead of escaping them for each, their alphabet is the narrow one
# that all of these take as it is, and the whole text is matched.
_NAME = re.compile(r"[a-z][a-z0-9_]{0,30}")
_TEXT_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]")


def _name(value: str) -> str:
    allowed = "a small letter, then small letters, digits and _, 31 at most"
    if _NAME.fullmatch(value) is None:
        near = re.sub(r"[^a-z0-9_]+", "_", value.lower()).strip("_0123456789")[:31]
        raise refuse(repr(value), allowed, f"perhaps {near!r}" if _NAME.fullmatch(near) else "")
    if is_device_name(value):
        raise refuse(repr(value), "a name that every system takes as a folder", "this one is a device on some")
    return value


def _text(value: str) -> str:
    if _TEXT_CONTROL.search(value):
        raise refuse(repr(value)[:60], "text without control characters", "tabs and line ends are fine")
    return value


def _one_line(value: str) -> str:
    if len(value) > 80 or "\n" in value:
        raise refuse(repr(value)[:60], "one line of 80 characters at most", "longer text goes into notes")
    return _text(value)


def _notes(value: str) -> str:
    if len(value) > 2000:
        raise refuse(f"{len(value)} characters", "2000 characters at most")
    return _text(value)


Name = Annotated[str, AfterValidator(_name)]
Title = Annotated[str, AfterValidator(_one_line)]
Notes = Annotated[str, AfterValidator(_notes)]
