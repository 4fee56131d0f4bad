"""A design file that a command changes: what becomes of it is shown, then written, all or nothing."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from pathlib import Path

import click

from timing.design.errors import shown
from wirecue.file_writing import OutputError, write_file


def write_changed(path: Path, before: str, after: str) -> None:
    """Show on standard error which lines change, and write them. Raises DesignFileError where `after` is no design."""
    from wirecue.projects import parse_project

    if after == before:
        return
    parse_project(after, str(path))
    click.echo("\n".join(_changed_lines(before, after)), err=True)
    write_unless_changed(path, before, after)
    click.echo(f"written: {shown(path)}", err=True)


def write_unless_changed(path: Path, before: str, after: str) -> None:
    """Write a design file that was read as `before`. Raises OutputError where somebody has changed it since."""
    from timing.design.loading import read_design_text

    if read_design_text(path) != before:
        raise OutputError(path, "changed by somebody else since it was read", "the same command again")
    write_file(path, after)


def _changed_lines(before: str, after: str) -> Iterator[str]:
    colours = {"+": "green", "-": "red"}
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=1, lineterm="")
    for line in lines:
        if not line.startswith(("---", "+++", "@@")):
            yield click.style(line, fg=colours.get(line[:1]))
