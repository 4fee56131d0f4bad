"""Design files in: from a path or a text to a Design, or to an error that says all that is wrong."""

from __future__ import annotations

import difflib
import tomllib
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from timing.design.design import Design
from timing.design.errors import Complaint, DesignFileError
from timing.design.text_file import UnreadableFileError, read_file
from timing.design.toml_text import OutOfProportionError, line_of, lines_of_keys

LARGEST_BYTES = 200_000


def load_design(path: Path) -> Design:
    """Read and validate the design file at `path`. Raises DesignFileError."""
    return parse_design(read_design_text(path), str(path))


def read_design_text(path: Path) -> str:
    """Return the text of the design file at `path`, without the mark that some editors put before it.

    Raises DesignFileError when it cannot be read as text. A pipe or a device is no design file: it might never end.
    """
    try:
        content = read_file(path, LARGEST_BYTES)
    except UnreadableFileError as error:
        hint = "`wirecue new` writes one to start from" if error.missing else "a design file is a page or two of TOML"
        raise DesignFileError(str(path), [Complaint("", error.found, error.allowed, hint)]) from None
    return decoded(content, path)


def decoded(content: bytes, path: Path) -> str:
    """Return the text of a design file's content. Raises DesignFileError."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        hint = "it looks like UTF-16; save it as UTF-8" if content.startswith((BOM_UTF16_LE, BOM_UTF16_BE)) else ""
        line = content.count(b"\n", 0, error.start) + 1
        allowed = "a TOML text file in UTF-8"
        raise DesignFileError(
            str(path), [Complaint("", "bytes that are not UTF-8 text", allowed, hint, line)]
        ) from None


def parse_design(text: str, source: str = "design") -> Design:
    """Validate the text of a design file; `source` names it in messages. Raises DesignFileError."""
    try:
        lines = lines_of_keys(text)
        data = tomllib.loads(text)
    except OutOfProportionError as error:
        raise DesignFileError(source, [Complaint("", error.found, error.allowed, "", error.line)]) from None
    except ValueError as error:
        # Not always a TOMLDecodeError: some values that are none come as they are.
        raise DesignFileError(source, [_syntax_complaint(error)]) from None
    try:
        return Design.model_validate(data)
    except ValidationError as error:
        complaints = [_complaint(lines, item) for item in error.errors(include_url=False)]
        # What stands in the file before what is missing from it.
        complaints.sort(key=lambda complaint: (complaint.line is None, complaint.line or 0))
        raise DesignFileError(source, complaints) from None


def _syntax_complaint(error: ValueError) -> Complaint:
    message = str(error)
    _, _, place = message.partition("(at line ")
    number = place.split(",", 1)[0]
    line = int(number) if number.isdigit() else None
    hint = 'quantities stand in quotes: filter = "25 ms"' if "value" in message or "newline" in message else ""
    return Complaint("", message.partition(" (at")[0].lower(), "TOML: [table], key = value", hint, line)


def _complaint(lines: Mapping[tuple[str, ...], int], item: Mapping[str, Any]) -> Complaint:
    path: Sequence[str | int] = item["loc"]
    context = item.get("ctx", {})
    kind = item["type"]
    key = ".".join(str(step) for step in path)
    line = line_of(lines, path)
    if kind == "extra_forbidden":
        allowed = _keys_at(path[:-1])
        near = difflib.get_close_matches(str(path[-1]), allowed, 1)
        hint = f"was {near[0]!r} meant?" if near else _table_of_its_own(path)
        return Complaint(key, "a key that is not known here", ", ".join(allowed), hint, line)
    if kind == "missing":
        return Complaint(key, "nothing", f"this key must be there: {_describe(path)}", "", line)
    if kind == "literal_error":
        value = item["input"]
        words = _words(str(context["expected"]))
        near = difflib.get_close_matches(str(value), words, 1)
        hint = f"was {near[0]!r} meant?" if near else ""
        return Complaint(key, repr(value), " or ".join(words), hint, line)
    if kind == "bool_type":
        return Complaint(key, repr(item["input"])[:60], "true or false, without quotes", "", line)
    if "found" in context:
        return Complaint(key, context["found"], context["allowed"], context["hint"], line)
    return Complaint(key, repr(item["input"])[:60], item["msg"][:1].lower() + item["msg"][1:], "", line)


def _table_of_its_own(path: Sequence[str | int]) -> str:
    """Say where a key belongs that stands in some table and is the name of another."""
    name = path[-1]
    return f"{name} is a table of its own: [{name}]" if len(path) > 1 and _model_at([name]) is not None else ""


def _words(expected: str) -> list[str]:
    return [word.strip("' ") for word in expected.replace(" or ", ", ").split(",")]


def _model_at(path: Sequence[str | int]) -> type[BaseModel] | None:
    model: type[BaseModel] | None = Design
    for step in path:
        if model is None:
            return None
        annotation = next((f.annotation for f in model.model_fields.values() if f.alias == step), None)
        candidates = [annotation, *getattr(annotation, "__args__", ())]
        model = next((c for c in candidates if isinstance(c, type) and issubclass(c, BaseModel)), None)
    return model


def _keys_at(path: Sequence[str | int]) -> list[str]:
    model = _model_at(path)
    return [] if model is None else [str(field.alias) for field in model.model_fields.values()]


def _describe(path: Sequence[str | int]) -> str:
    model = _model_at(path[:-1])
    if model is None:
        return str(path[-1])
    for field in model.model_fields.values():
        if field.alias == path[-1]:
            measure = next((m.allowed for m in field.metadata if hasattr(m, "allowed")), "")
            return " ".join(filter(None, [field.description or f"the table [{path[-1]}]", measure]))
    return str(path[-1])
