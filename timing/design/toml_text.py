"""A design file's text, looked over once before it is parsed: is it in proportion, and where does each key stand?

Parsers take minutes and gigabytes, or end in a traceback, at text that is valid TOML but that no design is: numbers
of a million digits, tables in tables in tables, keys by the ten thousand. The bounds here are several times what the
largest design has, and what keeps within them is parsed at once.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

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
