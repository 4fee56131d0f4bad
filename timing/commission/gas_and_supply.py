"""Gas, and the supply gone and come back: runs without an arc that have a stage of their own."""

from __future__ import annotations

from collections.abc import Iterator

from timing.commission.held_run import (
    BEGIN_US,
    EVERYTHING,
    HAND_PULL_US,
    RUN_HELD_US,
    WENT_WELL,
    DryPanel,
    run_step,
    tap,
)
from timing.commission.step import CommissionStage, CommissionStep, DryRun, Promise, ReadingAsked
from timing.formatting import ms
from timing.project import Project
from timing.sequence.core.script import Change
from timing.sequence.core.table import Output

FLOW_SHARE = 0.20
"""How far the gas flow may be off (practice: a flow tube reads to 10 %, and draughts and leaks take their share)."""
STOPWATCH_US, STOPWATCH_SHARE = 400_000, 0.05
"""How far a stopwatch in the hand is off, and how far a time on a dial may be (practice)."""


def gas_steps(project: Project) -> Iterator[CommissionStep]:
    """Yield the steps of the gas; none without a gas valve."""
    panel = DryPanel(project)
    if panel.gas:
        yield _tight()
        yield from _flow(panel)
        yield from _postflow(panel)


def supply_steps(project: Project) -> Iterator[CommissionStep]:
    """Yield what happens when the supply goes and comes back, at the machine's own switch."""
    panel = DryPanel(project)
    held = (Change(0, "trigger", 1), Change(5_000_000, "trigger", 0))
    yield run_step(
        panel,
        CommissionStage.SUPPLY,
        "supply.held",
        "Off and on with the trigger held",
        panel.setup(panel.weld),
        (
            "Hold the trigger until something runs; still holding, switch the machine off at its own switch, and on "
            "again. No plug is pulled.",
        ),
        "Everything goes off with the switch, and nothing comes on again while the trigger is held.",
        "An output follows the trigger before the add-on has seen it open: do not weld with this board.",
        DryRun(held, Promise(frozenset()), settled=False),
        needed=True,
    )
    let_go = (*held, Change(7_000_000, "trigger", 1), Change(7_000_000 + HAND_PULL_US, "trigger", 0))
    preflow_us = panel.longest_us("preflow")
    seen = frozenset({Output.GAS}) if preflow_us > HAND_PULL_US + panel.filter_us else EVERYTHING
    if not panel.four_step_alone and seen != EVERYTHING and panel.gas:
        yield run_step(
            panel,
            CommissionStage.SUPPLY,
            "supply.again",
            "Let go and pressed afresh",
            panel.setup(panel.weld, dials_us={"preflow": preflow_us}),
            (f"Now let go, wait a second, and pull for a moment, shorter than {ms(preflow_us)}.",),
            "The gas comes on with the fresh pull, and goes off with it.",
            "Wait for the lamp to light steadily: hold-off lasts half a second from when all is open.",
            DryRun(let_go, Promise(seen), settled=False),
        )


def _tight() -> CommissionStep:
    return CommissionStep(
        "gas.tight",
        CommissionStage.GAS,
        "No leak",
        (
            "Open the cylinder slowly, from the side. Nothing held: look at the flow meter, listen, and brush the "
            "joints with soapy water.",
        ),
        "The flow meter shows nothing, nothing hisses, no bubbles grow.",
        "A flow with the valve shut: the valve leaks or is held open. Bubbles: tighten that joint, cylinder shut.",
    )


def _flow(panel: DryPanel) -> Iterator[CommissionStep]:
    design = panel.project.design
    flow_l_min = design.process.gas_flow_l_min
    if flow_l_min is None:
        return
    asked = ReadingAsked(
        "flow",
        "L/min",
        "L/min",
        flow_l_min * (1 - FLOW_SHARE),
        flow_l_min * (1 + FLOW_SHARE),
        "Too little gets there: a leak, a kinked gun cable, spatter in the nozzle, or a regulator set too low.",
        "More than the design counts with: set the regulator, or state process.gas_flow and compute the times again.",
    )
    if design.buttons.purge:
        held_us = min(RUN_HELD_US, design.limits.purge_us // 2)
        yield run_step(
            panel,
            CommissionStage.GAS,
            "gas.flow",
            "Flow at the nozzle",
            panel.setup(panel.weld),
            ("Flow meter on the nozzle. Hold the purge button, never the trigger, and read.",),
            f"Gas alone, about {flow_l_min:g} L/min.",
            f"{asked.below} {asked.above}",
            DryRun(tap(BEGIN_US, "purge", held_us), Promise(frozenset({Output.GAS}))),
            ask=asked,
        )
        return
    run = panel.held_run()
    if run is not None:
        yield run_step(
            panel,
            CommissionStage.GAS,
            "gas.flow",
            "Flow at the regulator",
            run.setup,
            (f"Nothing at the nozzle: it is live while the trigger is held. {run.do} A helper reads the flow meter at "
             "the gas regulator.",),
            f"About {flow_l_min:g} L/min while the gas flows.",
            f"{asked.below} {asked.above}",
            DryRun(run.changes, Promise(EVERYTHING, (run.wire_us,), fault=run.fault)),
            ask=asked,
        )  # fmt: skip


def _postflow(panel: DryPanel) -> Iterator[CommissionStep]:
    postflow_us, run = panel.time_us("postflow"), panel.held_run()
    if run is None or not postflow_us:
        return
    expect = f"The gas goes on for {ms(postflow_us)} after {run.postflow_from}, then closes."
    valve = panel.project.design.feeder.gas_valve
    lag_us = 0 if valve is None else valve.off_delay.max_us
    off_us = round(STOPWATCH_US + STOPWATCH_SHARE * postflow_us)
    timed = postflow_us >= 1_000_000
    asked = ReadingAsked(
        "time",
        "us",
        "s",
        max(0, postflow_us - off_us),
        postflow_us + off_us + lag_us,
        "Shorter than the dial says: is it at its mark, and the plate that of this design?",
        "Longer than the dial says: is it at its mark? Or the valve hangs.",
    )
    yield run_step(
        panel,
        CommissionStage.GAS,
        "gas.postflow",
        "Postflow",
        run.setup,
        (f"{run.do} {'Time with a stopwatch how long' if timed else 'Listen how long'} the gas goes on afterwards.",),
        expect,
        f"{asked.below} {asked.above}",
        DryRun(
            run.changes, Promise(EVERYTHING, (run.wire_us,), gas_later_us=run.paused_us + postflow_us, fault=run.fault)
        ),
        ask=asked if timed else WENT_WELL,
    )
