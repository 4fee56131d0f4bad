"""What the board listens through: the trigger's optocoupler, wetted contacts, the divider on its own supply.

The gun's closed trigger puts its circuit's voltage, ac or dc, across a resistor and the coupler's LED; the coupler's
transistor pulls the board's pin down against a pull-up resistor. Buttons, switches, interlock and arc sensor are bare
contacts to board common, each wetted by a resistor of its own: a contact that carries next to nothing keeps the film on
its surfaces, and the current that a digital input draws breaks it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.circuit.preferred import E24, at_least, at_most, resistor_rating_w
from timing.design.board import Board, Kind
from timing.design.circuits import MODULE_INPUT_A
from timing.design.design import Design
from timing.design.pinning import needed_roles
from timing.design.supply import SupplySense

COUPLER_LED_V = 1.3
"""Forward voltage of a coupler's LED (practice)."""
LED_MAX_A = 0.020
"""Continuous, at the peak; the parts list asks for a coupler rated for twice that (choice)."""
CTR_NEW = 0.50
"""Least current transfer ratio at 5 mA that the parts list asks for (choice)."""
CTR_LEFT_AT_END = 0.5
"""What an LED driven for years leaves of it (practice)."""
CTR_LEFT_WARM = 0.8
"""What a warm box leaves of it (practice)."""
PULL_UP_OHM = 22e3
"""Pulls the trigger pin up (choice)."""
INTERNAL_PULL_UP_OHM = 20e3
"""The strongest that the boards' microcontrollers have: it counts against the trigger's coupler, and a bootloader may
switch one on against the resistor that holds an output off (published: ATmega328P data
sheet, DC characteristics, 20 kohm to 50 kohm, seen)."""
CREST_MARGIN = 3.0
"""AC: peak current over what is needed, so that the coupler conducts for most of the half-wave (choice)."""
STEADY_MARGIN = 1.5
"""DC: current over what is needed (choice)."""
LIGHT_LOAD_RISE = 1.15
"""A trigger circuit may stand this much above its name with nothing else drawn (practice)."""
TRIGGER_CAPACITOR_F = 10e-9
"""From the trigger pin to common (choice)."""


@dataclass(frozen=True)
class TriggerSense:
    """The sensing circuit with its margins."""

    ac: bool
    ac_input: bool
    resistor_ohm: float
    proposed: bool
    """True where the design left the resistor open."""
    dissipation_w: float
    """In the resistor at high line, trigger held."""
    rating_w: float
    """Size of the resistor, derated."""
    needed_a: float
    """LED current that pulls the pin down at the end of the coupler's life."""
    low_a: float
    """LED current at low line; with ac at the peak."""
    high_a: float
    """LED current at high line; with ac at the peak."""
    gap_us: float
    """Longest time without a signal while the trigger is held; 0 for dc."""

    @property
    def margin(self) -> float:
        """Current at low line over what is needed."""
        return self.low_a / self.needed_a


def led_needed_a(collector_a: float, transfer_ratio: float) -> float:
    """LED current for a collector current: Ic / CTR."""
    return collector_a / transfer_ratio


def series_resistor_ohm(drive_v: float, led_v: float, led_a: float) -> float:
    """Largest E12 resistor that still lets `led_a` flow from `drive_v` (V): (V - Vf) / I."""
    return at_most((drive_v - led_v) / led_a)


def trigger_sense(design: Design, board: Board) -> TriggerSense:
    """Return the trigger's sensing circuit; the resistor is the design's or the proposed one."""
    trigger, stray = design.trigger, design.supply.line_tolerance_percent / 100.0
    collector_a = board.logic_v / PULL_UP_OHM + board.logic_v / INTERNAL_PULL_UP_OHM
    needed = led_needed_a(collector_a, CTR_NEW * CTR_LEFT_AT_END * CTR_LEFT_WARM)
    ac = trigger.sense == "ac"
    peak = math.sqrt(2.0) if ac else 1.0
    low_v = trigger.circuit_voltage_v * (1.0 - stray) * peak
    high_v = trigger.circuit_voltage_v * (1.0 + stray) * LIGHT_LOAD_RISE * peak
    proposed = series_resistor_ohm(
        max(low_v, COUPLER_LED_V + 0.2), COUPLER_LED_V, needed * (CREST_MARGIN if ac else STEADY_MARGIN)
    )
    resistor = design.supply.trigger_resistor_ohm or proposed
    ac_input = trigger.optocoupler == "ac-input"
    low_a, high_a = max(low_v - COUPLER_LED_V, 0.0) / resistor, max(high_v - COUPLER_LED_V, 0.0) / resistor
    # A single LED has a plain diode across it, so that the resistor conducts in both half-waves with either kind.
    heat = (high_a / peak) ** 2 * resistor
    return TriggerSense(
        ac=ac,
        ac_input=ac_input,
        resistor_ohm=resistor,
        proposed=design.supply.trigger_resistor_ohm is None,
        dissipation_w=heat,
        rating_w=resistor_rating_w(heat),
        needed_a=needed,
        low_a=low_a,
        high_a=high_a,
        gap_us=gap_us(low_v, COUPLER_LED_V + needed * resistor, design.supply.line_frequency_hz, ac_input)
        if ac
        else 0.0,
    )


def gap_us(peak_v: float, threshold_v: float, frequency_hz: float, ac_input: bool) -> float:
    """Longest time (us) that a sine stays below the threshold: round its zeros, and for a single LED a half-wave more.

    A whole period where the peak never reaches the threshold.
    """
    period_us = 1e6 / frequency_hz
    if threshold_v >= peak_v:
        return period_us
    around_zero = 2.0 * math.asin(threshold_v / peak_v) / (2.0 * math.pi) * period_us
    return around_zero if ac_input else around_zero + 0.5 * period_us


WETTING_A = 0.002
"""What a contact should carry: the least current of an input that is on (published: IEC 61131-2, types 1 and 3)."""
CONTACT_CAPACITOR_F = 100e-9
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
    slowest_s = pull_up_ohm * (1 + RESISTOR_TOLERANCE) * CONTACT_CAPACITOR_F * (1 + CAPACITOR_TOLERANCE)
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
