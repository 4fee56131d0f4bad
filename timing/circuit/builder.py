"""The netlist under construction: parts, nets, the board and the smallest parts between them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from timing.circuit.parts import (
    BypassLink,
    Family,
    Group,
    Mate,
    Net,
    Netlist,
    Part,
    PartKind,
    PlacedCaution,
    Pole,
    Terminal,
    TerminalPlace,
)
from timing.circuit.preferred import resistor_rating_w
from timing.design.board import Board
from timing.design.design import Design
from timing.design.units import format_quantity
from timing.errors import WirecueError
from timing.power.budget import Budget
from timing.power.components import board_feed
from timing.project import Project

TWISTED = "twisted pair with its return; 100 mm or more from welding cables, crossing them at right angles"
SCREENED = "screened, or twisted with common; screen to common at the board only; away from coils and loads"


class NetlistError(WirecueError):
    """Parts and nets that do not fit together, as where two roles share a pin."""

    exit_code = 1

    def __str__(self) -> str:
        return f"the wiring cannot be made: {self.args[0]}\n  do       `wirecue check` names pins that clash"


class Builder:
    """Collects parts and connections; the refs count up by letter in the order of adding."""

    def __init__(self) -> None:
        self._parts: dict[str, Part] = {}
        self._counts: dict[str, int] = {}
        self._nets: dict[str, tuple[list[Terminal], float, Family, str, Pole]] = {}

    def add(
        self,
        group: Group,
        kind: PartKind,
        value: str,
        description: str,
        terminals: tuple[str, ...],
        place: TerminalPlace = "box",
        reason: str = "",
    ) -> str:
        """Add a part and return its ref."""
        self._counts[kind.letter] = self._counts.get(kind.letter, 0) + 1
        ref = f"{kind.letter}{self._counts[kind.letter]}"
        self._parts[ref] = Part(ref, kind, value, description, terminals, place, group, reason)
        return ref

    def net(self, name: str, family: Family, current_a: float = 0.02, treatment: str = "", pole: Pole = "") -> str:
        """Declare a net and return its name."""
        self._nets.setdefault(name, ([], current_a, family, treatment, pole))
        return name

    def join(self, net: str, *terminals: str) -> None:
        """Put terminals, written 'R1.1', on a declared net."""
        for text in terminals:
            ref, _, name = text.partition(".")
            self._nets[net][0].append(Terminal(ref, name))

    def on(self, net: str, kind: PartKind) -> str:
        """Return the ref of the first part of a kind on a net. Raises StopIteration where there is none."""
        return next(end.ref for end in self._nets[net][0] if self._parts[end.ref].kind is kind)

    def two(self, ref: str, first_net: str, second_net: str) -> None:
        """Put a part with two terminals between two nets."""
        first, second = self._parts[ref].terminals
        self.join(first_net, f"{ref}.{first}")
        self.join(second_net, f"{ref}.{second}")

    def finish(
        self, mates: tuple[Mate, ...], bypass: tuple[BypassLink, ...], cautions: tuple[PlacedCaution, ...]
    ) -> Netlist:
        """Return the netlist. Raises NetlistError unless every terminal is on exactly one net of two or more."""
        nets = tuple(
            Net(name, tuple(terminals), current, family, treatment, pole)
            for name, (terminals, current, family, treatment, pole) in self._nets.items()
        )
        wanted = {Terminal(part.ref, name) for part in self._parts.values() for name in part.terminals}
        joined = Counter(terminal for net in nets for terminal in net.terminals)
        doubled = {terminal for terminal, times in joined.items() if times > 1}
        odd = sorted((wanted ^ set(joined)) | doubled)
        if odd:
            raise NetlistError(f"not on exactly one net: {', '.join(map(str, odd))}")
        lonely = [net.name for net in nets if len(net.terminals) < 2]
        if lonely:
            raise NetlistError(f"nets with one terminal: {', '.join(lonely)}")
        return Netlist(tuple(self._parts.values()), nets, mates, bypass, cautions)


@dataclass(frozen=True)
class CircuitBuilder:
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
    def begun(cls, project: Project) -> CircuitBuilder:
        """Return a wiring with the board and the shared nets."""
        board, budget, build = project.board, project.budget, Builder()
        # A role without a pin is a finding of its own; the drawing still shows where its wire would go.
        pins = {key: name or f"pin for {key}" for key, name in project.pins.items()}
        circuits = project.design.circuits
        fed = board_feed(board, circuits).terminal
        terminals = tuple(dict.fromkeys((fed, "GND", board.logic_terminal, *pins.values())))
        mcu = build.add(
            Group.BOARD, PartKind.BOARD, board.title, f"microcontroller board, {board.title}", terminals,
            "module" if circuits.build == "modules" else "box",
        )  # fmt: skip
        wiring = cls(project.design, board, budget, pins, build, mcu, Group.BOARD)
        if fed == board.logic_terminal:
            wiring = replace(wiring, rail=wiring.logic)
        fuse_a = budget.fuse.rating_a
        build.net(wiring.ac_a, "ac", fuse_a, TWISTED)
        build.net(wiring.ac_b, "ac", fuse_a, TWISTED)
        build.net(wiring.plus, "dc", fuse_a)
        build.net(wiring.common, "dc", fuse_a, "one star point; nowhere to chassis, work or the feeder's common")
        if wiring.feed_common != wiring.common:
            build.net(wiring.feed_common, "dc", fuse_a, "joined to the winding: nowhere to COMMON, chassis or work")
        build.net(wiring.rail, "dc", max(0.5, 2.0 * max(phase.load.rail_a for phase in budget.phases)))
        build.net(wiring.logic, "logic", 0.1)
        build.join(wiring.rail, f"{mcu}.{fed}")
        build.join(wiring.common, f"{mcu}.GND")
        if wiring.logic != wiring.rail:
            build.join(wiring.logic, f"{mcu}.{board.logic_terminal}")
        return wiring

    @property
    def feed_common(self) -> str:
        """The reservoir's minus: COMMON, save behind an isolating module."""
        return "FEED-COMMON" if self.budget.isolation.kind == "module" else self.common

    @property
    def of_modules(self) -> bool:
        """True where ready-made modules are wired up; False where all is soldered on one circuit board."""
        return self.design.circuits.build == "modules"

    def within(self, group: Group) -> CircuitBuilder:
        """Return the same wiring, its new parts in another group."""
        return replace(self, group=group)

    def add(
        self,
        kind: PartKind,
        value: str,
        description: str,
        terminals: tuple[str, ...],
        place: TerminalPlace = "box",
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
