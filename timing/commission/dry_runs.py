"""Dry runs: what contactor, wire and gas do for every way of using what is fitted, without an arc.

Each run is a trigger script as well, with what the sequence makes of it, so that no sentence here says what the model
does not do.
"""

from __future__ import annotations

from collections.abc import Iterator

from timing.commission.held_run import (
    BEGIN_US,
    EVERYTHING,
    HAND_PULL_US,
    RUN_HELD_US,
    SHORTEST_HELD_US,
    DryPanel,
    HeldRun,
    run_step,
    tap,
)
from timing.commission.setup import spot_gone_wrong
from timing.commission.step import (
    CommissionStage,
    CommissionStep,
    DryRun,
    PanelSetup,
    Promise,
)
from timing.design.front_panel import WeldMode, weld_modes
from timing.formatting import ms
from timing.project import Project
from timing.sequence.core.script import Change
from timing.sequence.core.table import Fault, Output
from timing.sequence.faults import EXPLANATIONS

LONGEST_WAITED_US = 120_000_000
"""A weld limit that takes longer is not waited for with the trigger held (choice)."""
LONGEST_BUTTON_US = 30_000_000
"""A button's limit that takes longer is not waited for (choice)."""
HEARD_US = 60_000
"""Two clicks closer together than this are heard as one (practice)."""
G, W, K = Output.GAS, Output.WIRE, Output.CONTACTOR


def dry_steps(project: Project) -> Iterator[CommissionStep]:
    """Yield the dry runs of everything that is fitted."""
    panel = DryPanel(project)
    yield from _buttons(panel)
    yield from _tap(panel)
    yield from _run(panel)
    yield from _switched_off(panel)
    yield from _four_step(panel)
    yield from _spot(panel)
    yield from _stitch(panel)
    yield from _limits(panel)
    yield from _interlock(panel)


def _dry(
    panel: DryPanel,
    key: str,
    title: str,
    setup: PanelSetup,
    do: tuple[str, ...],
    expect: str,
    if_not: str,
    run: DryRun,
    *,
    needed: bool = False,
) -> CommissionStep:
    stage = CommissionStage.DRY_RUNS
    return run_step(panel, stage, f"dry.{key}", title, setup, do, expect, if_not, run, needed=needed)


def _buttons(panel: DryPanel) -> Iterator[CommissionStep]:
    buttons, limits = panel.project.design.buttons, panel.project.design.limits
    setup = panel.setup(panel.weld)
    ways = (
        ("purge", buttons.purge and panel.gas, G, "gas alone", limits.purge_us, Fault.PURGE_LIMIT),
        ("inch", buttons.inch, W, "wire alone", limits.inch_us, Fault.INCH_LIMIT),
    )
    for name, fitted, output, alone, limit_us, fault in ways:
        if not fitted:
            continue
        held_us = min(RUN_HELD_US, limit_us // 2)
        yield _dry(
            panel,
            name,
            f"The {name} button",
            setup,
            (f"Hold the {name} button for a moment, never the trigger; let go.",),
            f"{alone.capitalize()}, contactor still; it stops with the button.",
            _wrong_output(f"the {name} button"),
            DryRun(tap(BEGIN_US, name, held_us), Promise(frozenset({output}))),
        )
        if limit_us <= LONGEST_BUTTON_US:
            yield _dry(
                panel,
                f"{name}-limit",
                f"The {name} button held too long",
                setup,
                (f"Hold the {name} button until it stops by itself.",),
                f"{alone.capitalize()}, for {ms(limit_us)}; then it stops by itself, and the lamp blinks {int(fault)}.",
                "Let go. The limit of this button does not work: do not use it before it does.",
                DryRun(tap(BEGIN_US, name, limit_us + 2 * RUN_HELD_US), Promise(frozenset({output}), fault=fault)),
            )


def _wrong_output(what: str) -> str:
    return (
        f"Nothing at all: is the lamp steady, and is {what} wired to its pin? Something else: two outputs or "
        "two inputs are swapped; compare with the wiring drawing, machine off."
    )


def _tap(panel: DryPanel) -> Iterator[CommissionStep]:
    """A pull that is over within the preflow: of use only where a hand can make one."""
    preflow_us = panel.longest_us("preflow")
    if not panel.gas or panel.four_step_alone or preflow_us < SHORTEST_HELD_US:
        return
    yield _dry(
        panel,
        "tap",
        "A pull within the preflow",
        panel.setup(panel.weld, dials_us={"preflow": preflow_us}),
        (f"Pull the trigger and let go at once, within {ms(preflow_us)}.",),
        "Gas only; neither wire nor contactor.",
        "Wire or contactor move: is the preflow dial where it should be, and its switch on? Then look for swapped "
        "outputs.",
        DryRun(tap(BEGIN_US), Promise(frozenset({G}))),
    )


def _run(panel: DryPanel) -> Iterator[CommissionStep]:
    """The plainest run, looked at twice: how it starts and how it ends."""
    # Long enough to be seen and heard, where the dials go so far.
    run = panel.held_run(dials_us={"preflow": 1_000_000, "burnback": panel.longest_us("burnback")})
    if run is None:
        return
    preflow_us, burnback_us = run.start_us - BEGIN_US - panel.filter_us, panel.longest_us("burnback")
    gas = f"Gas first; {ms(preflow_us)} later " if panel.gas and preflow_us else ""
    together = "wire and contactor start together" + ("" if gas or not panel.gas else ", with the gas")
    first = f"{gas}{together}" if gas else together[0].upper() + together[1:]
    yield _dry(
        panel,
        "start",
        "How a weld starts",
        run.setup,
        (run.do,),
        f"{first}; the wire runs {run.lasts}.",
        _wrong_output("the trigger"),
        DryRun(run.changes, Promise(EVERYTHING, (run.wire_us,), preflow_us, fault=run.fault)),
        needed=True,
    )
    later = f"The contactor lets go {ms(burnback_us)} later than the wire stops."
    if burnback_us < HEARD_US:
        later = f"The contactor lets go as the wire stops, or {ms(burnback_us)} later, which is hardly told by ear."
    yield _dry(
        panel,
        "burnback",
        "How a weld ends",
        run.setup,
        (f"{run.do} Watch contactor and drive rolls as it ends.",),
        later,
        "The contactor lets go first, or never: swapped outputs, or an interlock of the feeder that ties the two. A "
        "wire that runs on: the motor coasts, or its relay sticks.",
        DryRun(run.changes, Promise(EVERYTHING, (run.wire_us,), contactor_later_us=burnback_us, fault=run.fault)),
        needed=True,
    )


_OFF_WORDS = {
    "preflow": "Wire and contactor start with the pull, without waiting for gas.",
    "burnback": "The contactor lets go as the wire stops. (With an arc the wire would freeze in the puddle.)",
    "postflow": "The gas closes as soon as {from_when}.",
}


def _switched_off(panel: DryPanel) -> Iterator[CommissionStep]:
    """Each switch that takes one of the three times of every weld out."""
    for name, words in _OFF_WORDS.items():
        fitted = panel.project.features.times[name].off_switch
        run = panel.held_run((name,)) if fitted and (panel.gas or name == "burnback") else None
        if run is None:
            continue
        promised = {
            "preflow": Promise(EVERYTHING, gas_first_us=0, fault=run.fault),
            "burnback": Promise(EVERYTHING, contactor_later_us=0, fault=run.fault),
            "postflow": Promise(EVERYTHING, gas_later_us=run.paused_us, fault=run.fault),
        }[name]
        yield _dry(
            panel,
            f"{name}-off",
            f"The {name} switch",
            run.setup,
            (run.do,),
            words.format(from_when=run.postflow_from),
            f"The {name} switch does not reach its pin, or works the wrong way round: measure it, machine off.",
            DryRun(run.changes, promised),
        )


def _four_step(panel: DryPanel) -> Iterator[CommissionStep]:
    """Four-step rests where every weld is a spot."""
    design = panel.project.design
    if design.trigger.mode == "two-step" or panel.weld is not WeldMode.CONTINUOUS:
        return
    held_us = RUN_HELD_US if panel.limit_us is None else min(RUN_HELD_US, panel.limit_us // 2)
    if held_us < SHORTEST_HELD_US:
        return
    setup = panel.setup(panel.weld, four_step=design.trigger.mode == "switch")
    start_us = BEGIN_US + panel.filter_us + panel.time_us("preflow")
    taps, wire_us = panel.pressed_again(start_us, held_us)
    yield _dry(
        panel,
        "four-step",
        "Four-step",
        setup,
        (f"Press the trigger and let go; about {held_us / 1e6:.2g} s later press it again and let go.",),
        "It starts with the first press, goes on with the trigger let go, and ends with the second press.",
        "It ends when let go: the trigger switch does not reach its pin, or works the wrong way round.",
        DryRun(taps, Promise(EVERYTHING, (wire_us,))),
    )


def _spot(panel: DryPanel) -> Iterator[CommissionStep]:
    """A spot counts from the contactor where no arc sensor is fitted; with one it is seen with the first arc."""
    if panel.arc_sensor or WeldMode.SPOT not in weld_modes(panel.project.design) or panel.weld is WeldMode.SPOT:
        return
    spot_us = panel.time_us("spot")
    if panel.limit_us is not None and spot_us >= panel.limit_us:
        return
    start_us = BEGIN_US + panel.filter_us + panel.time_us("preflow")
    let_go_us = start_us + spot_us + panel.time_us("burnback") + HAND_PULL_US
    yield _dry(
        panel,
        "spot",
        "Spot",
        panel.setup(WeldMode.SPOT),
        ("Hold the trigger until the wire has stopped by itself, then let go.",),
        f"The wire runs for {ms(spot_us)} and stops by itself, the trigger still held.",
        spot_gone_wrong(
            panel.project,
            "It runs on: the switch that chooses spot does not reach its pin, or works the wrong way round.",
        ),
        DryRun((Change(BEGIN_US, "trigger", 1), Change(let_go_us, "trigger", 0)), Promise(EVERYTHING, (spot_us,))),
    )


def _stitch(panel: DryPanel) -> Iterator[CommissionStep]:
    if panel.arc_sensor or WeldMode.STITCH not in weld_modes(panel.project.design):
        return
    # Two spots and a half of the pause between must fit into the weld limit, which counts through them.
    spot_us, burnback_us = panel.time_us("spot"), panel.time_us("burnback")
    pause_us = panel.time_us("pause", max(panel.time_us("pause"), SHORTEST_HELD_US))
    second_us = BEGIN_US + panel.filter_us + panel.time_us("preflow") + spot_us + burnback_us + pause_us
    let_go_us = second_us + spot_us + burnback_us + pause_us // 2
    if pause_us < SHORTEST_HELD_US or (panel.limit_us is not None and let_go_us >= panel.limit_us):
        return
    yield _dry(
        panel,
        "stitch",
        "Stitch",
        panel.setup(WeldMode.STITCH, dials_us={"pause": pause_us}),
        ("Hold the trigger until the wire has run and stopped twice; let go before it starts again.",),
        f"The wire runs for {ms(spot_us)}, rests for {ms(burnback_us + pause_us)}, runs again for {ms(spot_us)}; after "
        "that nothing comes again, since the trigger was let go.",
        "It runs once only: the switch that chooses stitch does not reach its pin. It goes on with the trigger let go: "
        "look for a stuck trigger.",
        DryRun(
            (Change(BEGIN_US, "trigger", 1), Change(let_go_us, "trigger", 0)), Promise(EVERYTHING, (spot_us, spot_us))
        ),
    )


def _limits(panel: DryPanel) -> Iterator[CommissionStep]:
    """What ends a weld that nobody ends. Without an arc a sensor's arc-start limit comes first."""
    limit_us, fault = panel.limit_us, panel.limit_fault
    if limit_us is None or (limit_us > LONGEST_WAITED_US and not panel.four_step_alone):
        return
    if not panel.arc_sensor and panel.weld is not WeldMode.CONTINUOUS:
        return
    begun_us = BEGIN_US + panel.filter_us + panel.time_us("preflow")
    held_us = begun_us + limit_us + RUN_HELD_US
    changes = tap(BEGIN_US) if panel.four_step_alone else tap(BEGIN_US, for_us=held_us)
    do = "Press the trigger, let go, and wait." if panel.four_step_alone else "Hold the trigger until the wire stops."
    why = ", since no arc is seen" if fault is Fault.ARC_START else ""
    yield _dry(
        panel,
        fault.name.lower().replace("_", "-"),
        f"The {fault.word}{'' if 'limit' in fault.word else ' limit'}",
        panel.setup(panel.weld),
        (do,),
        f"The wire stops by itself after {ms(limit_us)}{why}; the lamp blinks {int(fault)}, and nothing starts before "
        "the trigger was let go.",
        f"Let go. {EXPLANATIONS[fault].remedy}"
        if fault is not Fault.ARC_START
        else "It runs on: the arc sensor's contact is closed without an arc. Measure it, machine off.",
        DryRun(changes, Promise(EVERYTHING, (limit_us,), fault=fault)),
    )


def _interlock(panel: DryPanel) -> Iterator[CommissionStep]:
    if not panel.project.design.interlock.fitted:
        return
    opened = (Change(0, "interlock", 0), *tap(2 * BEGIN_US, for_us=RUN_HELD_US))
    yield _dry(
        panel,
        "interlock",
        "The interlock contact open",
        panel.setup(panel.weld),
        ("Open the interlock contact at its own device. Then pull the trigger for a moment.",),
        f"Nothing comes on; the lamp blinks {int(Fault.INTERLOCK)}.",
        "Something runs: the contact is not the one that is wired, or is bridged. Do not go on before it works.",
        DryRun(opened, Promise(frozenset(), fault=Fault.INTERLOCK)),
        needed=True,
    )
    run = panel.held_run()
    if run is None or run.wire_us < SHORTEST_HELD_US:
        return
    yield _dry(
        panel,
        "interlock-run",
        "The interlock contact opened in a run",
        run.setup,
        (
            "Start a run as before. While the wire runs, a helper opens the interlock contact at its own device, clear "
            "of gun and wire, and closes it again. Let go of the trigger, and wait a second.",
        ),
        f"Everything is off at once, burnback included; nothing starts again by itself. The lamp blinks "
        f"{int(Fault.INTERLOCK)}.",
        "Something runs on: switch off at the machine, and look at the contact and its wires.",
        _opened(run),
        needed=True,
    )


def _opened(run: HeldRun) -> DryRun:
    at_us = run.start_us + run.wire_us // 2
    kept = tuple(change for change in run.changes if change.at_us < at_us)
    open_for = (Change(at_us, "interlock", 0), Change(at_us + RUN_HELD_US, "interlock", 1))
    let_go = Change(at_us + RUN_HELD_US + HAND_PULL_US, "trigger", 0)
    promise = Promise(EVERYTHING, (run.wire_us // 2,), contactor_later_us=0, gas_later_us=0, fault=Fault.INTERLOCK)
    return DryRun((*kept, *open_for, let_go), promise)
