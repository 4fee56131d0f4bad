"""What the parts round a load must be rated for, computed from the corners of its circuit.

The highest voltage is that of a high line on a lightly loaded winding, and its peak counts where a part sees the peak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.circuit.preferred import (
    E12,
    FILM_RATINGS_V,
    VARISTOR_RATINGS_V,
    X2_RATINGS_V,
    at_least,
    rating_at_least,
)
from timing.design.design import Design
from timing.design.feeder import Actuator, Coil
from timing.power.components import winding

LIGHT_LOAD = 1.15
"""How far an unmeasured winding may stand above its name with little on it (practice)."""


def highest_v(design: Design, coil: Coil) -> float:
    """Return the highest voltage of a load's circuit (V; RMS for ac): line tolerance and light load together."""
    line = 1.0 + design.supply.line_tolerance_percent / 100.0
    if coil.fed_from == "control":
        return line * max(winding(design.supply).open_v, coil.voltage_v)
    return line * LIGHT_LOAD * coil.voltage_v


def highest_peak_v(design: Design, coil: Coil) -> float:
    """Return the peak of that voltage (V)."""
    return highest_v(design, coil) * (math.sqrt(2.0) if breaks_ac(coil) else 1.0)


def breaks_ac(coil: Coil) -> bool:
    """Tell whether a load's circuit carries ac: a dc coil on the winding has its rectifier at the coil."""
    return coil.kind == "ac" or coil.fed_from == "control"


# ---- contacts


@dataclass(frozen=True)
class RelaySize:
    """A size of relay that the add-on may have, with what it breaks and what its coil takes."""

    name: str
    contact_a: float
    """What its contact carries."""
    make_va: float
    """What it makes of ac coils, by its designation in IEC 60947-5-1; 0: it has none."""
    break_va: float
    coil_w: float

    def works(self, coil: Coil) -> bool:
        """Tell whether it makes and breaks an ac coil, utilisation category AC-15."""
        inrush_a = coil.inrush_a or coil.hold_a
        made = self.make_va / max(coil.voltage_v, PILOT_DUTY_V)
        broken = min(self.break_va / coil.voltage_v, self.contact_a)
        return inrush_a <= made and coil.hold_a <= broken


PILOT_DUTY_V = 120.0
"""Lowest voltage for which a designation lists a making current, 60 A and 30 A, the highest of its row: no more is
counted below it (published: NEMA ICS 5, ratings of ac control circuit contacts, seen quoted)."""
RELAY_SIZES = (
    RelaySize("B300", 5.0, 3600.0, 360.0, 0.36),
    RelaySize("A300", 10.0, 7200.0, 720.0, 0.53),
    RelaySize("", 40.0, 0.0, 0.0, 1.5),
)
"""Small relays for 5 A and 10 A, and one for 25 A to 40 A, whose coil takes 0.9 W to 1.8 W (practice); volt-amperes
made and broken of the designations B300 and A300 (published: NEMA's control circuit ratings, seen quoted; IEC 60947-5-1
has the same)."""
DC_BREAKING = ((30.0, 10.0), (40.0, 2.5), (60.0, 0.8), (110.0, 0.35), (250.0, 0.2))
"""Volts dc, and the amperes of a resistive load that a small relay of 10 A usually breaks there; it is not stated to
(remembered: curves in data sheets of such relays)."""


def usual_dc_breaking_a(volts: float) -> float:
    """Return what a small relay usually breaks of a resistive dc load (A), between the points of the curve."""
    (low_v, low_a), *rest = DC_BREAKING
    if volts <= low_v:
        return low_a
    for high_v, high_a in rest:
        if volts <= high_v:
            share = math.log(volts / low_v) / math.log(high_v / low_v)
            return float(low_a * (high_a / low_a) ** share)
        low_v, low_a = high_v, high_a
    return low_a


def relay_size(actuator: Actuator) -> RelaySize | None:
    """Return the smallest relay for a load; None where no relay of the list has a designation for it."""
    coil, stated = actuator.coil, actuator.contact_dc
    if coil.kind == "dc":
        wanted = 0.0 if stated is None else stated.current_a
        return next((size for size in RELAY_SIZES if size.contact_a >= wanted), None)
    return next((size for size in RELAY_SIZES if size.works(coil)), None)


def relay_coil_w(actuator: Actuator) -> float:
    """Return the coil power of the relay for a load (W); the largest relay's where none will do."""
    return (relay_size(actuator) or RELAY_SIZES[-1]).coil_w


# ---- what takes the spike

VARISTOR_DC_SHARE = 1.24
"""Dc voltage rating of a varistor over its RMS rating, at the least: 31 V over 25 V (published: data sheet of a series
of leaded disc varistors from 11 V to 1100 V RMS, seen quoted up to 25 V; the smaller types have 1.27 to 1.30)."""
DISCS_MM = ((1.0, 10), (3.0, 14), (8.0, 20))
"""Joules from a coil at each switching off, and the varistor's disc in mm for them: less than each bears once, 1.7 J,
3.2 J and 10 J in 2 ms at the lowest voltage (published: data sheet of a series of leaded disc varistors, seen
quoted)."""
VARISTOR_CLAMPS = 3.0
"""Peak at which a varistor holds a spike, over its RMS rating (practice)."""
TVS_W = ((0.05, 0.0), (0.3, 600.0), (0.75, 1500.0), (2.5, 5000.0))
"""Joules from a coil at each switching off, and the pulse power of the suppressor diode for them (10/1000 us); 0: a
zener diode of 1.3 W does (practice: half of the energy of the rated pulse)."""
DIODE_RATINGS_A = ((1.0, "1 A"), (3.0, "3 A"), (6.0, "6 A"), (25.0, "25 A"), (60.0, "60 A"))
"""Currents of rectifier diodes on sale (practice)."""
DIODE_RATINGS_V = (100.0, 200.0, 400.0, 600.0, 1000.0)
"""Reverse voltages of rectifier diodes on sale (practice)."""
REVERSE_MARGIN = 1.5
"""What a blocking voltage should stand above the highest peak of a line with spikes (practice)."""


def varistor_v(design: Design, coil: Coil) -> float:
    """Return the RMS rating of the varistor across a load (V): the smallest above its highest voltage."""
    wanted = highest_v(design, coil) / (1.0 if breaks_ac(coil) else VARISTOR_DC_SHARE)
    return rating_at_least(wanted, VARISTOR_RATINGS_V) or VARISTOR_RATINGS_V[-1]


def disc_mm(energy_j: float) -> int:
    """Return the disc of a varistor that takes an energy at each switching off (mm)."""
    return next((disc for joule, disc in DISCS_MM if energy_j <= joule), DISCS_MM[-1][1])


def dc_energy_j(volts: float, amps: float, time_constant_s: float) -> float:
    """Return what a dc coil holds: L I^2 / 2 with L = time constant times V / I."""
    return 0.5 * volts * amps * time_constant_s


def ac_energy_j(coil: Coil, frequency_hz: float) -> float:
    """Return what an ac coil holds at most: at the peak of its current, taken as a pure inductance."""
    return coil.voltage_v * coil.hold_a / (2.0 * math.pi * frequency_hz)


def diode_rating(volts: float, amps: float) -> str:
    """Return voltage and current of the diode across a coil, as sold: it carries the coil's current for moments."""
    rated_v = rating_at_least(REVERSE_MARGIN * volts, DIODE_RATINGS_V) or DIODE_RATINGS_V[-1]
    rated_a = next((word for limit, word in DIODE_RATINGS_A if amps <= limit), DIODE_RATINGS_A[-1][1])
    return f"{rated_v:g} V {rated_a}"


def tvs_w(energy_j: float) -> float:
    """Return the pulse power of the suppressor diode across a coil (W); 0: a zener diode of 1.3 W does."""
    return next((watts for joule, watts in TVS_W if energy_j <= joule), TVS_W[-1][1])


# ---- RC element

RELAY_CLOSING_A = 10.0
"""What an RC element may drive through a contact that closes: more welds small contacts in time (practice)."""


def snubber_peak_a(design: Design, actuator: Actuator) -> float:
    """Return the current of an empty RC element across the load when the contact closes at the peak (A)."""
    return highest_peak_v(design, actuator.coil) / actuator.snubber_resistor_ohm


def snubber_ohm_least(design: Design, coil: Coil) -> float:
    """Return the least resistor of an RC element that spares the contact (ohm)."""
    return at_least(highest_peak_v(design, coil) / RELAY_CLOSING_A, E12)


def snubber_w(design: Design, actuator: Actuator, farad: float) -> float:
    """Return the heat in the RC element's resistor at the highest voltage (W)."""
    if not breaks_ac(actuator.coil):
        return 0.0
    current_a = highest_v(design, actuator.coil) * 2.0 * math.pi * design.supply.line_frequency_hz * farad
    return current_a**2 * actuator.snubber_resistor_ohm


def snubber_capacitor(design: Design, coil: Coil) -> str:
    """Return what the RC element's capacitor must be: of class X2 at mains level, else film for the clamped spike."""
    if coil.above_extra_low:
        rated = rating_at_least(highest_v(design, coil), X2_RATINGS_V) or X2_RATINGS_V[-1]
        return f"class X2 (IEC 60384-14), {rated:g} V ac"
    clamped = VARISTOR_CLAMPS * varistor_v(design, coil)
    return f"film, {rating_at_least(clamped, FILM_RATINGS_V) or FILM_RATINGS_V[-1]:g} V dc"


# ---- triac

TRIAC_RATINGS_V = (400.0, 600.0, 800.0, 1200.0)
"""Blocking voltages of triacs and opto-triacs on sale (practice)."""
TRIAC_RATINGS_A = (8.0, 16.0, 25.0, 40.0)
"""Currents of triacs on sale (practice)."""
COUPLER_PULSE_A = 1.0
"""Pulse that an opto-triac's output may carry; the parts list asks for it (practice)."""
TRIAC_DROP_V, TRIAC_JUNCTION_DEG_C = 1.0, 110.0
"""What a triac drops while on, and the junction it is kept to (practice)."""
TRIAC_FREE_K_PER_W = 60.0
"""Junction to air of a triac without heat sink (practice)."""


@dataclass(frozen=True)
class TriacRatings:
    """Of an opto-triac with its triac."""

    peak_v: float
    blocking_v: float
    gate_ohm: float
    """Keeps the coupler's pulse within COUPLER_PULSE_A when it fires at the peak."""
    current_a: float
    heat_w: float
    """What the triac turns into heat while it holds the load."""
    k_per_w: float | None
    """Junction to air that is wanted (K/W); None: it stays cool enough without a heat sink."""


def triac_ratings(design: Design, coil: Coil) -> TriacRatings:
    """Return what an opto-triac and its triac must be rated for."""
    peak = highest_peak_v(design, coil)
    current = 2.0 * max(coil.hold_a, (coil.inrush_a or 0.0) / 8.0)
    heat_w = TRIAC_DROP_V * coil.hold_a
    wanted = (TRIAC_JUNCTION_DEG_C - design.supply.box_air_deg_c) / heat_w
    return TriacRatings(
        peak_v=peak,
        blocking_v=rating_at_least(REVERSE_MARGIN * peak, TRIAC_RATINGS_V) or TRIAC_RATINGS_V[-1],
        gate_ohm=at_least(peak / COUPLER_PULSE_A, E12),
        current_a=rating_at_least(current, TRIAC_RATINGS_A) or TRIAC_RATINGS_A[-1],
        heat_w=heat_w,
        k_per_w=wanted if wanted < TRIAC_FREE_K_PER_W else None,
    )


# ---- rectifier

BRIDGES = ((2.0, 50.0), (4.0, 135.0), (6.0, 175.0), (25.0, 300.0), (35.0, 400.0))
"""Current and single half-wave surge of bridge rectifiers on sale, in amperes (practice)."""
DIODES = ((3.0, 100.0), (6.0, 400.0))
"""The same of single diodes (practice)."""
SURGE_S = 0.0083
"""Length of the half-wave that surges are stated for: 60 Hz (practice)."""


@dataclass(frozen=True)
class RectifierRating:
    """A rectifier on sale."""

    volts: float
    amps: float
    surge_a: float


def surge_a2s(surge_a: float) -> float:
    """Return the melting integral of one half-wave of a surge (A^2 s)."""
    return surge_a**2 / 2.0 * SURGE_S


def rectifier_rating(bridge: bool, peak_v: float, dc_a: float, inrush_a: float, inrush_a2s: float) -> RectifierRating:
    """Return the smallest rectifier that carries twice the current and survives the inrush, by peak and by integral.

    The largest listed where none does: a rule says so. A half-wave diode blocks twice the peak.
    """
    blocking = rating_at_least(REVERSE_MARGIN * peak_v * (1.0 if bridge else 2.0), DIODE_RATINGS_V)
    listed = BRIDGES if bridge else DIODES
    fit = (
        (amps, surge)
        for amps, surge in listed
        if amps >= 2.0 * dc_a and surge >= inrush_a and surge_a2s(surge) >= inrush_a2s
    )
    amps, surge = next(fit, listed[-1])
    return RectifierRating(blocking or DIODE_RATINGS_V[-1], amps, surge)
