"""The netlist under construction: the board, the nets that everything shares, and the smallest parts."""

from __future__ import annotations

from timing.circuit.parts import Builder
from timing.circuit.preferred import resistor_rating_w
from timing.design.board import Board
from timing.design.design import Design
from timing.design.pinning import pin_names
from timing.design.units import format_quantity
from timing.power.budget import Budget

TWISTED = "twisted pair with its return; 100 mm or more from welding cables, crossing them at right angles"
SCREENED = "screened, or twisted with common; screen to common at the board only; away from coils and loads"


class Wiring:
    """The netlist under construction, with the nets that its parts share."""

    def __init__(self, design: Design, board: Board, found: Budget) -> None:
        self.design, self.board, self.found = design, board, found
        self.build = Builder()
        self.pins: dict[str, str] = {}
        for key, name in pin_names(design, board).items():
            # A role without a pin is a finding of its own; the drawing still shows where its wire would go.
            self.pins[key] = name if name is not None else f"pin for {key}"
        fuse_a = found.fuse.rating_a
        net = self.build.net
        self.ac_a = net("24VAC-A", "ac", fuse_a, TWISTED)
        self.ac_b = net("24VAC-B", "ac", fuse_a, TWISTED)
        self.plus = net("RESERVOIR+", "dc", fuse_a)
        self.common = net("COMMON", "dc", fuse_a, "one star point; nowhere to chassis, work or the feeder's common")
        self.rail = net("RAIL", "dc", max(0.5, 2.0 * max(phase.load.rail_a for phase in found.phases)))
        self.logic = net("LOGIC", "logic", 0.1)
        self.build.group = "board"
        terminals = (board.input_terminal, "GND", board.logic_terminal, *self.pins.values())
        self.mcu = self.build.add("A", "board", board.title, f"microcontroller board, {board.title}", terminals)
        self.build.join(self.rail, f"{self.mcu}.{board.input_terminal}")
        self.build.join(self.common, f"{self.mcu}.GND")
        self.build.join(self.logic, f"{self.mcu}.{board.logic_terminal}")

    def pin(self, key: str) -> str:
        """Declare the net of a role's pin and return its name."""
        name = self.build.net(f"PIN-{key}", "signal")
        self.build.join(name, f"{self.mcu}.{self.pins[key]}")
        return name

    def resistor(self, ohm: float, first: str, second: str, reason: str, watts: float = 0.0) -> str:
        """Add a resistor between two nets and return its ref."""
        value = format_quantity(ohm, "ohm")
        size = resistor_rating_w(watts)
        ref = self.build.add("R", "resistor", value, f"resistor {value}, {size:g} W, 5 %", ("1", "2"), reason=reason)
        self.build.two(ref, first, second)
        return ref

    def ceramic(self, farad: float, first: str, second: str, reason: str, volts: float = 100.0) -> str:
        """Add a small capacitor between two nets and return its ref."""
        value = format_quantity(farad, "F")
        text = f"capacitor {value}, ceramic or film, {volts:g} V"
        ref = self.build.add("C", "capacitor", value, text, ("1", "2"), reason=reason)
        self.build.two(ref, first, second)
        return ref
