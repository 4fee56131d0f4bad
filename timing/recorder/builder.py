"""The recorder's netlist under construction: its board, and the pieces that several of its circuits are made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from timing.circuit.builder import Builder
from timing.circuit.parts import Group, PartKind, TerminalPlace
from timing.circuit.trigger_input import LED_MAX_A
from timing.design.board import FIVE_VOLT_LOGIC_V
from timing.design.units import format_quantity
from timing.recorder.adapters import BATTERY_V, Adapter
from timing.recorder.couplers import CTR_LEAST
from timing.recorder.fitting import RecorderCircuits

COMMON, LOGIC, COILS = "COMMON", "LOGIC", "COILS"
"""Nets of the laptop's side, beside the pins' own; COILS feeds a relay module where the logic is 3.3 V."""
LEAD_FUSE_A = 0.2
"""In a lead that goes to a circuit of the machine: some ten times what an adapter takes (choice)."""
ISOLATION_V = 5000.0
"""Test voltage from one side to the other that couplers and photo-relays are sold with, RMS (practice)."""
MACHINE_LEAD = "insulated for 300 V or more, in a sleeve of its own, apart from every other pair"
LEADS = "pair of test leads, 2 m, insulated clips, insulated for 300 V or more"
FUSE = f"fuse F {LEAD_FUSE_A:g} A H (quick, ceramic), 5 x 20 mm, 250 V, in an in-line holder at the clip"


@dataclass
class CircuitRefs:
    """Which part does what in one circuit of the recorder; empty where it has no such part."""

    leads: str = ""
    terminals: str = ""
    fuses: list[str] = field(default_factory=list)
    series: list[str] = field(default_factory=list)
    coupler: str = ""
    pull: str = ""
    diode: str = ""
    bridge: str = ""
    zener: str = ""
    battery: str = ""
    switch: str = ""
    """The reed, or the sensor."""
    sensor_ohm: str = ""
    transistor: str = ""
    base_ohm: str = ""
    channel: int = 0
    """Of the module, from 1; 0: none."""


class RecorderBuilder:
    """Collects the recorder's parts and nets."""

    def __init__(self, circuits: RecorderCircuits, pins: Mapping[str, str]) -> None:
        self.circuits, self.build = circuits, Builder()
        self.refs: dict[str, CircuitRefs] = {}
        self.channels: dict[int, tuple[str, str, str]] = {}
        """Nets of the input module's channels: plus, minus, pin."""
        board = circuits.board
        relays = any(press.by_module for press in circuits.presses.values())
        coil_terminal = board.logic_terminal if board.logic_v >= FIVE_VOLT_LOGIC_V else board.input_terminal
        self.coils = LOGIC if coil_terminal == board.logic_terminal else COILS
        roles = [f"input_{one.input.number}" for one in circuits.adapters.values()]
        roles += [f"press_{key}" for key in circuits.presses] + ["press_jumper"]
        supplies = (board.logic_terminal, coil_terminal) if relays else (board.logic_terminal,)
        terminals = tuple(dict.fromkeys((*supplies, "GND", *(pins[role] for role in roles))))
        self.board = self.build.add(
            Group.BOARD, PartKind.BOARD, board.title, f"microcontroller board for the recorder, {board.title}",
            terminals, "module", "a second one: it watches and presses, and knows nothing of the add-on's program",
        )  # fmt: skip
        for name, terminal in ((COMMON, "GND"), (LOGIC, board.logic_terminal)):
            self._on_board(name, terminal)
        if relays and self.coils == COILS:
            self._on_board(COILS, coil_terminal)
        for role in roles:
            self.build.net(f"PIN-{role}", "signal")
            self.build.join(f"PIN-{role}", f"{self.board}.{pins[role]}")

    def _on_board(self, net: str, terminal: str) -> None:
        self.build.net(net, "logic", 0.1, "laptop's side: nowhere to the machine")
        self.build.join(net, f"{self.board}.{terminal}")

    def net(self, adapter: Adapter, name: str, treatment: str = "") -> str:
        """Declare a net of an adapter on the machine's side and return its name."""
        return self.build.net(f"IN{adapter.input.number}-{name}", "trigger", 0.02, treatment)

    def part(
        self, kind: PartKind, value: str, text: str, ends: Mapping[str, str], reason: str = "",
        group: Group = Group.ADAPTERS, place: TerminalPlace = "box",
    ) -> str:  # fmt: skip
        """Add a part with its terminals on nets and return its ref."""
        ref = self.build.add(group, kind, value, text, tuple(ends), place, reason)
        for name, net in ends.items():
            self.build.join(net, f"{ref}.{name}")
        return ref

    def resistor(
        self, ohm: float, watts: float, ends: tuple[str, str], reason: str, group: Group = Group.ADAPTERS
    ) -> str:
        """Add a resistor between two nets and return its ref."""
        value = format_quantity(ohm, "ohm")
        text = f"resistor {value}, {watts:g} W, 5 %"
        return self.part(PartKind.RESISTOR, value, text, dict(zip("12", ends, strict=True)), reason, group)

    def block(self, poles: Mapping[str, str], group: Group = Group.ADAPTERS) -> str:
        """Add a block of screw terminals, its poles on nets, and return its ref."""
        text = f"screw terminals, {len(poles)} poles, 5 mm pitch or more"
        return self.part(PartKind.TERMINAL_BLOCK, "", text, poles, "an empty pole between two blocks", group)

    def leads(self, adapter: Adapter, refs: CircuitRefs, fused: tuple[str, ...] = ("A",)) -> tuple[str, str]:
        """Test leads up to the adapter's terminals; returns the nets of its poles A and B."""
        ends = {pole: self.net(adapter, f"LEAD-{pole}", MACHINE_LEAD) for pole in "AB"}
        refs.leads = self.part(PartKind.TEST_LEADS, "", LEADS, ends, f"across {adapter.across}", place="cable")
        behind = dict(ends)
        for pole in fused:
            behind[pole] = self.net(adapter, pole, MACHINE_LEAD)
            fuse = self.part(
                PartKind.FUSE, f"F {LEAD_FUSE_A:g} A H", FUSE, {"1": ends[pole], "2": behind[pole]},
                "a lead that slips or is crushed melts no wire", place="cable",
            )  # fmt: skip
            refs.fuses.append(fuse)
        refs.terminals = self.block({f"{adapter.input.number}{pole}": net for pole, net in behind.items()})
        return behind["A"], behind["B"]

    def series(self, adapter: Adapter, refs: CircuitRefs, first: str, last: str) -> None:
        """Add the adapter's resistors between two nets."""
        ohms = adapter.series_ohm
        nets = [first, *(self.net(adapter, f"R{number}") for number in range(1, len(ohms))), last]
        text = f"LED current {1e3 * adapter.low_a:.1f} to {1e3 * adapter.high_a:.1f} mA; {adapter.heat_w:.2g} W of heat"
        text += f"; {len(ohms)} in series share the voltage" if len(ohms) > 1 else ""
        refs.series += [
            self.resistor(ohm, adapter.rating_w, ends, text) for ohm, ends in zip(ohms, pairwise(nets), strict=True)
        ]

    def coupler(self, adapter: Adapter, refs: CircuitRefs, anode: str, cathode: str, *, ac_input: bool = False) -> None:
        """Add the coupler from the LED's nets to the pin, with the resistor that pulls the pin up."""
        led = "two LEDs back to back (ac input)" if ac_input else "transistor output"
        pin = f"PIN-input_{adapter.input.number}"
        refs.coupler = self.part(
            PartKind.AC_INPUT_COUPLER if ac_input else PartKind.COUPLER, f"CTR {CTR_LEAST * 100:g} %",
            f"optocoupler, {led}, CTR {CTR_LEAST * 100:g} % or more at 5 mA, LED {2000 * LED_MAX_A:g} mA, "
            f"{ISOLATION_V / 1000:g} kV RMS, 4-pin DIP",
            {"A": anode, "K": cathode, "C": pin, "E": COMMON},
            f"needs {1e3 * adapter.coupler.lit_a:.1f} mA at the end of its life; keeps laptop and machine apart",
        )  # fmt: skip
        text = "pulls the pin up, and empties the coupler"
        refs.pull = self.resistor(adapter.coupler.pull_up_ohm, 0.25, (LOGIC, pin), text)

    def bridge(self, refs: CircuitRefs, ac: tuple[str, str], dc: tuple[str, str], reason: str) -> None:
        """Add a bridge rectifier between nets: ac, and plus with minus."""
        ends = dict(zip(("~1", "~2", "+", "-"), (*ac, *dc), strict=True))
        text = "bridge rectifier 200 V, 1 A, round or DIP"
        refs.bridge = self.part(PartKind.BRIDGE, "200 V 1 A", text, ends, reason)

    def battery(self, adapter: Adapter, refs: CircuitRefs) -> tuple[str, str, str, str]:
        """Add a battery and the resistor behind it; returns the nets of plus, LED, its cathode, and minus."""
        plus, lit, cathode, minus = (self.net(adapter, name) for name in ("BAT+", "LED", "LED-K", "BAT-"))
        refs.battery = self.part(
            PartKind.BATTERY, "9 V", "battery 9 V (6LR61) with a clip, in a holder", {"+": plus, "-": minus},
            f"feeds this loop alone, down to {BATTERY_V[0]:g} V; never shared: it may stand at the machine's potential",
        )  # fmt: skip
        self.series(adapter, refs, plus, lit)
        return plus, lit, cathode, minus
