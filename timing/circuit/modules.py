"""Ready-made modules as parts of the netlist: regulator, relays, solid-state relays, inputs for the panel's contacts.

Each is described by what to look for. Figures of modules are common practice, no source: they carry no data sheet worth
the name, so the bench test tries each of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Literal

from timing.circuit.builder import SCREENED, CircuitBuilder
from timing.circuit.drives import QUIET_V, Drive, contact_rating, load_nets
from timing.circuit.feed import preload
from timing.circuit.lists import HandWork, hand_work
from timing.circuit.panel_contacts import PanelContacts
from timing.circuit.parts import PartKind
from timing.circuit.preferred import MOSFET_RATINGS_V, rating_at_least
from timing.circuit.ratings import highest_v, triac_ratings
from timing.circuit.senses import WETTING_A
from timing.design.board import FIVE_VOLT_LOGIC_V, OutputLevels, Role
from timing.design.circuits import MODULE_INPUT_A, MODULE_RAIL_V
from timing.design.suppression import clamp_v
from timing.power.components import USUAL_SWITCHING_V
from timing.power.crowbar import CLAMP_W
from timing.power.loads import relay_coil_a
from timing.project import Project

CHANNELS = (1, 2, 4, 8, 16)
"""Channels that modules are sold with (practice)."""
SOLID_STATE = {"opto-triac": "ac", "mosfet": "dc"}
"""What a solid-state relay module switches, by drive."""


WAYS: tuple[Literal["modules", "board"], ...] = ("modules", "board")


def ways_of_building(project: Project) -> dict[str, HandWork]:
    """Return what each way of building asks of a pair of hands: the design's own way as it stands, the other as suited.

    Suited: a soldered board with active-high outputs, modules with active-low ones, at 3.3 V with inputs fed apart.
    """
    return {way: hand_work((project if _built(project, way) else _suited(project, way)).netlist) for way in WAYS}


def _built(project: Project, way: str) -> bool:
    return project.design.circuits.build == way


def _suited(project: Project, way: Literal["modules", "board"]) -> Project:
    design, level = project.design, "low" if way == "modules" else "high"
    apart = way == "modules" and project.board.logic_v < FIVE_VOLT_LOGIC_V
    levels = design.board.on_level.model_copy(update=dict.fromkeys(OutputLevels.model_fields, level))
    circuits = design.circuits.model_copy(update={"build": way, "relay_inputs": "apart" if apart else "shared"})
    supply = design.supply.model_copy(update={"regulator_output_v": None})
    board = design.board.model_copy(update={"on_level": levels})
    changed = design.model_copy(update={"circuits": circuits, "board": board, "supply": supply})
    return Project(changed, project.board)


def channels_sold(wanted: int) -> int:
    """Return the smallest number of channels sold that is enough."""
    return next((count for count in CHANNELS if count >= wanted), wanted)


def regulator_module(wiring: CircuitBuilder) -> None:
    """The module that makes the 5 V, its capacitors on it, and what guards the rail when it fails."""
    budget, supplied = wiring.budget, wiring.budget.regulator
    kind, apart = "linear" if supplied.linear else "switching (step-down)", budget.isolation.kind == "module"
    trap = "; the usual 40 V type does not do" if supplied.input_max_v > USUAL_SWITCHING_V else ""
    takes = f"input {supplied.input_min_v:g} V to {supplied.input_max_v:g} V" if apart else (
        f"input rated {supplied.input_max_v:g} V or more{trap}"
    )  # fmt: skip
    isolates = "1.5 kV dc or more from input to output" if apart else "not isolated (IN- and OUT- are one)"
    ref = wiring.add(
        PartKind.REGULATOR_MODULE, f"{supplied.output_v:g} V",
        f"regulator module, {'isolating' if apart else kind}, {isolates}, {takes}, output {supplied.output_v:g} V, "
        "1 A, fixed, or set with a meter before it is connected and its trimmer sealed, screw terminals",
        ("IN+", "IN-", "OUT+", "OUT-") if apart else ("IN+", "COM", "OUT+"), "module",
        f"its input can stand at {budget.highest_v:.1f} V; feeds board and relay coils",
    )  # fmt: skip
    wiring.build.join(wiring.plus, f"{ref}.IN+")
    wiring.build.join(wiring.rail, f"{ref}.OUT+")
    if apart:
        wiring.build.join(wiring.feed_common, f"{ref}.IN-")
        wiring.build.join(wiring.common, f"{ref}.OUT-")
    else:
        wiring.build.join(wiring.common, f"{ref}.COM")
    preload(wiring)
    if budget.rail_clamp is not None:
        found = budget.rail_clamp
        clamp = wiring.add(
            PartKind.ZENER, f"{found.breakdown_v:g} V",
            f"suppressor diode, one way, breakdown {found.breakdown_v:g} V, {CLAMP_W:g} W pulse", ("A", "K"),
            reason="takes the rail when the regulator fails and passes its input on: it breaks down to a short, and "
            f"the fuse opens on {found.fault_a:.1f} A or more; then both are new",
        )  # fmt: skip
        wiring.build.two(clamp, wiring.common, wiring.rail)


def switching_modules(wiring: CircuitBuilder, outputs: Sequence[tuple[Drive, str]]) -> None:
    """A relay module for all outputs that one can serve, a solid-state one for each of the rest; with their plugs."""
    relays = [(one, plug) for one, plug in outputs if one.actuator.drive == "relay"]
    for _, served in groupby(sorted(relays, key=lambda each: _served_together(each[0])),
                             key=lambda each: _served_together(each[0])):  # fmt: skip
        _relay_module(wiring, list(served))
    for one, plug in outputs:
        if one.actuator.drive != "relay":
            _solid_state_module(wiring, one, plug)


def _served_together(one: Drive) -> tuple[bool, str]:
    """What may kill has a module of its own, and a module has one active level."""
    return one.actuator.coil.above_extra_low, one.on_level


def _relay_module(wiring: CircuitBuilder, served: Sequence[tuple[Drive, str]]) -> None:
    build, level = wiring.build, served[0][0].on_level
    apart = level == "low" and wiring.design.circuits.relay_inputs == "apart"
    numbers = range(1, len(served) + 1)
    coil_ma = 1000.0 * max(relay_coil_a(one.actuator, MODULE_RAIL_V) for one, _ in served)
    contacts = "; ".join(dict.fromkeys(contact_rating(one.actuator)[0] for one, _ in served))
    terminals = (
        "DC+", "DC-", *(("IN+",) if apart else ()), *(f"IN{number}" for number in numbers),
        *(f"{way}{number}" for number in numbers for way in ("COM", "NO")),
    )  # fmt: skip
    count = channels_sold(len(served))
    ref = wiring.add(
        PartKind.RELAY_MODULE, f"{MODULE_RAIL_V:g} V, {count} channel{'s' if count > 1 else ''}",
        f"relay module, {count} channel{'s' if count > 1 else ''}, coils {MODULE_RAIL_V:g} V dc, {coil_ma:.3g} mA or "
        f"less each, diode across each coil, {_inputs_wanted(wiring, level, apart)}, contacts {contacts}, screw "
        "terminals, changeover or normally open",
        terminals, "module",
        "; ".join(f"{one.role.replace('_', ' ')}: {contact_rating(one.actuator)[1]}" for one, _ in served),
    )  # fmt: skip
    build.join(wiring.rail, f"{ref}.DC+")
    build.join(wiring.common, f"{ref}.DC-")
    if apart:
        build.join(wiring.logic, f"{ref}.IN+")
    for number, (one, plug) in zip(numbers, served, strict=True):
        build.join(_held_pin(wiring, one), f"{ref}.IN{number}")
        feed, coil = load_nets(wiring, one, plug)
        build.join(feed, f"{ref}.COM{number}")
        build.join(coil, f"{ref}.NO{number}")


def _inputs_wanted(wiring: CircuitBuilder, level: str, apart: bool) -> str:
    """What to look for in the inputs of a relay module."""
    logic_v = wiring.board.logic_v
    supplied = f", supply of their own for {logic_v:g} V with the jumper to the coils pulled" if apart else ""
    off = f", off below {QUIET_V:g} V and on from {logic_v:g} V" if level == "high" else f", on at {logic_v:g} V supply"
    off = "" if level == "low" and not apart else off
    return (
        f"inputs on optocouplers, active {level}{supplied}{off}, {1000 * MODULE_INPUT_A:g} mA or less each, off while "
        "open"
    )


def _solid_state_module(wiring: CircuitBuilder, one: Drive, plug: str) -> None:
    build, load = wiring.build, one.actuator.coil
    kind, high = SOLID_STATE[one.actuator.drive], one.on_level == "high"
    if kind == "ac":
        volts = f"zero crossing, {triac_ratings(wiring.design, load).blocking_v:g} V"
    else:
        seen = highest_v(wiring.design, load) + clamp_v(one.actuator.suppression, load.voltage_v)
        volts = f"MOSFET, {rating_at_least(seen, MOSFET_RATINGS_V) or MOSFET_RATINGS_V[-1]:g} V"
    outs = ("OUT1", "OUT2") if kind == "ac" else ("OUT+", "OUT-")
    ref = wiring.add(
        PartKind.SOLID_STATE_MODULE, f"{kind} output",
        f"solid-state relay module, {kind} output, {volts} or more, "
        f"{2.0 * max(load.inrush_a or 0.0, load.hold_a):.2g} A or more, input isolated, "
        f"{1000 * one.pin_a:g} mA or less at {wiring.board.logic_v:g} V, off below {QUIET_V:g} V, screw terminals",
        ("IN+", "IN-", *outs), "module", f"switches the {one.role.replace('_', ' ')}",
    )  # fmt: skip
    pin = _held_pin(wiring, one)
    build.join(pin if high else wiring.logic, f"{ref}.IN+")
    build.join(wiring.common if high else pin, f"{ref}.IN-")
    feed, coil = load_nets(wiring, one, plug)
    turned = kind == "dc" and load.switched_pole == "minus"
    for net, end in zip((coil, feed) if turned else (feed, coil), outs, strict=True):
        build.join(net, f"{ref}.{end}")


def _held_pin(wiring: CircuitBuilder, one: Drive) -> str:
    """The pin's net, with the resistor that holds an active-high input off while the board boots."""
    pin = wiring.pin(one.role)
    if one.pull_ohm is not None:
        text = f"keeps the {one.role.replace('_', ' ')} off while the board boots"
        wiring.resistor(one.pull_ohm, pin, wiring.common, text)
    return pin


def input_module(contacts: PanelContacts, wanted: Sequence[Role]) -> None:
    """The module through which the board sees the panel's contacts: wets them, and keeps their wires' noise off."""
    wiring, build = contacts.wiring, contacts.wiring.build
    if not wanted:
        return
    numbers = range(1, len(wanted) + 1)
    count = channels_sold(len(wanted))
    # Where both are fed with the same, the module's own jumper joins them.
    supplies = ("VCC",) if wiring.rail == wiring.logic else ("IN+", "VCC")
    terminals = (*supplies, "GND", *(f"IN{n}" for n in numbers), *(f"OUT{n}" for n in numbers))
    ref = wiring.add(
        PartKind.INPUT_MODULE, f"{count} channel{'s' if count > 1 else ''}",
        f"opto-input module, {count} channel{'s' if count > 1 else ''}, inputs {MODULE_RAIL_V:g} V with common plus, "
        f"{1000 * WETTING_A:g} to {1000 * MODULE_INPUT_A:g} mA each when joined to minus; outputs low when lit, pulled "
        f"up to a supply of {wiring.board.logic_v:g} V, screw terminals",
        terminals, "module",
        f"wets each contact with {1000 * WETTING_A:g} mA or more, keeps its wire's noise off the pin",
    )  # fmt: skip
    if "IN+" in supplies:
        build.join(wiring.rail, f"{ref}.IN+")
    build.join(wiring.logic, f"{ref}.VCC")
    build.join(wiring.common, f"{ref}.GND")
    for number, role in zip(numbers, wanted, strict=True):
        build.join(wiring.pin(role.key), f"{ref}.OUT{number}")
        seen = build.net(f"CONTACT-{role.key}", "signal", 0.02, SCREENED)
        build.join(seen, f"{ref}.IN{number}")
        contacts.join(role.key, seen)
