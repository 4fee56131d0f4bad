"""Design files in: from a path or a text to a Design, or to an error that says all that is wrong.

A text is looked over once before it is parsed: is it in proportion, and where does each key stand? Parsers take minutes
and gigabytes, or end in a traceback, at text that is valid TOML but that no design is: numbers of a million digits,
tables in tables in tables, keys by the ten thousand. The bounds here are several times what the largest design has,
and what keeps within them is parsed at once.
"""

from __future__ import annotations

import re
import tomllib
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from timing.design.design import Design
from timing.design.section import field_at, section_in
from timing.design.text_file import Complaint, DesignFileError, UnreadableFileError, read_file
from timing.errors import meant

MOST_KEYS = 600
"""Three times as many as a design can have."""
DEEPEST = 10
"""Tables in one another, or parts of a dotted key; a design has four."""
LONGEST_WORD = 100
"""Characters of a number or of a key that stands without quotes."""

# Possessive, so that no text takes more than one look at each of its characters.
_TOKEN = re.compile(
    r"""
      (?P<comment>\#[^\n]*+)
    | (?P<text>
          \"\"\"(?:[^"\\]|\\.|"{1,2}+(?!"))*+\"{3,5}+
        | '''(?:[^']|'{1,2}+(?!'))*+'{3,5}+
        | "(?:[^"\\\n]|\\[^\n])*+"
        | '[^'\n]*+'
      )
    | (?P<end>\n)
    | (?P<sign>[\[\]{}=,.])
    | (?P<word>[^\s\#"'\[\]{}=,.]++)
    | (?P<space>[^\S\n]++)
    | (?P<stray>["'])
    """,
    re.VERBOSE | re.DOTALL,
)


class OutOfProportionError(Exception):
    """Text that no design is. Says on which line, what was found, and what is allowed."""

    def __init__(self, line: int, found: str, allowed: str) -> None:
        super().__init__(line, found, allowed)
        self.line, self.found, self.allowed = line, found, allowed


def lines_of_keys(text: str) -> Mapping[tuple[str, ...], int]:
    """Return the line, from 1, on which each key and each table first stands, by its path.

    Text that is no TOML gives what could be made out. Raises OutOfProportionError.
    """
    look = _Look()
    for token in _TOKEN.finditer(text):
        look.take(token.lastgroup or "", token[0])
    return look.lines


def line_of(lines: Mapping[tuple[str, ...], int], path: Sequence[str | int]) -> int | None:
    """Return the line of the key at `path`, of the nearest table around it where it is missing, or None."""
    steps = tuple(str(step) for step in path)
    return next((lines[steps[:length]] for length in range(len(steps), 0, -1) if steps[:length] in lines), None)


@dataclass
class _Look:
    """Where in the text the look is."""

    lines: dict[tuple[str, ...], int] = field(default_factory=dict)
    line: int = 1
    keys: int = 0
    table: tuple[str, ...] = ()
    """The table that the last header opened."""
    open: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)
    """Brackets and braces of the value that is being read, each with the key that it belongs to."""
    parts: list[str] | None = field(default_factory=list)
    """Of the key that is being read; None within a value."""
    header: bool = False
    value_of: tuple[str, ...] = ()
    """The key whose value is being read."""

    def take(self, kind: str, text: str) -> None:
        if kind == "end":
            self._end_line()
        elif kind == "sign":
            self._sign(text)
        elif kind in ("word", "text"):
            if kind == "word" and len(text) > LONGEST_WORD:
                what = "a key or word" if self.parts is not None else "a number or word"
                raise OutOfProportionError(
                    self.line,
                    f"{what} of {len(text)} characters: {text[:20]}...",
                    f"at most {LONGEST_WORD} characters without quotes",
                )
            if self.parts is not None:
                self.parts.append(text if kind == "word" else _unquoted(text))
                self._require_shallow(len(self._around) + len(self.parts))
        self.line += text.count("\n")

    @property
    def _around(self) -> tuple[str, ...]:
        if self.header:
            return ()
        return self.open[-1][1] if self.open else self.table

    def _end_line(self) -> None:
        if not self.open:
            self.parts = []
            self.header = False

    def _sign(self, sign: str) -> None:
        if sign in "[{":
            if sign == "[" and not self.open and self.parts == []:
                self.header = True
                return
            self.open.append((sign, self.value_of))
            self._require_shallow(len(self.open))
            self.parts = [] if sign == "{" else None
        elif sign in "]}":
            if self.header and self.parts:
                self.table = tuple(self.parts)
                self._note(self.table)
                self.parts = None
            elif self.open:
                self.value_of = self.open.pop()[1]
                self.parts = None
        elif sign == "=" and self.parts:
            self.value_of = self._around + tuple(self.parts)
            self._note(self.value_of)
            self.parts = None
        elif sign == "," and self.open:
            self.parts = [] if self.open[-1][0] == "{" else None

    def _note(self, path: tuple[str, ...]) -> None:
        self.keys += 1
        if self.keys > MOST_KEYS:
            raise OutOfProportionError(self.line, f"more than {MOST_KEYS} keys", f"at most {MOST_KEYS}")
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], self.line)

    def _require_shallow(self, depth: int) -> None:
        if depth > DEEPEST:
            raise OutOfProportionError(
                self.line, f"more than {DEEPEST} tables or lists in one another", f"at most {DEEPEST}"
            )


def _unquoted(text: str) -> str:
    """Return the key that stands in quotes, its escapes read; as it stands where there is something wrong with them."""
    try:
        return str(tomllib.loads(f"key = {text}")["key"]) if "\\" in text else text[1:-1]
    except tomllib.TOMLDecodeError:
        return text[1:-1]


LARGEST_DESIGN_BYTES = 200_000


def load_design(path: Path) -> Design:
    """Read and validate the design file at `path`. Raises DesignFileError."""
    return parse_design(read_design_text(path), str(path))


def read_design_text(path: Path) -> str:
    """Return the text of the design file at `path`, without the mark that some editors put before it.

    Raises DesignFileError when it cannot be read as text. A pipe or a device is no design file: it might never end.
    """
    try:
        content = read_file(path, LARGEST_DESIGN_BYTES)
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
        hint = _GONE.get(key) or meant(str(path[-1]), allowed) or _table_of_its_own(path)
        return Complaint(key, "a key that is not known here", ", ".join(allowed), hint, line)
    if kind == "missing":
        return Complaint(key, "nothing", f"this key must be there: {_describe(path)}", "", line)
    if kind == "literal_error":
        value = item["input"]
        words = _words(str(context["expected"]))
        return Complaint(key, repr(value), " or ".join(words), meant(str(value), words), line)
    if kind == "bool_type":
        return Complaint(key, repr(item["input"])[:60], "true or false, without quotes", "", line)
    if "found" in context:
        return Complaint(key, context["found"], context["allowed"], context["hint"], line)
    return Complaint(key, repr(item["input"])[:60], item["msg"][:1].lower() + item["msg"][1:], "", line)


_GONE = {
    "process.spot_volume": 'a spot without a hole is given by the diameter it shall fuse: spot_diameter = "5 mm", and '
    'back_sheet = "2 mm" where the back sheet is thicker than the top one',
}
"""Keys of earlier files, and what to write in their place."""


def _table_of_its_own(path: Sequence[str | int]) -> str:
    """Say where a key belongs that stands in some table and is the name of another."""
    name = path[-1]
    return f"{name} is a table of its own: [{name}]" if len(path) > 1 and _model_at([name]) is not None else ""


def _words(expected: str) -> list[str]:
    return [word.strip("' ") for word in expected.replace(" or ", ", ").split(",")]


def _model_at(path: Sequence[str | int]) -> type[BaseModel] | None:
    """Return the table at a path; None where there is none."""
    found = field_at(Design, path)
    return Design if not path else None if found is None else section_in(found.annotation)


def _keys_at(path: Sequence[str | int]) -> list[str]:
    model = _model_at(path)
    return [] if model is None else [str(one.alias) for one in model.model_fields.values()]


def _describe(path: Sequence[str | int]) -> str:
    found = field_at(Design, path)
    if found is None:
        return str(path[-1])
    measure = next((one.allowed for one in found.metadata if hasattr(one, "allowed")), "")
    return " ".join(filter(None, [found.description or f"the table [{path[-1]}]", measure]))
