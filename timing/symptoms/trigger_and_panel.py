"""Causes of a machine that does not start, starts by itself, does not stop, or stops otherwise than set."""

from __future__ import annotations

from timing.design.suppression import off_delay_of
from timing.formatting import ms, percent_text
from timing.process.coast import LONG_COAST_S
from timing.symptoms.evidence import Evidence, points_here
from timing.symptoms.symptom import Cause, Standing, Symptom
from timing.symptoms.wire_end import coast_told, wire_slips

LONG_RELEASE_US = 100_000
"""A wire drive that lets go later than this is felt as running on (practice)."""
LATE_RELEASE_US = 60_000
"""A filter longer than this is felt by the hand at the trigger (practice)."""


def coasts_on(evidence: Evidence) -> Cause:
    """The motor runs out, as it does."""
    drive, process = evidence.project.design.feeder.wire_drive, evidence.project.design.process
    runs_mm = process.wire_feed_speed_mm_s * drive.likely_coast_us / 1e6
    return Cause(
        points_here(drive.likely_coast_us >= LONG_COAST_S * 1e6),
        "The motor coasts: it has no brake, or its brake does not bite.",
        f"{coast_told(drive)}: {runs_mm:.0f} mm of wire after the drive has let go.",
        "Pressure arm up, pull and let go: see how long the rolls turn.",
        "Within reason that is what burnback is for: fit it. Much more: mend the brake.",
    )


def lets_go_late(evidence: Evidence) -> Cause:
    """The motor's relay hangs on."""
    design = evidence.project.design
    off = off_delay_of(design, design.feeder.wire_drive)
    return Cause(
        points_here(off.max_us >= LONG_RELEASE_US),
        "The wire drive's relay lets go late, or its contact is welded.",
        f"Up to {ms(off.max_us)} after the command are counted, usually {ms(off.typical_us)}.",
        f"The contactor lets go {ms(evidence.asked.burnback.set_us)} later by command. Rolls that turn on after that "
        "are the relay.",
        "Replace the relay; see that its coil has the suppression that the file states.",
    )


def four_step(evidence: Evidence) -> Cause | None:
    """It is meant to go on."""
    mode = evidence.project.design.trigger.mode
    if mode == "two-step":
        return None
    switch = " The mode switch chooses it." if mode == "switch" else ""
    return Cause(
        Standing.LIKELY,
        "It is in four-step: the weld ends with the second pull, not with the release.",
        f"The file has trigger.mode = {mode}.{switch}",
        "Pull and let go once more.",
        "Set the mode switch to two-step." if mode == "switch" else "Weld so, or choose two-step in the file.",
    )


def spot_completes(evidence: Evidence) -> Cause | None:
    """A spot that is let finish."""
    spot = evidence.project.design.spot
    if spot is None or spot.on_release != "complete":
        return None
    return Cause(
        Standing.LIKELY,
        "A spot completes although the trigger was let go: the file says so.",
        f"The spot lasts {ms(spot.time.setting_us)}.",
        "Pull again: that ends it.",
        'With spot.on_release = "end" the release ends it; build and flash.',
    )


def trigger_leaks(evidence: Evidence) -> Cause:
    """The trigger's wires are never quite open."""
    sense = evidence.trigger
    low = sense.kept.off_a < sense.wanted.off_a
    stated = f" By the file {1000 * sense.leak_a:.1f} mA leak." if sense.leak_a else ""
    return Cause(
        Standing.LIKELY if low or sense.leak_a > sense.kept.off_a / 2 else Standing.OPEN,
        "The open trigger leaks: a damp gun cable, a sticking contact, a capacitor left across it.",
        f"The input reads open up to {1000 * sense.kept.off_a:.1f} mA and {sense.kept.off_v:.1f} V.{stated}",
        "Unplug the gun: where it stops, it is gun or cable. Both wires off, measure across them: 100 kohm or more.",
        "Dry or replace cable or trigger; take the capacitor out, or state it and fit the resistors that `wirecue "
        "parts` gives.",
    )


def trigger_weak(evidence: Evidence) -> Cause:
    """The press does not reach the board."""
    sense = evidence.trigger
    return Cause(
        points_here(sense.margin < 1.0 or sense.kept.on_v > sense.low_v),
        "The pull does not reach the board: trigger contact, gun cable, plug, optocoupler.",
        f"The input reads closed from {sense.kept.on_v:.1f} V on; at low line {sense.low_v:.1f} V are there. Through "
        f"the contact flow {1000 * sense.wetting_a:.0f} mA.",
        "Bridge the trigger's two wires at P1 for a moment: if that starts it, it is gun or cable.",
        "Clean the contact, mend the cable. `wirecue status --port` shows what the board sees.",
    )


def held_off(evidence: Evidence) -> Cause:
    """The board waits, and shows it."""
    design = evidence.project.design
    inputs = ["trigger"]
    inputs += ["purge button"] if design.buttons.purge else []
    inputs += ["inch button"] if design.buttons.inch else []
    return Cause(
        Standing.OPEN,
        "It is in hold-off: the supply is low, or something was found closed at switching on.",
        f"It waits until the {' and the '.join(inputs)} {'were' if len(inputs) > 1 else 'was'} seen open.",
        "The lamp blinks once a second, or a number. Let everything go, and wait a second.",
        "A lamp that then is steady: go on. A number: look it up below.",
    )


def interlock_open(evidence: Evidence) -> Cause | None:
    """The interlock says no."""
    if not evidence.project.design.interlock.fitted:
        return None
    return Cause(
        Standing.OPEN,
        "The interlock contact is open, or its wire is off.",
        "All is off while it is open.",
        "Close what it watches. Mains plugs pulled: measure the contact.",
        "Mend it. It must not be bridged.",
    )


def board_dead(evidence: Evidence) -> Cause:
    """Nothing feeds the board."""
    fuse_a = evidence.project.budget.fuse.rating_a
    return Cause(
        Standing.OPEN,
        "The board has no supply: fuse, feeder plug, regulator.",
        f"Its fuse is T {fuse_a:g} A.",
        "The lamp is dark. Mains plug pulled: measure the fuse. Then, powered, the reservoir.",
        "A fuse that blows again has a reason: see 'the fuse blows'.",
    )


def picked_up(evidence: Evidence) -> Cause:
    """Noise makes the input flicker."""
    filter_us = evidence.project.design.trigger.filter_us
    return Cause(
        Standing.OPEN,
        "Noise of the arc or of coils reaches the trigger's wires.",
        f"A press counts after {ms(filter_us)} closed.",
        "See whether it happens only while a coil lets go, or a neighbour welds.",
        "Suppress every coil, keep the gun's control wires away from the welding cable, lengthen trigger.filter.",
    )


def spot_wrong(evidence: Evidence) -> Cause | None:
    """The spot time does not suit the sheet."""
    time = evidence.asked.spot
    best = None if time is None else time.advised
    if time is None or best is None:
        return None
    return Cause(
        points_here(not best.low_us <= time.set_us <= best.high_us),
        "The spot time does not suit sheet and wire feed speed.",
        f"{ms(time.set_us)} is set; {ms(best.setting_us)} is where to start, {ms(best.low_us)} to "
        f"{ms(best.high_us)} serves.",
        "Cut a spot through on scrap: see penetration, not the cap.",
        time.turned_to(best.setting_us),
    )


def spot_scatters(evidence: Evidence) -> Cause | None:
    """Each start is another."""
    design = evidence.project.design
    advice = None if evidence.advice is None else evidence.advice.spot
    if design.spot is None or advice is None:
        return None
    sensor = design.arc_sensor is not None
    how = "counts from the arc, by its sensor" if sensor else "counts from the contactor: a slow start shortens it"
    return Cause(
        points_here(not sensor),
        "The arc starts sooner or later from spot to spot.",
        f"The time {how}. Timed, the metal scatters by {percent_text(advice.main.scatter.timer_percent / 100)}.",
        "Look at the wire's end before each spot: a ball or a cold end starts late.",
        "Cut the wire's end, clean the sheet." + ("" if sensor else " An arc sensor takes the start out of it."),
    )


def latched(evidence: Evidence) -> Cause | None:
    """A dial is taken at the start of its phase."""
    dialled = evidence.project.features.dialled
    if not dialled:
        return None
    return Cause(
        Standing.OPEN,
        "A dial is read when its phase begins; turned in the middle it counts from the next time on.",
        f"On dials are: {', '.join(name for name in evidence.project.features.times if name in dialled)}.",
        "Turn it, and weld again.",
        "Nothing to mend.",
    )


def switched_out(evidence: Evidence) -> Cause | None:
    """Its switch takes it out."""
    switched = evidence.project.features.switched
    if not switched:
        return None
    return Cause(
        Standing.OPEN,
        "Its switch takes the function out.",
        f"Switches are fitted for: {', '.join(name for name in evidence.project.features.times if name in switched)}.",
        "See how the switch stands.",
        "Switch it on.",
    )


def wrong_ends(evidence: Evidence) -> Cause | None:
    """The plate is not this dial's, or of another build."""
    dials = evidence.project.dials.values()
    if not dials:
        return None
    spans = ", ".join(f"{dial.name} {ms(dial.reach_us[0])} to {ms(dial.reach_us[1])}" for dial in dials)
    return Cause(
        Standing.OPEN,
        "The board carries another build than the plates, or two dials are swapped.",
        f"By this file: {spans}.",
        "`wirecue status --port` tells the design on the board and what each dial reads.",
        "Flash the build of the plates, or print the plates of the build.",
    )


def board_late(evidence: Evidence) -> Cause:
    """The filter is on the long side."""
    filter_us = evidence.project.design.trigger.filter_us
    return Cause(
        points_here(filter_us >= LATE_RELEASE_US),
        "The release counts only after the trigger's filter.",
        f"The filter puts {ms(filter_us)} on every end of a weld.",
        "It is the same every time.",
        "Shorten trigger.filter as far as `wirecue check` lets you.",
    )


WIRE_RUNS_ON = Symptom(
    "runs-on",
    "The wire runs on after the trigger is let go",
    ("does not stop", "keeps feeding", "wire keeps coming", "coasts", "will not end"),
    (four_step, spot_completes, coasts_on, lets_go_late, trigger_leaks, board_late),
    "Gun away from people and from the work: a wire that runs may be live.",
)
DOES_NOT_START = Symptom(
    "no-start",
    "Nothing happens at a pull of the trigger",
    ("dead", "does not start", "won't start", "wont start", "no reaction", "trigger does nothing", "lamp is dark"),
    (held_off, interlock_open, board_dead, trigger_weak),
)
STARTS_BY_ITSELF = Symptom(
    "self-start",
    "It starts by itself",
    ("starts on its own", "nobody pulled", "starts at random", "ghost"),
    (trigger_leaks, picked_up, four_step),
    "Power source off at once, and mains plugs pulled before you look: gun and wire are live when it starts.",
)
SPOTS_DIFFER = Symptom(
    "spots",
    "Spots differ, or are too small or too big",
    ("uneven spots", "spot too weak", "burns through", "blows a hole", "plug not filled"),
    (spot_wrong, spot_scatters, wire_slips),
)
DIAL_DOES_NOTHING = Symptom(
    "dial",
    "A dial or switch does nothing, or another thing than its plate says",
    ("knob has no effect", "time does not change", "wrong time", "plate does not match"),
    (latched, switched_out, wrong_ends),
)
