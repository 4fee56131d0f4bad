"""What is asked of the feeder itself: can the job be done at all, its 24 VAC supply, and the gun's trigger."""

from __future__ import annotations

from timing.survey.question import COLD, HELD, LIVE, YES, Option, Question, Topic, When, yes_no

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
            at_most="supply.measured_open",
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
