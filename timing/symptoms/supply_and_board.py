"""Causes of coils that chatter, a board that starts anew, a fuse that blows."""

from __future__ import annotations

from timing.circuit.trigger_input import LED_MAX_A
from timing.design.features import features_of
from timing.formatting import ms, percent_text
from timing.power.loads import PULL_IN_SHARE
from timing.power.verdict import heaviest_share
from timing.symptoms.evidence import Evidence, points_here
from timing.symptoms.symptom import Cause, Standing, Symptom

LITTLE_MARGIN_V = 2.0
"""A reservoir that comes nearer than this to what the regulator needs is on the edge (choice)."""


def winding_sags(evidence: Evidence) -> Cause | None:
    """The coils take the winding down until they let go again."""
    budget = evidence.project.budget
    if budget.sag is None:
        return None
    wanted_v = PULL_IN_SHARE * budget.supply.nominal_v
    share = heaviest_share(budget)
    return Cause(
        points_here(budget.sag.winding_v < wanted_v),
        "The control winding sags while a coil pulls in, so that the coil lets go again.",
        f"At low line it falls to {budget.sag.winding_v:.1f} V; coils need {wanted_v:.1f} V. It carries "
        f"{percent_text(share.share)} of its rating at most.",
        "Measure the 24 VAC, meter on maximum and minimum, while the trigger is pulled; read the coil's own voltage.",
        "`wirecue supply` shows which load is too much. A loose terminal or a corroded fuse holder looks the same.",
    )


def filter_bridges_no_gap(evidence: Evidence) -> Cause | None:
    """A trigger that carries ac opens between half-waves."""
    design, sense = evidence.project.design, evidence.trigger
    if not sense.ac:
        return None
    bridged_us = features_of(design).bridge_us("trigger")
    return Cause(
        points_here(bridged_us < sense.gap_us + sense.rise_us),
        "The trigger reads open between half-waves.",
        f"The longest gap is {ms(sense.gap_us)}; the filter bridges {ms(bridged_us)}.",
        "It chatters at twice the mains frequency, and stops with the gun unplugged.",
        "Lengthen trigger.filter, or fit an ac-input optocoupler; build and flash.",
    )


def loose_wire(_evidence: Evidence) -> Cause:
    """What shaking shows."""
    return Cause(
        Standing.OPEN,
        "A loose terminal, a tired plug contact, a broken wire in the gun cable.",
        "",
        "Power source off: shake plug, cable and gun while somebody watches the lamp.",
        "Crimp anew; replace the contact.",
    )


def contact_bounces(evidence: Evidence) -> Cause:
    """The trigger's own contact."""
    sense = evidence.trigger
    return Cause(
        Standing.OPEN,
        "The trigger's contact is worn and bounces for longer than the filter bridges.",
        f"The filter is {ms(evidence.project.design.trigger.filter_us)}; {1000 * sense.wetting_a:.0f} mA wet the "
        f"contact, of {1000 * LED_MAX_A:.0f} mA at most.",
        "Bridge the trigger's wires at P1 instead: where that is steady, it is the trigger.",
        "Clean or replace the trigger.",
    )


def reservoir_sags(evidence: Evidence) -> Cause | None:
    """The rail falls when coils pull in."""
    budget = evidence.project.budget
    if budget.sag is None:
        return None
    above_v = budget.sag.lowest_v - budget.regulator.input_min_v
    return Cause(
        points_here(above_v < LITTLE_MARGIN_V),
        "The reservoir falls too low when a coil pulls in.",
        f"An aged reservoir at low line stays {above_v:.1f} V above what the regulator needs, and lasts "
        f"{ms(budget.hold_up_s * 1e6)} with the 24 VAC gone.",
        "Measure the reservoir while the trigger is pulled. Old capacitors lose what they hold.",
        "Replace or enlarge the reservoir; see `wirecue supply`.",
    )


def spikes(evidence: Evidence) -> Cause:
    """A coil without suppression."""
    feeder = evidence.project.design.feeder
    loads = {"gas valve": feeder.gas_valve, "wire drive": feeder.wire_drive, "contactor": feeder.contactor}
    bare = [
        name
        for name, load in loads.items()
        if load is not None and load.coil.kind == "ac" and load.snubber_capacitor_f is None
    ]
    figures = f"By the file no RC lies across: {', '.join(bare)}." if bare else "By the file every coil has its own."
    return Cause(
        points_here(bool(bare)),
        "A coil without suppression, its spike upsets the board.",
        figures,
        "See whether it happens in the instant in which something lets go.",
        "RC or varistor right across each ac coil, a diode with zener across each dc coil.",
    )


def noise(_evidence: Evidence) -> Cause:
    """The arc itself."""
    return Cause(
        Standing.OPEN,
        "The arc, or a high-frequency starter near by, reaches the board's wires.",
        "The lamp tells: dark for a moment, as many times as the cause's number, again and again.",
        "See whether it happens while welding only. `wirecue status --port` tells the last reset, on the bench.",
        "Screen grounded at one end, ferrite on the cable, box of metal, wires away from the welding cables.",
    )


def usb_ground(_evidence: Evidence) -> Cause:
    """A second path to ground."""
    return Cause(
        Standing.OPEN,
        "USB is plugged in: opening the port resets many boards, and its screen is a second path to ground.",
        "",
        "Pull USB.",
        "USB on the bench only, feeder plug pulled, or through an isolator.",
    )


def watchdog_loop(evidence: Evidence) -> Cause | None:
    """An old bootloader never comes out of a watchdog reset."""
    board = evidence.project.board
    if not any(loader.watchdog_loops for loader in board.bootloaders):
        return None
    return Cause(
        Standing.OPEN,
        "An old bootloader resets the board for ever once the watchdog has bitten, outputs off.",
        f"The {board.title} is sold with {' or '.join(loader.name for loader in board.bootloaders)} bootloaders; "
        "`wirecue flash` says which one is on yours, and `wirecue log` keeps it.",
        "Its own LED glimmers or blinks fast, without end, and the port is there but silent.",
        "Take all power off the board, USB too, and give it back. Burn the new bootloader (see docs/flashing.md).",
    )


def half_a_sketch(_evidence: Evidence) -> Cause:
    """An upload that was cut short, or none at all."""
    return Cause(
        Standing.OPEN,
        "There is no sketch on the board, half of one after an upload that was cut short, or another's.",
        "",
        "Feeder plug pulled: `wirecue status` asks it, and waits as long as a bootloader takes.",
        "Flash it again with `wirecue flash`: a bootloader survives whatever an upload leaves.",
    )


def wrong_port(_evidence: Evidence) -> Cause:
    """The line to it."""
    return Cause(
        Standing.OPEN,
        "Another port, a cable that only charges, or a program that holds the port.",
        "",
        "Unplug the board: the port that is gone from the list of `wirecue bench DESIGN` was its own. Try a cable that "
        "has carried data before.",
        "Name the port with --port; close serial monitors and the IDE.",
    )


def no_logic_supply(evidence: Evidence) -> Cause:
    """No supply."""
    board = evidence.project.board
    return Cause(
        Standing.OPEN,
        "The board has no supply of its own, or its regulator is gone.",
        f"Its logic wants {board.logic_v:g} V at {board.logic_terminal}.",
        f"P1 pulled, USB in: measure between {board.logic_terminal} and GND. Its power LED is on?",
        "Another port or hub of the computer; a board whose regulator is gone is replaced.",
    )


def fuse_inrush(evidence: Evidence) -> Cause:
    """It blows as it is switched on."""
    fuse, inrush = evidence.project.budget.fuse, evidence.project.budget.inrush
    return Cause(
        Standing.OPEN,
        "A fuse of another kind than listed blows at the inrush.",
        f"T {fuse.rating_a:g} A is listed; {fuse.continuous_a:.2f} A flow at most, and {inrush.peak_a:.0f} A for an "
        "instant at switching on.",
        "Read what stands on its cap: T is time-lag; F is quick and will blow.",
        "Fit the fuse of the parts list, never a larger one.",
    )


def something_shorted(_evidence: Evidence) -> Cause:
    """It blows for a reason."""
    return Cause(
        Standing.OPEN,
        "A short: rectifier, reservoir, regulator, or the part that shorts the rail when the regulator has failed.",
        "",
        "Mains plugs pulled, reservoir measured empty: ohmmeter across it, both ways; then across each diode.",
        "Replace what is shorted. Where the part across the rail has worked, the regulator has failed as well.",
    )


CHATTERS = Symptom(
    "chatters",
    "A valve, relay or contactor chatters or buzzes",
    ("clicks rapidly", "hums", "machine gun", "valve chatters", "flutters"),
    (winding_sags, filter_bridges_no_gap, contact_bounces, loose_wire),
)
RESETS = Symptom(
    "resets",
    "The board starts anew in the middle of a weld",
    ("board resets", "reboots", "lamp goes dark", "drops out", "stops in the weld"),
    (reservoir_sags, spikes, noise, usb_ground, loose_wire),
)
SILENT = Symptom(
    "silent",
    "The board does not answer over USB",
    ("board does not answer", "no answer on the port", "dead board", "upload fails", "not responding", "cannot flash"),
    (watchdog_loop, half_a_sketch, wrong_port, no_logic_supply),
    "Feeder plug (P1) pulled before USB is plugged in, or through a USB isolator.",
)
FUSE_BLOWS = Symptom(
    "fuse",
    "The add-on's fuse blows",
    (
        "blown fuse",
        "fuse keeps blowing",
    ),
    (fuse_inrush, something_shorted),
    "Mains plugs pulled, capacitors measured empty. A larger fuse is a fire.",
)
