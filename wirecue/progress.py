"""A word to whoever waits, on a terminal only."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator

import click


@contextlib.contextmanager
def working(on: str) -> Iterator[Callable[[str], None]]:
    """Show what is being worked on, on standard error, and take it away again. Gives what to tell how far it is."""
    shown = sys.stderr.isatty()

    def tell(how_far: str) -> None:
        if shown:
            click.echo(f"\r\x1b[K{on} ... {how_far}", nl=False, err=True)

    tell("")
    try:
        yield tell
    finally:
        if shown:
            click.echo("\r\x1b[K", nl=False, err=True)
