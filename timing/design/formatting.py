"""Figures as people read them."""

from __future__ import annotations


def ms(duration_us: float) -> str:
    """Return a duration for people: '25 ms', '1.2 s'."""
    if abs(duration_us) >= 1_000_000:
        return f"{duration_us / 1e6:.3g} s"
    return f"{duration_us / 1e3:.3g} ms"
