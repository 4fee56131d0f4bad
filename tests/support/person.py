"""A person at the terminal: reads what stands on the screen, and types an answer when asked for one."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from unittest.mock import patch

from wirecue.cli import main


@dataclass(frozen=True)
class Session:
    """One command that was run, and all that stood on the screen."""

    screen: str
    exit_code: int


class _Keyboard(io.TextIOBase):
    """Asks the person for a line whenever a program wants one."""

    def __init__(self, screen: io.StringIO, answer: Callable[[str], str]) -> None:
        self._screen, self._answer, self._read = screen, answer, 0

    def readable(self) -> bool:
        return True

    def isatty(self) -> bool:
        return False

    def readline(self, _size: int = -1) -> str:
        new = self._screen.getvalue()[self._read :]
        line = self._answer(new) + "\n"
        self._screen.write(line)
        self._read = len(self._screen.getvalue())
        return line


def at_the_terminal(arguments: list[str], answer: Callable[[str], str]) -> Session:
    """Run a command; `answer` gets what appeared since the last answer and returns the next line to type."""
    screen = io.StringIO()
    with redirect_stdout(screen), redirect_stderr(screen), patch.object(sys, "stdin", _Keyboard(screen, answer)):
        try:
            code = main.main(arguments, standalone_mode=False)
        except SystemExit as end:
            code = end.code
    return Session(screen.getvalue(), int(code or 0))
