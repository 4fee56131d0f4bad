"""Trigger scripts as options of a command: written out, or in a file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.design.errors import shown

if TYPE_CHECKING:
    from timing.sequence.script import Script


def read_steps(script: str | None, script_file: Path | None) -> Script | None:
    """Return the steps of --script or of the file ('-': standard input); None where neither is given.

    Raises click.UsageError for both at once and for a file that is no text, DesignFileError for steps that are none.
    """
    from timing.sequence.script_text import parse_script

    if script is not None and script_file is not None:
        raise click.UsageError("--script and --script-file exclude each other")
    if script_file is not None:
        return parse_script(_read(script_file), str(script_file))
    return None if script is None else parse_script(script, "--script")


def _read(path: Path) -> str:
    if str(path) == "-":
        return sys.stdin.read()
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise click.UsageError(f"{shown(path)} cannot be read as text: it is not UTF-8") from None
    except OSError as error:
        raise click.UsageError(f"{shown(path)} cannot be read: {(error.strerror or str(error)).lower()}") from None
