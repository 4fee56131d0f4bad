"""Walks through commissioning in processes of their own, each ended by a signal after one answer.

Started as a program with a design, the signal and how many steps each walk answers; the answers come as lines. A
process with threads may not be forked, and the tests have threads. Everything is loaded once; each walk is forked, at a
terminal of its own. Prints how far it came: a line for each answer, with the key of the step that was answered.
"""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
from pathlib import Path

import click

from wirecue.commands import commission
from wirecue.commissioning import Commissioning

PROMPT, END, STOPPED = b"later >", b"Commissioned", b"Stopped"
PRESS_AGAIN_S = 0.2


def main() -> None:
    design, how, stride = Path(sys.argv[1]), signal.Signals[sys.argv[2]], int(sys.argv[3])
    going = Commissioning.of(design)
    answers = sys.stdin.read().splitlines()
    steps = list(enumerate(zip(going.plan.steps, answers, strict=True), 1))
    for first in range(0, len(steps), stride):
        child, terminal = pty.fork()
        if child == 0:
            _walk(going)
        said = _read_until(terminal, PROMPT)
        for number, (step, answer) in steps[first : first + stride]:
            if f"{number} of {len(steps)}".encode() not in said or f"({step.key})".encode() not in said:
                raise SystemExit(f"another step than {step.key} was asked:\n{said.decode()}")
            os.write(terminal, f"{answer}\n".encode())
            said = _read_until(terminal, END if number == len(steps) else PROMPT)
            print(step.key, flush=True)
        last = first + stride >= len(steps)
        if not last:
            _end(child, terminal, how)
        _, status = os.waitpid(child, 0)
        os.close(terminal)
        if not last and os.waitstatus_to_exitcode(status) == 0:
            raise SystemExit("a walk ended by itself")


def _end(child: int, terminal: int, how: signal.Signals) -> None:
    if how is signal.SIGKILL:
        os.kill(child, how)
        return
    said = b""
    # A Ctrl-C that comes in the instant before Python begins to wait for a line is seen with the next key only.
    while STOPPED not in said:
        os.write(terminal, b"\x03")
        while STOPPED not in said and select.select([terminal], [], [], PRESS_AGAIN_S)[0]:
            said += _read(terminal)


def _walk(going: Commissioning) -> None:
    # Tests started in the background inherit that Ctrl-C does nothing.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    code = 70
    try:
        commission.walk_through(click.Context(commission.command), going)
        code = 0
    except (SystemExit, click.exceptions.Exit) as end:
        code = end.exit_code if isinstance(end, click.exceptions.Exit) else int(end.code or 0)
    finally:
        os._exit(code)


def _read_until(terminal: int, words: bytes) -> bytes:
    said = b""
    while words not in said:
        said += _read(terminal)
    return said


def _read(terminal: int) -> bytes:
    said = os.read(terminal, 65536)
    if not said:
        raise SystemExit("the walk ended without a word")
    return said


if __name__ == "__main__":
    main()
