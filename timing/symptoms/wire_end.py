"""Causes of a bad wire end: frozen in the puddle, fused to the contact tip, a ball too big."""

from __future__ import annotations

from timing.design.feeder import WireDrive
from timing.design.suppression import off_delay_of
from timing.design.units import as_typed
from timing.formatting import in_ms, ms, percent_text
from timing.process.ball import CLIP_DIAMETERS, STARTS_WELL_DIAMETERS
from timing.process.burnback import FROZEN, FUSED, SHORT
from timing.process.case import COAST_SPREAD_ASSUMED, HAND_SPREAD_MM, BurnbackCase
from timing.process.coast import LONG_COAST_S
from timing.symptoms.evidence import Evidence, points_here, standing_of
from timing.symptoms.symptom import Cause, Standing, Symptom

HANDS = 3.0
"""A hand strays by this many of its standard deviations now and then (choice)."""


def coast_told(drive: WireDrive) -> str:
    """Say which coast is counted with, in the front of a sentence."""
    if drive.coast_us is None:
        return f"No coast is in the file; {ms(drive.likely_coast_us)} is supposed"
    return f"The coast in the file is {ms(drive.coast_us)}"


def burnback_short(evidence: Evidence) -> Cause:
    """The arc goes out before the wire has burnt free."""
    time, best = evidence.asked.burnback, evidence.asked.burnback.advised
    chance = evidence.chance(FROZEN)
    figures, remedy = "", "Turn burnback up a mark at a time until the wire stays free."
    if chance is not None and best is not None:
        figures = (
            f"At {ms(time.set_us)} {percent_text(chance)} of welds freeze, as computed; {ms(best.setting_us)} "
            f"is where to start, {ms(best.low_us)} to {ms(best.high_us)} serves."
        )
        remedy = time.turned_to(max(best.setting_us, time.set_us + 10_000))
    return Cause(
        Standing.OPEN if chance is None else standing_of(chance),
        "Burnback is too short: the voltage goes before the wire has burnt free of the puddle.",
        figures,
        f"See where the burnback time stands ({ms(time.set_us)} in the file), and that it is that dial which is "
        "turned. Weld three times on scrap, gun rested on a block.",
        remedy,
    )


def coast_longer(evidence: Evidence) -> Cause:
    """The wire runs on for longer than the figures have it."""
    drive, felt = evidence.project.design.feeder.wire_drive, evidence.felt
    figures = f"{coast_told(drive)}, {'found from test welds' if drive.coast_measured else 'not measured'}."
    if felt is not None and not drive.coast_measured:
        more_s = COAST_SPREAD_ASSUMED * drive.likely_coast_us / 1e6
        more_mm = abs(felt.per_10_ms_coast_mm) * more_s / 0.010
        figures += f" {in_ms(more_s)} more feeds {more_mm:.1f} mm more wire into the puddle."
    return Cause(
        points_here(not drive.coast_measured),
        "The wire coasts on for longer than the figures have it.",
        figures,
        "Watch the drive rolls in slow motion from the trigger's release to standstill, wire in the gun, no arc.",
        "Make test welds, a frozen one counts too, and let `wirecue fit` find the coast.",
    )


def brake(evidence: Evidence) -> Cause | None:
    """The brake of the motor no longer bites, or there is none."""
    drive, process = evidence.project.design.feeder.wire_drive, evidence.project.design.process
    if drive.braked:
        runs_mm = process.wire_feed_speed_mm_s * drive.likely_coast_us / 1e6
        return Cause(
            Standing.OPEN,
            "The motor's brake contact no longer bites.",
            f"With its brake the wire runs on for {runs_mm:.1f} mm once the drive has let go.",
            "Mains plug pulled: measure across the motor with its relay at rest; the brake contact reads near 0 ohm.",
            "Clean or replace the relay with the brake contact, then fit the coast anew.",
        )
    if drive.likely_coast_us < LONG_COAST_S * 1e6:
        return None
    return Cause(
        Standing.LIKELY,
        "The motor has no brake, and a long coast differs from weld to weld.",
        f"{coast_told(drive)}.",
        "See whether the motor's relay has a free normally closed contact.",
        "A brake contact across the motor shortens the coast: have it wired by somebody licensed to, and state it.",
    )


def contactor_early(evidence: Evidence) -> Cause:
    """The contactor lets go sooner than usual."""
    design, felt = evidence.project.design, evidence.felt
    off = off_delay_of(design, design.feeder.contactor)
    early_s = (off.typical_us - off.min_us) / 1e6
    clear_mm = _clear_of_puddle_mm(evidence)
    figures = f"It lets go {ms(off.min_us)} to {ms(off.max_us)} after the command, usually {ms(off.typical_us)}."
    standing = Standing.OPEN
    if felt is not None and clear_mm is not None:
        longer_mm = abs(felt.per_10_ms_setting_mm) * early_s / 0.010
        figures += f" At its soonest that leaves {longer_mm:.1f} mm more wire, of {clear_mm:.1f} mm to spare."
        standing = points_here(longer_mm > clear_mm)
    return Cause(
        standing,
        "The contactor lets go early, and takes the time off the burnback.",
        figures,
        "Listen to it, or film it in slow motion with the lamp in sight; see that nothing was changed at its coil.",
        "Turn burnback up by what it is early; `wirecue fit` tells it apart from the coast.",
    )


def gun_close(evidence: Evidence) -> Cause:
    """The gun is held nearer than the figures have it."""
    distance_mm = evidence.project.design.process.contact_tip_to_work_mm
    clear_mm = _clear_of_puddle_mm(evidence)
    figures, standing = f"The figures are for {as_typed(distance_mm, 'mm')}.", Standing.OPEN
    if clear_mm is not None:
        figures += f" Held {max(clear_mm, 0.0):.0f} mm nearer, the wire freezes."
        standing = Standing.LIKELY if clear_mm < HANDS * HAND_SPREAD_MM else Standing.OPEN
    return Cause(
        standing,
        "The gun is held too near, or pushed into the puddle at the end.",
        figures,
        "Weld with the gun rested on a block of that height, and hold still until all has stopped.",
        "Hold the distance; or state the one that you weld with, and turn burnback up.",
    )


def _volts(case: BurnbackCase) -> str:
    read = "computed" if case.source.readings.load_v is None else "measured"
    return f"{case.source.likely[0]:.1f} V at the terminals while welding, {read}"


def voltage_low(evidence: Evidence) -> Cause | None:
    """The arc stubs already in the weld."""
    from timing.process.arc import MOST_DIP_V

    case = evidence.case
    if case is None or evidence.curve is None:
        return None
    dip_v = float(case.operating_point().dip_v)
    return Cause(
        points_here(dip_v > MOST_DIP_V / 2),
        "The voltage is low for this wire feed speed: the wire stubs into the puddle while it welds.",
        f"The figures are for {_volts(case)}.",
        "Read volts while welding. A wire that stubs pushes back at the hand.",
        "Turn the voltage up or the wire feed speed down; state what you read as process.load_voltage.",
    )


def burnback_long(evidence: Evidence) -> Cause:
    """The arc burns on until it reaches the tip."""
    time, best = evidence.asked.burnback, evidence.asked.burnback.advised
    chance = evidence.chance(FUSED, SHORT)
    figures, remedy = "", "Turn burnback down a mark at a time."
    if chance is not None and best is not None:
        figures = (
            f"At {ms(time.set_us)} {percent_text(chance)} of welds end too short or fused, as computed; "
            f"{ms(best.setting_us)} is where to start."
        )
        lower_us = min(best.setting_us, max(time.set_us - 10_000, 0))
        remedy = time.turned_to(lower_us)
    return Cause(
        Standing.OPEN if chance is None else standing_of(chance),
        "Burnback is too long: the arc climbs the wire to the contact tip.",
        figures,
        f"See where the burnback time stands ({ms(time.set_us)} in the file).",
        remedy,
    )


def wire_slips(_evidence: Evidence) -> Cause:
    """The wire stops before the motor does."""
    return Cause(
        Standing.OPEN,
        "The wire stops before the motor: rolls slip, liner or contact tip is clogged, the spool brake is tight.",
        "",
        "Inch the wire against a block of wood: it must bend, not slip. Pull it through the gun by hand, pressure arm "
        "up: it must run freely.",
        "Clean or replace liner and contact tip, set the pressure arm, ease the spool brake.",
    )


def contactor_late(evidence: Evidence) -> Cause:
    """The contactor hangs on."""
    design, rest, felt, case = evidence.project.design, evidence.rest, evidence.felt, evidence.case
    contactor = design.feeder.contactor
    off = off_delay_of(design, contactor)
    figures = f"It lets go up to {ms(off.max_us)} after the command, usually {ms(off.typical_us)}."
    added_us = off.typical_us - contactor.off_delay.typical_us
    if added_us > 0:
        figures += f" {ms(added_us)} of it are the suppression's."
    standing = Standing.OPEN
    if rest is not None and felt is not None and case is not None:
        shorter_mm = abs(felt.per_10_ms_setting_mm) * (off.max_us - off.typical_us) / 10_000
        standing = points_here(rest.extension_mm - shorter_mm < case.end.short_mm)
        figures += f" At its latest that takes {shorter_mm:.1f} mm more off the wire."
    return Cause(
        standing,
        "The contactor hangs: worn, dirty, or with a diode across its coil that was not counted.",
        figures,
        "Film it in slow motion. Mains plug pulled: look at its contacts, and at what lies across its coil.",
        "Replace what is worn; state the suppression as it is; then fit the machine anew.",
    )


def voltage_high(evidence: Evidence) -> Cause | None:
    """A long arc burns faster."""
    case = evidence.case
    if case is None:
        return None
    return Cause(
        Standing.UNLIKELY if case.source.readings.load_v is not None else Standing.OPEN,
        "The voltage is higher than the figures have it: a longer arc melts more wire.",
        f"They are for {_volts(case)}.",
        "Have somebody read the volts at the terminals while you weld.",
        "State them as process.load_voltage, and see what `wirecue advise` says then.",
    )


def ball_from_burnback(evidence: Evidence) -> Cause:
    """A ball grows while the arc burns on a wire that stands still."""
    time, best = evidence.asked.burnback, evidence.asked.burnback.advised
    longer_us = 0 if best is None else time.set_us - best.setting_us
    figures = "" if best is None else f"{ms(time.set_us)} is set, {ms(best.setting_us)} would do."
    if evidence.rest is not None and evidence.case is not None:
        wire = as_typed(evidence.case.wire.diameter_mm, "mm")
        figures += f" A ball of {evidence.rest.ball_mm:.1f} mm is computed there, on wire of {wire}."
    remedy = "Turn burnback down a mark at a time while the wire stays free."
    if best is not None and longer_us > 0:
        remedy = time.turned_to(best.setting_us)
    return Cause(
        Standing.OPEN if best is None else points_here(longer_us >= 10_000),
        "Burnback is longer than it need be: the arc burns on at a wire that stands still, and its end melts to a "
        "ball.",
        figures,
        f"Measure the ball: up to {STARTS_WELL_DIAMETERS:g} wire diameters starts well, above {CLIP_DIAMETERS:g} it is "
        "clipped off.",
        remedy,
    )


def _clear_of_puddle_mm(evidence: Evidence) -> float | None:
    rest, case = evidence.rest, evidence.case
    if rest is None or case is None:
        return None
    return case.distance_mm - case.end.sticking_gap_mm - rest.to_ball_end_mm


STICKS = Symptom(
    "sticks",
    "The wire sticks: it freezes in the puddle",
    ("stuck to the work", "frozen", "welded in", "does not come free", "stubs at the end"),
    (burnback_short, coast_longer, contactor_early, gun_close, brake, voltage_low),
    "Power source off before you cut the wire free: while it sticks, gun and wire are one with the work.",
)
BURNS_INTO_TIP = Symptom(
    "tip",
    "The wire burns back into the contact tip",
    ("fused to the tip", "burnback into tip", "melts the tip", "welded to the tip", "too short after the weld"),
    (burnback_long, wire_slips, contactor_late, voltage_high),
    "Power source off and the contact tip cold before you touch it.",
)
BALL = Symptom(
    "ball",
    "The ball on the wire's end is too big",
    ("big blob at the end", "globule", "hard to start, must cut the wire", "knob of metal on the wire"),
    (ball_from_burnback, contactor_late, voltage_high),
)
