"""wirecue advise."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import json_text, paragraph, rounded, say, working

if TYPE_CHECKING:
    from timing.design.design import Design
    from timing.process.advice import Advice
    from timing.process.braking import BrakeFirst
    from timing.process.burnback_curve import Band
    from timing.process.fused_spot import FusedSpot
    from timing.process.ranging import TimeAdvice
    from timing.process.worth_measuring import WorthMeasuring
    from wirecue.panel_moves import AdvisedText

INDENT = " " * 10


@click.command(name="advise", cls=WritingCommand, short_help="Say where to start with every time, and why.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--svg", type=OutputOption("picture", Form.XML), help="Write the pictures to this file; - prints them.")
@click.option("--write", is_flag=True, help="Write the settings and dials into the design; its comments stay.")
@click.option(
    "--new-ranges",
    is_flag=True,
    help="With --write: give dials that no longer serve new ends though their plates are made.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the advice as JSON.")
def command(design: Path, svg: Destination | None, write: bool, new_ranges: bool, as_json: bool) -> None:
    """Say where to start with every time, and why.

    Preflow from the gas path, burnback from wire, arc and the machine's delays, postflow from the crater, spot and
    pause from sheet and duty cycle: for each a setting, the range that does, the dial that serves, and the reasons.

    \b
      wirecue advise my_feeder.toml
      wirecue advise my_feeder.toml --svg advice.svg
      wirecue advise my_feeder.toml --write

    --write says what it moves. Once the plates are made (panel.made = true) it moves settings within their dials alone
    and says which dial no longer serves; --new-ranges is the way to new plates.

    It is a starting point, to be proved on scrap. `wirecue burnback` shows burnback in depth; `wirecue fit` makes
    the band narrower from test welds.
    """
    from timing.design.loading import parse_design, read_design_text
    from timing.process.advice import advise
    from wirecue.output_files import write_changed
    from wirecue.panel_moves import moves_text, with_advice

    if as_json and printed(svg):
        raise click.UsageError("only one of --json and --svg can be printed")
    if new_ranges and not write:
        raise click.UsageError("--new-ranges goes with --write")
    text, advised = read_design_text(design), None
    with working("calculating arc, wire and gas"):
        if write:
            advised = with_advice(text, str(design), new_ranges=new_ranges)
            write_changed(design, text, advised.text, "advise --write")
            text = advised.text
        plan = parse_design(text, str(design))
        advice = advise(plan)
    if svg is not None:
        from codegen.charts.advice import advice_svg

        svg.give(advice_svg(plan, advice))
    if as_json:
        click.echo(json_text(rounded(report(plan, advice) | ({} if advised is None else moved(advised)))), nl=False)
    elif not printed(svg):
        say(text_of(plan, advice))
    if advised is not None and not as_json:
        say(f"\n{moves_text(design, advised)}", err=bool(printed(svg)))


def text_of(design: Design, advice: Advice) -> str:
    """Return the advice as text, a paragraph for each time."""
    from wirecue.advice_words import gas_words

    blocks = [f"{design.title or design.name}: where to start"]
    blocks += [_block(design, time) for time in advice.times]
    if advice.burnback.brake is not None:
        blocks.append(_brake(advice.burnback.brake))
    if design.process.gasless:
        blocks.append(f"{'gas':<9} none: self-shielded wire, so leave preflow and postflow at 0 s")
    worth = advice.burnback.worth
    if worth is not None:
        blocks.append(_items("measure", "what pays most" if worth.paying else "nothing more", worth.sentences))
    if advice.gas is not None:
        blocks.append(f"{'gas':<9} {gas_words(advice.gas, advice.gas_weld_s)}")
    blocks.append("\n".join(paragraph(note, then="  ") for note in advice.notes))
    blocks.append(_items("figures", "how to read them, and what they stand on", advice.footing))
    blocks.append(click.style(advice.closing, bold=True))
    return "\n\n".join(blocks)


def _block(design: Design, time: TimeAdvice) -> str:
    from timing.design.units import format_duration
    from wirecue.advice_words import advised_spans

    spans = [span for span in advised_spans(design, time) if span]
    head = f"{time.name:<9} {click.style(format_duration(time.setting_us), bold=True)}  ({'; '.join(spans)})"
    reasons = [paragraph(f"- {reason}", first=INDENT, then=f"{INDENT}  ") for reason in time.reasons]
    return "\n".join([head, *reasons])


def _brake(brake: BrakeFirst) -> str:
    head = f"{'burnback':<9} {click.style('none: brake the drive first', bold=True)}"
    return "\n".join([head, *(paragraph(f"- {one}", first=INDENT, then=f"{INDENT}  ") for one in brake.sentences)])


def _items(name: str, head: str, sentences: Iterable[str]) -> str:
    lines = [paragraph(f"- {sentence}", first=INDENT, then=f"{INDENT}  ") for sentence in sentences]
    return "\n".join([f"{name:<9} {head}", *lines])


def report(design: Design, advice: Advice) -> dict[str, object]:
    """Return the advice as data; the unit of each number stands in its key."""
    return {
        "design": design.name,
        "digest": design.digest(),
        "times": {
            time.name: {
                "setting_us": time.setting_us,
                "low_us": time.low_us,
                "high_us": time.high_us,
                "dial_from_us": time.dial_from_us,
                "dial_to_us": time.dial_to_us,
                "design_us": own.setting_us if (own := design.setting(time.name)) else None,
                "reasons": list(time.reasons),
            }
            for time in advice.times
        },
        "brake_the_drive_first": None if advice.burnback.brake is None else asdict(advice.burnback.brake),
        "wire_left_mm": asdict(advice.burnback.curve.best.extension_mm),
        "ball_mm": asdict(advice.burnback.curve.best.ball_mm),
        "to_ball_end_mm": asdict(advice.burnback.curve.best.to_ball_end_mm),
        "share_to_clip": advice.burnback.curve.best.share_to_clip,
        "share_good": advice.burnback.curve.best.chance_good,
        "burnback_by_speed": [
            {"wire_feed_speed_mm_s": float(speed), "setting_s": float(best), "share_good": float(good)}
            for speed, best, good in zip(
                advice.burnback.cover.speeds_mm_s,
                advice.burnback.cover.best_s,
                advice.burnback.cover.chance_good,
                strict=True,
            )
        ],
        "sensitivity": asdict(advice.burnback.sensitivity),
        "fused_spot": None if advice.spot is None or advice.spot.main.fused is None else fused(advice.spot.main.fused),
        "gas": None if advice.gas is None else {"weld_s": advice.gas_weld_s, **asdict(advice.gas)},
        "worth_measuring": None if (worth := advice.burnback.worth) is None else worth_report(worth),
        "notes": [*advice.notes, *advice.footing],
        "closing": advice.closing,
    }


def worth_report(worth: WorthMeasuring) -> dict[str, object]:
    """Return what measuring is worth as data: every measurement that is still to be made, and every cause's share."""
    return {
        "now": asdict(worth.now),
        "measurements": [
            {
                "name": one.measurement.name,
                "how": one.measurement.how,
                "takes_s": 60 * one.measurement.minutes,
                "asked_by": one.measurement.asked_by,
                "keys": list(one.measurement.keys),
                "then": asdict(one.then),
                "pays": one.pays,
            }
            for one in worth.proposals
        ],
        "causes": [asdict(cause) for cause in worth.causes],
    }


def fused(spot: FusedSpot) -> dict[str, object]:
    """Return what a spot without a hole was found from, as data; null for a time that never comes."""

    def band(times: Band) -> dict[str, float | None]:
        return {name: value if math.isfinite(value) else None for name, value in asdict(times).items()}

    return {
        "wanted_mm": spot.wanted_mm,
        "burning_s": band(spot.burning_s),
        "burns_through_s": band(spot.through_s),
        "arc_beyond_spot_time_s": spot.beyond_s,
        "face_mm": spot.face_mm,
        "far_side_mm": spot.far_mm,
    }


def moved(advised: AdvisedText) -> dict[str, object]:
    """Return what --write moved on the panel, as data."""
    from timing.design.moves import plates_to_print

    return {
        "moves": [{"time": one.name, "says": one.sentence} for one in advised.moves],
        "plates_to_print": list(plates_to_print(advised.moves)),
        "short": [
            {"time": one.name, "end": one.end, "has_us": one.has_us, "asks_us": one.asks_us} for one in advised.short
        ],
    }
