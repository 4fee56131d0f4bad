"""wirecue burnback."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.design.units import format_duration
from timing.formatting import ms, percent_text
from wirecue.arguments import SETTING, SPEED
from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import json_text, paragraph, rounded, say, table, unbroken, working

if TYPE_CHECKING:
    from timing.design.design import Design
    from timing.process.burnback_curve import BurnbackCurve, Sensitivity, Window

ROWS_SHOWN = 12
"""Lines of the table, the settings to start with and of the design among them."""


@click.command(name="burnback", cls=WritingCommand, short_help="Show what each burnback setting leaves of the wire.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--speed", callback=SPEED, metavar='"200 in/min"', help="Wire feed speed.  [default: the design's]")
@click.option("--setting", callback=SETTING, metavar='"90 ms"', help="Setting to look at.  [default: the design's]")
@click.option("--svg", type=OutputOption("picture", Form.XML), help="Write the picture to this file; - prints it.")
@click.option("--json", "as_json", is_flag=True, help="Print the curve as JSON.")
def command(design: Path, speed: float | None, setting: float | None, svg: Destination | None, as_json: bool) -> None:
    """Show what each burnback setting leaves of the wire.

    Too little burnback and the wire freezes in the puddle; too much and it burns short, in the end up to the contact
    tip. Here is the whole curve between, for this wire, gas, machine and its delays, with the band that holds nine
    welds of ten, the setting to start with, and what one step of the dial does.

    \b
      wirecue burnback my_feeder.toml --svg burnback.svg
      wirecue burnback my_feeder.toml --speed "320 in/min"
      wirecue burnback my_feeder.toml --setting "90 ms"

    With --speed the voltage is taken to be turned to suit, as a welder does.
    """
    import numpy as np

    from timing.design.loading import load_design
    from timing.process.burnback_curve import burnback_curve, curve_settings_s, sensitivity
    from timing.process.case import burnback_case, wire_speeds_mm_s
    from timing.process.ranging import dial_mark_us

    if as_json and printed(svg):
        raise click.UsageError("only one of --json and --svg can be printed")
    plan = load_design(design)
    time = plan.times.burnback
    setting_s = (time.setting_us if setting is None else setting) / 1e6
    asked = "in the design" if setting is None else "asked about"
    case = burnback_case(plan) if speed is None else burnback_case(plan).at_speed(speed)
    with working("burning back ten thousand wires"):
        settings_s = curve_settings_s(case, max(setting_s, time.high_us / 1e6))
        speeds_mm_s = wire_speeds_mm_s(plan) if speed is None else None
        curve = burnback_curve(case, np.unique(np.append(settings_s, setting_s)), speeds_mm_s=speeds_mm_s)
        mark_s = dial_mark_us(time) / 1e6
        felt = sensitivity(case, curve.best.setting_s, mark_s)
    if svg is not None:
        from codegen.charts.burnback import Asked, burnback_svg
        from timing.process.measured_band import measured_band

        # Test welds tell of the wire feed speed that they were made at.
        band = measured_band(plan) if speed is None else None
        svg.give(burnback_svg(plan.title or plan.name, curve, Asked(setting_s, asked, band)))
    if as_json:
        click.echo(json_text(rounded(report(plan, curve, felt, setting_s))), nl=False)
    elif not printed(svg):
        say(text_of(plan, curve, felt, setting_s, asked))


def text_of(design: Design, curve: BurnbackCurve, felt: Sensitivity, setting_s: float, asked: str) -> str:
    """Return the curve as text: table, what to set, what small changes do, what the model does not cover."""
    from timing.design.units import as_typed, speed_text
    from timing.process.advice import STARTING_POINT, case_notes
    from timing.process.ball import clip_words
    from timing.process.braking import brake_first

    case, best = curve.case, curve.best
    head = (
        f"{design.title or design.name}: {as_typed(case.wire.diameter_mm, 'mm')} wire at {speed_text(case.feed_mm_s)}, "
        f"contact tip {as_typed(case.distance_mm, 'mm')} from the work\n"
        f"{curve.current_a:.0f} A, {curve.load_voltage_v:.1f} V at the terminals, arc {curve.arc_length_mm:.1f} mm long"
    )
    here = int(abs(curve.settings_s - setting_s).argmin())
    leaves, weld = best.extension_mm, best.extension_weld_to_weld_mm
    there = f"With the {_setting(setting_s)} {asked}, {percent_text(float(curve.chance_good[here]))} end good."
    start = (
        f"Start with {_setting(best.setting_s)}: it leaves {leaves.middle:.0f} mm of solid wire, {leaves.low:.0f} mm "
        f"to {leaves.high:.0f} mm in nine welds of ten, and a ball of {best.ball_mm.middle:.1f} mm on it; a rule reads "
        f"about {best.to_ball_end_mm.middle:.1f} mm, to the ball's end. {percent_text(best.chance_good)} end good.",
        clip_words(best.ball_mm.middle, case.wire.diameter_mm, best.share_to_clip),
        f"Once the machine is measured, weld-to-weld scatter leaves {weld.low:.0f} mm to {weld.high:.0f} mm.",
    )
    brake = brake_first(curve)
    lines = [
        *(start if brake is None else brake.sentences),
        f"Good as calculated: {window_text(curve.window)}. Likely good, nine in ten: {window_text(curve.sure_window)}.",
        *([] if setting_s == best.setting_s else [there]),
        f"10 ms more burnback, or a contactor that drops out 10 ms later: {felt.per_10_ms_setting_mm:+.1f} mm of wire. "
        f"Wire drive 10 ms later: {felt.per_10_ms_wire_drive_mm:+.1f} mm. Coast 10 ms longer: "
        f"{felt.per_10_ms_coast_mm:+.1f} mm."
        + (
            f" One mark of the dial, {ms(1e6 * felt.dial_step_s)}: {felt.per_dial_step_mm:+.1f} mm."
            if felt.dial_step_s
            else ""
        ),
    ]
    if best.causes:
        causes = ", ".join(f"{name} {percent_text(share)}" for name, share in best.causes[:3])
        lines.append(f"What makes the band: {causes}.")
    lines += case_notes(curve, case)
    body = "\n".join(paragraph(line, then="  ") for line in [*lines, STARTING_POINT])
    settings = table(_rows(curve, here, asked), ("burnback", "solid wire", "9 of 10", "ball", "good", "trouble", ""))
    return "\n\n".join([head, settings, body])


def window_text(window: Window | None) -> str:
    """Return a range of settings in words."""
    if window is None:
        return "no setting"
    return (
        f"{_setting(window.low_s)} on"
        if window.open_above
        else f"{_setting(window.low_s)} to {_setting(window.high_s)}"
    )


def _rows(curve: BurnbackCurve, here: int, asked: str) -> list[tuple[str, ...]]:
    import numpy as np

    from timing.process.braking import brake_first
    from timing.process.burnback import FROZEN, FUSED, SHORT

    trouble_words = {FROZEN: "frozen", SHORT: "too short", FUSED: "fused"}
    best = int(abs(curve.settings_s - curve.best.setting_s).argmin())
    start_here = "<- start here" if brake_first(curve) is None else "<- best there is"
    reach = curve.case.distance_mm
    spread = np.linspace(0, curve.settings_s.size - 1, ROWS_SHOWN).round().astype(int)
    rows: list[tuple[str, ...]] = []
    for row in sorted({*spread.tolist(), here, best}):
        chances = {word: float(curve.chances[row, code]) for code, word in trouble_words.items()}
        trouble = [f"{percent_text(share)} {word}" for word, share in chances.items() if share >= 0.005]
        in_puddle = chances["frozen"] > 0.5
        marks = [word for word, at in ((start_here, best), (f"<- {asked}", here)) if at == row]
        rows.append(
            (
                _setting(float(curve.settings_s[row])),
                "in the puddle" if in_puddle else f"{curve.middle_mm[row]:.1f} mm",
                f"{min(curve.low_mm[row], reach):.0f} to {min(curve.high_mm[row], reach):.0f} mm",
                "" if in_puddle else f"{curve.ball_mm[row]:.1f} mm",
                percent_text(float(curve.chance_good[row])),
                ", ".join(trouble),
                " ".join(map(unbroken, marks)),
            )
        )
    return rows


def _setting(seconds: float) -> str:
    """Return a setting as it would stand in the design file."""
    return format_duration(round(1e6 * seconds))


def report(design: Design, curve: BurnbackCurve, felt: Sensitivity, setting_s: float) -> dict[str, object]:
    """Return the curve as data; the unit of each number stands in its key."""
    from timing.process.advice import STARTING_POINT, case_notes
    from timing.process.braking import brake_first
    from timing.process.burnback import OUTCOMES

    def window(found: Window | None) -> dict[str, float | bool] | None:
        return None if found is None else asdict(found)

    best, case, brake = curve.best, curve.case, brake_first(curve)
    return {
        "design": design.name,
        "digest": design.digest(),
        "wire_feed_speed_mm_s": case.feed_mm_s,
        "contact_tip_to_work_mm": case.distance_mm,
        "current_a": curve.current_a,
        "load_voltage_v": curve.load_voltage_v,
        "arc_length_mm": curve.arc_length_mm,
        "regime": curve.regime,
        "asked_about_s": setting_s,
        "brake_the_drive_first": None if brake is None else asdict(brake),
        "recommended": None
        if brake is not None
        else {
            "setting_s": best.setting_s,
            "share_good": best.chance_good,
            "extension_mm": asdict(best.extension_mm),
            "ball_mm": asdict(best.ball_mm),
            "to_ball_end_mm": asdict(best.to_ball_end_mm),
            "share_to_clip": best.share_to_clip,
            "extension_weld_to_weld_mm": asdict(best.extension_weld_to_weld_mm),
            "share_of_variance_by_cause": dict(best.causes),
        },
        "window": window(curve.window),
        "likely_good_window": window(curve.sure_window),
        "sensitivity": asdict(felt),
        "curve": [
            {
                "setting_s": float(curve.settings_s[row]),
                "likely_mm": float(curve.likely_mm[row]),
                "low_mm": float(curve.low_mm[row]),
                "middle_mm": float(curve.middle_mm[row]),
                "high_mm": float(curve.high_mm[row]),
                "ball_mm": float(curve.ball_mm[row]),
                "share_to_clip": float(curve.share_to_clip[row]),
                "likely_outcome": OUTCOMES[int(curve.likely_outcome[row])],
                "share_by_outcome": dict(zip(OUTCOMES, map(float, curve.chances[row]), strict=True)),
            }
            for row in range(curve.settings_s.size)
        ],
        "notes": list(case_notes(curve, case)),
        "closing": STARTING_POINT,
    }
