"""What the supply has to say: its budget with what the rules find, as plain numbers and words, for JSON and for people.

Every key of a number ends in its unit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from typing import Any

from timing.checks.finding import FORMAT, Finding, Severity, findings_record
from timing.power.budget import Budget, Corner, PhaseState
from timing.power.montecarlo import CENTILES, MonteCarlo
from timing.power.rectifier import SteadyState


@dataclass(frozen=True)
class SupplyReport:
    """The budget and what was found in it and in the circuits."""

    budget: Budget
    findings: tuple[Finding, ...]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings that forbid building it like this."""
        return tuple(finding for finding in self.findings if finding.severity is Severity.ERROR)


def report_record(report: SupplyReport, drawn: MonteCarlo | None = None) -> dict[str, Any]:
    """Return a report, with a Monte Carlo if one was drawn, as nested dictionaries of plain numbers and words.

    Figures of a corner without a periodic state are null.
    """
    record = {"format": FORMAT, **budget_record(report.budget)}
    record["findings"] = findings_record(report.findings)
    if drawn is not None:
        record["monte_carlo"] = {
            "draws": drawn.draws,
            "seed": drawn.seed,
            "spreads": [{item.name: getattr(spread, item.name) for item in fields(spread)} for spread in drawn.spreads],
        }
    return record


def budget_record(found: Budget) -> dict[str, Any]:
    """Return a budget as nested dictionaries."""
    source, supplied, fuse = found.winding, found.regulator, found.fuse
    return {
        "closes": found.closes,
        "winding": {
            "open_v": source.open_v,
            "source_ohm": source.source_ohm,
            "least_ohm": source.least_ohm,
            "most_ohm": source.most_ohm,
            "measured": source.measured,
        },
        "isolation": found.isolation.kind,
        "regulator": {
            "kind": "linear" if supplied.linear else "switching",
            "output_v": supplied.output_v,
            "input_min_v": supplied.input_min_v,
            "input_max_v": supplied.input_max_v,
        },
        "corners": [
            {
                "key": corner.key,
                "title": corner.title,
                "line_share": corner.line,
                "loss_w": corner.loss_w if corner.state.settled else None,
                "junction_deg_c": corner.junction_deg_c if corner.state.settled else None,
                **state_record(corner.state),
            }
            for corner in found.corners
        ],
        "phases": [
            {
                "phase": phase.load.phase.word,
                "ac_hold_a": phase.load.ac_hold_a,
                "rail_a": phase.load.rail_a,
                **state_record(phase.state),
            }
            for phase in found.phases
        ],
        "sag": None
        if found.sag is None
        else {
            "from_phase": found.sag.change.before.word,
            "to_phase": found.sag.change.after.word,
            "settled_v": found.sag.settled_v,
            "lowest_v": found.sag.lowest_v,
            "below_sense_s": found.sag.below_sense_s,
            "winding_v": found.sag.winding_v,
            "winding_alone_v": found.sag.winding_alone_v,
            "winding_best_v": found.sag.winding_best_v,
        },
        "inrush": {"peak_a": found.inrush.peak_a, "a2s": found.inrush.a2s},
        "hold_up_s": found.hold_up_s,
        "second_fuse": None
        if found.second_fuse is None
        else {"marking": found.second_fuse.marking, "rating_a": found.second_fuse.rating_a},
        "fuse": {
            "rating_a": fuse.rating_a,
            "proposed": found.fuse_proposed,
            "continuous_a": fuse.continuous_a,
            "least_melting_a2s": fuse.least_melting_a2s,
            "marking": fuse.marking,
            "standard": f"IEC 60127-2 sheet {fuse.sheet.number}",
            "prospective_a": fuse.prospective_a,
            "highest_a": fuse.highest_a,
            "fault_a": fuse.fault_a,
            "opens_in_s": fuse.opens_in_s,
            "fault_opens_in_s": fuse.fault_opens_in_s,
        },
        "crowbar": None if found.crowbar is None else asdict(found.crowbar),
        "rail_clamp": None if found.rail_clamp is None else asdict(found.rail_clamp),
        "highest_v": found.highest_v,
        "capacitor_ripple_a": found.capacitor_ripple_a,
    }


def state_record(state: SteadyState) -> dict[str, Any]:
    """Return a periodic state as a dictionary; all null where there is none."""
    names = [item.name for item in fields(state) if item.name != "settled"]
    if not state.settled:
        return {"settled": False, **dict.fromkeys(names)}
    return {"settled": True, **{name: float(getattr(state, name)) for name in names}}


COLLAPSES = "collapses"
"""What stands for figures where the supply finds no steady state."""


def corner_figures(corner: Corner) -> tuple[str, ...]:
    """Return a corner's title, winding V, reservoir V, ripple V, the add-on's A, the regulator's heat W and degC."""
    state = corner.state
    if not state.settled:
        return corner.title, "", COLLAPSES, "", "", "", ""
    return (
        corner.title,
        f"{float(state.winding_rms_v):.1f}",
        f"{float(state.dc_min_v):.1f} to {float(state.dc_max_v):.1f}",
        f"{float(state.ripple_v):.2f}",
        f"{float(state.rectifier_rms_a):.2f}",
        f"{corner.loss_w:.2f}",
        f"{corner.junction_deg_c:.0f}",
    )


CORNER_HEAD = ("corner", "winding V", "reservoir V", "ripple V", "add-on A", "heat W", "degC")
"""What the figures of a corner are."""
PHASE_HEAD = ("phase, nominal line", "coils A", "rail mA", "reservoir V", "winding A")
"""What the figures of a phase are."""


def rated_current_a(found: Budget) -> float:
    """Return what the winding is rated for."""
    return found.supply.rating_va / found.supply.nominal_v


def phase_figures(phase: PhaseState) -> tuple[str, ...]:
    """Return a phase's name, what its coils and the rail draw, the reservoir's range and the winding's current."""
    load, state = phase.load, phase.state
    start = (load.phase.word, f"{load.ac_hold_a:.2f}", f"{1000 * load.rail_a:.0f}")
    if not state.settled:
        return (*start, COLLAPSES, "")
    reservoir = f"{float(state.dc_min_v):.1f} to {float(state.dc_max_v):.1f}"
    return (*start, reservoir, f"{float(state.winding_rms_a):.2f}")


def supply_moments(found: Budget) -> Iterator[str]:
    """Yield what happens when the contactor pulls in, at switching on, and when the supply goes."""
    sag, sense = found.sag, found.supply.sense
    if sag is not None:
        yield (
            f"pull-in at low line, {sag.change.before.word} to {sag.change.after.word}: the reservoir dips to "
            f"{sag.lowest_v:.1f} V, the winding to {sag.winding_v:.1f} V ({sag.winding_alone_v:.1f} V without the "
            "add-on)"
        )
        if sense is not None:
            below = f"{1000 * sag.below_sense_s:.0f} ms below" if sag.below_sense_s else "never below"
            yield f"  {below} the {sense.low_v:g} V at which the board counts its supply as low"
    yield f"switching on at high line: {found.inrush.peak_a:.0f} A at the peak, {found.inrush.a2s:.2f} A^2 s"
    yield f"24 VAC gone: the reservoir carries the board for {1000 * found.hold_up_s:.0f} ms"


SPREAD_HEAD = (*(f"{centile:g} %" for centile in CENTILES), "limit", "beyond")
"""What the figures of a spread are."""


def spread_rows(drawn: MonteCarlo) -> Iterator[tuple[str, ...]]:
    """Yield the name of each spread, its centiles, its limit and the share of feeders beyond that."""
    for spread in drawn.spreads:
        centiles = (f"{value:.3g}" for value in (spread.low, spread.middle, spread.high))
        limited = ("", "") if spread.limit is None else (f"{spread.limit:.3g}", f"{100 * spread.beyond:.2g} %")
        yield (f"{spread.name}, {spread.unit}", *centiles, *limited)
