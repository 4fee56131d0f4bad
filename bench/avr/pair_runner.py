"""The process in which two simulated boards run: orders there, a line each, and what comes back (bench/avr/pair.h)."""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import IO

from bench.avr.simulator import SimulatorError


class PairRunner:
    """The process in which both run: lines there, lines back."""

    def __init__(self, command: Sequence[str], complaints: IO[bytes]) -> None:
        # A file, because a pipe that nobody reads would stop the process once it is full.
        self._complaints = complaints
        self._process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=complaints,
            encoding="ascii",
            start_new_session=True,  # a key that ends this program is not for that one: it ends with its orders
        )

    def order(self, *orders: str) -> None:
        """Send orders that are not answered. Raises SimulatorError where the process is gone."""
        assert self._process.stdin is not None
        try:
            self._process.stdin.write("".join(f"{order}\n" for order in orders))
        except (OSError, ValueError):
            raise self.stopped() from None

    def line(self) -> str:
        """Return the next line of an answer. Raises SimulatorError where the process is gone."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        try:
            self._process.stdin.flush()
            line = self._process.stdout.readline()
        except (OSError, ValueError):
            line = ""
        if not line.endswith("\n"):
            raise self.stopped()
        return line

    def stopped(self) -> SimulatorError:
        """Return what to raise, with what the process said last."""
        self.kill()
        self._complaints.seek(0)
        return SimulatorError(
            "the simulator of the two boards stopped", self._complaints.read().decode("utf-8", "replace")
        )

    def kill(self) -> None:
        """End the process."""
        self._process.kill()
        self._process.wait()

    def close(self) -> None:
        """End the process and let go of all that led to it."""
        self.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(OSError):  # of what was still to be sent
                if pipe is not None:
                    pipe.close()


@contextmanager
def started_runner(command: Sequence[str]) -> Iterator[PairRunner]:
    """Yield a process that runs `command`; it ends with the context."""
    with tempfile.TemporaryFile() as complaints:
        runner = PairRunner(command, complaints)
        try:
            yield runner
        finally:
            runner.close()
