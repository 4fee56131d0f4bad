"""A word to whoever waits, on a terminal only."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator

import click


@contextlib.contextmanager
def working(on: str) -> Iterator[None]:
    """Show what is being worked on, on standard error, and take it away again."""
    shown = sys.stderr.isatty()
    if shown:
        click.echo(f"{on} ...", nl=False, err=True)
    try:
        yield
    finally:
        if shown:
            click.echo("\r\x1b[K", nl=False, err=True)
