"""Trigger scripts as options of a command: written out, or in a file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from timing.sequence.core.script import Script

LARGEST_BYTES = 200_000
"""Of a file of steps: some thousand of them."""


def read_steps(script: str | None, script_file: Path | None) -> Script | None:
    """Return the steps of --script or of the file ('-': standard input); None where neither is given.

    Raises click.UsageError for both at once, UnreadableFileError for a file that is no text, DesignFileError for steps
    that are none.
    """
    from timing.sequence.script_text import parse_script

    if script is not None and script_file is not None:
        raise click.UsageError("--script and --script-file exclude each other")
    if script_file is not None:
        return parse_script(_read(script_file), str(script_file))
    return None if script is None else parse_script(script, "--script")


def _read(path: Path) -> str:
    from timing.design.text_file import UnreadableFileError, decoded_text, read_text_file

    if str(path) != "-":
        return read_text_file(path, LARGEST_BYTES)
    content = sys.stdin.buffer.read(LARGEST_BYTES + 1)
    if len(content) > LARGEST_BYTES:
        raise UnreadableFileError(path, "more and more on standard input", f"{LARGEST_BYTES:,} bytes at most")
    return decoded_text(path, content)
