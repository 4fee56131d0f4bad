"""Presses: the recorder's two outputs, each a contact across a button of the machine, and nothing but a contact.

Soldered it is a photo-relay: two MOSFETs back to back that light turns on, for ac and dc of either polarity, without
bounce. Of modules it is a relay. Either is open while the recorder has no power, boots, or has no jumper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.circuit.preferred import MOSFET_RATINGS_V, VOLTAGE_MARGIN, at_least, at_most, rating_at_least
from timing.circuit.senses import COUPLER_LED_V, INTERNAL_PULL_UP_OHM, RESISTOR_TOLERANCE
from timing.circuit.trigger_input import LED_DARK_V, LIGHT_LOAD_RISE
from timing.design.board import Board
from timing.design.design import Design
from timing.design.feeder import EXTRA_LOW_AC_V, EXTRA_LOW_DC_V
from timing.project import Project
from timing.protocol.recorder import RECORDER_PRESSES, RecorderPress
from timing.recorder.couplers import AdapterLag

PHOTO_RELAY_LED_A, PHOTO_RELAY_CLOSES_A = 0.008, 0.005
"""Wanted through a photo-relay's LED, and the most that it needs to close (published: data sheet of a photo-relay for
60 V, operating current, seen quoted)."""
PHOTO_RELAY_A = 0.1
"""Least that its contact must carry; such for 60 V carry 0.2 A (published: data sheet of a photo-relay, seen
quoted)."""
PHOTO_RELAY_ON_US, PHOTO_RELAY_OFF_US = (100.0, 1500.0), (50.0, 1500.0)
"""How late it closes and opens: 0.6 ms and 0.3 ms typical, 1.5 ms at most (published: data sheet of a photo-relay for
60 V, seen quoted)."""
RELAY_ON_US, RELAY_OFF_US = (3000.0, 15_000.0), (1000.0, 15_000.0)
"""How late a module's relay closes, its bounce included, and opens with a plain diode across its coil (practice)."""


@dataclass(frozen=True)
class PressCircuit:
    """One output, from the pin to the contact."""

    press: RecorderPress
    by_module: bool
    open_v: float
    """Highest voltage across the open contact (peak)."""
    ac: bool
    rating_v: float
    """Of the contact; 0 where none on sale is enough."""
    above_extra_low: bool
    series_ohm: float
    """Between pin and LED; 0 with a module."""
    led_a: float
    """Through the LED at its least."""
    pin_a: float
    """What the pin gives at most; with a module what its input takes is asked of the parts list."""
    pull_ohm: float
    """Holds it open while the board boots, against a pull-up of the chip."""
    lag: AdapterLag
    """From the pin to the contact."""


def press_circuits(project: Project, board: Board) -> dict[str, PressCircuit]:
    """Return the presses that a design has a use for, by key; board: the recorder's."""
    wanted = {"trigger": True, "purge": project.design.buttons.purge}
    return {one.key: _press(project.design, board, one) for one in RECORDER_PRESSES if wanted[one.key]}


def _series_ohm(board: Board) -> float:
    """Return the resistor of a photo-relay's LED: for the current that is wanted, or for what the pin may give."""
    wanted = at_most((board.logic_v - COUPLER_LED_V) / (PHOTO_RELAY_LED_A * (1.0 + RESISTOR_TOLERANCE)))
    return max(wanted, at_least((board.logic_v - LED_DARK_V) / (board.pin_current_a * (1.0 - RESISTOR_TOLERANCE))))


def _press(design: Design, board: Board, press: RecorderPress) -> PressCircuit:
    modules = design.circuits.build == "modules"
    nominal_v, ac = design.trigger.circuit_voltage_v, design.trigger.sense == "ac"
    if press.key != "trigger":
        # A bare contact to the add-on's common, wetted from its logic supply or, in a module, from 5 V.
        nominal_v, ac = 5.0, False
    line = 1.0 + design.supply.line_tolerance_percent / 100.0
    open_v = nominal_v * line * LIGHT_LOAD_RISE * (math.sqrt(2.0) if ac else 1.0)
    least_drop = board.logic_v - COUPLER_LED_V
    series = 0.0 if modules else _series_ohm(board)
    ohm_of_pull = INTERNAL_PULL_UP_OHM * LED_DARK_V / (board.logic_v - LED_DARK_V)
    return PressCircuit(
        press=press,
        by_module=modules,
        open_v=open_v,
        ac=ac,
        rating_v=rating_at_least(open_v * VOLTAGE_MARGIN, MOSFET_RATINGS_V) or 0.0,
        above_extra_low=nominal_v > (EXTRA_LOW_AC_V if ac else EXTRA_LOW_DC_V),
        series_ohm=series,
        led_a=least_drop / (series * (1.0 + RESISTOR_TOLERANCE)) if series else 0.0,
        pin_a=(board.logic_v - LED_DARK_V) / (series * (1.0 - RESISTOR_TOLERANCE)) if series else 0.0,
        pull_ohm=at_most(ohm_of_pull),
        lag=AdapterLag(RELAY_ON_US, RELAY_OFF_US) if modules else AdapterLag(PHOTO_RELAY_ON_US, PHOTO_RELAY_OFF_US),
    )
