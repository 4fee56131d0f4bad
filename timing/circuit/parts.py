"""Parts, terminals and nets: the data that schematic, wire list and parts list are made from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import Literal

TerminalPlace = Literal["feeder", "cable", "panel", "module", "box"]
"""feeder: in the machine; cable: the plug on the add-on's cable; panel: on the front panel; module: on a ready-made
module in the box; box: on the add-on's own circuit board."""

Family = Literal["ac", "dc", "logic", "signal", "trigger", "load", "screen"]

Pole = Literal["", "+", "-"]
"""Of a dc load's circuit; empty elsewhere."""


class PartKind(Enum):
    """What a part is, and the letter that its ref begins with (practice)."""

    letter: str

    def __new__(cls, word: str, letter: str) -> PartKind:
        """Keep the word as the value and the letter beside it."""
        kind = object.__new__(cls)
        kind._value_, kind.letter = word, letter
        return kind

    BOARD = "board", "A"
    RELAY_MODULE = "relay module", "A"
    SOLID_STATE_MODULE = "solid-state relay module", "A"
    INPUT_MODULE = "opto-input module", "A"
    REGULATOR_MODULE = "regulator module", "A"
    REFLEX_SENSOR = "reflex sensor", "B"
    BRIDGE = "bridge", "BR"
    CAPACITOR = "capacitor", "C"
    ELECTROLYTIC = "electrolytic", "C"
    DIODE = "diode", "D"
    ZENER = "zener", "D"
    EARTH = "earth", "E"
    FUSE = "fuse", "F"
    LAMP = "lamp", "H"
    SOCKET = "socket", "J"
    JUMPER = "jumper", "JP"
    RELAY = "relay", "K"
    FEEDER_CONTACT = "contact as found", "K"
    FEEDER_CONTROL = "control as found", "A"
    FEEDER_RELAY = "relay as found", "K"
    BATTERY = "battery", "G"
    FEEDER_SUPPLY = "supply as found", "G"
    INTERPOSING_CONTACTOR = "interposing contactor", "K"
    FEEDER_COIL = "coil as found", "K"
    FEEDER_VALVE = "valve as found", "Y"
    PLUG = "plug", "P"
    TEST_LEADS = "pair of test leads", "P"
    MOSFET = "MOSFET", "Q"
    TRANSISTOR = "transistor", "Q"
    TRIAC = "triac", "Q"
    THYRISTOR = "thyristor", "Q"
    RESISTOR = "resistor", "R"
    POTENTIOMETER = "potentiometer", "RP"
    VARISTOR = "varistor", "RV"
    SWITCH = "switch", "S"
    SELECTOR = "selector", "S"
    PUSH_BUTTON = "push button", "S"
    DRY_CONTACT = "dry contact", "S"
    REED = "reed switch", "S"
    FEEDER_TRIGGER = "trigger as found", "S"
    TRANSFORMER = "transformer", "T"
    SECOND_TRANSFORMER = "second transformer", "T"
    COUPLER = "coupler", "U"
    AC_INPUT_COUPLER = "ac-input coupler", "U"
    OPTO_TRIAC = "opto-triac", "U"
    PHOTO_RELAY = "photo-relay", "U"
    DC_RELAY = "dc solid-state relay", "U"
    LINEAR_REGULATOR = "linear regulator", "U"
    SWITCHING_REGULATOR = "switching regulator", "U"
    ISOLATING_MODULE = "isolating dc-dc module", "U"
    WIRE_LINK = "wire link", "W"
    TERMINAL_BLOCK = "terminal block", "X"


AS_FOUND = (
    PartKind.FEEDER_COIL, PartKind.FEEDER_VALVE, PartKind.FEEDER_CONTACT, PartKind.FEEDER_TRIGGER,
    PartKind.FEEDER_CONTROL, PartKind.FEEDER_RELAY, PartKind.FEEDER_SUPPLY,
)  # fmt: skip
"""What the machine has already and the add-on takes over."""


class Group(Enum):
    """Which circuit a part belongs to, for the drawing; that of an output bears the output's role."""

    BOARD = "board"
    FEED = "feed"
    REGULATOR = "regulator"
    FEEDER = "feeder"
    TRIGGER = "trigger"
    GAS_VALVE = "gas_valve"
    WIRE_DRIVE = "wire_drive"
    CONTACTOR = "contactor"
    INPUTS = "inputs"
    DIALS = "dials"
    SENSE = "sense"
    MODULES = "modules"
    SCREEN = "screen"
    ADAPTERS = "adapters"
    PRESSES = "presses"


@dataclass(frozen=True)
class Part:
    """One part with its terminals."""

    ref: str
    kind: PartKind
    value: str
    """Value as marked, such as '4.7 kohm'; empty where the description says all."""
    description: str
    """Generic, for the parts list; empty for what the feeder has already."""
    terminals: tuple[str, ...]
    place: TerminalPlace
    group: Group
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
    pole: Pole = ""
    """Of a dc load's circuit: which pole of its supply this is, or leads to."""


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


@dataclass(frozen=True)
class PlacedCaution:
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
    cautions: tuple[PlacedCaution, ...]

    @cached_property
    def _by_ref(self) -> dict[str, Part]:
        return {part.ref: part for part in self.parts}

    @cached_property
    def _by_terminal(self) -> dict[Terminal, Net]:
        return {terminal: net for net in self.nets for terminal in net.terminals}

    @cached_property
    def _by_ends(self) -> dict[frozenset[str], list[Part]]:
        """The parts with two terminals, by the nets that these are on."""
        found: dict[frozenset[str], list[Part]] = {}
        for part in self.parts:
            if len(part.terminals) == 2:
                ends = frozenset(self.net_of(Terminal(part.ref, name)).name for name in part.terminals)
                found.setdefault(ends, []).append(part)
        return found

    def part(self, ref: str) -> Part:
        """Return a part by its ref. Raises KeyError."""
        return self._by_ref[ref]

    def net_of(self, terminal: Terminal) -> Net:
        """Return the net that a terminal is on. Raises KeyError."""
        if terminal not in self._by_terminal:
            raise KeyError(str(terminal))
        return self._by_terminal[terminal]

    def has_net(self, name: str) -> bool:
        """Tell whether there is a net of that name."""
        return any(net.name == name for net in self.nets)

    def parts_of(self, group: Group, *kinds: PartKind) -> Iterator[Part]:
        """Return the parts of a group, of some kinds if any are named."""
        return (part for part in self.parts if part.group is group and (not kinds or part.kind in kinds))

    def first_of(self, group: Group, *kinds: PartKind) -> Part | None:
        """Return the first part of a group and some kinds, or None."""
        return next(self.parts_of(group, *kinds), None)

    def first_of_kind(self, kind: PartKind) -> Part | None:
        """Return the first part of a kind, or None."""
        return next((part for part in self.parts if part.kind is kind), None)

    def the(self, group: Group, *kinds: PartKind) -> Part:
        """Return the first part of a group and some kinds. Raises LookupError where there is none."""
        found = self.first_of(group, *kinds)
        if found is None:
            raise LookupError(f"no {' or '.join(kind.value for kind in kinds)} in group {group.value}")
        return found

    def between(self, first: str, second: str, *kinds: PartKind) -> list[str]:
        """Return the refs of the parts with two terminals that lie between two nets."""
        found = self._by_ends.get(frozenset((first, second)), [])
        return [part.ref for part in found if not kinds or part.kind in kinds]

    def only_between(self, first: str, second: str, *kinds: PartKind) -> str:
        """Return the ref of the one part between two nets. Raises LookupError unless there is exactly one."""
        found = self.between(first, second, *kinds)
        if len(found) != 1:
            raise LookupError(f"{len(found)} parts between {first} and {second}, not one")
        return found[0]
