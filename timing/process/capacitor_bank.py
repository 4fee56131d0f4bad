"""A capacitor bank behind the rectifier of a power source: it keeps feeding the arc after the contactor has let go.

From the cut on the bank stands alone, at the volts that the terminals had, and the arc empties it:

    C dU/dt = -I
    L dI/dt = U - back volts - (R_arc + R x) I

with the back volts of the arc as before the cut; the slope lies in front of the bank and takes no part any more. Each
step solves the two together by the trapezoidal rule, at the extension of a half step before: second order, and stable
for any inductance. An empty bank stays at 0 V: the rectifier carries the current past it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from timing.elementwise import Truths, Values, elementwise
from timing.process.arc import Plant
from timing.process.melting import melting_rate_mm_s

BANK_STEP_SHARE = 0.08
"""A step over the times in which bank and inductance change (choice: wire ends stay within 0.05 mm, by a test)."""
SHORTEST_STEP_S, LONGEST_STEP_S = 5e-5, 2e-3
"""Bounds of it (choice: as above)."""


@dataclass(frozen=True)
class ArcLeft:
    """An arc at the cut, and what goes on without the mains; one number each, or one for each draw."""

    time_s: Values
    current_a: Values
    burning: Truths
    extension_mm: Callable[[Values, Values], Values]
    """Extension in mm at a time, with so much wire melted since the cut."""
    back_v: Callable[[Values], Values]
    """What the arc holds against the current at an extension, but for its resistance, in V."""
    alpha: Callable[[Values], Values]
    """Arc term of the melting rate at an extension, in mm/(A s)."""


def run_down(plant: Plant, cut: ArcLeft) -> tuple[Values, Values]:
    """Return when the arc goes out, in s, and how much wire melts until then, in mm; nothing where none burns."""
    do = elementwise(cut.current_a)
    time_s, current, melted_mm = cut.time_s, cut.current_a, 0.0 * cut.current_a
    bank_v, burning = plant.open_v - plant.slope_ohm * current, cut.burning
    step_s = _step_s(plant, cut.extension_mm(time_s, melted_mm))
    while do.any(burning):
        extension = cut.extension_mm(time_s, melted_mm)
        rate = melting_rate_mm_s(current, extension, cut.alpha(extension), plant.beta_per_a2_s)
        middle = cut.extension_mm(time_s + step_s / 2, melted_mm + step_s / 2 * rate)
        # A wire pushed far into the puddle has no arc left to hold against the current.
        back_v = do.maximum(cut.back_v(middle), 1.0)
        # What the bank loses in half a step, for each ampere: no more than it has.
        sag = do.minimum(step_s / (4 * plant.capacitance_f), bank_v / (4 * do.maximum(current, 1e-9)))
        drag = (plant.arc_ohm + plant.wire_ohm_per_mm * middle) / 2 + sag
        carry = plant.inductance_h / step_s
        after = (current * (carry - drag) + bank_v - back_v) / (carry + drag)
        out = after <= plant.arc_out_a
        share = do.where(out, (current - plant.arc_out_a) / do.maximum(current - after, 1e-9), 1.0)
        share = do.minimum(do.maximum(share, 0.0), 1.0)
        end_a = current + share * (after - current)
        mean_square = (current * current + current * end_a + end_a * end_a) / 3
        gone = step_s * share
        rate = cut.alpha(middle) * (current + end_a) / 2 + plant.beta_per_a2_s * middle * mean_square
        melted_mm = do.where(burning, melted_mm + gone * rate, melted_mm)
        time_s = do.where(burning, time_s + gone, time_s)
        bank_v = do.maximum(bank_v - step_s * (current + after) / (2 * plant.capacitance_f), 0.0)
        current = do.where(burning, end_a, current)
        burning = burning & do.logical_not(out)
    return time_s, melted_mm


def _step_s(plant: Plant, extension_mm: Values) -> Values:
    do = elementwise(extension_mm)
    ohm = plant.arc_ohm + plant.wire_ohm_per_mm * extension_mm
    swing_s = (plant.inductance_h * plant.capacitance_f) ** 0.5 + ohm * plant.capacitance_f
    step_s: Values = do.minimum(do.maximum(BANK_STEP_SHARE * swing_s, SHORTEST_STEP_S), LONGEST_STEP_S)
    return step_s
