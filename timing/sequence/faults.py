"""What each fault means, and what a person does about it: told wherever faults are explained."""

from __future__ import annotations

from dataclasses import dataclass

from timing.sequence.core.table import Fault, Table


@dataclass(frozen=True)
class Explanation:
    """One fault in words."""

    means: str
    remedy: str
    brief: str
    """What it means, on a plate beside the lamp."""
    act: str
    """What to do, there."""


EXPLANATIONS: dict[Fault, Explanation] = {
    Fault.INTERLOCK: Explanation(
        "The interlock contact opened, or its wire broke. All is off while it is open.",
        "Close what it watches. If it stays, measure the contact and both of its wires with the power off.",
        "interlock open",
        "close what it watches; look for a broken wire",
    ),
    Fault.SUPPLY: Explanation(
        "The add-on's supply fell below its low threshold, or has not come up to its good one.",
        "Measure the reservoir's voltage, idle and with the coils pulled in. Look for a weak or overloaded control "
        "transformer, a blown fuse, a tired reservoir capacitor.",
        "supply low",
        "transformer, fuse, reservoir: measure its voltage",
    ),
    Fault.STATE: Explanation(
        "The sequence found itself in a phase that does not exist, as after a disturbance, and began anew.",
        "Once: go on. Again: suppress the coils, keep the board's wires away from the welding cables, and bench-test.",
        "disturbed, began anew",
        "once: go on. Again: bench-test",
    ),
    Fault.DIAL: Explanation(
        "A dial reads what no sound dial can give: a wire broken, shorted or off its terminal. Nothing starts.",
        "With the power off, measure each dial end to end and to its wiper, and tug at its wires.",
        "dial broken or shorted",
        "power off: measure each dial, tug its wires",
    ),
    Fault.WELD_LIMIT: Explanation(
        "The weld lasted as long as the weld limit allows and was ended.",
        "Let the trigger go. If nobody held it, look for a stuck trigger or a shorted gun cable before you go on.",
        "weld limit reached",
        "let go; trigger stuck, or gun cable shorted?",
    ),
    Fault.ARC_START: Explanation(
        "No arc was established within the arc-start limit, or the sensor was not seen open since the weld before.",
        "Let the trigger go. Look at the work clamp, the wire's end and the contactor; then at the arc sensor.",
        "no arc in time",
        "let go; work clamp, wire end, contactor, sensor",
    ),
    Fault.PURGE_LIMIT: Explanation(
        "The purge button was closed for as long as the purge limit allows.",
        "Let it go and press it again. If nobody held it, look for a stuck button or a shorted wire.",
        "purge held too long",
        "let go; button stuck, or its wire shorted?",
    ),
    Fault.INCH_LIMIT: Explanation(
        "The inch button was closed for as long as the inch limit allows.",
        "Let it go and press it again. If nobody held it, look for a stuck button or a shorted wire.",
        "inch held too long",
        "let go; button stuck, or its wire shorted?",
    ),
    Fault.ARC_STAYS: Explanation(
        "An arc was sensed although the contactor should have been off long since: its contacts are welded, or the arc "
        "sensor is stuck. All is off until the sensor was seen open.",
        "The wire may be live: touch neither gun nor wire. Switch the welding power source off and disconnect it from "
        "the mains. Then look whether the contactor's contacts part, and whether the sensor opens without current; "
        "replace what does not.",
        "arc stays: wire may be live",
        "touch nothing; welding power source off, mains plug out",
    ),
}


def faults_of(table: Table) -> tuple[Fault, ...]:
    """Return the faults that a sequence on `table` can show, by number: an impossible state is always among them."""
    found = {Fault.STATE}
    for row in table.values():
        found |= {transition.fault for transition in row.transitions if transition.fault} | {
            note.fault for note in row.notes if note.fault
        }
    return tuple(sorted(found))
