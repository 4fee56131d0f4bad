"""Figures as people read them. A name says how a figure is rounded; the design file's units are in `design.units`."""

from __future__ import annotations

import math


def ms(duration_us: float) -> str:
    """Return a duration to three figures: '25 ms', '1.2 s'."""
    if abs(duration_us) >= 1_000_000:
        return f"{duration_us / 1e6:.3g} s"
    return f"{duration_us / 1e3:.3g} ms"


def exact_ms(time_us: float) -> str:
    """Return an instant or a duration to the microsecond: '25.004 ms', '1.200000 s'."""
    return f"{time_us / 1000:.3f} ms" if abs(time_us) < 1_000_000 else f"{time_us / 1e6:.6f} s"


def tenths_ms(time_us: float) -> str:
    """Return an instant of a run as it is compared by eye, to a tenth of a millisecond: '1320.0 ms'."""
    return f"{time_us / 1000:.1f} ms"


def in_ms(seconds: float) -> str:
    """Return a computed time to the millisecond, which is finer than any of them is known: '90 ms'."""
    return f"{seconds * 1000:.0f} ms"


def tenths_s(seconds: float) -> str:
    """Return a computed time to a tenth of a second, in milliseconds where that would be nothing: '2.4 s', '40 ms'."""
    return f"{seconds:.1f} s" if seconds >= 0.05 else in_ms(seconds)


def signed_ms(error_us: float, places: int = 2) -> str:
    """Return how late (+) or early (-) something came, its unit being in the head of a column: '+0.12'."""
    return f"{error_us / 1000:+.{places}f}"


def error_ms(error_us: float, places: int = 2) -> str:
    """Return how late (+) or early (-) something came: '+0.12 ms'."""
    return f"{signed_ms(error_us, places)} ms"


def energy_text(energy_j: float) -> str:
    """Return an energy to two figures: '34 mJ', '150 mJ', '1.2 J'."""
    rounded_j = float(f"{energy_j:.2g}")
    return f"{rounded_j:g} J" if rounded_j >= 1.0 else f"{1000.0 * rounded_j:g} mJ"


def percent_text(share: float) -> str:
    """Return a share as '97 %'."""
    return f"{100 * share:.0f} %"


def round_step(span: float, count: int = 10) -> float:
    """Return a round distance between ticks, 1, 2 or 5 times a power of ten, for at most `count` of them in `span`."""
    rough = max(span / count, 1e-12)
    power = 10.0 ** math.floor(math.log10(rough))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough * (1 - 1e-9))
