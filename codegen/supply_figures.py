"""The supply's corners in figures, alike on paper and in the terminal."""

from __future__ import annotations

from timing.power.budget import Corner

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
