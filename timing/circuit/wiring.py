"""The netlist under construction: the board, the nets that everything shares, and the smallest parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from timing.circuit.parts import Builder, Group, PartKind, Place
from timing.circuit.preferred import resistor_rating_w
from timing.design.board import Board
from timing.design.design import Design
from timing.design.pinning import pin_names
from timing.design.units import format_quantity
from timing.power.budget import Budget
from timing.project import Project

TWISTED = "twisted pair with its return; 100 mm or more from welding cables, crossing them at right angles"
SCREENED = "screened, or twisted with common; screen to common at the board only; away from coils and loads"


@dataclass(frozen=True)
class Wiring:
    """The netlist under construction, seen from one of its circuits, with the nets that all of them share."""

    design: Design
    board: Board
    budget: Budget
    pins: Mapping[str, str]
    """Terminal of the board by role."""
    build: Builder
    mcu: str
    """Ref of the board."""
    group: Group
    """Which circuit the parts added here belong to."""
    ac_a: str = "24VAC-A"
    ac_b: str = "24VAC-B"
    plus: str = "RESERVOIR+"
    common: str = "COMMON"
    rail: str = "RAIL"
    logic: str = "LOGIC"

    @classmethod
    def begun(cls, project: Project) -> Wiring:
        """Return a wiring with the board and the shared nets."""
        board, budget, build = project.board, project.budget, Builder()
        # A role without a pin is a finding of its own; the drawing still shows where its wire would go.
        pins = {key: name or f"pin for {key}" for key, name in pin_names(project.design, board).items()}
        terminals = (board.input_terminal, "GND", board.logic_terminal, *pins.values())
        mcu = build.add(
            Group.BOARD, PartKind.BOARD, board.title, f"microcontroller board, {board.title}", terminals
        )  # fmt: skip
        wiring = cls(project.design, board, budget, pins, build, mcu, Group.BOARD)
        fuse_a = budget.fuse.rating_a
        build.net(wiring.ac_a, "ac", fuse_a, TWISTED)
        build.net(wiring.ac_b, "ac", fuse_a, TWISTED)
        build.net(wiring.plus, "dc", fuse_a)
        build.net(wiring.common, "dc", fuse_a, "one star point; nowhere to chassis, work or the feeder's common")
        build.net(wiring.rail, "dc", max(0.5, 2.0 * max(phase.load.rail_a for phase in budget.phases)))
        build.net(wiring.logic, "logic", 0.1)
        build.join(wiring.rail, f"{mcu}.{board.input_terminal}")
        build.join(wiring.common, f"{mcu}.GND")
        build.join(wiring.logic, f"{mcu}.{board.logic_terminal}")
        return wiring

    def within(self, group: Group) -> Wiring:
        """Return the same wiring, its new parts in another group."""
        return replace(self, group=group)

    def add(
        self,
        kind: PartKind,
        value: str,
        description: str,
        terminals: tuple[str, ...],
        place: Place = "box",
        reason: str = "",
    ) -> str:
        """Add a part to the group and return its ref."""
        return self.build.add(self.group, kind, value, description, terminals, place, reason)

    def pin(self, key: str) -> str:
        """Declare the net of a role's pin and return its name."""
        name = self.build.net(f"PIN-{key}", "signal")
        self.build.join(name, f"{self.mcu}.{self.pins[key]}")
        return name

    def resistor(self, ohm: float, first: str, second: str, reason: str, watts: float = 0.0) -> str:
        """Add a resistor between two nets and return its ref."""
        value = format_quantity(ohm, "ohm")
        text = f"resistor {value}, {resistor_rating_w(watts):g} W, 5 %"
        ref = self.add(PartKind.RESISTOR, value, text, ("1", "2"), reason=reason)
        self.build.two(ref, first, second)
        return ref

    def ceramic(self, farad: float, first: str, second: str, reason: str, volts: float = 100.0) -> str:
        """Add a small capacitor between two nets and return its ref."""
        value = format_quantity(farad, "F")
        text = f"capacitor {value}, ceramic or film, {volts:g} V"
        ref = self.add(PartKind.CAPACITOR, value, text, ("1", "2"), reason=reason)
        self.build.two(ref, first, second)
        return ref
