"""First arc, test welds, and where the dials stand for work: on scrap, with everything as it will be used."""

from __future__ import annotations

from collections.abc import Iterator

from timing.commission.held_run import DryPanel
from timing.commission.setup import mark, reach_us, spot_gone_wrong
from timing.commission.step import (
    CommissionStage,
    CommissionStep,
    PanelSetup,
    ReadingAsked,
    WeldsAsked,
    YesNo,
)
from timing.design.front_panel import WeldMode, weld_modes
from timing.design.times import TIME_MEANINGS, TIME_TITLES
from timing.design.units import as_typed, speed_text
from timing.formatting import ms
from timing.process.advice import Advice
from timing.process.errors import ProcessError
from timing.process.ranging import TimeAdvice
from timing.project import Project
from timing.sequence.core.table import Fault

LONGEST_ARC_WAIT_US = 10_000_000
"""An arc-start limit that takes longer is not welded past (choice)."""


def first_arc(project: Project) -> Iterator[CommissionStep]:
    """Yield the first welds: does each way of welding do with an arc what it did without."""
    panel, design = DryPanel(project), project.design
    modes = weld_modes(design)
    gas = "Gas is heard before the arc. " if panel.gas and panel.time_us("preflow") else ""
    yield _arc(
        panel,
        "weld",
        "A first weld",
        panel.setup(panel.weld),
        (*_at_the_gun(project), f"{_weld_words(panel)} Hold still until everything has stopped."),
        f"{gas}The arc starts at once and burns evenly; it ends as the sequence says, and the wire end is free.",
        "No arc: work clamp, wire end, contactor. Pops and stubs: speed and voltage do not go together. A frozen or "
        "fused wire is what the test welds are for: go on.",
    )
    arc_start_us = design.limits.arc_start_us
    if arc_start_us is not None and panel.weld is WeldMode.CONTINUOUS and arc_start_us <= LONGEST_ARC_WAIT_US:
        yield _arc(
            panel,
            "sensor",
            "The arc sensor sees the arc",
            panel.setup(panel.weld),
            (f"Weld for longer than {ms(arc_start_us)}.",),
            f"The weld goes on past {ms(arc_start_us)}.",
            f"It ends there and the lamp blinks {int(Fault.ARC_START)}: the sensor does not see the arc. Measure its "
            "contact; a current sensor wants the welding cable through it, and enough current.",
        )
    if design.trigger.mode == "switch" and panel.weld is WeldMode.CONTINUOUS:
        yield _arc(
            panel,
            "four-step",
            "Four-step with an arc",
            panel.setup(panel.weld, four_step=True),
            ("Press and let go, weld for a few seconds, press again and let go.",),
            "The arc burns on with the trigger let go, and ends with the second press.",
            "Go back to the dry run of four-step.",
        )
    if WeldMode.SPOT in modes and panel.weld is not WeldMode.SPOT:
        spot_us = panel.time_us("spot")
        since = "counted from the arc" if panel.arc_sensor else "counted from the contactor"
        yield _arc(
            panel,
            "spot",
            "A spot",
            panel.setup(WeldMode.SPOT),
            ("Hold the trigger until the arc has ended by itself, then let go.",),
            f"The arc ends by itself after {ms(spot_us)}, {since}.",
            spot_gone_wrong(
                panel.project,
                "It goes on: the switch that chooses spot, or its wire. It never counts: the arc sensor does not see "
                "the arc.",
            ),
        )
    if WeldMode.STITCH in modes and panel.weld is not WeldMode.STITCH:
        spot_us, pause_us = panel.time_us("spot"), panel.time_us("pause")
        yield _arc(
            panel,
            "stitch",
            "Stitches",
            panel.setup(WeldMode.STITCH),
            ("Hold the trigger for three stitches, then let go.",),
            f"Arcs of {ms(spot_us)} with {ms(pause_us)} between, as long as the trigger is held.",
            "One only: the switch that chooses stitch, or its wire. A wire that freezes between two: more "
            "burnback first.",
        )


def _arc(
    panel: DryPanel, key: str, title: str, setup: PanelSetup, do: tuple[str, ...], expect: str, if_not: str
) -> CommissionStep:
    return CommissionStep(
        f"arc.{key}",
        CommissionStage.FIRST_ARC,
        title,
        do,
        expect,
        if_not,
        YesNo(),
        setup,
        rests_on=_process_basis(panel.project),
    )


def _process_basis(project: Project) -> str:
    """What a weld on scrap holds for: wire, gas, machine settings, and what the dials can do; not where they stand."""
    process, times = project.design.process, project.features.times
    reaches = {name: (one.low_us, one.high_us, one.off_switch) for name, one in times.items() if one.dial}
    return repr(
        (
            process.wire,
            process.wire_diameter_mm,
            process.gas,
            process.wire_feed_speed_mm_s,
            process.contact_tip_to_work_mm,
            process.open_circuit_voltage_v,
            sorted(mode.value for mode in weld_modes(project.design)),
            project.design.trigger.mode,
            None if project.design.arc_sensor is None else project.design.limits.arc_start_us,
            times["burnback"].setting_us if not times["burnback"].dial else None,
            reaches,
        )
    )


def _at_the_gun(project: Project) -> tuple[str, ...]:
    process = project.design.process
    open_v = process.open_circuit_voltage_v
    volts = "" if open_v is None else f", {as_typed(open_v, 'V')} open circuit"
    return (
        f"Scrap of the thickness you weld; wire feed speed {speed_text(process.wire_feed_speed_mm_s)}{volts}. Work "
        "clamp on, pressure arm down.",
        f"Rest the gun on a block, {as_typed(process.contact_tip_to_work_mm, 'mm')} from contact tip to work.",
    )


def _weld_words(panel: DryPanel) -> str:
    if panel.four_step_alone:
        return "Press and let go, weld for two or three seconds, press again and let go."
    if panel.weld is WeldMode.CONTINUOUS:
        return "Weld for two or three seconds, let go."
    if panel.weld is WeldMode.SPOT:
        return "Hold the trigger until the spot has ended by itself, then let go."
    return "Let go of the trigger during the first spot, so that no second one begins."


def test_weld_steps(project: Project) -> Iterator[CommissionStep]:
    """Yield the test welds for burnback, which `fit` reads."""
    panel = DryPanel(project)
    low_us, high_us = reach_us(project, "burnback")
    first_us = _first_settings_us(project, low_us, high_us)
    setting = (
        "Set the burnback dial to the mark that is asked for."
        if low_us < high_us
        else f"Burnback is fixed at {ms(low_us)}: every test weld is made with it. Another one is tried by changing "
        "times.burnback, building and flashing."
    )
    yield CommissionStep(
        "weld.burnback",
        CommissionStage.TEST_WELDS,
        "Test welds",
        (
            *_at_the_gun(project),
            setting,
            f"{_weld_words(panel)} Hold still until everything has stopped.",
            "Power source off. Measure the extension left with a steel rule to half a millimetre, contact tip to the "
            "far side of the ball on the wire's end, and say so: `9 mm, ball`, or `9 mm, ball 1.5 mm` with its size.",
            "Say what was left, or `frozen` (in the puddle), or `fused` (to the contact tip): these tell as much.",
        ),
        "Each weld leaves the wire free, or says in which way it did not; after a few, coast and drop-out are known.",
        "Welds that contradict each other: hold the gun the same, and read the rule again.",
        WeldsAsked(first_us, low_us, high_us),
        panel.setup(panel.weld, dials_us={"burnback": first_us[0]}),
        rests_on=_process_basis(project),
    )


def _first_settings_us(project: Project, low_us: int, high_us: int) -> tuple[int, ...]:
    """Settings for the first welds, all within the dial: the computed one, then to either side where it serves."""
    advised = _advised(project)
    if advised is None:
        wanted_us = (project.design.times.burnback.setting_us, low_us, high_us)
    else:
        wanted_us = (
            advised.setting_us,
            (advised.setting_us + advised.low_us) // 2,
            min(2 * advised.setting_us, advised.high_us),
        )
    return tuple(dict.fromkeys(min(max(one, low_us), high_us) for one in wanted_us))


def _advice(project: Project) -> Advice | None:
    """The project's advice; None where the process as described cannot burn, and a finding says why."""
    try:
        return project.advice
    except ProcessError:
        return None


def _advised(project: Project) -> TimeAdvice | None:
    advice = _advice(project)
    return None if advice is None else advice.burnback.time


def dial_marks(project: Project) -> Iterator[CommissionStep]:
    """Yield, dial by dial, where it stands for work."""
    advice = _advice(project)
    advised_us = {} if advice is None else {one.name: one.setting_us for one in advice.times}
    panel = DryPanel(project)
    for name, dial in project.dials.items():
        low_us, high_us = reach_us(project, name)
        again = "No such mark is on the plate: read it again."
        asked = ReadingAsked(f"{TIME_TITLES[name]} found good", "us", dial.plate_unit[1], low_us, high_us, again, again)
        start_us = panel.time_us(name)
        computed = f" Computed: {mark(dial, panel.time_us(name, advised_us[name]))}." if name in advised_us else ""
        weld = _mode_for(panel, name)
        yield CommissionStep(
            f"mark.{name}",
            CommissionStage.DIAL_MARKS,
            TIME_TITLES[name][0].upper() + TIME_TITLES[name][1:],
            (
                f"Begin with the dial at {mark(dial, start_us)}, and turn this one alone, weld after weld on scrap."
                f"{computed}",
                _PROOF[name],
            ),
            f"A mark from {asked.band} that serves ({TIME_MEANINGS[name]}).",
            "No mark serves: `wirecue advise` says which ends the dial needs.",
            asked,
            panel.setup(weld),
            rests_on=_process_basis(project),
        )


_PROOF = {
    "preflow": "Good: no pores at the start of the weld, after the gun has lain for some minutes.",
    "spot": "Good: three spots alike, fused through to the lower sheet (break one open), none burnt through.",
    "burnback": "Good: three welds in a row whose wire end is free, its ball not larger than twice the wire.",
    "postflow": "Good: the crater and the wire end stay bright; the gas goes on for a little longer than they glow.",
    "pause": "Good: each stitch overlaps the one before, which has lost its bright glow.",
}
"""By its time, what a dial is judged by (practice)."""


def _mode_for(panel: DryPanel, name: str) -> WeldMode:
    """The way to weld by which a dial is judged."""
    modes = weld_modes(panel.project.design)
    if name == "pause":
        return WeldMode.STITCH
    if name == "spot":
        return WeldMode.SPOT if WeldMode.SPOT in modes else WeldMode.STITCH
    return panel.weld
