"""Where a value of a design file comes from, as the remark behind it says: '[from the survey]'.

A value that changes takes its origin with it: what a fit of test welds has found is from the survey no more, and what
somebody typed over a proposal is nobody's but theirs.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache

OWN = "from the survey"
USUAL = "a usual value: measure it, unless you did"
RANGE = "a usual range round your speed: write your own"
FITTED = "a usual value for the add-on"
COMPUTED = "computed to start from; `wirecue advise` says why"
PROPOSED = "proposed for this supply; `wirecue supply` says why"
PROPOSED_PART = "proposed part; `wirecue parts` says why"

_DAYS = r"[0-9]{4}-[0-9]{2}-[0-9]{2}(?: to [0-9]{4}-[0-9]{2}-[0-9]{2})?"
_RECORDED = r"measured [0-9]+ times on [0-9]{4}-[0-9]{2}-[0-9]{2}, with a recorder"
_PLAIN = (OWN, USUAL, RANGE, FITTED, COMPUTED, PROPOSED, PROPOSED_PART)


@cache
def _known() -> re.Pattern[str]:
    """Late: most commands write no design."""
    words = "|".join(map(re.escape, _PLAIN))
    return re.compile(rf"\s*\[(?:{words}|from [0-9]+ test welds? of {_DAYS}|{_RECORDED})\]")


def from_welds(days: Iterable[str]) -> str:
    """Return the origin of what one or more test welds have told, from the day of each (ISO 8601)."""
    each = sorted(days)
    first, last = each[0], each[-1]
    welds = "test weld" if len(each) == 1 else "test welds"
    return f"from {len(each)} {welds} of {first}" + ("" if first == last else f" to {last}")


def from_recorder(repeats: int, day: str) -> str:
    """Return the origin of what a recorder has measured so many times on a day (ISO 8601)."""
    return f"measured {repeats} times on {day}, with a recorder"


def with_origin(remark: str, origin: str) -> str:
    """Return the remark behind a value with this origin in place of the one it has; empty: with none."""
    own = _known().sub("", remark).strip()
    return " ".join(filter(None, (own, f"[{origin}]" if origin else "")))
