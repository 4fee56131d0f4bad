"""Advice on the two gas times: preflow from the path of the gas, postflow from crater and wire end."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from timing.design.design import Design
from timing.design.suppression import off_delay_of, on_delay_of
from timing.design.units import as_typed
from timing.formatting import in_ms, percent_text, tenths_s
from timing.process.case import burnback_case
from timing.process.cooling import (
    METALS,
    Solidification,
    heat_input_j_per_mm,
    seam_solidification,
    spot_solidification_s,
    wire_end_dull_s,
)
from timing.process.gas import AIR_LEFT, LEAST_FLOW_L_MIN, MOST_FLOW_L_MIN, GasPath, Purge, flow_works, gas_path, purge
from timing.process.ranging import TimeAdvice, as_allowed, round_us
from timing.process.spot import default_sheet_mm, spot_power_w, spot_sheet_mm

HEAT_SPREAD = 0.2
"""Half width of the range of the heat in a weld: voltage, current and speed as they are in a shop (practice)."""
LEAST_POSTFLOW_S = 0.5
"""Less postflow than this is not worth the valve's wear (practice)."""


@dataclass(frozen=True)
class PreflowAdvice:
    """Preflow, with what it was found from."""

    time: TimeAdvice
    path: GasPath
    """With a flow that shields, where the design's own cannot."""
    after_standing: Purge


@dataclass(frozen=True)
class PostflowAdvice:
    """Postflow, with what it was found from; all in seconds."""

    time: TimeAdvice
    crater: Solidification | None
    """None for spots, which are calculated as spots."""
    crater_s: float
    wire_end_s: float


def preflow_advice(design: Design) -> PreflowAdvice:
    """Return the advice on preflow. Raises ProcessError for gasless wire."""
    set_path = gas_path(design.process)
    # For a flow that cannot shield no preflow is of use: what is told holds once it can.
    works_l_min = min(max(set_path.flow_l_min, LEAST_FLOW_L_MIN), MOST_FLOW_L_MIN)
    path = set_path if flow_works(set_path.flow_l_min) else replace(set_path, flow_l_min=works_l_min)
    between, standing = purge(path, gun=False), purge(path)
    valve = design.feeder.gas_valve
    opens_s = 0.0 if valve is None else on_delay_of(valve).max_us / 1e6
    # Gas goes on flowing while contactor and wire drive pull in, before any arc: that much is given.
    given_s = min(on_delay_of(one).min_us for one in (design.feeder.contactor, design.feeder.wire_drive)) / 1e6
    setting_s = max(opens_s + standing.likely_s - given_s, 0.05)
    low_s = max(opens_s + between.likely_s - given_s, 0.0)
    high_s = opens_s + standing.mixed_s
    reasons = [
        f"Pushing the air out of {path.gun_l * 1000:.0f} cm3 of gun and {path.nozzle_l * 1000:.0f} cm3 of nozzle takes "
        f"{in_ms(standing.plug_s)} to {in_ms(standing.mixed_s)} at {as_typed(path.flow_l_min, 'L/min')}, likely "
        f"{in_ms(standing.likely_s)} until {percent_text(AIR_LEFT)} of air is left.",
        f"The valve opens within {in_ms(opens_s)} of the command, and that comes on top.",
        f"Between welds that follow each other the gun stays full and {in_ms(low_s)} is enough; after a long stand "
        "press purge, or allow the long end of the range.",
    ]
    if path is not set_path:
        reasons.insert(
            0,
            f"A flow of {as_typed(set_path.flow_l_min, 'L/min')} shields after no preflow: set the flow first, usually "
            f"{LEAST_FLOW_L_MIN:g} L/min to {MOST_FLOW_L_MIN:g} L/min. This is calculated for {works_l_min:g} L/min.",
        )
    if path.hose is None:
        reasons.append(
            "No surge is counted, since the design does not state the hose before the valve (gas_hose_length and "
            "gas_hose_pressure): stated, it shortens the purge."
        )
    elif path.surge_settles_s > 0:
        reasons.append(
            f"The hose lets {path.surge_l:.2f} L go at the start, up to {path.surge_peak:.1f} times the set flow, over "
            f"after {path.surge_settles_s:.1f} s: it helps the purge, but a hard surge stirs air in. A regulator with "
            "less pressure, a shorter hose or a restrictor at the feeder tames it."
        )
    time = TimeAdvice(
        name="preflow",
        setting_us=round_us(setting_s, 0.05, math.ceil),
        low_us=round_us(low_s, 0.01, math.ceil),
        high_us=round_us(high_s, 0.05, math.ceil),
        dial_from_us=0,
        dial_to_us=round_us(max(1.5 * high_s, 0.5), 0.5, math.ceil),
        reasons=tuple(reasons),
    )
    return PreflowAdvice(time, path, standing)


def postflow_advice(design: Design, extension_mm: float) -> PostflowAdvice:
    """Return the advice on postflow; `extension_mm` is what burnback leaves. Raises ProcessError."""
    process, case = design.process, burnback_case(design)
    metal = METALS[process.wire]
    point = case.operating_point()
    current, volts = float(point.current_a), float(point.voltage_v)
    crater = None
    if design.spot is not None:
        burning_s = design.spot.time.setting_us / 1e6
        plate_mm = spot_sheet_mm(design)
        crater_s = spot_solidification_s(spot_power_w(case), burning_s, 2 * plate_mm, metal)
        least_s, most_s = crater_s * (1 - HEAT_SPREAD), crater_s * (1 + HEAT_SPREAD)
        reason = (
            f"A spot of {burning_s:.1f} s through two sheets of {plate_mm:.1f} mm takes about "
            f"{tenths_s(crater_s)} to freeze, {tenths_s(least_s)} to {tenths_s(most_s)} as heat and sheet vary."
        )
    else:
        plate_mm = process.plate_thickness_mm or default_sheet_mm(case)
        travel_mm_s = process.likely_travel_mm_s
        heat = heat_input_j_per_mm(volts, current, travel_mm_s)
        crater = seam_solidification(heat, plate_mm, metal)
        crater_s = crater.likely_s
        least_s, most_s = (
            seam_solidification(heat * factor, plate_mm, metal).likely_s
            for factor in (1 - HEAT_SPREAD, 1 + HEAT_SPREAD)
        )
        reason = (
            f"The crater takes about {tenths_s(crater_s)} to freeze, {tenths_s(least_s)} to {tenths_s(most_s)} as "
            "the heat varies: "
            f"{volts:.0f} V and {current:.0f} A at {travel_mm_s:.0f} mm/s along {plate_mm:.1f} mm plate."
        )
    wire_end_s = wire_end_dull_s(case.wire.diameter_mm, extension_mm, metal)
    valve = design.feeder.gas_valve
    closes_s = 0.0 if valve is None else off_delay_of(design, valve).min_us / 1e6
    # Postflow counts from the command that ends burnback; the arc burns on until the contactor has let go.
    late_s = case.contactor_off.max_s
    low_s = max(least_s + late_s - closes_s, LEAST_POSTFLOW_S)
    setting_s = max(crater_s + late_s - closes_s, LEAST_POSTFLOW_S)
    high_s = max(wire_end_s, most_s) + late_s
    reasons = [
        reason,
        f"The wire's end is dull after about {wire_end_s:.1f} s; gas until then keeps it clean for the next start.",
        "Hold the gun still over the crater until the gas stops.",
    ]
    time = TimeAdvice(
        name="postflow",
        setting_us=round_us(setting_s, 0.1, math.ceil),
        low_us=round_us(low_s, 0.1, math.ceil),
        high_us=round_us(max(high_s, setting_s), 0.1, math.ceil),
        dial_from_us=round_us(LEAST_POSTFLOW_S / 2, 0.05),
        dial_to_us=round_us(max(2 * max(high_s, setting_s), 2.0), 0.5, math.ceil),
        reasons=tuple(reasons),
    )
    return PostflowAdvice(as_allowed(time), crater, crater_s, wire_end_s)
