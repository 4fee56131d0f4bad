"""From a design on its board to what the far end of the link must know."""

from __future__ import annotations

from timing.circuit.senses import supply_thresholds
from timing.design.board import Board
from timing.design.design import Design
from timing.design.pinning import needed_roles
from timing.project import Project
from timing.protocol.target import SupplyCounts, Target
from timing.sequence.simulate import rig_of


def target_of(project: Project) -> Target:
    """Return a project as the serial link sees it."""
    design, board = project.design, project.board
    return Target(
        design=design.name,
        digest=design.digest(),
        board=board.type,
        rig=rig_of(design),
        scales={name: dial.scale for name, dial in project.dials.items()},
        fitted=frozenset(role.key for role in needed_roles(design)),
        full_scale_counts=board.adc_full_scale,
        supply=_supply_counts(design, board),
        clock_tolerance_ppm=round(board.oscillator_tolerance_percent * 10_000),
    )


def _supply_counts(design: Design, board: Board) -> SupplyCounts | None:
    sense = design.supply.sense
    if sense is None:
        return None
    thresholds = supply_thresholds(sense, board)
    return SupplyCounts(
        low=max(thresholds.low_counts - 1, 0),
        good=min(thresholds.good_counts + 1, board.adc_full_scale),
        between=(thresholds.low_counts + thresholds.good_counts) // 2,
    )
