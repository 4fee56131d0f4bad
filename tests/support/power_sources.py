"""Power sources set otherwise than a design says, for tests."""

from __future__ import annotations

from timing.process.case import BurnbackCase


def turned_to(case: BurnbackCase, open_v: float) -> BurnbackCase:
    """The same machine turned to another open-circuit voltage."""
    return case.turned_up(open_v - case.open_v)
