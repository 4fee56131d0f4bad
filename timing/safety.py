"""Cautions that several papers carry, each where it matters.

ANSI Z49.1, NFPA 51B and the parts of IEC 60974 are documents to follow, not sources of these sentences. The half hour
of the fire watch is that of 29 CFR 1910.252(a)(2)(iii)(B). What is said of trade habits is common practice, no source.
"""

from __future__ import annotations

NOT_SAFETY = (
    "The add-on is a timer, not a safety function. It must not replace or bypass the interlock, the emergency stop or "
    "the thermal cut-out; those keep their own contacts, in series with what they interrupt."
)
BEFORE_OPENING = (
    "Before you open anything: disconnect feeder and power source from the mains, lock the plug or switch, let "
    "capacitors discharge, and measure that they are empty. Inverter sources hold a dangerous charge for minutes."
)
WELDING_CIRCUIT = (
    "The welding circuit's open-circuit voltage can kill in damp or in tight places: dry gloves, dry ground, and "
    "nobody touching wire, drive rolls or work."
)
LIVE_MEASURING = (
    "Some readings need the machine live. Set each up while it is off: clip the leads on, lay the meter where you can "
    "read it, close what can be closed. Switch on at the machine's own switch, touch nothing but the meter, read, "
    "switch off, and only then take the leads off. Never pull a plug under load. Meter and leads for CAT III 600 V or "
    "better, in good order, and run from a battery."
)
TRIGGER_HELD = (
    "While the trigger is held the wire is live, arc or no arc. Before: pressure arm up, work clamp off, gun clear of "
    "everything it could touch. Then one dry gloved hand on the gun's handle, the other off the machine; read, let go."
)
CONTROL_CIRCUIT = (
    "The 24 V control circuit may be grounded or shared with other circuits: measure it. Trigger and loads are kept "
    "apart from the board by couplers and relays; COMMON is not, the rectifier joins it to the winding. Never tie it "
    "to chassis, work, or the ground of a USB port or an oscilloscope. Fuse the add-on for itself, near the tap."
)
CONTROL_CIRCUIT_APART = (
    "The 24 V control circuit may be grounded or shared with other circuits: measure it. Trigger, loads and COMMON are "
    "kept apart from it by couplers, relays and what the supply isolates with: join no wire of one side to the other. "
    "Fuse the add-on for itself, near the tap."
)
IN_THE_BOX = "Strain relief on every cable; a box that keeps metal dust out; wires away from the welding leads."
DRY_CONTACTS = (
    "Interlock and arc sensor are wired to dry (potential-free) contacts of their own: never a contact that carries "
    "another circuit, nor one of the machine's safety circuit."
)
ALTERED = (
    "This alters a machine. Its certification may end with that, and you answer for it: ask whoever owns, insures or "
    "inspects it, mark it as altered, tell everybody else who uses it, and have it inspected and tested again by a "
    "competent person (IEC 60974-4) before it goes back to work."
)
HIGH_FREQUENCY = (
    "A high-frequency start puts kilovolts on gun, cables and trigger wires. The add-on is not tested for it: where "
    "the power source has one, switch it off, or unplug the add-on and fit the bypass plug before it is used."
)
ROLLS_AND_WIRE = (
    "Drive rolls pinch: fingers, gloves and hair stay away while the machine is on; move the pressure arm only while "
    "it is off. Wire jumps out of the tip without warning, when inching too: gun away from face, hands and people, "
    "safety glasses on."
)
GAS = (
    "Shielding gas displaces air and gives no warning: in a closed room, a pit or a tank it suffocates. Purge and test "
    "gas only where fresh air moves, and shut the cylinder afterwards. Cylinder: chained upright, cap on when it is "
    "moved, valve opened slowly from the side, the regulator made for that gas."
)
WHILE_WELDING = (
    "Welding makes fume, ultraviolet light, spatter and fire: helmet, gloves, ventilation, nothing that burns within "
    "11 m (35 ft) or covered, an extinguisher at hand. Fire watch: somebody looks for smouldering during the work and "
    "for at least half an hour after it; local rules may ask for longer."
)
STANDARDS = (
    "Standards to follow: ANSI Z49.1, NFPA 51B, IEC 60974-1, -4 and -5, IEC 60204-1 or NFPA 79. Local codes come "
    "first; leave mains work to a licensed electrician."
)
