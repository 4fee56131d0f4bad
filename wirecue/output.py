"""Files and text out of the command line."""

from __future__ import annotations

import json
import os
import re
import tempfile
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import click


class OutputError(Exception):
    """A file cannot be written."""

    exit_code = 2

    def __init__(self, path: Path, why: str) -> None:
        super().__init__(path, why)
        self.path = path
        self.why = why

    def __str__(self) -> str:
        return f"{self.path}\n  found    {self.why}\n  allowed  a place where a file can be written"


def write_file(path: Path, content: str | bytes) -> None:
    """Write `content` to `path` whole or not at all. Raises OutputError."""
    data = content.encode() if isinstance(content, str) else content
    try:
        descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(descriptor, "wb") as file:
                file.write(data)
            umask = os.umask(0)
            os.umask(umask)
            Path(temporary).chmod(0o666 & ~umask)
            Path(temporary).replace(path)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise OutputError(path, (error.strerror or str(error)).lower()) from None


def give(path: str, content: str | bytes, what: str) -> None:
    """Print `content` where `path` is '-', otherwise write the file and say so on standard error."""
    if path == "-":
        click.echo(content, nl=content[-1:] not in ("\n", b"\n"))
    else:
        write_file(Path(path), content)
        click.echo(f"{what}: {path}", err=True)


def to_json(data: Mapping[str, Any] | Sequence[Any]) -> str:
    """Return `data` as JSON text."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


_HELD = re.compile(r'[\w.]+ = "[^"]*"|\d [A-Za-z%]')


def paragraph(text: str, width: int = 100, first: str = "", then: str = "") -> str:
    """Return `text` broken into lines, `first` and `then` at their beginnings.

    A number is not parted from its unit, and a line for the design file, to be copied, not in itself.
    """
    held = _HELD.sub(lambda found: found[0].replace(" ", "\N{NO-BREAK SPACE}"), text)
    return textwrap.fill(held, width, initial_indent=first, subsequent_indent=then).replace("\N{NO-BREAK SPACE}", " ")


def rounded(data: Any) -> Any:
    """Return `data` with every float to six figures: more would only look exact."""
    if isinstance(data, float):
        return float(f"{data:.6g}")
    if isinstance(data, Mapping):
        return {key: rounded(value) for key, value in data.items()}
    return [rounded(value) for value in data] if isinstance(data, list | tuple) else data


def table(rows: Iterable[Sequence[str]], head: Sequence[str] = ()) -> str:
    """Return rows as aligned columns."""
    lines = [*([head] if head else []), *rows]
    widths = [max(len(line[column]) for line in lines) for column in range(len(lines[0]))] if lines else []
    texts = ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines]
    return "\n".join(texts)
