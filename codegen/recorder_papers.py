"""What a recorder's papers and files are made from: design, board, wishes, and all that follows from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from codegen.drawings.recorder_schematic import RecorderDrawing
from timing.checks.finding import Finding
from timing.design.board import Board
from timing.project import Project
from timing.recorder.checks import RecorderParts, has_its_pins, recorder_findings
from timing.recorder.disc import USUAL_BORE_MM, USUAL_ROLL_MM, RollDisc, disc_for
from timing.recorder.fitting import RecorderCircuits, RecorderWish, recorder_circuits
from timing.recorder.flag import Flag, flag_for
from timing.recorder.netlist import RecorderWiring, recorder_wiring
from timing.recorder.uses import USES, Connection, Use, connections


@dataclass(frozen=True)
class DiscWish:
    """What a person says of roll and disc (mm); None: the usual."""

    roll_mm: float | None = None
    outer_mm: float | None = None
    bore_mm: float | None = None


@dataclass(frozen=True, eq=False)
class RecorderSource:
    """A recorder for a design; each result worked out once, when it is first asked for."""

    project: Project
    """Of the add-on."""
    board: Board
    """The recorder's."""
    version: str
    """Of this tool."""
    wish: RecorderWish = field(default_factory=RecorderWish)
    disc_wish: DiscWish = field(default_factory=DiscWish)

    @property
    def roll_mm(self) -> float:
        """Diameter of the drive roll."""
        return self.disc_wish.roll_mm or USUAL_ROLL_MM

    @cached_property
    def circuits(self) -> RecorderCircuits:
        """Adapters and presses."""
        return recorder_circuits(self.project, self.board, self.wish)

    @cached_property
    def wiring(self) -> RecorderWiring:
        """The netlist. Only where `findings` has no error: a board without its pins has none."""
        return recorder_wiring(self.circuits, self.board.recorder_pins)

    @cached_property
    def uses(self) -> dict[Use, tuple[Connection, ...]]:
        """Where every lead goes, by use."""
        return {use: connections(self.project, self.circuits, self.wiring, use) for use in USES}

    @cached_property
    def disc(self) -> RollDisc:
        """The disc for the drive roll."""
        wish = self.disc_wish
        return disc_for(self.roll_mm, wish.outer_mm, wish.bore_mm or USUAL_BORE_MM)

    @cached_property
    def flag(self) -> Flag | None:
        """The flag; None with gasless wire."""
        process = self.project.design.process
        return None if process.gas_flow_l_min is None else flag_for(process)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What the rules say, the gravest first."""
        missing = tuple(has_its_pins(self.board))
        return missing or recorder_findings(RecorderParts(self.circuits, self.disc, self.flag))

    @cached_property
    def drawing(self) -> RecorderDrawing:
        """What the drawings are made from."""
        design = self.project.design
        foot = f"{design.name}, revision {design.digest()}, recorder"
        return RecorderDrawing(self.circuits, self.wiring, design.title or design.name, foot)
