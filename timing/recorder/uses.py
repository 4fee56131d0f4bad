"""Where the recorder's leads go: at the bench with lamps for loads, and at the machine."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from timing.circuit.drives import poles
from timing.design.design import Design
from timing.process.errors import ProcessError
from timing.project import Project
from timing.recorder.adapters import Adapter, AdapterKind
from timing.recorder.fitting import RecorderCircuits
from timing.recorder.netlist import RecorderWiring

Use = Literal["bench", "machine"]
USES: tuple[Use, ...] = ("bench", "machine")
REED_PULLS_IN_AT = 30.0
"""Most ampere-turns at which the reed of the parts list closes (choice)."""
REED_ROOM = 2.0
"""Ampere-turns of the welding cable over those, for a turn that lies loose (choice)."""
WAY_WORDS = {"gas_valve": "GAS", "wire_drive": "WIRE", "contactor": "CONT"}
"""What the add-on's ways of an output begin with (exact)."""


@dataclass(frozen=True)
class LeadPlace:
    """Where one lead of the recorder goes."""

    pole: str
    """Terminal of the recorder, such as 1A."""
    place: str
    """For people."""


@dataclass(frozen=True)
class Connection:
    """One circuit of the recorder in use."""

    key: str
    title: str
    leads: tuple[LeadPlace, ...]
    note: str
    lamp: bool = False
    """True where a lamp stands in for the load, between the two places."""


def connections(
    project: Project, circuits: RecorderCircuits, wiring: RecorderWiring, use: Use
) -> tuple[Connection, ...]:
    """Return where every lead goes in a use, in the order of the terminals."""
    make = _at_bench if use == "bench" else _at_machine
    return tuple(make(project, circuits, wiring))


def reed_turns(design: Design) -> int:
    """Return the turns of welding cable round the reed that close it at the least welding current."""
    return max(math.ceil(REED_ROOM * REED_PULLS_IN_AT / _least_current_a(design)), 1)


def _least_current_a(design: Design) -> float:
    """The welding current at the slowest wire, in proportion to its speed: more is safe, for it closes sooner."""
    process = design.process
    slow = (process.wire_feed_speed_low_mm_s or process.wire_feed_speed_mm_s) / process.wire_feed_speed_mm_s
    current = process.load_current_a
    if current is None:
        # Late: it loads the arrays of the burnback model.
        from timing.process.case import computed_current_a

        try:
            current = computed_current_a(design)
        except ProcessError:
            current = REED_PULLS_IN_AT
    return min(slow, 1.0) * current


def _poles(wiring: RecorderWiring, key: str) -> tuple[str, ...]:
    return wiring.netlist.part(wiring.circuits[key].terminals).terminals


def _pair(wiring: RecorderWiring, key: str, first: str, second: str) -> tuple[LeadPlace, ...]:
    pole_a, pole_b = _poles(wiring, key)
    return LeadPlace(pole_a, first), LeadPlace(pole_b, second)


# ---- at the bench


def _at_bench(project: Project, circuits: RecorderCircuits, wiring: RecorderWiring) -> Iterator[Connection]:
    plugs = {name: part.ref for part in project.netlist.parts if part.ref in _plugs(project) for name in part.terminals}
    for key, word in WAY_WORDS.items():
        if key in circuits.adapters:
            yield _lamp(project, wiring, key, plugs[f"{word}-COIL"])
    plug = plugs["TRIG-LIVE"]
    yield Connection(
        "press_trigger", "press: trigger",
        _pair(wiring, "press_trigger", "plus of the bench supply", f"{plug}.TRIG-LIVE"),
        f"{plug}.TRIG-RETURN to minus",
    )  # fmt: skip
    if "purge" in circuits.presses:
        yield _purge(project, wiring)


def _lamp(project: Project, wiring: RecorderWiring, key: str, plug: str) -> Connection:
    """A lamp in the place of a load, fed as the drive of that output can switch it.

    A triac that is fed with dc never lets go; a MOSFET switches dc one way round.
    """
    actuator, word = getattr(project.design.feeder, key), WAY_WORDS[key]
    at_coil, other_end = f"{plug}.{word}-COIL and one end of the lamp", "the lamp's other end"
    if actuator.drive == "opto-triac":
        leads = _pair(wiring, key, at_coil, f"{other_end}, on the transformer's other side")
        fed = f"24 VAC of a transformer of its own to {plug}.{word}-FEED: on dc a triac never lets go"
    elif poles(actuator.coil)[0] == "-":
        leads = _pair(wiring, key, f"{other_end}, on plus", at_coil)
        fed = f"minus of the bench supply to {plug}.{word}-FEED"
    else:
        leads = _pair(wiring, key, at_coil, f"{other_end}, on minus")
        fed = f"plus of the bench supply to {plug}.{word}-FEED"
    return Connection(key, f"{key.replace('_', ' ')}: its lamp", leads, fed, lamp=True)


def _plugs(project: Project) -> set[str]:
    return {mate.free for mate in project.netlist.mates}


def _purge(project: Project, wiring: RecorderWiring) -> Connection:
    """Across the purge button of the panel, found by the net of its pin."""
    nets = [net for net in project.netlist.nets if net.name in ("PIN-purge", "CONTACT-purge")]
    ends = [end for net in nets for end in net.terminals]
    button = next(end for end in ends if project.netlist.part(end.ref).place == "panel")
    ways = project.netlist.part(button.ref).terminals
    places = [f"purge button, {button.ref}.{name}" for name in ways]
    return Connection(
        "press_purge", "press: purge", _pair(wiring, "press_purge", places[0], places[-1]),
        "on the add-on's panel",
    )  # fmt: skip


# ---- at the machine


def _at_machine(project: Project, circuits: RecorderCircuits, wiring: RecorderWiring) -> Iterator[Connection]:
    for key, adapter in circuits.adapters.items():
        yield _seen_at_machine(project, wiring, key, adapter)
    yield Connection(
        "press_trigger", "press: trigger",
        _pair(wiring, "press_trigger", "one wire of the gun's trigger", "its other wire"),
        "where they land in the feeder: across the gun's own contact",
    )  # fmt: skip
    if "purge" in circuits.presses:
        yield _purge(project, wiring)


def _seen_at_machine(project: Project, wiring: RecorderWiring, key: str, adapter: Adapter) -> Connection:
    title = f"{key.replace('_', ' ')}: {adapter.kind.value}"
    if key in WAY_WORDS:
        ends = [_load_end(project, f"FEEDER-{WAY_WORDS[key]}-{way}") for way in ("COIL", "RETURN")]
        if adapter.kind is not AdapterKind.DC_COIL:
            return Connection(key, title, _pair(wiring, key, *ends), "either way round")
        if poles(getattr(project.design.feeder, key).coil)[0] == "-":
            ends.reverse()
        note = f"{_poles(wiring, key)[0]} on the coil's plus; swapped, it sees nothing and harms nothing"
        return Connection(key, title, _pair(wiring, key, *ends), note)
    if adapter.kind is AdapterKind.REFLEX:
        places = ("the sensor's collector", "its LED, plus", "its emitter", "its LED, minus")
        leads = tuple(LeadPlace(pole, place) for pole, place in zip(_poles(wiring, key), places, strict=True))
        where = "2 to 4 mm from the disc's track" if key == "disc" else "8 mm from the flag at rest"
        return Connection(key, title, leads, f"{where}, on its plastic bracket")
    places_of, note = _PLACES[adapter.kind]
    if adapter.kind is AdapterKind.CURRENT:
        turns = reed_turns(project.design)
        note = f"{turns} turn{'' if turns == 1 else 's'} of the welding cable round the reed's tube, insulation whole"
    if adapter.kind is AdapterKind.SUPPLY:
        ends = [_load_end(project, f"FEEDER-24VAC-{side}") for side in "AB"]
        return Connection(key, title, _pair(wiring, key, *ends), note)
    return Connection(key, title, _pair(wiring, key, *places_of), note)


_PLACES: dict[AdapterKind, tuple[tuple[str, str], str]] = {
    AdapterKind.MOTOR: (("one terminal of the wire motor", "its other terminal"), "either way round"),
    AdapterKind.WELDING: (
        ("welding output, plus terminal", "welding output, minus terminal"), "a fuse at each clip; either way round",
    ),
    AdapterKind.CONTACT: (
        ("spare contact of the contactor", "its other terminal"), "both free of any voltage: measure first",
    ),
    AdapterKind.CURRENT: (("one wire of the reed", "its other wire"), ""),
    AdapterKind.SUPPLY: (("", ""), "behind its fuse; either way round"),
}  # fmt: skip


def _load_end(project: Project, net: str) -> str:
    """The terminal in the machine at which a net is best reached: of the load, of a fuse, of the supply."""
    ends = [end for found in project.netlist.nets if found.name == net for end in found.terminals]
    sockets = {mate.fixed for mate in project.netlist.mates}
    own = [end for end in ends if end.ref not in sockets and project.netlist.part(end.ref).to_buy is False]
    best = (own or [end for end in ends if end.ref not in sockets] or ends)[0]
    value = project.netlist.part(best.ref).value
    return f"{best} ({value})" if value else str(best)
