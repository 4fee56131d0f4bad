"""What is asked of wire, gas and settings: all that the times are computed from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from timing.design.gases import GAS_GROUPS
from timing.design.process import Wire
from timing.design.units import parse_quantity
from timing.survey.question import HELD, Option, Question, Topic, When

SELF_SHIELDED = "self-shielded"
GAS_WIRES = tuple(wire for wire in get_args(Wire) if wire != SELF_SHIELDED)
WITH_GAS = When("process.gas", tuple(GAS_GROUPS), "with shielding gas")
_RUN_WIRE = (
    "Work clamp off, gun clear of everything and pointing away from people, glasses on, hands off the rolls: run wire "
    "for 6 s, let go, switch off, then cut and measure it; ten times its length is the speed per minute."
)
_WIRE = (
    Question(
        "process.wire",
        "Which wire?",
        "On the spool's label: write its class as it stands there, such as ER70S-6, E71T-11, ER5356 or G 42 4 M21 "
        "3Si1. The class says whether it takes gas. No label left: one of the kinds below.",
        "wire",
        "mild-steel",
        (
            Option("mild-steel", "solid steel wire, such as ER70S-6"),
            Option("stainless-steel", "solid stainless wire, such as ER308L"),
            Option("aluminium", "aluminium wire, such as ER4043 or ER5356"),
            Option("flux-cored", "flux-cored or metal-cored wire that takes gas, such as E71T-1C or E70C-6M"),
            Option(SELF_SHIELDED, "flux-cored wire that makes its own gas, such as E71T-11 or E71T-GS"),
        ),
        typed_key="process.wire_class",
    ),
    Question(
        "process.polarity",
        "Which pole is the gun on?",
        "Power source off: follow the lead from the gun, or the link beside the drive rolls, to the terminal marked - "
        "or +. The work clamp is on the other one. Self-shielded wire is run negative unless its label says otherwise.",
        "choice",
        "electrode-negative",
        (
            Option("electrode-negative", "gun on -, work clamp on +"),
            Option("electrode-positive", "gun on +, work clamp on -"),
        ),
        when=When("process.wire", (SELF_SHIELDED,), "if the wire is self-shielded"),
    ),
    Question("process.wire_diameter", "Wire diameter?", "On the spool's label.", "measure", "0.9 mm"),
    Question(
        "process.gas",
        "Which shielding gas?",
        "Write what the cylinder's label says: the parts with their figures, or a short name such as C25. Numbers "
        "alone do where only one mixture is sold so; 98/2 is sold with oxygen and with CO2, so write which.",
        "gas",
        "75/25 argon CO2",
        (
            Option("75/25 argon CO2", "M21 of ISO 14175; also called C25"),
            Option("90/10 argon CO2", "M20"),
            Option("98/2 argon oxygen", "M13"),
            Option("98/2 argon CO2", "M12"),
            Option("CO2", "C1; straight carbon dioxide"),
            Option("argon", "I1"),
            Option("75/25 argon helium", "I3"),
            Option("90/7.5/2.5 helium argon CO2", "M12; tri-mix of helium"),
        ),
        when=When("process.wire", GAS_WIRES, "unless the wire is self-shielded"),
        typed_key="process.gas_mixture",
    ),
    Question(
        "process.gas_flow",
        "Gas flow at the nozzle?",
        "Gas alone, with fresh air in the room: by the machine's own purge, flow meter on the nozzle. It has no "
        "purge: read the gauge at the cylinder instead, or, cold, unplug the coils of wire drive and contactor "
        "first, so that the trigger opens the valve and nothing else. Never the trigger with a hand at the nozzle "
        "while the welding voltage can come on.",
        "measure",
        "14 L/min",
        when=WITH_GAS,
    ),
    Question(
        "process.gas_hose_length",
        "Length of the gas hose, from regulator to gas valve?",
        "With a tape, what lies inside the machine guessed. No answer: no surge of gas at the start is counted on.",
        "measure",
        when=WITH_GAS,
        optional=True,
    ),
    Question(
        "process.gas_hose_pressure",
        "Pressure in that hose while no gas flows?",
        "A gauge behind the regulator, some time after the last weld, gas valve shut. Most flow regulators show none: "
        "leave it out then, and the preflow does without the surge.",
        "measure",
        when=When("process.gas_hose_length", (), "with a hose measured"),
        optional=True,
    ),
)
_SPEED = "process.wire_feed_speed"
_SPEEDS = (
    Question(_SPEED, "Wire feed speed you mostly use?", _RUN_WIRE, "measure", "200 in/min"),
    Question(
        f"{_SPEED}_low",
        "Slowest wire feed speed you ever weld with?",
        "Measured in the same way, at the slowest setting that you use. The dials are made to serve it. No answer: "
        "60 % of the usual one.",
        "measure",
        optional=True,
        at_most=_SPEED,
    ),
    Question(
        f"{_SPEED}_high",
        "Fastest wire feed speed you ever weld with?",
        "In the same way, at the fastest setting. No answer: half as much again as the usual one.",
        "measure",
        optional=True,
        at_least=_SPEED,
    ),
)
_PLATE = "process.plate_thickness"
_PLATES = (
    Question(
        _PLATE,
        "Thickness of the plate or sheet you mostly weld?",
        "With calipers; for spots that of the top sheet. No answer: taken from the current.",
        "measure",
        optional=True,
    ),
    Question(
        f"{_PLATE}_low",
        "Thinnest you ever weld?",
        "The dials are made to serve it. No answer: the usual one.",
        "measure",
        when=When(_PLATE, (), "if the usual one was given"),
        optional=True,
        at_most=_PLATE,
    ),
    Question(
        f"{_PLATE}_high",
        "Thickest you ever weld?",
        "No answer: the usual one.",
        "measure",
        when=When(_PLATE, (), "if the usual one was given"),
        optional=True,
        at_least=_PLATE,
    ),
)
OPEN_V = "process.open_circuit_voltage"
LOAD_V, LOAD_A = "process.load_voltage", "process.load_current"
_SOURCE = (
    Question(
        "process.contact_tip_to_work",
        "Contact-tip-to-work distance?",
        "Power source off: hold the gun as you weld and measure from contact tip to work.",
        "measure",
        "12 mm",
    ),
    Question(
        OPEN_V,
        "Open-circuit voltage at the setting you mostly use?",
        HELD + "Meter on VDC, clipped to the output terminals while it is off. This voltage can kill in damp: dry "
        "gloves, dry ground; else leave it out.",
        "measure",
        optional=True,
    ),
    Question(
        LOAD_V,
        "Volts while welding, at the same setting?",
        "The machine's own meter, or a meter on VDC clipped to the output terminals while it is off. Somebody else "
        "reads the steady figure while you weld a bead on scrap, helmets, gloves and screens as always. Of all the "
        "readings this one narrows the burnback most. No answer: the volts usual for the current.",
        "measure",
        optional=True,
        at_most=OPEN_V,
    ),
    Question(
        LOAD_A,
        "Amperes while welding, in such a bead?",
        "The machine's own meter, or a clamp meter for dc round the work cable, put there while it is off, read by "
        "somebody else as well. It tells how fast your wire melts. No answer: computed from wire and speed.",
        "measure",
        optional=True,
    ),
    Question(
        "process.source_phases",
        "Phases of the mains that the power source runs on?",
        "By its mains plug or its plate; asked for the ripple of a transformer with a rectifier. No answer for an "
        "electronic source (inverter): it has next to none.",
        "choice",
        options=(
            Option("one", "one phase: a household or workshop socket"),
            Option("three", "three phases: a plug with four or five pins"),
        ),
        optional=True,
    ),
    Question(
        "process.source_capacitance",
        "Capacitors behind the power source's rectifier, all together?",
        "From its circuit diagram. Do not open it for this: they hold a charge that burns. They keep feeding the arc "
        "after the contactor has let go. No answer: none.",
        "measure",
        optional=True,
    ),
)
PROCESS = Topic("Wire, gas and settings", (*_WIRE, *_SPEEDS, *_PLATES, *_SOURCE))


def source_slope_v_per_a(answers: Mapping[str, str]) -> float | None:
    """Return the slope of the power source by the readings, leads included; None where one of the three is missing."""
    open_v, load_v, load_a = (answers.get(key, "") for key in (OPEN_V, LOAD_V, LOAD_A))
    if not (open_v and load_v and load_a):
        return None
    return (parse_quantity(open_v, "V") - parse_quantity(load_v, "V")) / parse_quantity(load_a, "A")
