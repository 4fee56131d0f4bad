"""The base of all errors that are told to people."""

from __future__ import annotations


class WirecueError(Exception):
    """What a person can cause, or has to know: its words say what, where, what is allowed and what to do.

    The command line prints these, and these alone, and ends with their exit code; anything else is a fault of ours.
    """

    exit_code = 2
    """2: a file, a command or the machine's tools; 1: the design breaks a rule, or a test failed."""
