"""Cases of what goes wrong or is moved meanwhile: interlock, supply, arc sensor, dials, limits, power-up."""

from __future__ import annotations

from functools import partial

from bench.script_writer import HOLD_US, MARGIN_US, START_US, NamedWriter, NotOfferedError, ScriptWriter
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.table import Phase


def _stop(what: str, phase: Phase, script: ScriptWriter) -> None:
    """Open the interlock, or take the supply away, in the middle of a phase; then make it good again."""
    script.require(what if what == "interlock" else "supply_sense")
    after_us = script.target.rig.supply_filter_us if what == "supply" else 0
    four_step = script.way_to(phase)
    script.come_to(phase, four_step, after_us)
    script.set(what, 0)
    script.wait(after_us)
    script.break_arc()
    script.wait(2 * MARGIN_US)
    for contact in sorted({"trigger", "purge", "inch"} & script.closed):
        script.set(contact, 0)
    script.wait(2 * MARGIN_US)
    script.set(what, 1)
    script.wait(script.target.rig.settings.settle_us + script.target.rig.settings.open_us + 2 * MARGIN_US)
    script.whole_weld(four_step)


def _interlock_while_held(script: ScriptWriter) -> None:
    script.require("interlock")
    script.any_way()
    script.start_weld()
    script.wait(MARGIN_US)
    script.set("interlock", 0)
    script.break_arc()
    script.wait(2 * MARGIN_US)
    script.set("interlock", 1)
    script.wait(2 * (script.target.rig.settings.settle_us + script.target.rig.settings.open_us))
    script.release()


def _dial_broken(script: ScriptWriter) -> None:
    if not script.target.scales:
        raise NotOfferedError("dial")
    script.wait(START_US)
    script.set("dial_fault", 1)
    script.wait(HOLD_US)
    script.set("dial_fault", 0)


def _dial_broken_in_weld(script: ScriptWriter) -> None:
    if not script.target.scales:
        raise NotOfferedError("dial")
    four_step = script.any_way()
    script.start_weld(four_step)
    script.wait(MARGIN_US)
    script.set("dial_fault", 1)
    script.hold(4)
    script.end_weld(four_step)
    script.wait(script.times_us["burnback"] + script.times_us["postflow"] + 10 * MARGIN_US)
    script.set("dial_fault", 0)


def _press_with_a_broken_dial(script: ScriptWriter) -> None:
    """A press in postflow would weld at once; with a broken dial it does not."""
    if not script.target.scales:
        raise NotOfferedError("dial")
    if script.times_us["postflow"] < 6 * MARGIN_US + script.filter_us:
        raise NotOfferedError("postflow")
    four_step = script.any_way()
    script.start_weld(four_step)
    script.wait(4 * MARGIN_US)
    script.end_weld(four_step)
    script.wait(script.times_us["burnback"] + MARGIN_US)
    script.set("dial_fault", 1)
    script.wait(2 * MARGIN_US)
    script.press()
    script.wait(2 * MARGIN_US)
    script.release()
    script.wait(script.times_us["postflow"])
    script.set("dial_fault", 0)


def _dial_moved(name: str, script: ScriptWriter) -> None:
    """A dial moved in its own phase counts from the next time on."""
    scale = script.target.scales.get(name)
    if scale is None:
        raise NotOfferedError(name)
    four_step = script.any_way()
    script.need(name, 4 * MARGIN_US)
    script.whole_weld(four_step)
    script.wait(script.times_us["burnback"] if name == "postflow" else 0)
    script.wait(MARGIN_US)
    before_us = script.times_us[name]
    script.dial(name, scale.low_us)
    script.wait(before_us + script.times_us["postflow"] + 3 * MARGIN_US)
    script.whole_weld(four_step)


def _weld_limit(script: ScriptWriter) -> None:
    limit_us = script.weld_limit_us()
    try:
        script.choose()
    except NotOfferedError:
        script.choose(four_step=True)
    script.start_weld()
    script.wait(limit_us)
    script.break_arc()
    script.wait(script.times_us["burnback"] + script.times_us["postflow"] + HOLD_US)
    script.release()


def _arc_stays(phase: Phase, script: ScriptWriter) -> None:
    """Close the arc sensor in a phase with the contactor off, for longer than an arc can last; then open it."""
    script.require("arc")
    settings = script.target.rig.settings
    arc_us = (settings.arc_end_us or 0) + script.target.rig.filters_us["arc"][0]
    four_step = script.way_to(phase)
    script.come_to(phase, four_step, arc_us)
    script.set("arc", 1)
    script.wait(arc_us + MARGIN_US)
    for contact in sorted({"trigger", "purge", "inch"} & script.closed):
        script.set(contact, 0)
    script.wait(settings.settle_us + settings.open_us + HOLD_US)
    script.press()
    script.wait(MARGIN_US)
    script.release()
    script.wait(MARGIN_US)
    script.break_arc()
    script.wait(settings.settle_us + settings.open_us + 2 * MARGIN_US)
    script.whole_weld(four_step)


def _supply_between_at_power_up(script: ScriptWriter) -> None:
    """A supply that is not low, but not good either, keeps a board in hold-off that has just started."""
    script.require("supply_sense")
    four_step = script.any_way()
    settings = script.target.rig.settings
    script.wait(START_US)
    script.set("supply", SupplyLevel.BETWEEN)
    script.wait(MARGIN_US)
    script.set("reset", 1)
    script.wait(2 * (settings.settle_us + settings.open_us))
    script.press()
    script.wait(MARGIN_US)
    script.release()
    script.wait(MARGIN_US)
    script.set("supply", SupplyLevel.GOOD)
    script.wait(settings.settle_us + settings.open_us + 2 * MARGIN_US)
    script.whole_weld(four_step)


def _supply_between_in_weld(script: ScriptWriter) -> None:
    """A weld goes on with a supply that is not low, though no longer good."""
    script.require("supply_sense")
    four_step = script.any_way()
    script.start_weld(four_step)
    script.wait(MARGIN_US)
    script.set("supply", SupplyLevel.BETWEEN)
    script.hold(4)
    script.end_weld(four_step)


def _closed_at_power_up(script: ScriptWriter) -> None:
    four_step = script.any_way()
    rig = script.target.rig
    script.wait(START_US)
    script.set("trigger", 1)
    script.wait(MARGIN_US // 2 + script.filter_us)
    script.set("reset", 1)
    script.wait(2 * (rig.settings.settle_us + rig.settings.open_us))
    script.release()
    script.wait(rig.settings.open_us + 2 * MARGIN_US)
    script.whole_weld(four_step)


FAULT_CASES: tuple[NamedWriter, ...] = (
    *(
        (f"{what}-in-{phase.word}", f"{says} in {phase.word}", partial(_stop, what, phase))
        for what, says in (("interlock", "interlock opened"), ("supply", "supply low"))
        for phase in Phase
        if phase is not Phase.HOLD_OFF
    ),
    *(
        (
            f"arc-stays-in-{phase.word}",
            f"arc sensed with the contactor off, in {phase.word}",
            partial(_arc_stays, phase),
        )
        for phase in Phase
        if phase not in (Phase.HOLD_OFF, Phase.WELD, Phase.BURNBACK)
    ),
    ("supply-between-at-power-up", "supply between low and good when the board starts", _supply_between_at_power_up),
    ("supply-between-in-weld", "supply between low and good in a weld", _supply_between_in_weld),
    ("interlock-held", "interlock opened and closed while the trigger is held", _interlock_while_held),
    ("dial-broken", "dial wire broken at rest", _dial_broken),
    ("dial-broken-in-weld", "dial wire broken in a weld", _dial_broken_in_weld),
    ("dial-broken-in-postflow", "trigger pressed in postflow with a dial broken", _press_with_a_broken_dial),
    ("dial-moved-burnback", "burnback dial moved in burnback", partial(_dial_moved, "burnback")),
    ("dial-moved-postflow", "postflow dial moved in postflow", partial(_dial_moved, "postflow")),
    ("weld-limit", "weld held too long", _weld_limit),
    ("closed-at-power-up", "trigger closed when the board starts", _closed_at_power_up),
)
