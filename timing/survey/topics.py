"""The questions of the survey: ONE list, for the printed sheet and for the command that asks them.

A question's key is the key of the design file that its answer goes to; answers under `survey.` decide what is asked
further, or whether the job can be done at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from timing.design.board import Board
from timing.survey.load_questions import behind_a_contactor, power_factors, protections
from timing.survey.question import COLD, HELD, LIVE, NO, YES, Option, Question, Topic, When, yes_no

WITH_GAS = When("process.gas", ("M12", "M20", "M21", "M22", "C1", "I1", "I3"), "with shielding gas")
MEASURED = When("survey.supply_measured", (YES,), "if measured")

SUITABLE = Topic(
    "Can the job be done at all?",
    (
        Question(
            "survey.feeder_power",
            "What is the feeder itself powered from?",
            "Look at its cables and its diagram. A sensing clip to the work and no control cable to the power source: "
            "an across-the-arc (voltage-sensing) feeder.",
            "choice",
            options=(
                Option("24vac", "24 VAC through a control cable from the power source"),
                Option("transformer", "mains or 115 V, with a 24 VAC control transformer inside the feeder"),
                Option(
                    "arc",
                    "the arc voltage, through a sensing clip to the work",
                    "An across-the-arc (voltage-sensing) feeder has no supply of its own before the arc burns: nothing "
                    "would run the add-on, and gas preflow could never start. This feeder is not suitable.",
                ),
                Option(
                    "other",
                    "none of these",
                    "The add-on is fed from a control supply of about 24 VAC. Without one in the feeder it is not "
                    "suitable; a small 24 VAC transformer of its own, which a licensed electrician fits, makes it so.",
                ),
            ),
        ),
        Question(
            "survey.drive_and_contactor",
            "Can wire drive and contactor be switched apart from each other?",
            COLD + "Follow the wires from the trigger: one relay with a coil of its own for each, or one relay whose "
            "contacts serve both? Burnback needs the contactor to stay in while the wire stops.",
            "choice",
            options=(
                Option("apart", "each has its own relay or coil"),
                Option(
                    "can-be-parted",
                    "one relay for both, but its two contacts can be rewired to two relays",
                    to_do="Before the add-on goes in, give wire drive and contactor each a relay of its own, both "
                    "worked by the trigger as the one was, and weld with them. The diagrams take that as done.",
                ),
                Option(
                    "one-relay",
                    "one relay or one contact for both, and they cannot be parted",
                    "One relay for both means no burnback: the arc goes out in the instant the wire stops. Give wire "
                    "drive and contactor a relay each, then survey again.",
                ),
            ),
        ),
        Question(
            "survey.contactor_place",
            "Where is the contactor of the welding current, and what does its coil run on?",
            COLD + "Find the coil or pilot relay that the trigger works in the end, and read the voltage printed on "
            "it. Leave what runs on 115 V or the mains to a licensed electrician.",
            "choice",
            options=(
                Option("feeder", "coil on the feeder's own 24 VAC"),
                Option("source", "in the power source, called by a low-voltage control pair"),
                Option("115v", "coil on 115 V"),
                Option(
                    "none",
                    "there is none: the wire is live whenever the power source is on",
                    "Without a contactor nothing can end the arc after the wire has stopped, and the wire is live all "
                    "the time. Fit a contactor first; the timer cannot stand in for one.",
                ),
            ),
        ),
        Question(
            "feeder.wire_drive.switched",
            "What of the wire drive shall the add-on switch?",
            COLD
            + "Follow the wires from the trigger to the drive. With a brake, or a motor of more than some amperes: "
            "the coil of the relay that the machine has for it.",
            "choice",
            "relay-coil",
            (
                Option("relay-coil", "the coil of the motor's own relay, which stays with its brake contact"),
                Option("motor", "the motor's circuit itself, which no brake contact may be in"),
            ),
        ),
        yes_no(
            "feeder.wire_drive.braked",
            "Does a brake contact stop the wire motor?",
            COLD + "Look for a resistor or a short across the motor's armature through a normally closed (NC) contact "
            "of its relay. It must stay where it is: the add-on works the relay, not the motor.",
        ),
    ),
)

SUPPLY = Topic(
    "The 24 VAC control supply",
    (
        Question(
            "supply.line_frequency",
            "Line frequency?",
            "Known from where you live: 60 Hz in most of the Americas, 50 Hz in most of the rest.",
            "measure",
            "60 Hz",
        ),
        Question(
            "supply.rating",
            "Rating of the control transformer?",
            COLD + "On its plate, in VA. No plate: 50 VA to 100 VA is usual; take the lower.",
            "measure",
            "75 VA",
        ),
        Question(
            "survey.supply_measured",
            "Did you measure the 24 VAC open and loaded?",
            LIVE + "Meter on VAC at the secondary, never at the primary.",
            "yes-no",
            YES,
        ),
        Question(
            "supply.measured_open",
            "24 VAC with nothing drawn (trigger open, all coils off)?",
            LIVE + "Read it twice, some minutes apart.",
            "measure",
            when=MEASURED,
        ),
        Question(
            "supply.measured_with",
            "What do you load it with for the second reading?",
            "Best a resistive load of about half the rated current (VA / 24 V): a 24 V 50 W halogen lamp takes 2 A, "
            "two 24 V 21 W lamps 1.8 A, a 12 ohm 100 W power resistor 2 A. Lamp or resistor lies on a tile: hot enough "
            "to burn skin and table. Clip it across the secondary while it is off; a lamp is hot after 2 s, and 10 s "
            "are enough for both readings. The feeder's own coils do where nothing else is at hand: their current "
            "lags, the winding falls less under them, and its resistance is then known within a range only.",
            "choice",
            "resistive",
            options=(
                Option("resistive", "a lamp or a power resistor across the secondary, trigger open"),
                Option("coils", "the feeder's coils pulled in, trigger held"),
            ),
            when=MEASURED,
        ),
        Question(
            "supply.measured_loaded",
            "24 VAC with that load on it, right after the open reading?",
            LIVE + "With lamp or resistor: trigger open, pressure arm up, read within 10 s, switch off, let it cool. "
            "With coils: as follows. " + HELD + "Gas cylinder shut. No arc is needed.",
            "measure",
            when=MEASURED,
        ),
        Question(
            "supply.measured_load",
            "Current drawn in that loaded reading?",
            LIVE + "Clamp meter round one secondary wire, put there while it is off, or a meter on its 10 A AC range "
            "in series with the load. Not from the lamp's label: at this voltage it takes another current. With coils "
            "you may add up their holding currents.",
            "measure",
            when=MEASURED,
        ),
        Question(
            "supply.grounded",
            "Is either side of the 24 VAC tied to chassis, or shared with other circuits?",
            COLD + "Control cable plugged in, where the power source brings the 24 VAC: it may be grounded there. "
            "Ohmmeter from each side of the 24 VAC to bare metal of the chassis: above 1 Mohm on both it floats, less "
            "on one it is tied. Grounded is usual and no fault; the drawings and the commissioning sheet depend on it.",
            "choice",
            "unknown",
            (
                Option("no", "it floats, measured"),
                Option("yes", "grounded or shared"),
                Option("unknown", "not measured; it then counts as grounded, since the add-on is not isolated from it"),
            ),
        ),
        Question(
            "feeder.as_found.grounded_side",
            "Which side of it is tied to chassis?",
            COLD
            + "From chassis to the common wire of the coils: below 1 ohm is `common`. From chassis to the wire that "
            "comes to the trigger: below 1 ohm is `switched`.",
            "choice",
            "common",
            (
                Option("common", "the side to which all coils go, as it should be"),
                Option("switched", "the side in which the trigger or its relay switches"),
            ),
            when=When("supply.grounded", (YES,), "if grounded"),
        ),
    ),
)

TRIGGER = Topic(
    "The gun's trigger",
    (
        Question(
            "feeder.as_found.trigger",
            "What does the trigger work?",
            COLD
            + "Unplug the gun's control lead and follow the two wires behind its socket. To the coils of valve and "
            "contactor; to one small relay; or to a circuit board.",
            "choice",
            options=(
                Option("coils", "valve, relay and contactor themselves"),
                Option("relay", "the coil of one relay, whose contacts work the rest"),
                Option("electronics", "an input of a control circuit board"),
            ),
        ),
        Question(
            "trigger.sense",
            "What does the trigger circuit carry?",
            LIVE + "Meter across the open trigger contact, on VDC and then on VAC: the true one reads steadily.",
            "choice",
            options=(Option("dc", "direct voltage"), Option("ac", "alternating voltage")),
        ),
        Question(
            "trigger.circuit_voltage",
            "Voltage across the open trigger contact?",
            LIVE + "In the same place. Above 60 V: stop, and have it looked at.",
            "measure",
            "24 V",
        ),
        Question(
            "trigger.snubber_capacitor",
            "Is an RC across the trigger's contact? Its capacitor?",
            COLD
            + "Look in the gun's handle at the trigger and behind the gun's socket: a capacitor and a resistor, or "
            "one small block, joins the trigger's two wires. The value is printed on it: 104 is 100 nF, 224 is 220 nF. "
            "Take it out if you can: what it was for is gone, and it leaks. No answer: there is none.",
            "measure",
            optional=True,
        ),
        Question(
            "trigger.leak",
            "Resistance between the trigger's two wires, trigger open?",
            COLD
            + "Both wires off the machine, gun and cable as they are in use, damp as well: ohmmeter on its highest "
            "range. Over range, or 1 Mohm and more: no answer.",
            "measure",
            optional=True,
        ),
        Question(
            "trigger.mode",
            "How shall the trigger work?",
            "Two-step: weld while held. Four-step: press to start, press to end. Switch: a panel switch selects.",
            "choice",
            "two-step",
            (
                Option("two-step", "weld while held"),
                Option("four-step", "press to start, press to end"),
                Option("switch", "a panel switch selects"),
            ),
        ),
    ),
)

PROCESS = Topic(
    "Wire, gas and settings",
    (
        Question(
            "process.wire",
            "Which wire?",
            "On the spool's label.",
            "choice",
            "mild-steel",
            (
                Option("mild-steel", "solid steel wire"),
                Option("stainless-steel", "solid stainless wire"),
                Option("aluminium", "aluminium wire"),
                Option("flux-cored", "flux-cored wire"),
                Option("self-shielded", "flux-cored wire that makes its own gas"),
            ),
        ),
        Question("process.wire_diameter", "Wire diameter?", "On the spool's label.", "measure", "0.9 mm"),
        Question(
            "process.gas",
            "Which shielding gas (group of ISO 14175)?",
            "On the cylinder's label: M21 is argon with 15 % to 25 % carbon dioxide, C1 carbon dioxide, I1 argon.",
            "choice",
            "M21",
            tuple(
                Option(group, meaning)
                for group, meaning in (
                    ("M12", "argon with a little carbon dioxide"),
                    ("M20", "argon with 5 % to 15 % carbon dioxide"),
                    ("M21", "argon with 15 % to 25 % carbon dioxide"),
                    ("M22", "argon with oxygen"),
                    ("C1", "carbon dioxide"),
                    ("I1", "argon"),
                    ("I3", "argon with helium"),
                    ("none", "gasless wire"),
                )
            ),
            when=When(
                "process.wire",
                ("mild-steel", "stainless-steel", "aluminium", "flux-cored"),
                "unless the wire is self-shielded",
            ),
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
            "process.wire_feed_speed",
            "Wire feed speed you mostly use?",
            "Work clamp off, gun clear of everything and pointing away from people, glasses on, hands off the rolls: "
            "run wire for 6 s, let go, switch off, then cut and measure it; ten times its length is the speed per "
            "minute.",
            "measure",
            "200 in/min",
        ),
        Question(
            "process.contact_tip_to_work",
            "Contact-tip-to-work distance?",
            "Power source off: hold the gun as you weld and measure from contact tip to work.",
            "measure",
            "12 mm",
        ),
        Question(
            "process.open_circuit_voltage",
            "Open-circuit voltage at the setting you mostly use?",
            HELD + "Meter on VDC, clipped to the output terminals while it is off. This voltage can kill in damp: dry "
            "gloves, dry ground; else leave it out.",
            "measure",
            optional=True,
        ),
    ),
)


def _circuit(key: str, what: str, on: str, off: str, when: When | None = None) -> Iterator[Question]:
    """The questions on one load: gas valve, wire drive or contactor."""
    path = f"feeder.{key}"
    yield Question(
        f"{path}.coil.kind",
        f"What does the coil of the {what} run on?",
        COLD + "Printed on the coil or its plate. Nothing there to read: leave it until the live readings, clip the "
        "meter across it while it is off, trigger held, on VDC and then on VAC. Above 50 V: a licensed electrician.",
        "choice",
        "ac",
        (
            Option("ac", "alternating voltage"),
            Option(
                "dc",
                "direct voltage",
                to_do=f"The {what} runs on dc: above 30 V or 1 A, buy a relay or contactor whose data sheet states a "
                f"dc rating for it (DC-13), and write that down as {path}.contact_dc. An ac rating says nothing of dc.",
            ),
        ),
        when=when,
    )
    yield Question(
        f"{path}.coil.switched_pole",
        f"In which side of its dc circuit stands the contact that switches the {what}?",
        COLD
        + "From the contact's terminal that stays live to the supply: below 1 ohm to + is `plus`, to - is `minus`.",
        "choice",
        "plus",
        (Option("plus", "between + and the load"), Option("minus", "between the load and -")),
        when=When(f"{path}.coil.kind", ("dc",), "with dc"),
    )
    yield Question(
        f"{path}.coil.hold",
        f"Holding current of the {what}'s coil?",
        HELD
        + "Clamp meter round one wire of the coil, put there while it is off. Small coils: three turns through the "
        "clamp, and divide by three. No clamp meter: the VA on the coil's plate divided by its volts.",
        "measure",
        when=when,
    )
    yield Question(
        f"{path}.coil.inrush",
        f"Current of the {what} while it pulls in?",
        "Clamp meter with inrush or max hold, same place and precautions. AC coils take 2 to 6 times the holding "
        "current.",
        "measure",
        when=when,
        optional=True,
        at_least=f"{path}.coil.hold",
    )
    yield from power_factors(path, what, _ON_THE_WINDING[key])
    yield from protections(path, what, when)
    yield Question(
        f"{path}.on_delay",
        f"How long from command to {on}: shortest, usual, longest?",
        "A phone's slow motion (240 frames a second: 4 ms a frame), trigger and moving part in one picture. No "
        "oscilloscope in a live machine: the clip of its probe is grounded and shorts what it touches, unless the "
        "probe is an isolated differential one. Not measured: the usual figures.",
        "spread",
        _USUAL_LAG[key][0],
        when=when,
    )
    yield Question(
        f"{path}.off_delay",
        f"How long from command to {off}: shortest, usual, longest?",
        "In the same way.",
        "spread",
        _USUAL_LAG[key][1],
        when=when,
    )


_USUAL_LAG = {
    "gas_valve": ("15 ms, 20 ms, 30 ms", "15 ms, 25 ms, 45 ms"),
    "wire_drive": ("10 ms, 15 ms, 25 ms", "5 ms, 8 ms, 15 ms"),
    "contactor": ("20 ms, 30 ms, 50 ms", "10 ms, 20 ms, 30 ms"),
}
"""On and off delays (practice, no source: the add-on's relay 5 ms to 10 ms, valve or contactor the rest)."""
_ON_THE_WINDING = {
    "gas_valve": WITH_GAS,
    "wire_drive": When("survey.wire_drive_place", ("control",), "on the 24 VAC control supply"),
    "contactor": When("survey.contactor_place", ("feeder",), "on the feeder's own 24 VAC"),
}
"""Where a coil's power factor counts."""

CIRCUITS = Topic(
    "Gas valve, wire drive and contactor",
    (
        *_circuit("gas_valve", "gas valve", "gas flowing", "gas stopped", WITH_GAS),
        *behind_a_contactor(
            "feeder.wire_drive",
            "wire drive",
            When("feeder.wire_drive.switched", ("motor",), "where the motor's circuit itself is switched"),
            "dc",
            "24 V",
        ),
        Question(
            "survey.wire_drive_place",
            "What feeds the wire drive's relay or motor circuit that the add-on will switch?",
            COLD + "Follow its wires: to the 24 VAC control supply, or to a supply of the motor's own? With an "
            "interposing contactor, what its coil is fed from.",
            "choice",
            "elsewhere",
            (Option("control", "the 24 VAC control supply"), Option("elsewhere", "another circuit")),
        ),
        Question(
            "feeder.wire_drive.coil.voltage",
            "Voltage of that other circuit?",
            HELD + "Meter clipped across the relay's coil or the motor while it is off. Above 50 V: a licensed "
            "electrician.",
            "measure",
            "24 V",
            when=When("survey.wire_drive_place", ("elsewhere",), "with another circuit"),
        ),
        *_circuit("wire_drive", "wire drive", "wire moving", "motor without current"),
        Question(
            "feeder.wire_drive.coast",
            "How long does the wire coast (time constant of its slowing down)?",
            "Work clamp off, gun clear of everything and pointing away from people, glasses on: run wire and stop, and "
            "film the wire at the tip, beside a rule, in slow motion. What runs out after the stop, divided by the "
            "wire feed speed, is the coast. Test welds tell it better, later.",
            "measure",
            "50 ms",
        ),
        *behind_a_contactor(
            "feeder.contactor",
            "contactor",
            When("survey.contactor_place", ("source", "115v"), "unless it runs on the feeder's 24 VAC"),
            "ac",
            "115 V",
        ),
        Question(
            "feeder.contactor.coil.voltage",
            "Voltage of the contactor's coil or control pair?",
            "Printed on the coil, or in the power source's manual for a control pair: both 24 V and 115 V are met, so "
            "there is no usual answer. Leave readings on 115 V and mains circuits to a licensed electrician.",
            "measure",
            when=When("survey.contactor_interposed", (NO,), "without 24 VAC of the feeder on it"),
        ),
        *_circuit("contactor", "contactor", "voltage at the gun", "no voltage"),
    ),
)

WISHES = Topic(
    "What the panel shall offer",
    (
        yes_no("survey.spot", "Timed spot welds?", "A dial for spot time, with an off switch."),
        yes_no(
            "survey.stitch",
            "Stitches: spot after spot while the trigger is held?",
            "A dial for the pause, with an off switch.",
            when=When("survey.spot", (YES,), "with spot welds"),
        ),
        yes_no(
            "buttons.purge",
            "A button for gas only?",
            "Purges the gun after a cylinder change. Shielding gas suffocates in a closed room: only with fresh air.",
            YES,
            when=WITH_GAS,
        ),
        yes_no(
            "buttons.inch",
            "A button for wire only?",
            "Feeds wire without current. It jumps out of the tip: gun away from face, hands and people; fingers off "
            "the rolls.",
            YES,
        ),
        yes_no(
            "interlock.fitted",
            "Is there a contact that shall stop the timer at once, such as coolant flow?",
            "It must be a dry (potential-free) contact of its own, closed when all is well: no other circuit on it, "
            "and none of the machine's safety circuit, which stays as it is. It stops the timer's outputs, nothing "
            "else.",
        ),
        Question(
            "limits.weld",
            "Longest weld that is ever wanted?",
            "After it the timer ends the weld by itself: a guard against a stuck trigger.",
            "measure",
            "5 min",
        ),
        Question(
            "circuits.build",
            "How shall the circuits be built?",
            "Modules: a relay, a regulator and an input module are bought, wired from screw to screw, and some twenty "
            "loose parts are soldered; the add-on takes a larger box, and nobody states the spacing on such modules, "
            "so nothing above 50 V goes on one. Board: some sixty parts are soldered on one board, every rating known.",
            "choice",
            "modules",
            (
                Option("modules", "ready-made modules, wired up"),
                Option("board", "all parts soldered on one circuit board"),
            ),
        ),
        Question(
            "board.type",
            "Which microcontroller board?",
            "`wirecue boards` lists them with their figures.",
            "choice",
            "nano",
        ),
    ),
)


def topics(boards: tuple[Board, ...] = ()) -> tuple[Topic, ...]:
    """Return all topics in the order of the work; the last question offers `boards`."""
    options = tuple(Option(board.type, board.title) for board in boards)
    wishes = tuple(
        replace(question, options=options) if question.key == "board.type" else question
        for question in WISHES.questions
    )
    return SUITABLE, SUPPLY, TRIGGER, PROCESS, CIRCUITS, replace(WISHES, questions=wishes)
