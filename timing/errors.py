"""The base of all errors that are told to people."""

from __future__ import annotations

from collections.abc import Iterable


class WirecueError(Exception):
    """What a person can cause, or has to know: its words say what, where, what is allowed and what to do.

    The command line prints these, and these alone, and ends with their exit code; anything else is a fault of ours.
    """

    exit_code = 2
    """2: a file, a command or the machine's tools; 1: the design breaks a rule, or a test failed."""


def meant(word: str, known: Iterable[str]) -> str:
    """Ask whether the nearest of the known words was meant; return nothing where none is near."""
    # Late: what is spelt right shall not wait for it.
    import difflib

    near = difflib.get_close_matches(word, list(known), 1)
    return f"was {near[0]!r} meant?" if near else ""
