"""The program: `wirecue`, and `python -m wirecue`."""

from __future__ import annotations

import gc

from wirecue.cli import main

START_UP_OBJECTS = 50_000
"""New objects between two searches for cycles: loading makes tens of thousands that all stay, and Python would look
through them some thirty times before a short command has begun (choice)."""


def run() -> None:
    """Run the command line as a program of its own."""
    gc.set_threshold(START_UP_OBJECTS, 20, 20)
    main(prog_name="wirecue")


if __name__ == "__main__":
    run()
