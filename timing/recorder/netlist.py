"""From the recorder's circuits to its netlist: test leads, adapters, presses, and the board they hang on.

Two sides that share no net: what is named for an input or a press lies on the machine's, each apart from every other;
COMMON, LOGIC and the pins lie on the laptop's. A coupler, a module or a relay stands between, and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from timing.circuit.parts import Group, Netlist, PartKind
from timing.circuit.preferred import at_most, resistor_rating_w
from timing.circuit.senses import COUPLER_LED_V, WETTING_A
from timing.design.circuits import MODULE_COIL_A, MODULE_INPUT_A, MODULE_RAIL_V
from timing.recorder.adapters import BATTERY_V, MODULE_LAG_US, MODULE_OFF_V, MODULE_ON_V, MODULE_ROOM_V, Adapter
from timing.recorder.adapters import AdapterKind as Kind
from timing.recorder.builder import COMMON, ISOLATION_V, LEADS, LOGIC, MACHINE_LEAD, CircuitRefs, RecorderBuilder
from timing.recorder.cautions import recorder_cautions
from timing.recorder.fitting import RecorderCircuits
from timing.recorder.presses import PHOTO_RELAY_A, PHOTO_RELAY_CLOSES_A, PressCircuit

MODULE_ISOLATION_V = 2500.0
"""Test voltage from one side to the other that input and relay modules are asked for (choice)."""
SENSOR_LED_A = 0.010
"""Through the LED of a reflex sensor at the battery's end (choice)."""
BASE_OHM = 22e3
"""From base to emitter: the transistor stays off up to some 30 uA of the sensor's, which is what dark paper gives back
(choice)."""
LEAD_WIRE_A = 0.5
"""What a press's leads are sized for: to be strong enough, not for the current (choice)."""


@dataclass(frozen=True)
class RecorderWiring:
    """The recorder's netlist, and which part does what in each of its circuits."""

    netlist: Netlist
    board: str
    """Ref of the board."""
    jumper: str
    input_module: str
    """Ref; empty where there is none."""
    relay_module: str
    circuits: Mapping[str, CircuitRefs]
    """By the key of the input; of a press by `press_` and its key."""


def recorder_wiring(circuits: RecorderCircuits, pins: Mapping[str, str]) -> RecorderWiring:
    """Return the netlist of the recorder's circuits; pins: terminals of its board by role, such as `input_1`."""
    wiring = RecorderBuilder(circuits, pins)
    for key, adapter in circuits.adapters.items():
        wiring.refs[key] = CircuitRefs()
        make = _by_channel if adapter.by_module else _MAKERS[adapter.kind]
        make(wiring, adapter, wiring.refs[key])
    inputs, relays = _input_module(wiring), _relay_module(wiring)
    for key, press in circuits.presses.items():
        wiring.refs[f"press_{key}"] = CircuitRefs()
        _press(wiring, key, press, wiring.refs[f"press_{key}"])
    jumper = wiring.part(
        PartKind.JUMPER, "", "jumper, 2 poles, 2.54 mm, with its cap", {"1": "PIN-press_jumper", "2": COMMON},
        "read at power-up: without it the recorder watches and presses nothing", Group.PRESSES,
    )  # fmt: skip
    blocks = {key: refs.terminals for key, refs in wiring.refs.items()}
    cautions = recorder_cautions(circuits, blocks, wiring.board)
    return RecorderWiring(wiring.build.finish((), (), cautions), wiring.board, jumper, inputs, relays, wiring.refs)


# ---- adapters


def _across_ac(wiring: RecorderBuilder, adapter: Adapter, refs: CircuitRefs) -> None:
    """Resistors and a coupler with two LEDs: either polarity, and both half-waves."""
    live, other = wiring.leads(adapter, refs, ("A", "B") if adapter.kind is Kind.WELDING else ("A",))
    lit = wiring.net(adapter, "LED")
    wiring.series(adapter, refs, live, lit)
    wiring.coupler(adapter, refs, lit, other, ac_input=True)


def _across_dc(wiring: RecorderBuilder, adapter: Adapter, refs: CircuitRefs) -> None:
    """Resistor, coupler with one LED, and a diode across it for the coil's spike and for swapped leads."""
    live, other = wiring.leads(adapter, refs)
    lit = wiring.net(adapter, "LED")
    wiring.series(adapter, refs, live, lit)
    wiring.coupler(adapter, refs, lit, other)
    refs.diode = wiring.part(
        PartKind.DIODE, "100 V 1 A", "diode 100 V, 1 A", {"A": other, "K": lit},
        "takes the coil's spike and swapped leads past the LED: neither is seen, neither does harm",
    )  # fmt: skip


def _across_supply(wiring: RecorderBuilder, adapter: Adapter, refs: CircuitRefs) -> None:
    """Resistor, bridge, zener and coupler: dark below a threshold that stays where it is."""
    live, other = wiring.leads(adapter, refs)
    behind, plus, minus, lit = (wiring.net(adapter, name) for name in ("RECT", "PLUS", "MINUS", "LED"))
    wiring.series(adapter, refs, live, behind)
    wiring.bridge(refs, (behind, other), (plus, minus), "both half-waves through one zener")
    refs.zener = wiring.part(
        PartKind.ZENER, f"{adapter.zener_v:g} V", f"zener diode {adapter.zener_v:g} V, 5 %, 1.3 W",
        {"A": lit, "K": plus}, "sets the threshold: a dip of the 24 VAC makes the dark time longer",
    )  # fmt: skip
    wiring.coupler(adapter, refs, lit, minus)


def _contact_loop(wiring: RecorderBuilder, adapter: Adapter, refs: CircuitRefs) -> None:
    """Battery, resistor, LED and a bare contact in one loop."""
    _, lit, cathode, minus = wiring.battery(adapter, refs)
    number = adapter.input.number
    refs.terminals = wiring.block({f"{number}A": cathode, f"{number}B": minus})
    ends = {"A": cathode, "B": minus}
    refs.leads = wiring.part(PartKind.TEST_LEADS, "", LEADS, ends, f"across {adapter.across}", place="cable")
    wiring.coupler(adapter, refs, lit, cathode)


def _current_loop(wiring: RecorderBuilder, adapter: Adapter, refs: CircuitRefs) -> None:
    """The same with a reed in the field of the welding cable."""
    _, lit, cathode, minus = wiring.battery(adapter, refs)
    number = adapter.input.number
    refs.terminals = wiring.block({f"{number}A": cathode, f"{number}B": minus})
    refs.switch = wiring.part(
        PartKind.REED, "10 to 30 AT",
        "reed switch, normally open, pulls in at 10 to 30 ampere-turns, in a plastic tube, with 2 m of cable; or a "
        "ready-made current switch with a bare contact",
        {"1": cathode, "2": minus}, "closes in the field of the welding cable laid round it", place="cable",
    )  # fmt: skip
    wiring.coupler(adapter, refs, lit, cathode)


def _reflex(wiring: RecorderBuilder, adapter: Adapter, refs: CircuitRefs) -> None:
    """Battery, reflex sensor, and a transistor that lights the coupler while light comes back to the sensor."""
    plus, lit, cathode, minus = wiring.battery(adapter, refs)
    number, fed, base = adapter.input.number, wiring.net(adapter, "SENSOR"), wiring.net(adapter, "BASE")
    ohm = at_most((BATTERY_V[0] - COUPLER_LED_V) / SENSOR_LED_A)
    rating_w = resistor_rating_w((BATTERY_V[1] - COUPLER_LED_V) ** 2 / ohm)
    refs.sensor_ohm = wiring.resistor(ohm, rating_w, (plus, fed), "current of the sensor's LED")
    refs.terminals = wiring.block({f"{number}+": plus, f"{number}L": fed, f"{number}E": base, f"{number}-": minus})
    refs.switch = wiring.part(
        PartKind.REFLEX_SENSOR, "",
        "reflex sensor: infrared LED and phototransistor side by side, for 2 to 8 mm, with 2 m of four-wire cable, on "
        "a bracket of plastic",
        {"C": plus, "A": fed, "E": base, "K": minus}, "sees bright and dark sectors, or the flag", place="cable",
    )  # fmt: skip
    refs.base_ohm = wiring.resistor(
        BASE_OHM, 0.25, (base, minus), "keeps the transistor off in what little a dark sector gives back"
    )
    refs.transistor = wiring.part(
        PartKind.TRANSISTOR, "NPN", "transistor, NPN, 40 V, 0.1 A or more, current gain 100 or more",
        {"B": base, "C": cathode, "E": minus}, "the sensor alone gives too little for the coupler",
    )  # fmt: skip
    wiring.coupler(adapter, refs, lit, cathode)


Maker = Callable[[RecorderBuilder, Adapter, CircuitRefs], None]
_MAKERS: dict[Kind, Maker] = {
    Kind.AC_COIL: _across_ac, Kind.MOTOR: _across_ac, Kind.WELDING: _across_ac, Kind.DC_COIL: _across_dc,
    Kind.SUPPLY: _across_supply, Kind.CONTACT: _contact_loop, Kind.CURRENT: _current_loop, Kind.REFLEX: _reflex,
}  # fmt: skip


# ---- modules


def _by_channel(wiring: RecorderBuilder, adapter: Adapter, refs: CircuitRefs) -> None:
    """Test leads to a channel of the input module: over a bridge for ac, over a diode for dc.

    The diode blocks a coil's spike: across the coil it would hold the coil in.
    """
    live, other = wiring.leads(adapter, refs)
    plus = wiring.net(adapter, "CH+")
    if adapter.kind is Kind.AC_COIL:
        minus = wiring.net(adapter, "CH-")
        wiring.bridge(refs, (live, other), (plus, minus), "the input of the module is for dc of one polarity")
    else:
        minus = other
        text = "blocks the coil's spike and swapped leads: neither is seen, neither does harm"
        ends = {"A": live, "K": plus}
        refs.diode = wiring.part(PartKind.DIODE, "1000 V 1 A", "diode 1000 V, 1 A", ends, text)
    refs.channel = len(wiring.channels) + 1
    wiring.channels[refs.channel] = (plus, minus, f"PIN-input_{adapter.input.number}")


def _input_module(wiring: RecorderBuilder) -> str:
    """The module that sees the coils, where there is one; returns its ref."""
    served = [one for one in wiring.circuits.adapters.values() if one.by_module]
    if not served:
        return ""
    stands_v = MODULE_ROOM_V * max(one.circuit.high_v * one.circuit.peak for one in served)
    ends = {"VCC": LOGIC, "GND": COMMON}
    for channel, (plus, minus, pin) in wiring.channels.items():
        ends |= {f"IN{channel}+": plus, f"IN{channel}-": minus, f"OUT{channel}": pin}
    return wiring.part(
        PartKind.INPUT_MODULE, f"24 V dc, {len(served)} channels",
        f"opto-input module, {len(served)} channels or more, each with two terminals of its own and apart from the "
        f"others, inputs for 24 V dc (on from {MODULE_ON_V:g} V, off below {MODULE_OFF_V:g} V) that stand "
        f"{stands_v:.0f} V, without smoothing: follows within {MODULE_LAG_US[1] / 1000:g} ms either way; outputs low "
        f"when lit, pulled up to a supply of {wiring.circuits.board.logic_v:g} V; {MODULE_ISOLATION_V / 1000:g} kV "
        "from inputs to outputs",
        ends, "sees the coils", place="module",
    )  # fmt: skip


def _relay_module(wiring: RecorderBuilder) -> str:
    """The module that presses, where there is one; returns its ref."""
    served = [key for key, press in wiring.circuits.presses.items() if press.by_module]
    if not served:
        return ""
    ends = {"DC+": wiring.coils, "DC-": COMMON}
    for number, key in enumerate(served, start=1):
        first, second = _press_nets(wiring, key)
        ends |= {f"IN{number}": f"PIN-press_{key}", f"COM{number}": first, f"NO{number}": second}
    rating_v = max(wiring.circuits.presses[key].rating_v for key in served)
    return wiring.part(
        PartKind.RELAY_MODULE, f"{MODULE_RAIL_V:g} V, {len(served)} channels",
        f"relay module, {len(served)} channels, coils {MODULE_RAIL_V:g} V dc, {1000 * MODULE_COIL_A:g} mA or less "
        f"each, inputs active high from {wiring.circuits.board.logic_v:g} V, {1000 * MODULE_INPUT_A:g} mA or less, off "
        f"while open; normally open contacts for {rating_v:g} V, gold-plated or rated from {1000 * WETTING_A:g} mA on, "
        f"{MODULE_ISOLATION_V / 1000:g} kV coil to contact",
        ends, "closes across the trigger's and the purge button's contact", Group.PRESSES, "module",
    )  # fmt: skip


# ---- presses


def _press_nets(wiring: RecorderBuilder, key: str) -> tuple[str, str]:
    first, second = (
        wiring.build.net(f"PRESS-{key.upper()}-{pole}", "trigger", LEAD_WIRE_A, MACHINE_LEAD) for pole in "AB"
    )
    return first, second


def _press(wiring: RecorderBuilder, key: str, press: PressCircuit, refs: CircuitRefs) -> None:
    """What holds a press open, the photo-relay where it is soldered, terminals and leads."""
    pin, (first, second) = f"PIN-press_{key}", _press_nets(wiring, key)
    text = "keeps the contact open while the board boots"
    refs.pull = wiring.resistor(press.pull_ohm, 0.25, (pin, COMMON), text, Group.PRESSES)
    if not press.by_module:
        lit = wiring.build.net(f"PRESS-{key.upper()}-LED", "signal")
        text = f"LED current {1e3 * press.led_a:.1f} mA or more, {1e3 * press.pin_a:.1f} mA at most from the pin"
        refs.series = [wiring.resistor(press.series_ohm, 0.25, (pin, lit), text, Group.PRESSES)]
        refs.coupler = wiring.part(
            PartKind.PHOTO_RELAY, f"{press.rating_v:g} V",
            f"photo-relay, MOSFET output for ac and dc, normally open, {press.rating_v:g} V, {PHOTO_RELAY_A:g} A or "
            f"more, closes from {1000 * PHOTO_RELAY_CLOSES_A:g} mA on, {ISOLATION_V / 1000:g} kV RMS",
            {"A": lit, "K": COMMON, "1": first, "2": second},
            f"a contact across {press.press.presses}: sees {press.open_v:.0f} V; open without power", Group.PRESSES,
        )  # fmt: skip
    letter = key[0].upper()
    refs.terminals = wiring.block({f"{letter}A": first, f"{letter}B": second}, Group.PRESSES)
    refs.leads = wiring.part(
        PartKind.TEST_LEADS, "", LEADS, {"A": first, "B": second}, f"across {press.press.presses}", Group.PRESSES,
        "cable",
    )  # fmt: skip
