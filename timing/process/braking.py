"""A wire that coasts for so long that no burnback serves: the drive needs a brake, and burnback is asked for after it.

A long burnback is no cure for a long coast. It keeps the voltage on while the wire runs out and melts it as it comes:
every bit of doubt about the coast is then wire in the puddle or an arc at the contact tip.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from timing.design.feeder import COAST_BRAKED_US
from timing.formatting import in_ms, percent_text
from timing.process.burnback_curve import BurnbackCurve, dial_cover
from timing.process.case import BurnbackCase
from timing.process.coast import LONG_BURNBACK_S, LONG_COAST_S

WORTH_A_BRAKE = 0.1
"""A brake is worth its work where so much more of the welds end good with it (choice)."""
_DRAWS = 512


@dataclass(frozen=True)
class BrakeFirst:
    """Why no burnback is recommended, and what to do instead; sentences without a full stop at their end."""

    found: str
    reason: str
    remedy: str

    @property
    def sentences(self) -> tuple[str, ...]:
        """The same as sentences that stand alone."""
        return tuple(f"{part[0].upper()}{part[1:]}." for part in (self.found, self.reason, self.remedy))


def brake_first(curve: BurnbackCurve) -> BrakeFirst | None:
    """Return why the drive must be braked before burnback is set; None where a burnback serves, or no brake helps."""
    case, best = curve.case, curve.best
    if case.coast_s < LONG_COAST_S:
        return None
    braked = replace(case, coast_s=COAST_BRAKED_US / 1e6, coast_measured=False, braked=True)
    served = dial_cover(braked, np.array([case.feed_mm_s]), _DRAWS)
    with_brake, then_s = float(served.chance_good[0]), float(served.best_s[0])
    if best.setting_s <= LONG_BURNBACK_S and with_brake - best.chance_good < WORTH_A_BRAKE:
        return None
    return BrakeFirst(
        found=(
            f"the wire coasts on for {in_ms(case.coast_s)}, {case.feed_mm_s * case.coast_s:.0f} mm of wire, and "
            "burnback is no cure for that"
        ),
        reason=(
            f"the best there is, {in_ms(best.setting_s)}, would end good in {percent_text(best.chance_good)} of welds; "
            f"with a brake that stops the wire as usual some {percent_text(with_brake)} do, at {in_ms(then_s)}"
        ),
        remedy=_remedy(case),
    )


def _remedy(case: BurnbackCase) -> str:
    first = "" if case.coast_measured else "see first that the coast is as stated, since it is not marked as measured; "
    if case.braked:
        return first + (
            "mend the brake before any burnback is set: a worn or dirty normally closed (NC) contact across the motor, "
            "or a brake resistor that is open, lets it run out. Mains plug pulled, that contact reads near 0 ohm with "
            "the relay at rest. Then measure the coast again"
        )
    return first + (
        "brake the drive before any burnback is set: a dynamic brake, in which the normally closed (NC) contact of the "
        "motor's own relay shorts the armature of a permanent-magnet motor, through a low resistor where contact or "
        "brushes would not bear the short. It is work inside the machine, for whoever is licensed to do it. The "
        'add-on then switches that relay\'s coil (switched = "relay-coil", braked = true). Measure the coast again, '
        "and ask again"
    )
