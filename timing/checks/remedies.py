"""Remedies that are searched for: the budget is computed again with the changed part before it is proposed."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from typing import Any

from timing.checks.supply_finding import Change, Remedy
from timing.circuit.preferred import E6, at_least, nearest
from timing.circuit.senses import divider_top_ohm
from timing.design.pinning import analog_pins, needed_roles
from timing.design.roles import Kind
from timing.design.supply import SupplySense
from timing.design.units import format_quantity
from timing.power.budget import Budget, budget, hold_up_s

DROPOUT_MARGIN_V = 0.5
"""Room that a remedy leaves above the regulator's dropout (choice)."""
LOW_SHARES = (0.3, 0.4, 0.5, 0.6)
"""Where low may be set between the regulator's dropout and the lowest voltage of a bad day (practice)."""
HOLD_UP_MARGIN = 1.2
"""Room that a remedy leaves above the hold-up that is needed (choice)."""
LARGEST_RESERVOIR_F = 0.022
"""Largest reservoir that a remedy proposes (choice)."""
SMALLEST_RESERVOIR_F = 47e-6
"""Smallest reservoir that a remedy proposes (choice)."""
SENSE_BOTTOM_OHM = 4.7e3
"""Draws about a milliampere, and is low enough for the converter (practice)."""


def set_supply(key: str, value: float, unit: str) -> Change:
    """Return the change of one supply key."""
    return Change(f"supply.{key}", format_quantity(value, unit))


def retried(found: Budget, **supply: Any) -> Budget:
    """The budget with other supply fields (by field name)."""
    changed = found.supply.model_copy(update=supply)
    return budget(found.design.model_copy(update={"supply": changed}), found.board)


def full_wave(found: Budget) -> Iterator[Remedy]:
    """Bridge instead of half-wave."""
    if found.supply.rectifier == "half-wave":
        yield Remedy("Use a bridge: it charges the reservoir twice a cycle.", (Change("supply.rectifier", "bridge"),))


def larger_reservoir(found: Budget) -> Iterator[Remedy]:
    """The smallest E6 reservoir with which the lowest voltages keep their margin, if there is one."""
    wanted = found.regulator.input_min_v + DROPOUT_MARGIN_V
    ladder = [at_least(found.supply.reservoir_f * 1.01, E6)]
    while ladder[-1] < LARGEST_RESERVOIR_F:
        ladder.append(at_least(ladder[-1] * 1.01, E6))

    def holds(value: float) -> bool:
        tried = retried(found, reservoir_f=value)
        return tried.closes and lowest_v(tried) >= wanted

    # More capacitance only ever helps here, so the first that holds is found by halving.
    first = bisect_left(ladder, True, key=holds)
    if first < len(ladder) and ladder[first] <= LARGEST_RESERVOIR_F * 1.01:
        value = ladder[first]
        yield Remedy(f"Fit a larger reservoir, {format_quantity(value, 'F')}.", (set_supply("reservoir", value, "F"),))


def lowest_v(found: Budget) -> float:
    """Lowest reservoir voltage at low line, capacitor aged, pull-in included."""
    lowest = float(found.corner("low-aged").state.dc_min_v)
    return lowest if found.sag is None else min(lowest, found.sag.lowest_v)


def lower_rail(found: Budget) -> Iterator[Remedy]:
    """A lower regulator output that still suits the board."""
    low = max(found.board.vin_min_v, 1.8)
    if low < found.regulator.output_v:
        tried = retried(found, regulator_output_v=low)
        if tried.closes and lowest_v(tried) >= tried.regulator.input_min_v + DROPOUT_MARGIN_V:
            yield Remedy(
                f"Set the regulator to {low:g} V, with relay coils for that voltage.",
                (set_supply("regulator_output", low, "V"),),
            )


def smaller_reservoir(found: Budget) -> Iterator[Remedy]:
    """A smaller reservoir that a fuse survives, with that fuse."""
    value = nearest(found.supply.reservoir_f / 1.5, E6)
    while value >= SMALLEST_RESERVOIR_F:
        tried = retried(found, reservoir_f=value, fuse_a=None)
        held = tried.fuse
        if held.survives_inrush and held.opens_in_s is not None and lowest_v(tried) >= tried.regulator.input_min_v:
            yield Remedy(
                f"Fit a smaller reservoir, {format_quantity(value, 'F')}, and T {held.rating_a:g} A.",
                (set_supply("reservoir", value, "F"), set_supply("fuse", held.rating_a, "A")),
            )
            return
        value = nearest(value / 1.5, E6)


def better_thresholds(found: Budget) -> Iterator[Remedy]:
    """Thresholds between the regulator's dropout and what low line leaves.

    Low is set no higher than it must be for the reservoir to last through the sense's filter.
    """
    sense, corner, least = found.supply.sense, found.corner("low-aged"), found.regulator.input_min_v
    filter_us = SupplySense.model_fields["filter_us"].default if sense is None else sense.filter_us
    room, settled = lowest_v(found) - least, float(corner.state.dc_min_v)
    lows = [round(least + share * room, 1) for share in LOW_SHARES]
    lasting = (low for low in lows if hold_up_s(corner.circuit, low, least) >= HOLD_UP_MARGIN * filter_us / 1e6)
    low = next(lasting, lows[-1])
    good = round(low + 0.4 * (settled - low), 1)
    if least < low < good < settled:
        changes = (set_supply("sense.low", low, "V"), set_supply("sense.good", good, "V"))
        yield Remedy(f"Set low to {low:g} V and good to {good:g} V.", changes)


def fit_sense(found: Budget) -> Iterator[Remedy]:
    """A divider with its thresholds, where a pin is left for it."""
    dials = [role for role in needed_roles(found.design) if role.kind is Kind.ANALOG]
    if len(dials) >= len(analog_pins(found.design, found.board)):
        yield Remedy("No pin is left that could measure it: make one dial a fixed time, or take another board.")
        return
    top = divider_top_ohm(SENSE_BOTTOM_OHM, found.board, found.highest_v)
    thresholds = next(better_thresholds(found), None) if found.closes else None
    if thresholds is None:
        yield Remedy("Fit a divider to an analog pin and add [supply.sense].")
        return
    changes = (
        set_supply("sense.divider_top", top, "ohm"),
        set_supply("sense.divider_bottom", SENSE_BOTTOM_OHM, "ohm"),
        *thresholds.changes,
    )
    yield Remedy("Fit a divider to an analog pin and add [supply.sense].", changes)
