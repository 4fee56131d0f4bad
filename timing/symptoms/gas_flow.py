"""Causes of pores, and of gas that comes at the wrong time or not at all."""

from __future__ import annotations

from timing.design.suppression import off_delay_of, on_delay_of
from timing.design.units import as_typed
from timing.formatting import in_ms, ms
from timing.process.gas import LEAST_FLOW_L_MIN, MOST_FLOW_L_MIN
from timing.symptoms.evidence import Evidence, points_here
from timing.symptoms.symptom import Cause, Standing, Symptom

SURGE_PEAK = 2.0
"""A start with more than this times the set flow stirs air in (practice)."""


def preflow_short(evidence: Evidence) -> Cause | None:
    """Wire and arc start before the gas is there."""
    time, best = evidence.asked.preflow, evidence.asked.preflow.advised
    if best is None:
        return None
    return Cause(
        points_here(time.set_us < best.setting_us),
        "Preflow is too short: the arc starts before the air is out of gun and nozzle.",
        f"{ms(time.set_us)} is set; after a stand {ms(best.setting_us)} is needed, between welds "
        f"{ms(best.low_us)}, {ms(best.high_us)} at the most.",
        "Weld twice at once after a stand: pores in the first bead alone are a gun full of air.",
        time.turned_to(max(best.setting_us, time.set_us)),
    )


def stood_long(evidence: Evidence) -> Cause | None:
    """The gun has filled with air over a break."""
    design, best = evidence.project.design, evidence.asked.preflow.advised
    if best is None:
        return None
    purge = "Press purge before the first weld." if design.buttons.purge else "Pull the trigger short once or twice."
    return Cause(
        Standing.OPEN,
        "The machine has stood, and air has crept back into gun and hose.",
        f"Filling them takes up to {ms(best.high_us)}.",
        "See whether only the first weld after a break has pores.",
        purge,
    )


def valve_slow(evidence: Evidence) -> Cause | None:
    """The valve opens late."""
    valve = evidence.project.design.feeder.gas_valve
    if valve is None:
        return None
    on = on_delay_of(valve)
    return Cause(
        points_here(on.max_us >= evidence.asked.preflow.set_us / 2),
        "The gas valve opens late or sticks.",
        f"{ms(on.max_us)} at the latest are counted.",
        "A finger before the nozzle, power source off, purge or a short pull: gas must come at once with the click.",
        "Clean or replace the valve; measure its coil's voltage while it is pulled in.",
    )


def flow_off(evidence: Evidence) -> Cause | None:
    """Too little gas, too much, or none."""
    flow_l_min = evidence.project.design.process.gas_flow_l_min
    if flow_l_min is None:
        return None
    low, high = LEAST_FLOW_L_MIN, MOST_FLOW_L_MIN
    return Cause(
        Standing.OPEN if low <= flow_l_min <= high else Standing.LIKELY,
        "Too little gas reaches the nozzle, or so much that it whirls.",
        f"{flow_l_min:g} L/min is stated; {low:g} L/min to {high:g} L/min is usual (common practice, no source).",
        "A flow meter on the nozzle, purge held: it must read what the regulator says. Less is a leak, a kink, or "
        "spatter in the nozzle.",
        "Set the flow at the nozzle, tighten the hose, clean the nozzle. Look at the cylinder's pressure.",
    )


def surge(evidence: Evidence) -> Cause | None:
    """The hose blows out at the start."""
    preflow = None if evidence.advice is None else evidence.advice.preflow
    if preflow is None:
        return None
    path = preflow.path
    figures = "The design does not state the hose: gas_hose_length and gas_hose_pressure tell how hard it blows."
    if path.hose is not None:
        figures = f"Up to {path.surge_peak:.1f} times the set flow, over after {path.surge_settles_s:.1f} s."
    return Cause(
        points_here(path.surge_peak > SURGE_PEAK),
        "The hose blows off at the start and stirs air in.",
        figures,
        "Hear it: a puff at every start.",
        "A regulator with less pressure, a shorter hose, or a restrictor at the feeder; and a longer preflow.",
    )


def draught_or_dirt(_evidence: Evidence) -> Cause:
    """What no timer helps against."""
    return Cause(
        Standing.OPEN,
        "Wind, rust, paint, oil, zinc or damp wire.",
        "",
        "Weld bright scrap behind a screen with the first meter of wire cut off.",
        "Screen the place, clean the joint, dry or replace the wire.",
    )


def postflow_short(evidence: Evidence) -> Cause | None:
    """The gas goes before the crater has frozen."""
    time, best = evidence.asked.postflow, evidence.asked.postflow.advised
    if best is None:
        return None
    return Cause(
        points_here(time.set_us < best.setting_us),
        "Postflow is too short: the crater is still liquid when the gas goes.",
        f"{ms(time.set_us)} is set; {ms(best.setting_us)} is where to start, {ms(best.low_us)} to "
        f"{ms(best.high_us)} serves.",
        "Hold still and listen: the crater should be dull before the gas stops.",
        time.turned_to(max(best.setting_us, time.set_us)),
    )


def gun_lifted(evidence: Evidence) -> Cause | None:
    """The gun leaves before its gas does."""
    postflow = None if evidence.advice is None else evidence.advice.postflow
    if postflow is None:
        return None
    return Cause(
        Standing.OPEN,
        "The gun is lifted before the gas has stopped.",
        f"The crater takes about {postflow.crater_s:.1f} s to freeze.",
        "Have somebody watch the gun at the end of a weld.",
        "Hold the gun over the crater until the gas stops.",
    )


def valve_closes(evidence: Evidence) -> Cause | None:
    """Gas goes on, or never stops."""
    design = evidence.project.design
    valve = design.feeder.gas_valve
    if valve is None:
        return None
    off, post = off_delay_of(design, valve), evidence.asked.postflow.set_us
    return Cause(
        Standing.OPEN,
        "Postflow runs, or the valve does not close.",
        f"Gas ends {ms(post + off.min_us)} to {ms(post + off.max_us)} after burnback, as the file has it.",
        "Count the seconds. Then switch the machine off: gas that still comes is a valve that leaks.",
        "Turn postflow down; a valve that leaks is cleaned or replaced.",
    )


def no_gas_command(evidence: Evidence) -> Cause | None:
    """The valve gets nothing."""
    if evidence.project.design.feeder.gas_valve is None:
        return None
    return Cause(
        Standing.OPEN,
        "The valve gets no voltage: fuse of its wire, plug, relay, or the hose is shut.",
        "",
        "Hear the valve click. No click: its voltage at P1 while the add-on says gas (meter, one hand). Click and no "
        "gas: cylinder, regulator, hose.",
        "Put right what is open; `wirecue bench` tries the add-on by itself.",
    )


def arc_unshielded(evidence: Evidence) -> Cause | None:
    """Self-shielded wire shields itself by arc length and extension."""
    case = evidence.case
    if case is None or not evidence.project.design.process.gasless:
        return None
    return Cause(
        Standing.OPEN,
        "Self-shielded wire: arc too long, extension too short, or damp wire.",
        f"The figures are for {as_typed(case.distance_mm, 'mm')} from contact tip to work and "
        f"{case.source.likely[0]:.1f} V at the terminals while welding.",
        "Measure the distance; read volts while welding; look for rust on the spool.",
        "Hold the distance, turn the voltage down a little, use dry wire. No gas time helps here.",
    )


def crater_left_hot(evidence: Evidence) -> Cause | None:
    """The arc stays on through a long burnback."""
    best = evidence.asked.burnback.advised
    if best is None:
        return None
    return Cause(
        points_here(evidence.asked.burnback.set_us > best.high_us),
        "A long burnback blows at the crater while no wire fills it.",
        f"Burnback is {in_ms(evidence.setting_s)}; up to {ms(best.high_us)} serves.",
        "Look for a hollow crater rather than pores.",
        "Turn burnback down; step back over the crater before you let go.",
    )


START_PORES = Symptom(
    "porous-start",
    "Pores at the start of the weld",
    ("porous start", "holes where the bead begins", "porosity at the start", "holes in the weld", "worm holes"),
    (preflow_short, stood_long, valve_slow, flow_off, surge, arc_unshielded, draught_or_dirt),
)
CRATER_PORES = Symptom(
    "porous-crater",
    "Pores in the crater, at the end",
    ("porous crater", "porosity at the end", "holes at the end", "holes in the weld", "crater pipe", "worm holes"),
    (postflow_short, gun_lifted, crater_left_hot, flow_off, arc_unshielded, draught_or_dirt),
)
GAS_RUNS_ON = Symptom(
    "gas-runs-on",
    "Gas goes on after the weld, or never stops",
    ("gas leaks", "valve stays open", "gas stays on", "hisses", "gas does not stop", "cylinder empties"),
    (valve_closes,),
    "Shielding gas suffocates in a closed room: air it first.",
)
NO_GAS = Symptom(
    "no-gas",
    "No gas comes",
    ("gas missing", "nothing from the nozzle", "black sooty weld"),
    (no_gas_command, flow_off, valve_slow),
)
