"""wirecue measure."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from timing.design.text_file import shown
from timing.errors import meant
from timing.recorder.disc import DISC_SLOTS
from wirecue.output_files import write_unless_changed
from wirecue.terminal import json_text, paragraph, rounded, say, table, working

if TYPE_CHECKING:
    from bench.recorder.monitor import RecorderMonitor
    from timing.design.saving import Setting
    from timing.measure.found import MeasuredResult
    from timing.measure.quantities import Quantity
    from wirecue.measuring import DatedResult, MeasuredDesign, Measuring
    from wirecue.simulated_machine import SimulatedMachine

MEASURE_FORMAT = 1
_LABEL = 13


@click.command(name="measure", short_help="Measure lags, wire speed and coast at the machine, with a recorder.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--recorder", "-r", "port", help="Serial port of the recorder, such as /dev/ttyACM1 or COM5.")
@click.option(
    "--virtual",
    is_flag=False,
    flag_value="model",
    type=click.Choice(["model", "avr"]),
    help="Measure a simulated machine, to try it out: nothing is kept. model: both boards' behaviour, without a "
    "compiler; avr: both firmwares, compiled, in the simulator (slower).",
)
@click.option(
    "--simulated",
    is_flag=True,
    help="What answers at --recorder is a simulation: it need not keep to this computer's clock, and nothing is kept.",
)
@click.option("--from-log", is_flag=True, help="Measure nothing: compute again from the edges kept in the logbook.")
@click.option(
    "--quantity",
    "-q",
    "keys",
    multiple=True,
    metavar="NAME",
    help="Measure this alone; may be given several times.  [default: all, one after the other]",
)
@click.option(
    "--repeats",
    type=click.IntRange(5, 50),
    metavar="N",
    help="How often each is repeated.  [default: 10; 5 runs whose wire is measured; 3 of the supply]",
)
@click.option(
    "--slots",
    type=click.IntRange(4, 200),
    default=DISC_SLOTS,
    show_default=True,
    help="Dark sectors of the disc, as its paper says.",
)
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Which machine --virtual is.")
@click.option("--write", is_flag=True, help="Write what was found into the design file; comments are kept.")
@click.option("--yes", "-y", is_flag=True, help="The cautions are heeded and all is connected: do not ask.")
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
@click.pass_context
def command(
    ctx: click.Context,
    design: Path,
    port: str | None,
    virtual: str | None,
    simulated: bool,
    from_log: bool,
    keys: tuple[str, ...],
    repeats: int | None,
    slots: int,
    seed: int,
    write: bool,
    yes: bool,
    as_json: bool,
) -> None:
    """Measure lags, wire speed and coast at the machine, with a recorder.

    A recorder is a second board that presses the trigger, watches coils, contacts, motor and a slotted disc through
    isolated inputs, and stamps every edge. From some ten repeats of each come middle and limits, and what the design
    guesses so far becomes measured: the delays that burnback hangs on, the coast, the wire feed speed.

    \b
      wirecue measure my_feeder.toml                              what can be measured, and what is
      wirecue measure my_feeder.toml --virtual                    try it on a simulated machine
      wirecue measure my_feeder.toml --virtual=avr -q contactor   the same with both boards' own firmware
      wirecue measure my_feeder.toml --recorder /dev/ttyACM1      all of it, step by step
      wirecue measure my_feeder.toml --recorder COM5 --quantity coast --write
      wirecue measure my_feeder.toml --from-log --write           what was measured, into the design

    Each result goes into the logbook, NAME.log, with the edges that it rests on. Without --write the design stays as
    it is, and you see what would change and what that does to the burnback band. Ctrl-C lets go of everything.

    Exit codes: 0 all that was asked is measured, 1 something could not be measured, 2 no recorder, the wrong board, or
    a wrong command.
    """
    from timing.design.loading import read_design_text
    from wirecue.measuring import Measuring

    _check_ways(port, virtual, simulated, from_log, write)
    going = Measuring.of(design, read_design_text(design))
    wanted = _wanted(going, keys)
    if port is None and virtual is None and not from_log:
        _show_list(going, as_json)
        return
    if from_log:
        results = [one for quantity in wanted if (one := going.kept(quantity)) is not None]
        if not results:
            raise click.UsageError(f"nothing of that is in {shown(going.log)}; --recorder measures it")
        if not as_json:
            for one in results:
                say(f"\n{click.style(one.result.quantity.title, bold=True)}, measured on {one.day}")
                _show_result(one.result)
    elif virtual is not None:
        results = _try_out(going, virtual, wanted, repeats, slots, seed, as_json)
    else:
        assert port is not None
        results = _at_the_machine(going, port, wanted, repeats, slots, yes, simulated)
    changed = going.put_in(results)
    with working("burning back ten thousand wires"):
        bands_mm = going.bands_mm(changed) if changed.settings else None
    if as_json:
        click.echo(json_text(rounded(_report(results, changed, bands_mm))), nl=False)
    else:
        say(f"\n{_what_changes(design, changed.settings, bands_mm)}")
    _write(going, changed, write=write, as_json=as_json, simulated=simulated or virtual is not None)
    ctx.exit(1 if any(one.result.trouble for one in results) or len(results) < len(wanted) else 0)


def _check_ways(port: str | None, virtual: str | None, simulated: bool, from_log: bool, write: bool) -> None:
    if sum((port is not None, virtual is not None, from_log)) > 1:
        raise click.UsageError("--recorder, --virtual and --from-log exclude each other")
    if simulated and port is None:
        raise click.UsageError("--simulated goes with --recorder: it says what answers at that port")
    if (simulated or virtual is not None) and write:
        raise click.UsageError("a simulated machine's figures are nobody's: --write goes with --recorder or --from-log")
    if write and port is None and not from_log:
        raise click.UsageError("--write goes with --recorder or --from-log")


def _wanted(going: Measuring, keys: tuple[str, ...]) -> list[Quantity]:
    plan = going.plan
    known = [one.key for one in plan.quantities]
    for key in keys:
        if key in plan.left_out:
            raise click.UsageError(f"{key} cannot be measured at this machine: {plan.left_out[key]}")
        if key not in known:
            there = f"there are {', '.join(known)}"
            raise click.UsageError(f"no quantity {key!r}; {meant(key, known) or there}")
    return [one for one in plan.quantities if not keys or one.key in keys]


# ---- what there is


def _show_list(going: Measuring, as_json: bool) -> None:
    plan, days = going.plan, going.days()
    if as_json:
        click.echo(json_text(_list_record(going)), nl=False)
        return
    say(paragraph(f"What a recorder can measure at {going.project.design.name}:"))
    rows = []
    for one in plan.quantities:
        rows.append((one.key, one.title, f"measured on {days[one.key]}" if one.key in days else "not yet"))
    say(table(rows))
    for key, why in plan.left_out.items():
        say(paragraph(f"{key}: not at this machine, {why}.", first="  ", then="    "))
    say(
        paragraph(
            f"`wirecue measure {shown(going.design)} --recorder PORT` measures them one after the other, --virtual "
            "tries it on a simulated machine. docs/measuring.md says what to build."
        )
    )


def _list_record(going: Measuring) -> dict[str, Any]:
    days = going.days()
    return {
        "format": MEASURE_FORMAT,
        "design": going.project.design.name,
        "quantities": [
            {
                "key": one.key,
                "title": one.title,
                "inputs": list(one.watches),
                "fills": list(one.fills),
                "measured_on": days.get(one.key),
            }
            for one in going.plan.quantities
        ],
        "left_out": going.plan.left_out,
    }


# ---- measuring


def _at_the_machine(
    going: Measuring,
    port: str,
    wanted: Sequence[Quantity],
    repeats: int | None,
    slots: int,
    yes: bool,
    simulated: bool,
) -> list[DatedResult]:
    """Measure one quantity after the other; keep each the moment it is there, if it is of a real machine."""
    from bench.link import connected
    from bench.port import require_present
    from bench.recorder.monitor import RecorderMonitor, require_recorder

    require_present(port)
    _caution(going, yes)
    results = []
    with connected(port, follows_host=not simulated) as (link, identity):
        require_recorder(identity, port)
        monitor = RecorderMonitor(link)
        for quantity in wanted:
            count = repeats or quantity.repeats
            _show_quantity(going, quantity, count)
            if not yes:
                word = click.prompt("  Enter when ready, skip, or stop >", default="", show_default=False,
                                    prompt_suffix=" ", err=True).strip().lower()  # fmt: skip
                if word == "stop":
                    break
                if word:
                    continue
            results.append(_measure(going, monitor, quantity, count, slots, None, kept=not simulated))
    return results


def _try_out(
    going: Measuring,
    virtual: str,
    wanted: Sequence[Quantity],
    repeats: int | None,
    slots: int,
    seed: int,
    as_json: bool,
) -> list[DatedResult]:
    """Measure a simulated machine; nothing is kept."""
    from bench.recorder.monitor import RecorderMonitor
    from wirecue.simulated_machine import firmware_machine, modelled_machine

    results = []
    with (
        modelled_machine(going.project, seed)
        if virtual == "model"
        else firmware_machine(going.project, seed, lambda text: say(text, err=True))
    ) as machine:
        for quantity in wanted:
            if quantity.cycle is None:
                say(paragraph(f"{quantity.title}: left out, it takes a hand and an arc."), err=True)
                continue
            machine.make_ready(quantity)
            count = repeats or quantity.repeats
            if not as_json:
                _show_quantity(going, quantity, count)
            monitor = RecorderMonitor(machine.link)
            results.append(_measure(going, monitor, quantity, count, slots, machine, kept=False))
    return results


def _measure(
    going: Measuring,
    monitor: RecorderMonitor,
    quantity: Quantity,
    count: int,
    slots: int,
    machine: SimulatedMachine | None,
    *,
    kept: bool,
) -> DatedResult:
    from datetime import date

    from bench.measuring import MeasuringObserver, measure_quantity
    from timing.measure.found import measured
    from wirecue.measuring import DatedResult

    bridges_us = {key: one.bridge_us for key, one in going.plan.circuits.adapters.items()}
    if machine is None:
        observer = MeasuringObserver(_begins(quantity, count), _asked_length)
    else:
        observer = MeasuringObserver(lambda _: machine.cut_wire(), lambda _: machine.piece_mm())
    runs = measure_quantity(monitor, quantity, bridges_us, count, observer)
    with working("computing"):
        result = measured(going.project, quantity, runs.repeats, runs.lengths_mm, slots)
    if kept:
        going.enter(result, runs.repeats, runs.lengths_mm, slots)
        say(f"entered in {shown(going.log)}", err=True)
    _show_result(result)
    return DatedResult(result, date.today().isoformat())


def _begins(quantity: Quantity, count: int) -> Any:
    def begins(number: int) -> None:
        say(f"  {number} of {count}", err=True)
        if quantity.asks_length:
            click.prompt("    Cut the wire flush with the tip; hands off; Enter >", default="", show_default=False,
                         prompt_suffix=" ", err=True)  # fmt: skip
        elif quantity.cycle is None:
            say("    weld now", err=True)

    return begins


def _asked_length(_: int) -> float | None:
    """Ask for the wire of a run, until it is a length; nothing: it was not measured."""
    from timing.design.units import QuantityError, parse_quantity

    while True:
        text = click.prompt("    Wire that came out, in mm; Enter where it was not measured >", default="",
                            show_default=False, prompt_suffix=" ", err=True).strip()  # fmt: skip
        if not text:
            return None
        try:
            return parse_quantity(f"{text} mm" if text.replace(".", "", 1).isdigit() else text, "mm")
        except QuantityError as error:
            say(click.style(paragraph(f"{error.found}: {error.hint}; for example '293' or '11.5 in'", first="    "),
                            fg="red"), err=True)  # fmt: skip


def _caution(going: Measuring, yes: bool) -> None:
    from bench.errors import NotHeededError
    from timing.measure.quantities import general_cautions

    say("Before anything is measured:", err=True)
    for caution in general_cautions(going.project):
        say(click.style(paragraph(caution, first="  ! ", then="    "), fg="yellow"), err=True)
    if yes:
        return
    if not sys.stdin.isatty():
        raise NotHeededError(asked=False)
    if not click.confirm("Is all of this so?", err=True):
        raise NotHeededError(asked=True)


def _show_quantity(going: Measuring, quantity: Quantity, count: int) -> None:
    from timing.measure.quantities import run_cautions

    say(f"\n{click.style(quantity.title, bold=True)}  ({quantity.key})", err=True)
    for text in run_cautions(going.project, quantity, count):
        say(click.style(paragraph(text, first="  ! ", then="    "), fg="yellow"), err=True)
    if quantity.setup.words:
        say(_labelled("set", ", ".join(quantity.setup.words)), err=True)
    for place, text in enumerate(quantity.do):
        say(_labelled("" if place else "do", text), err=True)
    say(_labelled("tells", quantity.tells), err=True)


def _show_result(result: MeasuredResult) -> None:
    from timing.measure.found import told_figures

    say("\n".join(_result_lines(result, list(told_figures(result)))), err=True)


def _result_lines(result: MeasuredResult, rows: list[tuple[str, str, str, str]]) -> Iterator[str]:
    if rows:
        yield table([(f"  {row[0]}", *row[1:]) for row in rows], ("", "middle", "95 % limits", "next time"))
    for text in result.left_out:
        yield _labelled("left out", text)
    for text in result.trouble:
        yield click.style(_labelled("look at", text), fg="red")
    for text in result.notes:
        yield _labelled("note", text)


def _labelled(label: str, text: str) -> str:
    return paragraph(text, first=f"  {label}".ljust(_LABEL), then=" " * _LABEL)


# ---- what becomes of the design


def _what_changes(
    design: Path, settings: Sequence[Setting], bands_mm: tuple[tuple[float, float], tuple[float, float]] | None
) -> str:
    if not settings:
        return f"Nothing to change in {shown(design)}."
    rows = [(f"  {one.key}", _toml(one.old), "->", _toml(one.new)) for one in settings]
    lines = [f"In {shown(design)}:", table(rows)]
    if bands_mm is not None:
        (low, high), (new_low, new_high) = bands_mm
        lines.append(
            paragraph(
                f"Burnback then leaves {new_low:.1f} mm to {new_high:.1f} mm of wire in nine welds of ten, a band of "
                f"{new_high - new_low:.1f} mm; as the design stands it is {low:.1f} mm to {high:.1f} mm, "
                f"{high - low:.1f} mm. `wirecue advise` says where to set it."
            )
        )
    return "\n".join(lines)


def _toml(value: str | bool | None) -> str:
    if value is None:
        return "(not there)"
    return str(value).lower() if isinstance(value, bool) else f'"{value}"'


def _write(going: Measuring, changed: MeasuredDesign, *, write: bool, as_json: bool, simulated: bool) -> None:
    from wirecue.panel_moves import moved_by, moves_text

    if not changed.settings:
        return
    if write:
        write_unless_changed(going.design, changed.before, changed.text, "measure --write")
        say(f"design: {shown(going.design)}", err=True)
        if not as_json:
            say(f"\n{moves_text(going.design, moved_by(changed.before, changed.text, str(going.design)))}")
            say(paragraph(f"Next: `wirecue advise {shown(going.design)}` says where to set every time now."))
    elif not as_json and not simulated:
        say(f"`wirecue measure {shown(going.design)} --from-log --write` puts that into the file.")


def _report(
    results: Sequence[DatedResult],
    changed: MeasuredDesign,
    bands_mm: tuple[tuple[float, float], tuple[float, float]] | None,
) -> dict[str, Any]:
    return {
        "format": MEASURE_FORMAT,
        "results": [_result_record(one) for one in results],
        "changes": [{"key": one.key, "old": one.old, "new": one.new} for one in changed.settings],
        "burnback_band_mm": None if bands_mm is None else {"before": bands_mm[0], "after": bands_mm[1]},
    }


def _result_record(one: DatedResult) -> dict[str, Any]:
    from dataclasses import asdict

    result = one.result
    return {
        "quantity": result.quantity.key,
        "day": one.day,
        "repeats": result.repeats,
        "figures": [
            {"key": figure.key, "title": figure.title, "unit": figure.unit, "goes_into": figure.goes_into or None}
            | asdict(figure.estimate)
            for figure in result.figures
        ],
        "left_out": list(result.left_out),
        "trouble": list(result.trouble),
        "notes": list(result.notes),
        "values": dict(result.values),
    }
