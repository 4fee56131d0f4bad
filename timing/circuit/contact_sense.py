"""Buttons, switches, interlock and arc sensor: bare contacts to board common, each wetted by a resistor of its own.

A contact that carries next to nothing keeps the film on its surfaces; the current that a digital input draws breaks it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.circuit.preferred import at_most
from timing.design.board import Board
from timing.design.design import Design
from timing.design.pinning import needed_roles
from timing.design.roles import Kind

WETTING_A = 0.002
"""What a contact should carry: the least current of an input that is on (published: IEC 61131-2, types 1 and 3)."""
FILTER_CAPACITOR_F = 100e-9
"""On each contact's pin, against the noise of its wire (choice)."""
RESISTOR_TOLERANCE = 0.05
"""Of what the parts list asks for (choice)."""
CAPACITOR_TOLERANCE = 0.20
"""Of small capacitors (practice)."""
HIGH_SHARE = 0.6
"""Share of its supply at which a pin surely reads high (published: data sheets of the boards' chips)."""


@dataclass(frozen=True)
class ContactSense:
    """What hangs on the pin of each contact."""

    pull_up_ohm: float
    wetting_a: float
    """Through a closed contact."""
    opening_us: float
    """Longest time from the contact's opening until its pin reads high, with everything at its tolerance."""


def contact_sense(board: Board) -> ContactSense:
    """Return the largest E12 resistor that wets a contact from the board's logic supply, and what follows from it."""
    pull_up_ohm = at_most(board.logic_v / WETTING_A)
    slowest_s = pull_up_ohm * (1 + RESISTOR_TOLERANCE) * FILTER_CAPACITOR_F * (1 + CAPACITOR_TOLERANCE)
    return ContactSense(
        pull_up_ohm=pull_up_ohm,
        wetting_a=board.logic_v / pull_up_ohm,
        # A capacitor charged through a resistor: v = V (1 - exp(-t / RC)).
        opening_us=1e6 * slowest_s * -math.log(1.0 - HIGH_SHARE),
    )


def wetted_contacts(design: Design) -> tuple[str, ...]:
    """Return the roles of the contacts that a design has beside trigger and bench link."""
    return tuple(
        role.key
        for role in needed_roles(design)
        if role.kind is Kind.INPUT and role.key not in ("trigger", "bench_link")
    )


def contacts_a(design: Design, board: Board) -> float:
    """Return what the contacts draw from the logic supply with all of them closed (A)."""
    return len(wetted_contacts(design)) * contact_sense(board).wetting_a
