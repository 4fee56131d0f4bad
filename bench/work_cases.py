"""Cases of ordinary work: two-step and four-step welds, spots, stitches, buttons, and what hands do to them."""

from __future__ import annotations

from functools import partial

from bench.script_writer import HOLD_US, MARGIN_US, START_US, NamedWriter, NotOfferedError, ScriptWriter

SHORTEST_TAP_US = 1_000
"""A shorter filter has no room for a tap that a computer could send."""


def _weld(script: ScriptWriter) -> None:
    script.choose()
    script.whole_weld()


def _two_welds(script: ScriptWriter) -> None:
    script.two_step()
    script.whole_weld()
    script.wait(script.times_us["burnback"] + script.times_us["postflow"] + MARGIN_US)
    script.whole_weld()


def _tap(script: ScriptWriter) -> None:
    if script.filter_us < 3 * SHORTEST_TAP_US:
        raise NotOfferedError("filter")
    script.wait(START_US)
    script.set("trigger", 1)
    script.wait(script.filter_us // 3)
    script.set("trigger", 0)


def _gap(script: ScriptWriter) -> None:
    if script.filter_us < 3 * SHORTEST_TAP_US:
        raise NotOfferedError("filter")
    script.choose()
    script.start_weld()
    script.wait(HOLD_US // 2)
    script.set("trigger", 0)
    script.wait(script.filter_us // 3)
    script.set("trigger", 1)
    script.wait(HOLD_US // 2)
    script.end_weld()


def _release_in_preflow(script: ScriptWriter) -> None:
    script.two_step()
    preflow_us = script.need("preflow", script.filter_us + 2 * MARGIN_US)
    script.press()
    script.wait((preflow_us - script.filter_us) // 2)
    script.release()


def _press_in_burnback(script: ScriptWriter) -> None:
    script.choose()
    burnback_us = script.need("burnback", script.filter_us + 2 * MARGIN_US)
    script.start_weld()
    script.wait(HOLD_US)
    script.release()
    again_us = script.at_us + burnback_us
    script.wait(MARGIN_US)
    script.press()
    script.at_us = again_us + HOLD_US
    script.end_weld()


def _taken_back_in_burnback(script: ScriptWriter) -> None:
    script.choose()
    script.need("burnback", 2 * script.filter_us + 3 * MARGIN_US)
    script.whole_weld()
    script.wait(MARGIN_US)
    script.press()
    script.wait(MARGIN_US)
    script.release()


def _press_in_postflow(script: ScriptWriter) -> None:
    four_step = script.any_way()
    script.need("postflow", script.filter_us + 2 * MARGIN_US)
    script.whole_weld(four_step)
    script.wait(script.times_us["burnback"] + MARGIN_US)
    script.press()
    script.strike()
    script.wait(HOLD_US)
    script.release()
    script.break_arc()
    if four_step:
        script.wait(MARGIN_US)
        script.end_weld(four_step)


def _four_step(script: ScriptWriter) -> None:
    script.choose(four_step=True)
    script.whole_weld(four_step=True)


def _four_step_held(script: ScriptWriter) -> None:
    script.choose(four_step=True)
    script.start_weld()
    script.wait(HOLD_US)
    script.release()
    script.wait(HOLD_US)
    script.press()
    script.break_arc()
    script.wait(script.times_us["burnback"] + script.times_us["postflow"] + MARGIN_US)
    script.release()


def _four_step_stop_in_preflow(script: ScriptWriter) -> None:
    script.choose(four_step=True)
    script.need("preflow", 2 * script.filter_us + 3 * MARGIN_US)
    script.pull()
    script.wait(MARGIN_US)
    script.pull()


def _four_step_again_in_burnback(script: ScriptWriter) -> None:
    script.choose(four_step=True)
    script.need("burnback", 2 * script.filter_us + 4 * MARGIN_US)
    script.start_weld(four_step=True)
    script.wait(HOLD_US)
    script.press()
    ends_us = script.at_us + script.times_us["burnback"]
    script.wait(MARGIN_US)
    script.release()
    script.wait(MARGIN_US)
    script.press()
    script.at_us = ends_us + HOLD_US
    script.release()
    script.wait(HOLD_US)
    script.end_weld(four_step=True)


def _mode_moved_in_weld(script: ScriptWriter) -> None:
    script.require("four_step")
    script.choose(four_step=True)
    script.start_weld(four_step=True)
    script.wait(MARGIN_US)
    script.set("four_step", 0)
    script.wait(HOLD_US)
    script.end_weld(four_step=True)


def _spot(script: ScriptWriter) -> None:
    script.choose(spot=True)
    script.start_weld()
    script.spot_over()
    script.wait(script.times_us["postflow"] + 2 * MARGIN_US)
    script.release()


def _spot_stopped(script: ScriptWriter) -> None:
    """Let go, and press again before the spot has completed: that ends it and starts nothing, however long held."""
    if not script.target.rig.settings.completes:
        raise NotOfferedError("spots that complete")
    script.spot_alone()
    script.need("spot", 3 * script.filter_us + 3 * MARGIN_US)
    script.start_weld()
    script.wait(MARGIN_US)
    script.release()
    script.wait(MARGIN_US)
    script.press()
    script.break_arc()
    script.wait(
        script.times_us["burnback"] + script.times_us["postflow"] + script.times_us.get("pause", 0) + 2 * MARGIN_US
    )
    script.release()


def _spot_released(script: ScriptWriter) -> None:
    script.spot_alone()
    script.need("spot", 2 * script.filter_us + 2 * MARGIN_US)
    script.whole_weld()


def _release_before_arc(script: ScriptWriter) -> None:
    script.require("arc")
    script.two_step()
    script.press()
    script.wait(script.times_us["preflow"] + MARGIN_US)
    script.release()


def _arc_start_limit(script: ScriptWriter) -> None:
    script.require("arc")
    script.two_step()
    script.press()
    script.wait(script.times_us["preflow"] + (script.target.rig.settings.arc_limit_us or 0))
    script.wait(script.times_us["burnback"] + script.times_us["postflow"] + 2 * MARGIN_US)
    script.release()
    script.wait(2 * MARGIN_US)
    script.whole_weld()


def _stitch(script: ScriptWriter) -> None:
    _start_stitch(script)
    for _ in range(2):
        script.spot_over()
        script.next_stitch()
    script.wait(script.times_us["spot"] // 2)
    script.end_weld()


def _stitch_released_in_pause(script: ScriptWriter) -> None:
    _start_stitch(script)
    pause_us = script.need("pause", script.filter_us + 2 * MARGIN_US)
    script.spot_over()
    script.next_stitch()
    script.spot_over()
    script.wait((pause_us - script.filter_us) // 2)
    script.release()


def _start_stitch(script: ScriptWriter) -> None:
    script.choose(spot=True, stitch=True)
    script.start_weld()


def _button(button: str, script: ScriptWriter) -> None:
    script.require(button)
    script.wait(START_US)
    script.set(button, 1)
    script.wait(HOLD_US)
    script.set(button, 0)


def _button_limit(button: str, limit: str, script: ScriptWriter) -> None:
    script.require(button)
    script.wait(START_US)
    script.set(button, 1)
    script.wait(getattr(script.target.rig.settings, limit) + HOLD_US)
    script.set(button, 0)


def _press_in_button(button: str, script: ScriptWriter) -> None:
    script.require(button)
    four_step = script.any_way()
    script.wait(START_US)
    script.set(button, 1)
    script.wait(HOLD_US)
    script.whole_weld(four_step)
    script.wait(script.times_us["burnback"] + script.times_us["postflow"] + 3 * MARGIN_US)
    script.set(button, 0)


def _both_buttons(script: ScriptWriter) -> None:
    script.require("purge", "inch")
    script.wait(START_US)
    script.set("purge", 1)
    script.set("inch", 1)
    script.wait(HOLD_US)
    script.set("purge", 0)
    script.wait(HOLD_US)
    script.set("inch", 0)


def _mode_moved_in_button(button: str, script: ScriptWriter) -> None:
    """The mode switch counts as it stands when the trigger is pressed, whatever was going on before."""
    script.require(button, "four_step")
    script.choose(four_step=True)
    script.wait(START_US)
    script.set(button, 1)
    script.wait(HOLD_US)
    script.set("four_step", 0)
    script.wait(MARGIN_US)
    script.whole_weld()
    script.wait(script.times_us["burnback"] + script.times_us["postflow"] + 3 * MARGIN_US)
    script.set(button, 0)


WORK_CASES: tuple[NamedWriter, ...] = (
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
)
