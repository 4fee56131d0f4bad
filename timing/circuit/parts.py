"""Parts, terminals and nets: the data that schematic, wire list and parts list are made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from timing.errors import WirecueError

Place = Literal["feeder", "cable", "panel", "box"]
"""feeder: in the machine; cable: the plug on the add-on's cable; panel: on the front panel; box: on the add-on's own
circuit board."""

Family = Literal["ac", "dc", "logic", "signal", "trigger", "load", "screen"]


@dataclass(frozen=True)
class Part:
    """One part with its terminals."""

    ref: str
    kind: str
    """What to draw: resistor, capacitor, electrolytic, diode, zener, varistor, bridge, regulator, fuse, connector,
    board, relay, mosfet, coupler, ac-input-coupler, opto-triac, triac, dc-relay, potentiometer, contact, lamp, jumper,
    transformer, feeder-trigger, feeder-load, feeder-contact, earth."""
    value: str
    """Value as marked, such as '4.7 kohm'; empty where the description says all."""
    description: str
    """Generic, for the parts list; empty for what the feeder has already."""
    terminals: tuple[str, ...]
    place: Place
    group: str
    """Which circuit it belongs to, for the drawing: board, feed, regulator, feeder, trigger, an output's role, inputs,
    dials, sense, screen."""
    reason: str = ""

    @property
    def to_buy(self) -> bool:
        """True for parts of the add-on; False for what the feeder has already."""
        return bool(self.description)


@dataclass(frozen=True, order=True)
class Terminal:
    """One terminal of one part."""

    ref: str
    name: str

    def __str__(self) -> str:
        return f"{self.ref}.{self.name}"


@dataclass(frozen=True)
class Net:
    """What is connected together."""

    name: str
    terminals: tuple[Terminal, ...]
    current_a: float
    """What its wires must carry continuously; behind the fuse at least the fuse's rating."""
    family: Family
    treatment: str = ""
    """How to run its wires: twisted, screened, away from what."""


@dataclass(frozen=True)
class Mate:
    """Two connectors that plug into each other, way by way."""

    fixed: str
    free: str


@dataclass(frozen=True)
class BypassLink:
    """One link inside the bypass plug that puts the feeder back as found."""

    connector: str
    from_way: str
    to_way: str
    note: str
    sure: bool = True
    """False where the survey speaks against it: to be made only after tracing how the coil was switched as found."""


@dataclass(frozen=True)
class Caution:
    """A warning, with the part or net that it belongs beside."""

    at: str
    """A part's ref, a net's name, or 'everywhere'."""
    text: str


@dataclass(frozen=True)
class Netlist:
    """The whole wiring of one design."""

    parts: tuple[Part, ...]
    nets: tuple[Net, ...]
    mates: tuple[Mate, ...]
    bypass: tuple[BypassLink, ...]
    cautions: tuple[Caution, ...]

    def part(self, ref: str) -> Part:
        """Return a part by its ref. Raises KeyError."""
        for part in self.parts:
            if part.ref == ref:
                return part
        raise KeyError(ref)

    def net_of(self, terminal: Terminal) -> Net:
        """Return the net that a terminal is on. Raises KeyError."""
        for net in self.nets:
            if terminal in net.terminals:
                return net
        raise KeyError(str(terminal))


class NetlistError(WirecueError):
    """Parts and nets that do not fit together, as where two roles share a pin."""

    exit_code = 1

    def __str__(self) -> str:
        return f"the wiring cannot be made: {self.args[0]}\n  do       `wirecue check` names pins that clash"


class Builder:
    """Collects parts and connections; the refs count up by letter in the order of adding."""

    def __init__(self) -> None:
        self._parts: list[Part] = []
        self._counts: dict[str, int] = {}
        self.group = ""
        """Group of the parts added from now on."""
        self._nets: dict[str, tuple[list[Terminal], float, Family, str]] = {}

    def add(
        self,
        letter: str,
        kind: str,
        value: str,
        description: str,
        terminals: tuple[str, ...],
        place: Place = "box",
        reason: str = "",
    ) -> str:
        """Add a part and return its ref."""
        self._counts[letter] = self._counts.get(letter, 0) + 1
        ref = f"{letter}{self._counts[letter]}"
        self._parts.append(Part(ref, kind, value, description, terminals, place, self.group, reason))
        return ref

    def net(self, name: str, family: Family, current_a: float = 0.02, treatment: str = "") -> str:
        """Declare a net and return its name."""
        self._nets.setdefault(name, ([], current_a, family, treatment))
        return name

    def join(self, net: str, *terminals: str) -> None:
        """Put terminals, written 'R1.1', on a declared net."""
        for text in terminals:
            ref, _, name = text.partition(".")
            self._nets[net][0].append(Terminal(ref, name))

    def two(self, ref: str, first_net: str, second_net: str) -> None:
        """Put a part with two terminals between two nets."""
        first, second = next(part for part in self._parts if part.ref == ref).terminals
        self.join(first_net, f"{ref}.{first}")
        self.join(second_net, f"{ref}.{second}")

    def finish(self, mates: tuple[Mate, ...], bypass: tuple[BypassLink, ...], cautions: tuple[Caution, ...]) -> Netlist:
        """Return the netlist. Raises NetlistError unless every terminal is on exactly one net of two or more."""
        nets = tuple(
            Net(name, tuple(terminals), current, family, treatment)
            for name, (terminals, current, family, treatment) in self._nets.items()
        )
        wanted = sorted(Terminal(part.ref, name) for part in self._parts for name in part.terminals)
        joined = sorted(terminal for net in nets for terminal in net.terminals)
        doubled = {one for one in joined if joined.count(one) > 1}
        odd = sorted((set(wanted) ^ set(joined)) | doubled)
        if odd:
            raise NetlistError(f"not on exactly one net: {', '.join(map(str, odd))}")
        lonely = [net.name for net in nets if len(net.terminals) < 2]
        if lonely:
            raise NetlistError(f"nets with one terminal: {', '.join(lonely)}")
        return Netlist(tuple(self._parts), nets, mates, bypass, cautions)
