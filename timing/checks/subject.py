"""What the rules look at."""

from __future__ import annotations

from dataclasses import dataclass

from timing.design.board import Board
from timing.design.design import Design


@dataclass(frozen=True)
class Footprint:
    """Memory that the sketch takes."""

    flash_bytes: int
    ram_bytes: int
    measured: bool
    """True: as the compiler reports it; False: an estimate."""


@dataclass(frozen=True)
class Subject:
    """A design on its board."""

    design: Design
    board: Board
    footprint: Footprint | None = None
    """None: memory is not looked at."""


def ms(duration_us: float) -> str:
    """Return a duration for people: '25 ms', '1.2 s'."""
    if abs(duration_us) >= 1_000_000:
        return f"{duration_us / 1e6:.3g} s"
    return f"{duration_us / 1e3:.3g} ms"
