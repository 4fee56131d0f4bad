"""Rules for the machine as it was found: what its wiring asks of the way in which the add-on is put in."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity, info
from timing.circuit.found_ends import SAME_CIRCUIT
from timing.project import Project


def wiring_as_found(project: Project) -> Iterator[Finding]:
    """Without a word on how the machine was wired no cut can be drawn."""
    if project.design.feeder.as_found is None:
        yield info(
            "feeder.as-found",
            "feeder.as_found",
            "The design does not say how the machine was wired",
            "The drawings of the feeder as found and as changed, with every wire to cut, are made from it",
            "Answer the survey's questions on it, or write the table feeder.as_found",
        )


def brake_contact(project: Project) -> Iterator[Finding]:
    """A brake contact belongs to the relay of the motor: where that relay no longer works, the brake stays on."""
    drive = project.design.feeder.wire_drive
    if drive.braked and drive.switched == "motor":
        yield Finding(
            "feeder.brake-contact",
            Severity.ERROR,
            "feeder.wire_drive.switched",
            "The wire drive has a brake contact, and the add-on switches the motor's own circuit",
            "The motor's relay would stay at rest with its normally closed contact across the motor: the add-on would "
            "feed a short circuit",
            (),
            (
                Remedy(
                    "Let the add-on switch the coil of the motor's relay, and state that coil's voltage and current",
                    (DesignEdit("feeder.wire_drive.switched", "relay-coil"),),
                ),
            ),
        )


def trigger_supply(project: Project) -> Iterator[Finding]:
    """A trigger cut off a control circuit board has no supply but that of the add-on."""
    design = project.design
    as_found, trigger = design.feeder.as_found, design.trigger
    if as_found is None or as_found.trigger != "electronics":
        return
    if trigger.sense == "ac" and abs(trigger.circuit_voltage_v / design.supply.nominal_v - 1.0) <= SAME_CIRCUIT:
        return
    volts = f"{design.supply.nominal_v:g} V"
    yield Finding(
        "feeder.trigger-supply",
        Severity.ERROR,
        "trigger.sense",
        "As found the trigger works an input of a control circuit board; cut off from it, nothing feeds it "
        f"with {trigger.circuit_voltage_v:g} V {trigger.sense}",
        f"Its wires then run from the tapped {design.supply.nominal_v:g} VAC, behind the fuse, through the trigger "
        "to the add-on",
        (Figure("voltage of the tapped supply", design.supply.nominal_v, "V"),),
        (
            Remedy(
                "Sense the tapped 24 VAC",
                (DesignEdit("trigger.sense", "ac"), DesignEdit("trigger.circuit_voltage", volts)),
            ),
        ),
    )


def trigger_works(project: Project) -> Iterator[Finding]:
    """A dc trigger does not work ac coils itself: one of the two answers is wrong."""
    feeder, trigger = project.design.feeder, project.design.trigger
    if feeder.as_found is None or feeder.as_found.trigger != "coils" or trigger.sense == "ac":
        return
    loads = {"gas valve": feeder.gas_valve, "wire drive": feeder.wire_drive, "contactor": feeder.contactor}
    ac = [name for name, one in loads.items() if one and one.coil.fed_from == "control" and one.coil.kind == "ac"]
    if ac:
        yield Finding(
            "feeder.trigger-works",
            Severity.WARNING,
            "feeder.as_found.trigger",
            f"The trigger carries dc and is said to work these ac coils itself: {', '.join(ac)}",
            "The drawing of the cuts would show a wire that is not there",
            (),
            (Remedy("Trace the trigger's wires again; a relay stands between"),),
        )


def grounded_trigger(project: Project) -> Iterator[Finding]:
    """With the switched side on chassis, a chafed wire works the machine."""
    as_found = project.design.feeder.as_found
    if as_found is not None and project.design.supply.grounded == "yes" and as_found.grounded_side == "switched":
        yield Finding(
            "feeder.grounded-trigger",
            Severity.WARNING,
            "feeder.as_found.grounded_side",
            "The trigger switches the side of the 24 VAC that is tied to chassis",
            "A gun cable that chafes through to metal reads as pressed; with the other side tied to chassis it would "
            "blow the fuse instead, as IEC 60204-1 wants it of control circuits",
            (),
            (Remedy("Have the tie to chassis moved to the side that goes to the coils, then survey again"),),
        )
