"""What the board listens through beside the trigger: wetted contacts, the divider on its own supply.

Buttons, switches, interlock and arc sensor are bare contacts to board common, each wetted by a resistor of its own: a
contact that carries next to nothing keeps the film on its surfaces, and the current that a digital input draws breaks
it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.circuit.preferred import E24, at_least, at_most
from timing.design.board import Board, Kind
from timing.design.circuits import MODULE_INPUT_A
from timing.design.design import Design
from timing.design.pinning import needed_roles
from timing.design.supply import SupplySense

COUPLER_LED_V = 1.3
"""Forward voltage of a coupler's LED (practice)."""
INTERNAL_PULL_UP_OHM = 20e3
"""The strongest that the boards' microcontrollers have: it counts against the trigger's coupler, and a bootloader may
switch one on against the resistor that holds an output off (published: ATmega328P data
sheet, DC characteristics, 20 kohm to 50 kohm, seen)."""
WETTING_A = 0.002
"""What a contact should carry: the least current of an input that is on (published: IEC 61131-2, types 1 and 3)."""
CONTACT_CAPACITOR_F = 100e-9
"""On each contact's pin, against the noise of its wire (choice)."""
RESISTOR_TOLERANCE = 0.05
"""Of what the parts list asks for (choice)."""
CAPACITOR_TOLERANCE = 0.20
"""Of small capacitors (practice)."""
LOW_SHARE = 0.2
"""Share of its supply below which a pin surely reads low (published: data sheets of the boards' chips)."""
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
    leak_ohm: float
    """An open contact reads open with a leak of this resistance or more, to common."""
    closed_ohm: float
    """A closed contact reads closed with this resistance or less, film and wires included."""


def contact_sense(board: Board) -> ContactSense:
    """Return the largest E12 resistor that wets a contact from the board's logic supply, and what follows from it."""
    pull_up_ohm = at_most(board.logic_v / WETTING_A)
    slowest_s = pull_up_ohm * (1 + RESISTOR_TOLERANCE) * CONTACT_CAPACITOR_F * (1 + CAPACITOR_TOLERANCE)
    # The board's own pull-up counts where it is against the contact.
    pulled_s = 1.0 / (pull_up_ohm * (1 - RESISTOR_TOLERANCE)) + 1.0 / INTERNAL_PULL_UP_OHM
    return ContactSense(
        pull_up_ohm=pull_up_ohm,
        wetting_a=board.logic_v / pull_up_ohm,
        # A capacitor charged through a resistor: v = V (1 - exp(-t / RC)).
        opening_us=1e6 * slowest_s * -math.log(1.0 - HIGH_SHARE),
        leak_ohm=pull_up_ohm * (1 + RESISTOR_TOLERANCE) * HIGH_SHARE / (1.0 - HIGH_SHARE),
        closed_ohm=LOW_SHARE / (1.0 - LOW_SHARE) / pulled_s,
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
    each_a = MODULE_INPUT_A if design.circuits.build == "modules" else contact_sense(board).wetting_a
    return len(wetted_contacts(design)) * each_a


SOURCE_OHM_MAX = 10e3
"""Source resistance up to which the converter reads true (published: ATmega328P data sheet, analog input circuitry:
approximately 10 kohm or less, seen quoted)."""
HEADROOM = 1.1
"""Full scale over the highest voltage met (choice)."""
SENSE_CAPACITOR_F = 100e-9
"""From the sense pin to common (choice)."""


@dataclass(frozen=True)
class SupplyThresholds:
    """Counts of the converter. Between the two, the supply stays what it was."""

    low_counts: int
    """Below this reading the supply is low."""
    good_counts: int
    """At and above this reading it is good again."""


def supply_thresholds(sense: SupplySense, board: Board) -> SupplyThresholds:
    """Return the thresholds of `sense` as `board` reads them, rounded to the nearest count."""
    per_v = counts_per_v(sense, board)
    return SupplyThresholds(round(sense.low_v * per_v), round(sense.good_v * per_v))


def counts_per_v(sense: SupplySense, board: Board) -> float:
    """Return by how many counts the reading of `sense` on `board` rises with each volt of the supply."""
    share = sense.divider_bottom_ohm / (sense.divider_top_ohm + sense.divider_bottom_ohm)
    return share / board.adc_reference_v * board.adc_full_scale


@dataclass(frozen=True)
class SenseDivider:
    """The divider on a board, at the highest reservoir voltage."""

    ratio: float
    """Pin voltage over reservoir voltage."""
    pin_high_v: float
    source_ohm: float
    v_per_count: float
    """Reservoir voltage of one count of the converter."""
    thresholds: SupplyThresholds


def sense_divider(sense: SupplySense, board: Board, highest_v: float) -> SenseDivider:
    """Return the divider's figures for the highest reservoir voltage (V)."""
    total = sense.divider_top_ohm + sense.divider_bottom_ohm
    ratio = sense.divider_bottom_ohm / total
    count_v = board.adc_reference_v / board.adc_full_scale / ratio
    return SenseDivider(
        ratio=ratio,
        pin_high_v=highest_v * ratio,
        source_ohm=sense.divider_top_ohm * sense.divider_bottom_ohm / total,
        v_per_count=count_v,
        thresholds=supply_thresholds(sense, board),
    )


def divider_top_ohm(bottom_ohm: float, board: Board, highest_v: float) -> float:
    """Return the E24 top resistor with which the highest voltage stays under the converter's reference."""
    reference = min(board.adc_reference_v, board.logic_v)
    return at_least(bottom_ohm * (highest_v * HEADROOM / reference - 1.0), E24)
