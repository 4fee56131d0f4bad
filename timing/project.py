"""A design on its board, and what follows from the two: each result computed once, when it is first asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

# What computes a result is imported where it is asked for: `wirecue check` shall not wait for the burnback model's
# arrays, nor the page's sliders for the proof.
if TYPE_CHECKING:
    from collections.abc import Mapping

    from timing.checks.finding import Finding
    from timing.checks.registry import RuleFunction
    from timing.circuit.dial import PanelDial
    from timing.circuit.drives import Drive
    from timing.circuit.parts import Netlist
    from timing.design.board import Board
    from timing.design.design import Design
    from timing.design.features import Features
    from timing.power.budget import Budget
    from timing.power.record import SupplyReport
    from timing.process.advice import Advice
    from timing.proof.prove import Proof
    from timing.sequence.core.engine import Timeline
    from timing.sequence.core.settings import Settings
    from timing.sequence.core.table import Table


FLASH_PER_BRANCH_BYTES = 42
"""Flash that a branch of the phase table takes, for the estimate (measured: sketches of the examples)."""


@dataclass(frozen=True)
class Footprint:
    """Memory that the sketch takes."""

    flash_bytes: int
    ram_bytes: int
    measured: bool
    """True: as the compiler reports it; False: an estimate."""


@dataclass(frozen=True, eq=False)
class Project:
    """A design on its board. Everything downstream takes one of these.

    The results are values that nobody changes; asking twice gives the same object.
    """

    design: Design
    board: Board
    measured: Footprint | None = None
    """What the compiler reported, where one was asked."""

    @cached_property
    def features(self) -> Features:
        """What is fitted."""
        from timing.design.features import features_of

        return features_of(self.design)

    @cached_property
    def pins(self) -> Mapping[str, str | None]:
        """The pin of each role that needs one; None where none is left that can do it."""
        from timing.design.pinning import pin_names

        return pin_names(self.design, self.board)

    @cached_property
    def settings(self) -> Settings:
        """The constants of the design's sequence."""
        from timing.sequence.of_design import settings_of

        return settings_of(self.design)

    @cached_property
    def table(self) -> Table:
        """The phase table without what the design makes impossible."""
        from timing.sequence.of_design import table_of

        return table_of(self.design)

    @cached_property
    def budget(self) -> Budget:
        """The 24 VAC budget."""
        from timing.power.budget import budget

        return budget(self.design, self.board)

    @cached_property
    def supply(self) -> SupplyReport:
        """The budget with what the rules for supply and circuits find in it."""
        from timing.checks.registry import SUPPLY_RULES, told_by
        from timing.power.record import SupplyReport

        return SupplyReport(self.budget, told_by(SUPPLY_RULES, self))

    @cached_property
    def dials(self) -> Mapping[str, PanelDial]:
        """The dials by the names of their times, in the order of the panel."""
        from timing.circuit.dial import dials_of

        return dials_of(self.design, self.board)

    @cached_property
    def drives(self) -> tuple[Drive, ...]:
        """The output drives, in the order of the roles."""
        from timing.circuit.drives import drives

        return drives(self.design, self.board)

    @cached_property
    def netlist(self) -> Netlist:
        """Parts, terminals, nets and cables of the whole add-on."""
        from timing.circuit.netlist import netlist

        return netlist(self)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What every rule says, the gravest first."""
        from timing.checks.registry import check

        return tuple(check(self))

    @cached_property
    def told(self) -> dict[RuleFunction, tuple[Finding, ...]]:
        """What each function of the rules said, kept as they run: the supply's serve two lists."""
        return {}

    @cached_property
    def advice(self) -> Advice:
        """Where to start with every time. Raises ProcessError where no arc can burn."""
        from timing.process.advice import advise

        return advise(self.design)

    @cached_property
    def proof(self) -> Proof:
        """What became of every proof rule, on every combination that the design can meet."""
        from timing.proof.prove import prove

        return prove(self.design)

    @cached_property
    def timeline(self) -> Timeline:
        """The sequence at the usual pull of the trigger."""
        from timing.sequence.simulate import simulate, usual_script

        return simulate(self.design, usual_script(self.design))

    @cached_property
    def footprint(self) -> Footprint:
        """Memory of the sketch: as measured, else by rule of thumb."""
        return self._estimate() if self.measured is None else self.measured

    def _estimate(self) -> Footprint:
        branches = sum(len(row.transitions) + len(row.notes) for row in self.table.values())
        flash_bytes = self.board.base_flash_bytes + branches * FLASH_PER_BRANCH_BYTES
        return Footprint(flash_bytes, self.board.base_ram_bytes, measured=False)

    def with_footprint(self, measured: Footprint) -> Project:
        """Return the project with memory as measured; every result that does not hang on it is kept."""
        from timing.checks.board import memory_fit

        other = replace(self, measured=measured)
        kept = {
            name: value for name, value in self.__dict__.items() if name not in ("measured", "footprint", "findings")
        }
        other.__dict__.update(kept)
        other.__dict__["told"] = {rule: said for rule, said in self.told.items() if rule is not memory_fit}
        return other
