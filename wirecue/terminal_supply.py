"""The supply's report as text, for the terminal."""

from __future__ import annotations

from timing.design.units import format_quantity
from timing.power.budget import Budget, Corner, PhaseState
from timing.power.montecarlo import MonteCarlo
from timing.power.record import (
    CORNER_HEAD,
    PHASE_HEAD,
    SPREAD_HEAD,
    SupplyReport,
    corner_figures,
    phase_figures,
    rated_current_a,
    spread_rows,
    supply_moments,
)
from timing.power.verdict import supply_verdict
from wirecue.terminal import (
    WIDEST_COLUMNS,
    counted,
    finding_text,
    paragraph,
    table,
    terminal_columns,
    unbroken,
    within_width,
)

BAR_COLUMNS, NARROW_BAR_COLUMNS = 24, 12
"""Columns of a bar in a terminal that is wide enough for the whole table, and in another."""


def terminal_supply(report: SupplyReport, drawn: MonteCarlo | None = None, *, ascii_only: bool = False) -> str:
    """Return the verdict, the budget by corner and by phase with bars, the spreads if drawn, and the findings."""
    found = report.budget
    parts = [
        paragraph(supply_verdict(report).text),
        _head(found),
        _corners(found, ascii_only),
        _phases(found, ascii_only),
        within_width("\n".join(supply_moments(found))),
    ]
    if drawn is not None:
        parts.append(_spreads(drawn))
    parts += [finding_text(finding) for finding in report.findings]
    return "\n\n".join([*parts, f"{found.design.name}: {counted(report.findings)}."])


def _head(found: Budget) -> str:
    supply, source, supplied, fuse = found.supply, found.winding, found.regulator, found.fuse
    how = "measured" if source.measured else "estimated from its rating"
    limits = f"{supplied.output_v:g} V out, {supplied.input_min_v:g} V to {supplied.input_max_v:g} V in"
    return table(
        [
            (
                "winding",
                f"{source.open_v:.1f} V open, {source.source_ohm:.2f} ohm "
                f"({source.least_ohm:.2f} to {source.most_ohm:.2f}, {how}); {supply.rating_va:g} VA",
            ),
            ("rectifier", f"{supply.rectifier}, reservoir {format_quantity(supply.reservoir_f, 'F')}"),
            ("regulator", f"{supply.regulator}, {limits}"),
            ("fuse", f"{fuse.title}{', proposed' if found.fuse_proposed else ''}"),
        ]
    )


def _corners(found: Budget, ascii_only: bool) -> str:
    least, most = found.regulator.input_min_v, found.regulator.input_max_v
    top = max(most, found.highest_v) * 1.02
    head = (*CORNER_HEAD, f"0 to {top:.0f} V")
    rows = [
        _corner(corner, level_bar(*_range(corner), least, most, top, ascii_only))
        for corner in found.corners
    ]  # fmt: skip
    takes, stands = ("[ ]", "#") if ascii_only else ("╎ ╎", "█")
    key = f"{stands} reservoir, {takes} what the regulator takes; degC: the regulator's junction"
    return f"{table(rows, head, range(1, 7))}\n{within_width(key)}"


def _corner(corner: Corner, bar: str) -> tuple[str, ...]:
    title, *figures = corner_figures(corner)
    return (title, *map(unbroken, figures), unbroken(bar))


def _range(corner: Corner) -> tuple[float, float]:
    if not corner.state.settled:
        return 0.0, 0.0
    return float(corner.state.dc_min_v), float(corner.state.dc_max_v)


def _phases(found: Budget, ascii_only: bool) -> str:
    rated_a = rated_current_a(found)
    head = (*PHASE_HEAD, f"of {rated_a:.2f} A")
    return table([_phase(phase, rated_a, ascii_only) for phase in found.phases], head, range(1, 5))


def _phase(phase: PhaseState, rated_a: float, ascii_only: bool) -> tuple[str, ...]:
    state, figures = phase.state, phase_figures(phase)
    bar = unbroken(share_bar(float(state.winding_rms_a) / rated_a, ascii_only)) if state.settled else ""
    return (*figures, bar)


def _spreads(drawn: MonteCarlo) -> str:
    return table(list(spread_rows(drawn)), (f"{drawn.draws} feeders drawn", *SPREAD_HEAD), range(1, 6))


def bar_columns() -> int:
    """Return how long a bar is here."""
    return NARROW_BAR_COLUMNS if 0 < terminal_columns() < WIDEST_COLUMNS else BAR_COLUMNS


def level_bar(low: float, high: float, least: float, most: float, top: float, ascii_only: bool) -> str:
    """Return a bar from 0 to `top` with the reservoir's range between the regulator's limits."""
    fill, open_end, close_end = ("#", "[", "]") if ascii_only else ("█", "╎", "╎")

    wide = bar_columns()

    def column(value: float) -> int:
        return min(int(value / top * wide), wide - 1)

    cells = [" "] * wide
    cells[column(least)], cells[column(most)] = open_end, close_end
    if high > 0.0:
        for index in range(column(low), column(high) + 1):
            cells[index] = fill
    return "".join(cells)


def share_bar(share: float, ascii_only: bool) -> str:
    """Return a bar whose full width is all that is allowed; what goes beyond shows as an exclamation mark."""
    fill, rest = ("#", ".") if ascii_only else ("█", "·")
    wide = bar_columns()
    filled = min(round(share * wide), wide)
    return fill * filled + rest * (wide - filled) + ("!" if share > 1.0 else "") + f" {100 * share:.0f} %"
