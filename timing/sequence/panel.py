"""Switches of the panel and the interlock: they count once several looks at them agree. The C core does the same.

A look is taken every 128 us and the fourth on end that differs makes the change, so that a disturbance shorter than
three looks does nothing. Four looks: common practice, no source; they cost an opening interlock half a millisecond, a
tenth of what the contactor behind it takes to open.

The model of the sequence takes these contacts as they count. Forced contacts count at once: they are no pins.
"""

from __future__ import annotations

LOOK_US = 128
"""From one look to the next (choice)."""
LOOKS = 4
"""Looks on end that make a change (choice)."""
SHORTEST_US = (LOOKS - 1) * LOOK_US
"""A change that lasts less does nothing (derived)."""
LONGEST_US = LOOKS * LOOK_US
"""A change that stays is seen by then, and a pass (derived)."""
USUAL_US = (SHORTEST_US + LONGEST_US) // 2
"""What it usually takes (derived)."""


def is_looked_at(what: str) -> bool:
    """Tell whether a change of a script moves a contact of the panel or the interlock."""
    return what in ("interlock", "four_step") or what.startswith("switch ")
