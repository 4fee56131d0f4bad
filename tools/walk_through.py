"""Run the commands of docs/walk-through.md and write what they print into it. Part of `make docs`.

The page is its own template. Each `console` block holds commands after `$ ` with their output; where a line of it is
`...`, as many lines are shown as stood before it, and from the end as many as stood after it.
"""

from __future__ import annotations

import contextlib
import re
import shlex
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from click.testing import CliRunner

from wirecue.cli import main as wirecue

DOCS = Path(__file__).parent.parent / "docs"
PAGE = DOCS / "walk-through.md"
MORE = "..."
_BLOCK = re.compile(r"(?ms)^```console\n(.*?)^```$")

Run = Callable[[str], list[str]]
"""A command line to the lines that it prints."""


class CommandFailedError(Exception):
    """A command of the page does not do what the page says."""

    def __init__(self, line: str, exit_code: int, output: str) -> None:
        super().__init__(f"$ {line}\nexit code {exit_code}\n{output}")


def remade(page: str, run: Run) -> str:
    """Return the page with the output of its commands as they are now. Raises CommandFailedError."""
    return _BLOCK.sub(lambda block: "```console\n" + "".join(_lines(block[1], run)) + "```", page)


def _lines(block: str, run: Run) -> Iterator[str]:
    for part in re.split(r"(?m)^\$ ", block)[1:]:
        command, *shown = part.rstrip("\n").split("\n")
        printed = run(command)
        if MORE in shown:
            before = shown.index(MORE)
            after = len(shown) - before - 1
            printed = [*printed[:before], MORE, *printed[len(printed) - after :]]
        yield "".join(f"{line}\n" for line in (f"$ {command}", *printed))


def run_here(line: str) -> list[str]:
    """Run one command of this tool in the present folder, as in a terminal of 100 columns."""
    program, *arguments = shlex.split(line)
    if program != "wirecue":
        raise CommandFailedError(line, 2, "not a command of this tool")
    result = CliRunner().invoke(wirecue, arguments, env={"COLUMNS": "100", "NO_COLOR": "1"})
    if result.exit_code != 0:
        raise CommandFailedError(line, result.exit_code, result.output or repr(result.exception))
    return [text.rstrip() for text in result.output.rstrip("\n").split("\n")]


def walked(page: str) -> str:
    """Return the page remade in an empty folder."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        return remade(page, run_here)


def main() -> None:
    """Write the page."""
    PAGE.write_text(walked(PAGE.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
