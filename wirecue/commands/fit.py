"""wirecue fit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.design.text_file import shown
from timing.formatting import in_ms
from wirecue.arguments import READING, SPEED
from wirecue.output_files import write_unless_changed
from wirecue.terminal import json_text, paragraph, rounded, table, working

if TYPE_CHECKING:
    from timing.circuit.dial import PanelDial
    from timing.design.saving import Setting
    from timing.process.case import BurnbackCase
    from timing.process.fit import Fit, FitLimits
    from timing.process.welds import TestWeld


def _test_welds(given: tuple[str, ...], dial: PanelDial | None) -> tuple[TestWeld, ...]:
    """Read texts such as '90 ms: 9 mm'. Raises click.BadParameter."""
    from timing.process.welds import WeldError, read_weld

    try:
        return tuple(read_weld(text, dial) for text in given)
    except WeldError as error:
        raise click.BadParameter(str(error), param_hint="'--weld' / '-w'") from None


@click.command(name="fit", short_help="Find coast and drop-out of your machine from test welds.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option(
    "--weld",
    "-w",
    "given",
    metavar='"90 ms: 9 mm"',
    multiple=True,
    required=True,
    help="Burnback set, and extension left (contact tip to wire end); give it once for each weld.",
)
@click.option(
    "--speed",
    callback=SPEED,
    metavar='"200 in/min"',
    help="Wire feed speed of the test welds.  [default: the design's]",
)
@click.option(
    "--rule",
    "rule_mm",
    callback=READING,
    metavar='"0.5 mm"',
    default="0.5 mm",
    show_default=True,
    help="How far a reading may be off.",
)
@click.option(
    "--hand",
    "hand_mm",
    callback=READING,
    metavar='"0.5 mm"',
    default="0.3 mm",
    show_default=True,
    help="How steady the gun is held.",
)
@click.option("--write", is_flag=True, help="Write what was found into the design file; comments are kept.")
@click.option("--json", "as_json", is_flag=True, help="Print the fit as JSON.")
@click.pass_context
def command(
    ctx: click.Context,
    design: Path,
    given: tuple[str, ...],
    speed: float | None,
    rule_mm: float,
    hand_mm: float,
    write: bool,
    as_json: bool,
) -> None:
    """Find coast and drop-out of your machine from test welds.

    Make two or more short welds on scrap, the gun rested on a block so that the distance stays the same, each with
    another burnback setting. After each, measure from the contact tip to the wire's end, before you cut it. Leave
    out welds that fused to the tip.

    \b
      wirecue fit my_feeder.toml --weld "60 ms: 10 mm" --weld "150 ms: 7.5 mm"
      wirecue fit my_feeder.toml --weld ... --weld ... --write

    It says what the welds tell of coast and contactor drop-out, with limits, whether they tell the two apart, and
    which weld to make next.
    """
    from timing.design.loading import read_design_text
    from timing.design.saving import with_values
    from timing.process.case import burnback_case
    from timing.process.fit import fit_machine
    from wirecue.projects import parse_project

    text = read_design_text(design)
    project = parse_project(text, str(design))
    welds = _test_welds(given, project.dials.get("burnback"))
    if len(welds) < 2:
        raise click.UsageError("one weld cannot tell coast from drop-out: give --weld twice or more")
    case = burnback_case(project.design)
    if speed is not None:
        case = case.at_speed(speed)
    with working("fitting"):
        fit = fit_machine(case, welds, rule_mm, hand_mm)
    changed, settings = with_values(text, fit.design_values(case), str(design))
    if as_json:
        click.echo(json_text(rounded(report(case, fit, welds, settings))), nl=False)
    else:
        click.echo(text_of(case, fit, welds))
    if fit.fits_well and not as_json:
        click.echo(f"\n{_what_changes(design, settings)}")
    if not fit.fits_well:
        click.echo("Nothing is written while the welds contradict each other.", err=True)
        ctx.exit(1)
    if write and settings:
        write_unless_changed(design, text, changed, "fit --write")
        click.echo(f"design: {shown(design)}", err=True)
    elif settings and not as_json:
        click.echo("--write puts that into the file.")


def text_of(case: BurnbackCase, fit: Fit, welds: tuple[TestWeld, ...]) -> str:
    """Return the fit as text: welds, figures, what follows."""
    from timing.design.units import as_typed, speed_text

    rows = [
        (
            in_ms(weld.burnback_s),
            f"{weld.extension_mm:.1f} mm",
            f"{predicted:.1f} mm",
            f"{weld.extension_mm - predicted:+.1f} mm (usual: {deviation:.1f} mm)",
        )
        for weld, predicted, deviation in zip(welds, fit.predicted_mm, fit.weld_deviation_mm, strict=True)
    ]
    figures = [
        ("coast", in_ms(fit.coast_s), limits_text(fit.coast_limits_s), f"design {in_ms(case.coast_s)}"),
        (
            "contactor drop-out",
            in_ms(fit.contactor_off_s),
            limits_text(fit.contactor_off_limits_s),
            f"design {in_ms(case.contactor_off.typical_s)}",
        ),
    ]
    head = f"Test welds at {speed_text(case.feed_mm_s)}, gun held at {as_typed(case.distance_mm, 'mm')}"
    # The first sentence repeats the figures.
    words = "\n".join(paragraph(sentence) for sentence in fit.sentences[1:])
    return "\n\n".join(
        [
            head,
            table(rows, ("burnback", "measured", "by the fit", "off")),
            table(figures, ("", "likely", "95 % limits", "")),
            words,
        ]
    )


def limits_text(limits: FitLimits) -> str:
    """Return 95 % limits in words."""
    if limits.low is None and limits.high is None:
        return "none from these welds"
    if limits.high is None:
        return f"{in_ms(limits.low or 0.0)} or more"
    return f"{in_ms(limits.high)} or less" if limits.low is None else f"{in_ms(limits.low)} to {in_ms(limits.high)}"


def _what_changes(design: Path, settings: tuple[Setting, ...]) -> str:
    if not settings:
        return f"Nothing to change in {shown(design)}."
    rows = [(f"  {change.key}", _toml(change.old), "->", _toml(change.new)) for change in settings]
    return f"In {shown(design)}:\n{table(rows)}"


def _toml(value: str | bool | None) -> str:
    if value is None:
        return "(not there)"
    return str(value).lower() if isinstance(value, bool) else f'"{value}"'


def report(
    case: BurnbackCase, fit: Fit, welds: tuple[TestWeld, ...], settings: tuple[Setting, ...]
) -> dict[str, object]:
    """Return the fit as data; the unit of each number stands in its key."""

    def limits(found: FitLimits) -> dict[str, float | None]:
        return {"low_s": found.low, "high_s": found.high}

    return {
        "wire_feed_speed_mm_s": case.feed_mm_s,
        "contact_tip_to_work_mm": case.distance_mm,
        "welds": [
            {
                "burnback_s": weld.burnback_s,
                "extension_mm": weld.extension_mm,
                "predicted_mm": float(predicted),
                "deviation_mm": float(deviation),
            }
            for weld, predicted, deviation in zip(welds, fit.predicted_mm, fit.weld_deviation_mm, strict=True)
        ],
        "coast_s": fit.coast_s,
        "coast_limits": limits(fit.coast_limits_s),
        "contactor_off_s": fit.contactor_off_s,
        "contactor_off_limits": limits(fit.contactor_off_limits_s),
        "coast_with_contactor_as_designed_s": fit.coast_held_s,
        "coast_with_contactor_as_designed_limits": limits(fit.coast_held_limits_s),
        "correlation": fit.correlation,
        "told_apart": fit.told_apart,
        "fits_well": fit.fits_well,
        "next_weld": {
            "burnback_s": fit.next_weld.burnback_s,
            "predicted_mm": fit.next_weld.predicted_mm,
            "disagreement_mm": fit.next_weld.disagreement_mm,
            "worth_making": fit.next_weld.worth_making,
        },
        "sentence": fit.sentence,
        "changes": [{"key": change.key, "old": change.old, "new": change.new} for change in settings],
    }
