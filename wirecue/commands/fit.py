"""wirecue fit."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.design.text_file import shown
from wirecue.arguments import READING, SPEED
from wirecue.output_files import write_unless_changed
from wirecue.terminal import json_text, paragraph, rounded, say, table, working

if TYPE_CHECKING:
    from timing.design.saving import Setting
    from timing.process.fit import Fit, FitLimits
    from timing.process.welds import TestWeld
    from timing.project import Project
    from wirecue.weld_fit import LoggedFit


BAND_ROWS = ("low_mm", "middle_mm", "high_mm", "good", "frozen", "short", "fused")


def _given_welds(given: tuple[str, ...], project: Project) -> tuple[TestWeld, ...]:
    """Read texts such as '90 ms: 9 mm'. Raises click.BadParameter."""
    from timing.process.welds import WeldError
    from wirecue.weld_fit import typed_weld

    try:
        return tuple(typed_weld(text, project) for text in given)
    except WeldError as error:
        raise click.BadParameter(str(error), param_hint="'--weld' / '-w'") from None


@click.command(name="fit", short_help="Find your machine's coast and its burnback setting from test welds.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option(
    "--weld",
    "-w",
    "given",
    metavar='"90 ms: 9 mm"',
    multiple=True,
    help="A test weld: burnback set, and what became of the wire. It goes into the logbook.",
)
@click.option(
    "--leave-out",
    type=click.IntRange(min=1),
    metavar="NUMBER",
    help="Leave a weld of the logbook out from now on, by its number in the list.",
)
@click.option("--no-log", is_flag=True, help="Take the welds given here alone; neither read the logbook nor add to it.")
@click.option(
    "--speed",
    callback=SPEED,
    metavar='"200 in/min"',
    help="Wire feed speed to find the setting for, and of the test welds given.  [default: the design's]",
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
    help="How steady the gun is held for test welds.",
)
@click.option("--write", is_flag=True, help="Write what was found into the design file; comments are kept.")
@click.option("--json", "as_json", is_flag=True, help="Print the fit as JSON.")
@click.pass_context
def command(
    ctx: click.Context,
    design: Path,
    given: tuple[str, ...],
    leave_out: int | None,
    no_log: bool,
    speed: float | None,
    rule_mm: float,
    hand_mm: float,
    write: bool,
    as_json: bool,
) -> None:
    """Find your machine's coast and its burnback setting from test welds.

    Make a short weld on scrap, the gun rested on a block so that the distance stays the same, and say what became of
    the wire: what is left of it from the contact tip to its end, before you cut it, or that it froze in the puddle, or
    fused to the tip. One weld is enough to begin with; each time it says where to turn the dial for the next, and when
    there were enough.

    \b
      wirecue fit my_feeder.toml                                    where to begin, or where it stands
      wirecue fit my_feeder.toml --weld "90 ms: 9 mm"
      wirecue fit my_feeder.toml --weld "mark 90: 3/8 in, ball"     read to the end of a ball
      wirecue fit my_feeder.toml --weld "60 ms: frozen" --weld "115 ms: fused, 15 mm away"
      wirecue fit my_feeder.toml --write                            put it into the design

    A mark is the number printed on the burnback plate; 'mark 4 of 10' stands for a knob with a scale of its own. After
    a comma: ball, ball 1.5 mm, no ball; how far away the gun was; the wire feed speed. Welds are kept in the logbook
    beside the design, and all of them count.
    """
    from timing.design.loading import read_design_text
    from timing.process.case import burnback_case
    from timing.process.fit import check_welds
    from wirecue.panel_moves import moves_text
    from wirecue.projects import parse_project
    from wirecue.weld_fit import fit_of_log
    from wirecue.weld_log import LoggedWelds, as_made, log_left_out, log_welds, logged_welds

    if no_log and leave_out is not None:
        raise click.UsageError("--leave-out goes by the logbook, --no-log leaves it alone")
    text = read_design_text(design)
    project = parse_project(text, str(design))
    new = tuple(as_made(weld, project.design, speed) for weld in _given_welds(given, project))
    check_welds(burnback_case(project.design), new)
    if no_log:
        logged = LoggedWelds(new, tuple(range(1, len(new) + 1)), (date.today().isoformat(),) * len(new), ())
    else:
        if leave_out is not None and leave_out not in logged_welds(design, project.design).numbers:
            raise click.BadParameter(f"no test weld {leave_out} in the logbook", param_hint="'--leave-out'")
        if leave_out is not None:
            log_left_out(design, leave_out)
        log_welds(design, project.design, new)
        logged = logged_welds(design, project.design)
    for words in logged.told:
        say(words, err=True)
    with working("fitting"):
        found = fit_of_log(project, text, str(design), logged, feed_mm_s=speed, rule_mm=rule_mm, hand_mm=hand_mm)
    fit, settings = found.fit, found.settings
    if as_json:
        click.echo(json_text(rounded(report(found))), nl=False)
    else:
        say(text_of(found))
    if not fit.contradicts and logged.welds and not as_json:
        say(f"\n{_what_changes(design, settings)}")
    if fit.contradicts:
        say("Nothing is written while the welds contradict each other.", err=True)
        ctx.exit(1)
    if write and found.may_write:
        write_unless_changed(design, text, found.text, "fit --write")
        say(f"design: {shown(design)}", err=True)
        if not as_json:
            say(f"\n{moves_text(design, found.moved(project, str(design)))}")
    elif settings and logged.welds and not as_json:
        say("--write puts that into the file.")


def text_of(found: LoggedFit) -> str:
    """Return the fit as text: welds, figures, what follows."""
    from timing.design.units import as_typed, speed_text
    from wirecue.weld_fit import FIGURES_HEAD, WELDS_HEAD

    case, fit = found.case, found.fit
    head = f"Test welds at {speed_text(case.feed_mm_s)}, gun held at {as_typed(case.distance_mm, 'mm')}"
    if not found.logged.welds:
        return "\n".join(map(paragraph, fit.sentences))
    # The first sentence repeats the figures.
    words = "\n".join(map(paragraph, fit.sentences[1:]))
    return "\n\n".join(
        [
            head,
            table(list(found.rows()), WELDS_HEAD),
            table(found.figures(), FIGURES_HEAD),
            *([] if fit.contradicts else [_band_text(fit)]),
            words,
        ]
    )


def _band_text(fit: Fit) -> str:
    from wirecue.weld_fit import BAND_HEAD

    return f"Read to the end of the ball, {fit.band.ball_mm:.1f} mm of it:\n{table(list(fit.band.rows()), BAND_HEAD)}"


def _what_changes(design: Path, settings: tuple[Setting, ...]) -> str:
    from wirecue.weld_fit import BAND

    if not settings:
        return f"Nothing to change in {shown(design)}."
    band = [change for change in settings if change.key.startswith(BAND)]
    rows = [
        (f"  {change.key}", _toml(change.old), "->", _toml(change.new)) for change in settings if change not in band
    ]
    if band:
        old = "(not there)" if all(change.old is None for change in band) else "as it was"
        rows.append((f"  {BAND}", old, "->", "the table above"))
    return f"In {shown(design)}:\n{table(rows)}"


def _toml(value: str | bool | None) -> str:
    if value is None:
        return "(not there)"
    return str(value).lower() if isinstance(value, bool) else f'"{value}"'


def report(logged_fit: LoggedFit) -> dict[str, object]:
    """Return the fit as data; the unit of each number stands in its key."""
    case, fit, logged, settings = logged_fit.case, logged_fit.fit, logged_fit.logged, logged_fit.settings

    def limits(found: FitLimits) -> dict[str, float]:
        return {"low_s": found.low, "high_s": found.high}

    rows = zip(logged.numbers, logged.welds, fit.predicted_mm, fit.weld_deviation_mm, strict=True)
    found, following = fit.settled, fit.next_weld
    return {
        "wire_feed_speed_mm_s": case.feed_mm_s,
        "contact_tip_to_work_mm": case.distance_mm,
        "welds": [
            {
                "number": number,
                "says": weld.sentence,
                "burnback_s": weld.burnback_s,
                "outcome": weld.outcome.value,
                "extension_mm": weld.extension_mm,
                "predicted_mm": float(predicted),
                "deviation_mm": float(deviation),
            }
            for number, weld, predicted, deviation in rows
        ],
        "coast_s": fit.coast_s,
        "coast_limits": limits(fit.coast_limits_s),
        "contactor_off_s": fit.contactor_off_s,
        "contactor_off_limits": limits(fit.contactor_off_limits_s),
        "coast_with_the_rest_as_designed_s": fit.coast_held_s,
        "correlation": fit.correlation,
        "told_apart": fit.told_apart,
        "fits_well": fit.fits_well,
        "effective_draws": fit.effective_draws,
        "contradicts": fit.contradicts,
        "setting": {
            "burnback_s": found.mark.time_s,
            "says": found.mark.words,
            "share_free_worst": found.worst_free,
            "share_free_mean": found.mean_free,
            "extension_mm": found.extension_mm,
            "proved": found.proved,
            "enough": found.enough and not fit.contradicts,
            "outside_the_dial_s": None if found.beyond is None else found.beyond.time_s,
        },
        "extension_left": {
            "read_to": "the end of the ball",
            "ball_mm": fit.band.ball_mm,
            "places": [
                {"burnback_s": float(fit.band.settings_s[row])}
                | {name: float(getattr(fit.band, name)[row]) for name in BAND_ROWS}
                for row in range(len(fit.band.settings_s))
            ],
        },
        "next_weld": None
        if following is None
        else {
            "burnback_s": following.mark.time_s,
            "says": following.mark.words,
            "predicted_mm": following.predicted_mm,
            "open_mm": following.open_mm,
        },
        "sentence": fit.sentence,
        "changes": [{"key": change.key, "old": change.old, "new": change.new} for change in settings],
    }
