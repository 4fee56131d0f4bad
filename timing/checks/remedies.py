"""Remedies: searched for with the budget computed anew, and written into a design file with its comments kept."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from typing import Any

from timing.checks.finding import DesignEdit, Finding, Remedy
from timing.circuit.preferred import E6, at_least, nearest
from timing.circuit.senses import divider_top_ohm
from timing.design.board import Board, Kind
from timing.design.loading import parse_design
from timing.design.origin import PROPOSED
from timing.design.pinning import analog_pins, needed_roles
from timing.design.supply import SupplySense
from timing.design.times import TimeSetting
from timing.design.units import format_duration, format_quantity
from timing.once import once
from timing.power.budget import Budget, hold_up_s
from timing.power.budget import budget as budget_of
from timing.power.fuse import choose_fuse
from timing.project import Project

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
SERIES_RESISTORS_OHM = (2.2, 4.7, 10.0)
"""Resistors that are tried in the rectifier's feed: E3 values, few, since each costs a budget (choice)."""
SENSE_BOTTOM_OHM = 4.7e3
"""Draws about a milliampere, and is low enough for the converter (practice)."""


def set_supply(key: str, value: float, unit: str) -> DesignEdit:
    """Return the change of one supply key."""
    return DesignEdit(f"supply.{key}", format_quantity(value, unit))


def whole_ms(least_us: float) -> int:
    """Return a duration of at least `least_us` in whole milliseconds, as people set one."""
    return math.ceil(round(least_us, 3) / 1000) * 1000


def set_duration(key: str, duration_us: int) -> DesignEdit:
    """Return the change of one key that holds a duration."""
    return DesignEdit(key, format_duration(duration_us))


def start_time_at(key: str, time: TimeSetting, least_us: int) -> tuple[DesignEdit, ...]:
    """Return the changes after which a time cannot be set below `least_us`; none where its dial ends there."""
    setting = (set_duration(f"{key}.setting", least_us),) if time.setting_us < least_us else ()
    if not time.dial:
        return setting
    return (set_duration(f"{key}.from", least_us), *setting) if least_us < time.high_us else ()


@once
def _tried(_: Budget) -> dict[tuple[tuple[str, Any], ...], Budget]:
    """What `retried` has worked out from a budget, by the fields that were others: remedies try the same things."""
    return {}


def stand_at(key: str, time: TimeSetting, setting_us: int) -> tuple[DesignEdit, ...]:
    """Return the changes after which a time stands at `setting_us`, its dial widened to reach it where it must be."""
    changes = [set_duration(f"{key}.setting", setting_us)]
    if time.dial and setting_us > time.high_us:
        changes.insert(0, set_duration(f"{key}.to", setting_us))
    if time.dial and setting_us < time.low_us:
        changes.insert(0, set_duration(f"{key}.from", setting_us))
    return tuple(changes)


def retried(budget: Budget, **supply: Any) -> Budget:
    """The budget with other supply fields (by field name)."""
    tried, others = _tried(budget), tuple(sorted(supply.items()))
    if others not in tried:
        changed = budget.supply.model_copy(update=supply)
        tried[others] = budget_of(budget.design.model_copy(update={"supply": changed}), budget.board)
    return tried[others]


def full_wave(budget: Budget) -> Iterator[Remedy]:
    """Bridge instead of half-wave."""
    if budget.supply.rectifier == "half-wave":
        yield Remedy(
            "Use a bridge: it charges the reservoir twice a cycle", (DesignEdit("supply.rectifier", "bridge"),)
        )


def larger_reservoir(budget: Budget) -> Iterator[Remedy]:
    """The smallest E6 reservoir with which the lowest voltages keep their margin, if there is one."""
    wanted = budget.regulator.input_min_v + DROPOUT_MARGIN_V
    ladder = [at_least(budget.supply.reservoir_f * 1.01, E6)]
    while ladder[-1] < LARGEST_RESERVOIR_F:
        ladder.append(at_least(ladder[-1] * 1.01, E6))

    def holds(value: float) -> bool:
        tried = retried(budget, reservoir_f=value)
        return tried.closes and lowest_v(tried) >= wanted

    # More capacitance only ever helps here, so the first that holds is found by halving.
    first = bisect_left(ladder, True, key=holds)
    if first < len(ladder) and ladder[first] <= LARGEST_RESERVOIR_F * 1.01:
        value = ladder[first]
        yield Remedy(f"Fit a larger reservoir, {format_quantity(value, 'F')}", (set_supply("reservoir", value, "F"),))


def lowest_v(budget: Budget) -> float:
    """Lowest reservoir voltage at low line, capacitor aged, pull-in included."""
    lowest = float(budget.corner("low-aged").state.dc_min_v)
    return lowest if budget.sag is None else min(lowest, budget.sag.lowest_v)


def lower_rail(budget: Budget) -> Iterator[Remedy]:
    """A lower regulator output that still suits the board; the modules' coils want theirs."""
    if budget.design.circuits.build == "modules":
        return
    low = max(budget.board.vin_min_v, 1.8)
    if low < budget.regulator.output_v:
        tried = retried(budget, regulator_output_v=low)
        if tried.closes and lowest_v(tried) >= tried.regulator.input_min_v + DROPOUT_MARGIN_V:
            yield Remedy(
                f"Set the regulator to {low:g} V, with relay coils for that voltage",
                (set_supply("regulator_output", low, "V"),),
            )


def smaller_reservoir(budget: Budget) -> Iterator[Remedy]:
    """A smaller reservoir that a fuse survives, with that fuse."""
    value = nearest(budget.supply.reservoir_f / 1.5, E6)
    while value >= SMALLEST_RESERVOIR_F:
        tried = retried(budget, reservoir_f=value, fuse_a=None)
        held = tried.fuse
        if held.works and lowest_v(tried) >= tried.regulator.input_min_v:
            yield Remedy(
                f"Fit a smaller reservoir, {format_quantity(value, 'F')}, and {held.marking}",
                (set_supply("reservoir", value, "F"), set_supply("fuse", held.rating_a, "A")),
            )
            return
        value = nearest(value / 1.5, E6)


def series_resistor(budget: Budget) -> Iterator[Remedy]:
    """The smallest resistor in the rectifier's feed with which the fuse fits the load, or else comes nearest to it."""
    if not budget.closes:
        return
    wanted = choose_fuse(budget.fuse, inrush=False).rating_a
    best: tuple[float, float] | None = None
    fitted_ohm = budget.supply.series_resistor_ohm or 0.0
    for ohm in (ohm for ohm in SERIES_RESISTORS_OHM if ohm > fitted_ohm):
        tried = retried(budget, series_resistor_ohm=ohm, fuse_a=None)
        if not tried.closes or lowest_v(tried) < _floor_v(budget) or not tried.fuse.works:
            break
        if best is None or tried.fuse.rating_a < best[1]:
            best = ohm, tried.fuse.rating_a
        if best[1] <= wanted:
            break
    if best is None or (budget.fuse.works and best[1] >= budget.fuse.rating_a):
        return
    ohm, rating_a = best
    changes = [set_supply("series_resistor", ohm, "ohm")]
    if budget.supply.fuse_a is not None:
        changes.append(set_supply("fuse", rating_a, "A"))
    text = f"Put {format_quantity(ohm, 'ohm')}, wirewound, between fuse and rectifier: then T {rating_a:g} A will do"
    yield Remedy(text, tuple(changes))


def smaller_fuse(budget: Budget) -> Iterator[Remedy]:
    """The smallest fuse that carries and survives, where that is not the one fitted."""
    better = choose_fuse(budget.fuse)
    if better.works and better.rating_a < budget.fuse.rating_a:
        yield Remedy(f"Fit {better.marking}", (set_supply("fuse", better.rating_a, "A"),))


def isolated(budget: Budget) -> Iterator[Remedy]:
    """What parts COMMON from the winding: a second transformer, or a module where the reservoir is not measured."""
    tried = retried(budget, isolation="transformer", fuse_a=None)
    if tried.closes and tried.fuse.works and lowest_v(tried) >= _floor_v(tried):
        supply = budget.supply
        yield Remedy(
            f"Feed the add-on through a second transformer, {supply.nominal_v:g} V to {supply.isolation_output_v:g} V, "
            f"{supply.isolation_rating_va:g} VA, between fuse and rectifier: COMMON is then apart from the winding",
            _isolated_by("transformer", budget, tried),
        )
    text = "Put an isolating dc-dc module in the regulator's place"
    if budget.supply.sense is not None:
        yield Remedy(f"{text}, without [supply.sense], which would join both sides again")
        return
    tried = retried(budget, isolation="module", regulator_input_max_v=None, fuse_a=None)
    if tried.closes and tried.fuse.works and lowest_v(tried) >= _floor_v(tried):
        yield Remedy(f"{text}: COMMON is then apart from the winding", _isolated_by("module", budget, tried))


def _isolated_by(kind: str, budget: Budget, tried: Budget) -> tuple[DesignEdit, ...]:
    fuse = () if budget.supply.fuse_a is None else (set_supply("fuse", tried.fuse.rating_a, "A"),)
    return DesignEdit("supply.isolation", kind), *fuse


def _floor_v(budget: Budget) -> float:
    """What the reservoir must keep on a bad day: the regulator's least input, and the thresholds where it is sensed."""
    sense = budget.supply.sense
    least = budget.regulator.input_min_v + DROPOUT_MARGIN_V
    return least if sense is None else max(least, sense.low_v)


def better_thresholds(budget: Budget) -> Iterator[Remedy]:
    """Thresholds between the regulator's dropout and what low line leaves.

    Low is set no higher than it must be for the reservoir to last through the sense's filter.
    """
    sense, corner, least = budget.supply.sense, budget.corner("low-aged"), budget.regulator.input_min_v
    filter_us = SupplySense.model_fields["filter_us"].default if sense is None else sense.filter_us
    room, settled = lowest_v(budget) - least, float(corner.state.dc_min_v)
    lows = [round(least + share * room, 1) for share in LOW_SHARES]
    lasting = (low for low in lows if hold_up_s(corner.circuit, low, least) >= HOLD_UP_MARGIN * filter_us / 1e6)
    low = next(lasting, lows[-1])
    good = round(low + 0.4 * (settled - low), 1)
    if least < low < good < settled:
        changes = (set_supply("sense.low", low, "V"), set_supply("sense.good", good, "V"))
        yield Remedy(f"Set low to {low:g} V and good to {good:g} V", changes)


def fit_sense(budget: Budget) -> Iterator[Remedy]:
    """A divider with its thresholds, where a pin is left for it and nothing parts the board from the reservoir."""
    if budget.isolation.kind == "module":
        yield Remedy("A module leaves no way to measure the reservoir: isolate with a second transformer instead")
        return
    dials = [role for role in needed_roles(budget.design) if role.kind is Kind.ANALOG]
    if len(dials) >= len(analog_pins(budget.design, budget.board)):
        yield Remedy("No pin is left that could measure it: make one dial a fixed time, or take another board")
        return
    top = divider_top_ohm(SENSE_BOTTOM_OHM, budget.board, budget.highest_v)
    thresholds = next(better_thresholds(budget), None) if budget.closes else None
    if thresholds is None:
        yield Remedy("Fit a divider to an analog pin and add [supply.sense]")
        return
    changes = (
        set_supply("sense.divider_top", top, "ohm"),
        set_supply("sense.divider_bottom", SENSE_BOTTOM_OHM, "ohm"),
        *thresholds.changes,
    )
    yield Remedy("Fit a divider to an analog pin and add [supply.sense]", changes)


MOST_ROUNDS = 5
"""One change can call for another, such as a larger reservoir for a slower fuse; more than a few rounds never do
(choice)."""


def first_changes(findings: Iterable[Finding]) -> tuple[DesignEdit, ...]:
    """Return the changes of the first remedy that has any, of each finding; a key is changed once."""
    chosen: dict[str, DesignEdit] = {}
    for finding in findings:
        remedy = next((remedy for remedy in finding.remedies if remedy.changes), None)
        for change in remedy.changes if remedy else ():
            chosen.setdefault(change.key, change)
    return tuple(chosen.values())


WRITTEN_TOO = ("supply.no-sense", "supply.fuse-set-by-surge")
"""Rules whose warnings are worth a part of every add-on (choice)."""


def asked_for(project: Project) -> tuple[DesignEdit, ...]:
    """Return the changes that fix every error, let the board measure its supply and let the fuse fit the load.

    As far as there are any.
    """
    supply = project.supply
    wanting = [finding for finding in supply.findings if finding.rule in WRITTEN_TOO]
    return first_changes((*supply.errors, *wanting))


def mended(design_text: str, board: Board) -> str:
    """Return the design file's text with what its supply asks for, changed again until it asks for nothing more.

    Where an error has no change to fix it, it stays. Raises DesignFileError when the text is no valid design.
    """
    for _ in range(MOST_ROUNDS):
        changes = asked_for(Project(parse_design(design_text), board))
        if not changes:
            break
        design_text = applied(design_text, changes, PROPOSED)
    return design_text


def applied(design_text: str, changes: Iterable[DesignEdit], origin: str = "") -> str:
    """Return the design file's text with the changes written in; missing tables are added.

    origin: where the values come from, for the remark behind each.
    """
    # Here, since it loads a library that keeps comments and layout, for those who write a remedy into their file.
    from timing.design.saving import with_values

    text, _ = with_values(design_text, {change.key: change.value for change in changes}, origin=origin)
    return text
