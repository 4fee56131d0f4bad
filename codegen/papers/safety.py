"""Cautions that several papers carry, each where it matters."""

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
    "Some readings need the machine live. Clip the probes on while it is off, switch on, read with hands behind your "
    "back, switch off. Use a meter and leads for CAT III 600 V or better, in good order."
)
CONTROL_CIRCUIT = (
    "The 24 V control circuit may be grounded or shared with other circuits: measure, isolate trigger and loads, and "
    "fuse the add-on for itself, near the tap. Never tie board common to chassis or work."
)
IN_THE_BOX = "Strain relief on every cable; a box that keeps metal dust out; wires away from the welding leads."
WELDING = (
    "Welding makes fume, ultraviolet light, spatter and fire: helmet, gloves, ventilation, nothing that burns nearby, "
    "an extinguisher at hand."
)
STANDARDS = (
    "Standards to follow: ANSI Z49.1, IEC 60974-1 and -5, IEC 60204-1 or NFPA 79. Local codes come first; leave mains "
    "work to a licensed electrician."
)
