"""Rules on the gas: whether it suits the wire, whether its flow shields, and whether it comes early and stays long."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, info, time_figure, warning
from timing.checks.process import likely_end_mm
from timing.checks.remedies import stand_at
from timing.design.process import Gas
from timing.design.units import as_typed, format_duration
from timing.formatting import ms
from timing.process.errors import ProcessError
from timing.process.gas import L_MIN_PER_FT3_H, LEAST_FLOW_L_MIN, MOST_FLOW_L_MIN, USUAL_FLOW_L_MIN, flow_works
from timing.process.gas_times import postflow_advice, preflow_advice
from timing.project import Project

_ACTIVE = tuple(group for group in get_args(Gas) if group[0] in "MC")
_INERT = ("I1", "I2", "I3")
_MUCH_CO2 = ("M21", "M26", "M27", "M31", "M33", "M34", "M35", "C1", "C2")
_WANDERS = "in inert gas alone the arc on {} wanders and the bead stands narrow with a poor edge"
# Common practice, no source. By wire: gas groups that do not go with it, why, and what does.
UNSUITED = {
    "aluminium": ((_ACTIVE, "oxygen and carbon dioxide burn aluminium: a black, porous bead", "I1 or I3"),),
    "stainless-steel": (
        (
            _MUCH_CO2,
            "the weld takes up carbon from so much carbon dioxide, and rusts",
            "M12 or M13, argon with a little carbon dioxide or oxygen",
        ),
        (
            _INERT,
            _WANDERS.format("stainless steel"),
            "M13 or M12, argon with a little oxygen or carbon dioxide",
        ),
    ),
    "mild-steel": ((_INERT, _WANDERS.format("steel"), "M20 or M21"),),
    "flux-cored": (
        (
            _INERT,
            "what the core holds to take up oxygen stays in the weld, which is made for a gas with carbon dioxide",
            "M21 or C1, as the wire's class says",
        ),
    ),
}


def gas_suits_wire(project: Project) -> Iterator[Finding]:
    """The gas must suit the wire."""
    process = project.design.process
    for groups, reason, better in UNSUITED.get(process.wire, ()):
        if process.gas in groups:
            yield warning(
                "gas-suits-wire", "process.gas", f"the gas for {process.wire} wire is {process.gas}", reason, better
            )
            return
    if process.wire_class is None:
        return
    # Few designs name a class, and every check waits for what this module imports.
    from timing.design.wire_classes import wire_class

    named = wire_class(process.wire_class)
    if named is not None and process.gas not in (named.gases or ("none",)):
        gas = process.gas_mixture or process.gas
        yield warning(
            "gas-suits-wire",
            "process.gas",
            f"{process.wire_class} is not classified with {'no gas' if process.gasless else gas}",
            f"what its class promises of strength and bead holds for the gas of its tests ({named.standard})",
            f"a gas of {', '.join(named.gases[:4])}{' or the like' if len(named.gases) > 4 else ''}, or another wire",
        )


def gas_flow_shields(project: Project) -> Iterator[Finding]:
    """The flow must be enough to keep the air off, and not so much that it swirls air in."""
    flow_l_min = project.design.process.gas_flow_l_min
    if flow_l_min is None or flow_works(flow_l_min):
        return
    little = flow_l_min < LEAST_FLOW_L_MIN
    reason = (
        "so thin a stream breaks up before it reaches the puddle, and air takes its place: porosity all along the weld"
        if little
        else "so fast a stream turns turbulent at the nozzle and draws air in: porosity, with more gas than ever"
    )
    usual = f"{LEAST_FLOW_L_MIN:g} L/min to {MOST_FLOW_L_MIN:g} L/min ({_ft3_h(LEAST_FLOW_L_MIN)} to "
    yield warning(
        "gas-flow-shields",
        "process.gas_flow",
        f"a gas flow of {as_typed(flow_l_min, 'L/min')} is {'less' if little else 'more'} than shields: usual are "
        f"{usual}{_ft3_h(MOST_FLOW_L_MIN)})",
        f"{reason} (common practice, no source). No preflow makes up for it",
        Remedy(
            f"a flow of {USUAL_FLOW_L_MIN:g} L/min ({_ft3_h(USUAL_FLOW_L_MIN)}) to begin with, measured at the nozzle",
            (DesignEdit("process.gas_flow", f"{USUAL_FLOW_L_MIN:g} L/min"),),
        ),
        figures=(
            Figure("gas flow", flow_l_min, "L/min"),
            Figure("least that shields", LEAST_FLOW_L_MIN, "L/min"),
            Figure("most that stays calm", MOST_FLOW_L_MIN, "L/min"),
        ),
    )


def _ft3_h(flow_l_min: float) -> str:
    return f"{flow_l_min / L_MIN_PER_FT3_H:.0f} ft3/h"


def gas_times_without_gas(project: Project) -> Iterator[Finding]:
    """Without gas, times for gas are time lost: the sequence waits for them, valve or no valve."""
    design = project.design
    if not design.process.gasless:
        return
    costs = {
        "preflow": "each weld starts that much after the trigger, with nothing flowing",
        "postflow": "inching waits until it is over, with nothing flowing",
    }
    for name, cost in costs.items():
        setting = design.setting(name)
        if setting is None or not setting.high_us:
            continue
        up_to = f", and its dial goes to {ms(setting.high_us)}" if setting.dial else ""
        yield warning(
            "gas-times-without-gas",
            f"times.{name}",
            f"{name} is {ms(setting.setting_us)}{up_to}; the wire runs without gas",
            cost,
            Remedy(f"no {name}", (DesignEdit(f"times.{name}", format_duration(0)),)),
            figures=(time_figure(name, setting.setting_us), time_figure(f"longest {name}", setting.high_us)),
        )


def preflow_clears_the_air(project: Project) -> Iterator[Finding]:
    """Gas must have pushed the air out of nozzle and gun before the arc can strike."""
    design = project.design
    flow_l_min = design.process.gas_flow_l_min
    if flow_l_min is None or not flow_works(flow_l_min):
        # Of a flow that cannot shield `gas-flow-shields` tells: no preflow is long enough for it.
        return
    setting_us, advice = design.times.preflow.setting_us, preflow_advice(design)
    if setting_us >= advice.time.setting_us:
        return
    likely_us = advice.after_standing.likely_s * 1e6
    changes = stand_at("times.preflow", design.times.preflow, advice.time.setting_us)
    set_at = time_figure("preflow", setting_us)
    if setting_us < advice.time.low_us:
        yield warning(
            "preflow-clears-the-air",
            "times.preflow",
            f"preflow is {ms(setting_us)}; valve and nozzle alone need {ms(advice.time.low_us)}",
            "the arc starts in air: porosity at the head of every weld",
            Remedy(f"a preflow of {ms(advice.time.setting_us)}, which clears the gun after a pause as well", changes),
            figures=(set_at, time_figure("needed by valve and nozzle", advice.time.low_us)),
        )
        return
    says = f"preflow is {ms(setting_us)}; after a pause the gun fills with air, which takes {ms(likely_us)} to clear"
    remedy = Remedy(f"a preflow of {ms(advice.time.setting_us)}", changes)
    figures = (set_at, time_figure("until a gun full of air is clear", likely_us))
    if design.buttons.purge:
        reason = "press purge after a pause, or do as said below"
        yield info("preflow-clears-the-air", "times.preflow", says, reason, remedy, figures=figures)
    else:
        yield warning(
            "preflow-clears-the-air",
            "times.preflow",
            says,
            "the first weld after a pause starts in air, and there is no purge button",
            remedy,
            "a purge button (buttons.purge = true)",
            figures=figures,
        )


def postflow_outlasts_the_crater(project: Project) -> Iterator[Finding]:
    """Gas must cover the crater until it is solid."""
    design = project.design
    if design.process.gasless:
        return
    setting_us = design.times.postflow.setting_us
    try:
        advice = postflow_advice(design, likely_end_mm(design))
    except ProcessError:
        return
    if setting_us < advice.time.low_us:
        yield warning(
            "postflow-outlasts-the-crater",
            "times.postflow",
            f"postflow is {ms(setting_us)}; the crater takes some {ms(advice.crater_s * 1e6)} to freeze",
            "a crater that freezes in air is porous and may crack",
            Remedy(
                f"a postflow of {ms(advice.time.setting_us)} (at the very least {ms(advice.time.low_us)})",
                stand_at("times.postflow", design.times.postflow, advice.time.setting_us),
            ),
            figures=(
                time_figure("postflow", setting_us),
                time_figure("until the crater is frozen", advice.crater_s * 1e6),
            ),
        )
