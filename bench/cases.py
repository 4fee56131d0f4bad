"""The test cases of a design, made from what it has."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from bench.forcing import rig_as_forced
from bench.script_writer import HOLD_US, MARGIN_US, START_US, NotOfferedError, Play
from timing.protocol.target import Target
from timing.sequence.core.engine import run_script
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.script import Script, Switch
from timing.sequence.core.table import Phase

LONGEST_CASE_US = 30_000_000
"""Longer cases, such as a weld limit of minutes, are left out unless asked for."""
SHORTEST_TAP_US = 1_000
"""A shorter filter has no room for a tap that a computer could send."""


@dataclass(frozen=True)
class Case:
    """One named test."""

    name: str
    title: str
    script: Script
    lasts_us: int
    """How long it takes on the board's clock, by the model."""


Writer = Callable[[Play], None]


def cases_of(target: Target, longest_us: int = LONGEST_CASE_US) -> list[Case]:
    """Return the cases that the design has, none longer than `longest_us`, in a fixed order."""
    return [case for case in _all_cases(target) if case.lasts_us <= longest_us]


def left_out(target: Target, longest_us: int = LONGEST_CASE_US) -> list[Case]:
    """Return the cases that `cases_of` leaves out for their length."""
    return [case for case in _all_cases(target) if case.lasts_us > longest_us]


def _all_cases(target: Target) -> list[Case]:
    rig, cases = rig_as_forced(target), []
    for name, title, write in (*_CASES, *_dial_cases(target), *_switch_cases(target)):
        play = Play(target)
        try:
            write(play)
        except NotOfferedError:
            continue
        script = play.script()
        cases.append(Case(name, title, script, run_script(rig, script).end_us))
    return cases


def _weld(p: Play) -> None:
    p.choose()
    p.whole_weld()


def _two_welds(p: Play) -> None:
    p.two_step()
    p.whole_weld()
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + MARGIN_US)
    p.whole_weld()


def _tap(p: Play) -> None:
    if p.filter_us < 3 * SHORTEST_TAP_US:
        raise NotOfferedError("filter")
    p.wait(START_US)
    p.set("trigger", 1)
    p.wait(p.filter_us // 3)
    p.set("trigger", 0)


def _gap(p: Play) -> None:
    if p.filter_us < 3 * SHORTEST_TAP_US:
        raise NotOfferedError("filter")
    p.choose()
    p.start_weld()
    p.wait(HOLD_US // 2)
    p.set("trigger", 0)
    p.wait(p.filter_us // 3)
    p.set("trigger", 1)
    p.wait(HOLD_US // 2)
    p.end_weld()


def _release_in_preflow(p: Play) -> None:
    p.two_step()
    preflow_us = p.need("preflow", p.filter_us + 2 * MARGIN_US)
    p.press()
    p.wait((preflow_us - p.filter_us) // 2)
    p.release()


def _press_in_burnback(p: Play) -> None:
    p.choose()
    burnback_us = p.need("burnback", p.filter_us + 2 * MARGIN_US)
    p.start_weld()
    p.wait(HOLD_US)
    p.release()
    again_us = p.at_us + burnback_us
    p.wait(MARGIN_US)
    p.press()
    p.at_us = again_us + HOLD_US
    p.end_weld()


def _taken_back_in_burnback(p: Play) -> None:
    p.choose()
    p.need("burnback", 2 * p.filter_us + 3 * MARGIN_US)
    p.whole_weld()
    p.wait(MARGIN_US)
    p.press()
    p.wait(MARGIN_US)
    p.release()


def _press_in_postflow(p: Play) -> None:
    four_step = p.any_way()
    p.need("postflow", p.filter_us + 2 * MARGIN_US)
    p.whole_weld(four_step)
    p.wait(p.times_us["burnback"] + MARGIN_US)
    p.press()
    p.strike()
    p.wait(HOLD_US)
    p.release()
    p.break_arc()
    if four_step:
        p.wait(MARGIN_US)
        p.end_weld(four_step)


def _four_step(p: Play) -> None:
    p.choose(four_step=True)
    p.whole_weld(four_step=True)


def _four_step_held(p: Play) -> None:
    p.choose(four_step=True)
    p.start_weld()
    p.wait(HOLD_US)
    p.release()
    p.wait(HOLD_US)
    p.press()
    p.break_arc()
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + MARGIN_US)
    p.release()


def _four_step_stop_in_preflow(p: Play) -> None:
    p.choose(four_step=True)
    p.need("preflow", 2 * p.filter_us + 3 * MARGIN_US)
    p.pull()
    p.wait(MARGIN_US)
    p.pull()


def _four_step_again_in_burnback(p: Play) -> None:
    p.choose(four_step=True)
    p.need("burnback", 2 * p.filter_us + 4 * MARGIN_US)
    p.start_weld(four_step=True)
    p.wait(HOLD_US)
    p.press()
    ends_us = p.at_us + p.times_us["burnback"]
    p.wait(MARGIN_US)
    p.release()
    p.wait(MARGIN_US)
    p.press()
    p.at_us = ends_us + HOLD_US
    p.release()
    p.wait(HOLD_US)
    p.end_weld(four_step=True)


def _mode_moved_in_weld(p: Play) -> None:
    p.require("four_step")
    p.choose(four_step=True)
    p.start_weld(four_step=True)
    p.wait(MARGIN_US)
    p.set("four_step", 0)
    p.wait(HOLD_US)
    p.end_weld(four_step=True)


def _spot(p: Play) -> None:
    p.choose(spot=True)
    p.start_weld()
    p.spot_over()
    p.wait(p.times_us["postflow"] + 2 * MARGIN_US)
    p.release()


def _spot_stopped(p: Play) -> None:
    """Let go, and press again before the spot has completed: that ends it and starts nothing, however long held."""
    if not p.target.rig.settings.completes:
        raise NotOfferedError("spots that complete")
    p.spot_alone()
    p.need("spot", 3 * p.filter_us + 3 * MARGIN_US)
    p.start_weld()
    p.wait(MARGIN_US)
    p.release()
    p.wait(MARGIN_US)
    p.press()
    p.break_arc()
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + p.times_us.get("pause", 0) + 2 * MARGIN_US)
    p.release()


def _spot_released(p: Play) -> None:
    p.spot_alone()
    p.need("spot", 2 * p.filter_us + 2 * MARGIN_US)
    p.whole_weld()


def _release_before_arc(p: Play) -> None:
    p.require("arc")
    p.two_step()
    p.press()
    p.wait(p.times_us["preflow"] + MARGIN_US)
    p.release()


def _arc_start_limit(p: Play) -> None:
    p.require("arc")
    p.two_step()
    p.press()
    p.wait(p.times_us["preflow"] + (p.target.rig.settings.arc_limit_us or 0))
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + 2 * MARGIN_US)
    p.release()
    p.wait(2 * MARGIN_US)
    p.whole_weld()


def _stitch(p: Play) -> None:
    _start_stitch(p)
    for _ in range(2):
        p.spot_over()
        p.next_stitch()
    p.wait(p.times_us["spot"] // 2)
    p.end_weld()


def _stitch_released_in_pause(p: Play) -> None:
    _start_stitch(p)
    pause_us = p.need("pause", p.filter_us + 2 * MARGIN_US)
    p.spot_over()
    p.next_stitch()
    p.spot_over()
    p.wait((pause_us - p.filter_us) // 2)
    p.release()


def _start_stitch(p: Play) -> None:
    p.choose(spot=True, stitch=True)
    p.start_weld()


def _button(button: str, p: Play) -> None:
    p.require(button)
    p.wait(START_US)
    p.set(button, 1)
    p.wait(HOLD_US)
    p.set(button, 0)


def _button_limit(button: str, limit: str, p: Play) -> None:
    p.require(button)
    p.wait(START_US)
    p.set(button, 1)
    p.wait(getattr(p.target.rig.settings, limit) + HOLD_US)
    p.set(button, 0)


def _press_in_button(button: str, p: Play) -> None:
    p.require(button)
    four_step = p.any_way()
    p.wait(START_US)
    p.set(button, 1)
    p.wait(HOLD_US)
    p.whole_weld(four_step)
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + 3 * MARGIN_US)
    p.set(button, 0)


def _both_buttons(p: Play) -> None:
    p.require("purge", "inch")
    p.wait(START_US)
    p.set("purge", 1)
    p.set("inch", 1)
    p.wait(HOLD_US)
    p.set("purge", 0)
    p.wait(HOLD_US)
    p.set("inch", 0)


def _stop(what: str, phase: Phase, p: Play) -> None:
    """Open the interlock, or take the supply away, in the middle of a phase; then make it good again."""
    p.require(what if what == "interlock" else "supply_sense")
    after_us = p.target.rig.supply_filter_us if what == "supply" else 0
    four_step = _way_to(p, phase)
    _come_to(p, phase, four_step, after_us)
    p.set(what, 0)
    p.wait(after_us)
    p.break_arc()
    p.wait(2 * MARGIN_US)
    for contact in sorted({"trigger", "purge", "inch"} & p.closed):
        p.set(contact, 0)
    p.wait(2 * MARGIN_US)
    p.set(what, 1)
    p.wait(p.target.rig.settings.settle_us + p.target.rig.settings.open_us + 2 * MARGIN_US)
    p.whole_weld(four_step)


def _way_to(p: Play, phase: Phase) -> bool:
    """Choose a way of working that gets to a phase; tell whether it is four-step."""
    if phase is Phase.PAUSE:
        p.choose(spot=True, stitch=True)
    elif phase is Phase.AWAIT_RELEASE:
        return _way_to_await_release(p)
    else:
        return p.any_way()
    return False


def _way_to_await_release(p: Play) -> bool:
    try:
        p.choose(spot=True)
    except NotOfferedError:
        return p.any_way()
    return False


def _hold_to_await_release(p: Play, four_step: bool) -> None:
    """Hold the trigger until postflow is over: after a spot, a press that ends, or the weld limit."""
    p.start_weld(four_step)
    if p.spot:
        p.wait(p.times_us["spot"])
    elif four_step:
        p.wait(MARGIN_US)
        p.press()
    else:
        p.wait(_weld_limit_us(p))
    p.break_arc()
    p.wait(p.times_us["burnback"] + p.times_us["postflow"])


def _weld_limit_us(p: Play) -> int:
    limit_us = p.target.rig.settings.weld_limit_us
    if limit_us is None:
        raise NotOfferedError("limit")
    return limit_us


def _come_to(p: Play, phase: Phase, four_step: bool, stay_us: int) -> None:
    """Come to the middle of a phase that lasts at least `stay_us` more. Raises NotOfferedError."""
    if phase in (Phase.PURGE, Phase.INCH):
        p.require(phase.word)
        p.set_after_start(phase.word)
        p.wait(p.target.rig.filters_us[phase.word][0])
    elif phase is Phase.PREFLOW:
        p.need("preflow", stay_us + 2 * MARGIN_US)
        p.press()
    elif phase in (Phase.WELD, Phase.PAUSE):
        if phase is Phase.PAUSE:
            p.need("pause", stay_us + 2 * MARGIN_US)
        p.start_weld(four_step)
    elif phase is Phase.AWAIT_RELEASE:
        _hold_to_await_release(p, four_step)
    elif phase in (Phase.BURNBACK, Phase.POSTFLOW):
        p.need(phase.word, p.filter_us + stay_us + 3 * MARGIN_US)
        p.start_weld(four_step)
        p.wait(MARGIN_US)
        p.press() if four_step else p.release()
        if phase is Phase.POSTFLOW:
            p.break_arc()
            p.wait(p.times_us["burnback"])
    else:
        p.wait(START_US)
    if phase is Phase.PAUSE:
        p.spot_over()
    p.wait(MARGIN_US)


def _interlock_while_held(p: Play) -> None:
    p.require("interlock")
    p.any_way()
    p.start_weld()
    p.wait(MARGIN_US)
    p.set("interlock", 0)
    p.break_arc()
    p.wait(2 * MARGIN_US)
    p.set("interlock", 1)
    p.wait(2 * (p.target.rig.settings.settle_us + p.target.rig.settings.open_us))
    p.release()


def _dial_broken(p: Play) -> None:
    if not p.target.scales:
        raise NotOfferedError("dial")
    p.wait(START_US)
    p.set("dial_fault", 1)
    p.wait(HOLD_US)
    p.set("dial_fault", 0)


def _dial_broken_in_weld(p: Play) -> None:
    if not p.target.scales:
        raise NotOfferedError("dial")
    four_step = p.any_way()
    p.start_weld(four_step)
    p.wait(MARGIN_US)
    p.set("dial_fault", 1)
    p.wait(min(HOLD_US, p.times_us["spot"] // 4) if p.spot else HOLD_US)
    p.end_weld(four_step)
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + 10 * MARGIN_US)
    p.set("dial_fault", 0)


def _press_with_a_broken_dial(p: Play) -> None:
    """A press in postflow would weld at once; with a broken dial it does not."""
    if not p.target.scales:
        raise NotOfferedError("dial")
    if p.times_us["postflow"] < 6 * MARGIN_US + p.filter_us:
        raise NotOfferedError("postflow")
    four_step = p.any_way()
    p.start_weld(four_step)
    p.wait(4 * MARGIN_US)
    p.end_weld(four_step)
    p.wait(p.times_us["burnback"] + MARGIN_US)
    p.set("dial_fault", 1)
    p.wait(2 * MARGIN_US)
    p.press()
    p.wait(2 * MARGIN_US)
    p.release()
    p.wait(p.times_us["postflow"])
    p.set("dial_fault", 0)


def _dial_moved(name: str, p: Play) -> None:
    """A dial moved in its own phase counts from the next time on."""
    scale = p.target.scales.get(name)
    if scale is None:
        raise NotOfferedError(name)
    four_step = p.any_way()
    p.need(name, 4 * MARGIN_US)
    p.whole_weld(four_step)
    p.wait(p.times_us["burnback"] if name == "postflow" else 0)
    p.wait(MARGIN_US)
    before_us = p.times_us[name]
    p.dial(name, scale.low_us)
    p.wait(before_us + p.times_us["postflow"] + 3 * MARGIN_US)
    p.whole_weld(four_step)


def _weld_limit(p: Play) -> None:
    limit_us = _weld_limit_us(p)
    try:
        p.choose()
    except NotOfferedError:
        p.choose(four_step=True)
    p.start_weld()
    p.wait(limit_us)
    p.break_arc()
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + HOLD_US)
    p.release()


def _arc_stays(phase: Phase, p: Play) -> None:
    """Close the arc sensor in a phase with the contactor off, for longer than an arc can last; then open it."""
    p.require("arc")
    settings = p.target.rig.settings
    arc_us = (settings.arc_end_us or 0) + p.target.rig.filters_us["arc"][0]
    four_step = _way_to(p, phase)
    _come_to(p, phase, four_step, arc_us)
    p.set("arc", 1)
    p.wait(arc_us + MARGIN_US)
    for contact in sorted({"trigger", "purge", "inch"} & p.closed):
        p.set(contact, 0)
    p.wait(settings.settle_us + settings.open_us + HOLD_US)
    p.press()
    p.wait(MARGIN_US)
    p.release()
    p.wait(MARGIN_US)
    p.break_arc()
    p.wait(settings.settle_us + settings.open_us + 2 * MARGIN_US)
    p.whole_weld(four_step)


def _supply_between_at_power_up(p: Play) -> None:
    """A supply that is not low, but not good either, keeps a board in hold-off that has just started."""
    p.require("supply_sense")
    four_step = p.any_way()
    settings = p.target.rig.settings
    p.wait(START_US)
    p.set("supply", SupplyLevel.BETWEEN)
    p.wait(MARGIN_US)
    p.set("reset", 1)
    p.wait(2 * (settings.settle_us + settings.open_us))
    p.press()
    p.wait(MARGIN_US)
    p.release()
    p.wait(MARGIN_US)
    p.set("supply", SupplyLevel.GOOD)
    p.wait(settings.settle_us + settings.open_us + 2 * MARGIN_US)
    p.whole_weld(four_step)


def _supply_between_in_weld(p: Play) -> None:
    """A weld goes on with a supply that is not low, though no longer good."""
    p.require("supply_sense")
    four_step = p.any_way()
    p.start_weld(four_step)
    p.wait(MARGIN_US)
    p.set("supply", SupplyLevel.BETWEEN)
    p.wait(min(HOLD_US, p.times_us["spot"] // 4) if p.spot else HOLD_US)
    p.end_weld(four_step)


def _mode_moved_in_button(button: str, p: Play) -> None:
    """The mode switch counts as it stands when the trigger is pressed, whatever was going on before."""
    p.require(button, "four_step")
    p.choose(four_step=True)
    p.wait(START_US)
    p.set(button, 1)
    p.wait(HOLD_US)
    p.set("four_step", 0)
    p.wait(MARGIN_US)
    p.whole_weld()
    p.wait(p.times_us["burnback"] + p.times_us["postflow"] + 3 * MARGIN_US)
    p.set(button, 0)


def _closed_at_power_up(p: Play) -> None:
    four_step = p.any_way()
    rig = p.target.rig
    p.wait(START_US)
    p.set("trigger", 1)
    p.wait(MARGIN_US // 2 + p.filter_us)
    p.set("reset", 1)
    p.wait(2 * (rig.settings.settle_us + rig.settings.open_us))
    p.release()
    p.wait(rig.settings.open_us + 2 * MARGIN_US)
    p.whole_weld(four_step)


def _dial_end(name: str, high: bool, p: Play) -> None:
    four_step = False
    if name == "pause":
        p.choose(spot=True, stitch=True)
    elif name == "spot":
        p.spot_alone()
    else:
        four_step = p.any_way()
    scale = p.target.scales[name]
    p.dial(name, scale.high_us if high else scale.low_us)
    if name == "spot":
        p.start_weld()
        p.spot_over()
        p.wait(MARGIN_US)
        p.release()
    elif name == "pause":
        p.start_weld()
        p.spot_over()
        p.next_stitch()
        p.wait(p.times_us["spot"] // 2)
        p.end_weld()
    else:
        p.whole_weld(four_step)


def _switch_off(name: str, p: Play) -> None:
    p.require(f"{name}_switch")
    four_step = p.any_way()
    p.set(Switch(name), 0)
    p.times_us[name] = 0
    p.whole_weld(four_step)


def _dial_cases(target: Target) -> list[tuple[str, str, Writer]]:
    return [
        (f"dial-{name}-{end}", f"{name} dial at its {end} end", partial(_dial_end, name, end == "high"))
        for name in target.scales
        for end in ("low", "high")
    ]


def _switch_cases(target: Target) -> list[tuple[str, str, Writer]]:
    return [
        (f"{name}-off", f"{name} switched off", partial(_switch_off, name))
        for name in ("preflow", "burnback", "postflow")
        if f"{name}_switch" in target.fitted
    ]


_CASES: tuple[tuple[str, str, Writer], ...] = (
    ("weld", "weld while held", _weld),
    ("two-welds", "two welds, one after the other", _two_welds),
    ("tap", "tap shorter than the trigger's filter", _tap),
    ("gap", "gap in the trigger shorter than its filter", _gap),
    ("release-in-preflow", "released before anything was struck", _release_in_preflow),
    ("press-in-burnback", "pressed again in burnback and held", _press_in_burnback),
    ("taken-back-in-burnback", "pressed and released in burnback", _taken_back_in_burnback),
    ("press-in-postflow", "pressed again in postflow", _press_in_postflow),
    ("four-step", "four-step weld", _four_step),
    ("four-step-held", "four-step weld, both presses held", _four_step_held),
    ("four-step-stop", "four-step, pressed again in preflow", _four_step_stop_in_preflow),
    ("four-step-again", "four-step, pressed again in burnback", _four_step_again_in_burnback),
    ("mode-moved", "mode switch moved in a weld", _mode_moved_in_weld),
    ("mode-moved-in-purge", "mode switch moved while purging", partial(_mode_moved_in_button, "purge")),
    ("mode-moved-in-inch", "mode switch moved while inching", partial(_mode_moved_in_button, "inch")),
    ("spot", "spot, trigger held to the end", _spot),
    ("spot-released", "spot, released early", _spot_released),
    ("spot-stopped", "spot that completes, ended by another press", _spot_stopped),
    ("release-before-arc", "released before the arc was there", _release_before_arc),
    ("arc-start-limit", "no arc; then a weld", _arc_start_limit),
    ("stitch", "stitches, released in the third spot", _stitch),
    ("stitch-pause", "stitches, released in a pause", _stitch_released_in_pause),
    ("purge", "purge", partial(_button, "purge")),
    ("purge-limit", "purge button held too long", partial(_button_limit, "purge", "purge_limit_us")),
    ("press-in-purge", "trigger pressed while purging", partial(_press_in_button, "purge")),
    ("inch", "inch", partial(_button, "inch")),
    ("inch-limit", "inch button held too long", partial(_button_limit, "inch", "inch_limit_us")),
    ("press-in-inch", "trigger pressed while inching", partial(_press_in_button, "inch")),
    ("purge-and-inch", "both buttons at once", _both_buttons),
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
