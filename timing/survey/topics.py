"""The questions of the survey: ONE list, for the printed sheet and for the command that asks them.

A question's key is the key of the design file that its answer goes to; answers under `survey.` decide what is asked
further, or whether the job can be done at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from timing.design.board import Board
from timing.design.feeder import COAST_BRAKED_US, COAST_UNBRAKED_US
from timing.design.times import TIME_MEANINGS, TIME_TITLES
from timing.survey.feeder_questions import SUITABLE, SUPPLY, TRIGGER
from timing.survey.load_questions import behind_a_contactor, power_factors, protections
from timing.survey.process_questions import PROCESS, WITH_GAS
from timing.survey.question import COLD, HELD, NO, YES, Option, Question, Topic, When, yes_no

_FUSED = "process.spot_diameter"
SPOT = When("survey.spot", (YES,), "with spot welds")
STITCH = When("survey.stitch", (YES,), "with stitches")


def off_switch_key(name: str) -> str:
    """Return the key of the answer whether a time, by its name in columns.TIME_NAMES, gets an off switch."""
    return f"survey.{name}_off_switch"


def _off_switches() -> Iterator[Question]:
    toggles = When("panel.selector", ("toggles",), "unless one switch chooses")
    only = {"preflow": WITH_GAS, "spot": SPOT, "pause": toggles, "postflow": WITH_GAS}
    for name, title in TIME_TITLES.items():
        yield yes_no(
            off_switch_key(name),
            f"An off switch for the {title}?",
            f"A switch below the dial takes this time out ({TIME_MEANINGS[name]}) and puts it back as it was set.",
            YES if only.get(name) in (SPOT, toggles) else NO,
            when=only.get(name),
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
            "How long does the wire coast: its run after the stop, over the wire feed speed?",
            "Work clamp off, gun clear of everything and pointing away from people, glasses on: run wire and stop, and "
            "film the wire at the tip, beside a rule, in slow motion. What runs out after the stop, divided by the "
            f"wire feed speed, is the coast. No answer: {COAST_BRAKED_US // 1000} ms with a brake and "
            f"{COAST_UNBRAKED_US // 1000} ms without are supposed. Test welds tell it better, later.",
            "measure",
            optional=True,
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
        yes_no("survey.spot", "Timed spot welds?", "A dial for the spot time."),
        Question(
            _FUSED,
            "Spots without a hole: over what diameter shall they fuse the two sheets?",
            "Some 4 mm to 6 mm in panels, never more than four times both sheets together. No answer: spots are plugs, "
            "through a punched hole.",
            "measure",
            when=SPOT,
            optional=True,
        ),
        Question(
            "process.back_sheet",
            "Thickness of the back sheet of such spots?",
            "With calipers. No answer: as thick as the top one.",
            "measure",
            when=When(_FUSED, (), "for spots without a hole"),
            optional=True,
        ),
        yes_no(
            "survey.stitch",
            "Stitches: spot after spot while the trigger is held?",
            "A dial for the pause between them.",
            when=SPOT,
        ),
        Question(
            "panel.selector",
            "How shall continuous, spot and stitch be chosen?",
            "By an off switch at each of the two dials, or by one switch SPOT / CONTINUOUS / STITCH in their place.",
            "choice",
            "toggles",
            (
                Option("toggles", "an off switch at each dial"),
                Option("three-position", "one switch of three positions"),
            ),
            when=STITCH,
        ),
        *_off_switches(),
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
