"""wirecue bench."""

from __future__ import annotations

import contextlib
import itertools
import secrets
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.errors import meant
from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, junit_option, printed
from wirecue.terminal import json_text, paragraph, say, table

if TYPE_CHECKING:
    from bench.cases import Case
    from bench.compare import BenchReport, CaseResult
    from bench.message import Identity
    from bench.recorder.pair import LinkedPair
    from bench.recorder.session import WitnessReport
    from bench.run import BenchObserver
    from timing.project import Project
    from timing.protocol.target import Target
    from wirecue.firmware import VirtualKind


DRAWS_A_SCRIPT = 3
"""Random scripts that are drawn at the most for each that is to be run (choice)."""


@click.command(name="bench", cls=WritingCommand, short_help="Test a board, real or virtual, over its serial link.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--port", "-p", help="Serial port of the board, such as /dev/ttyACM0 or COM4.")
@click.option(
    "--virtual",
    is_flag=False,
    flag_value="model",
    type=click.Choice(["model", "avr"]),
    help="Test a virtual board: --virtual is all model, --virtual=avr the real firmware in a simulator.",
)
@click.option(
    "--recorder",
    "recorder_port",
    is_flag=False,
    flag_value="",
    metavar="PORT",
    help="Port of the recorder that presses and watches; alone with --virtual, a virtual recorder.",
)
@click.option(
    "--random",
    "random_count",
    type=click.IntRange(1, 10_000),
    metavar="N",
    help="With a recorder: run N random trigger scripts in place of the cases.",
)
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), help="Draw the random scripts of an earlier run again.")
@click.option("--case", "names", multiple=True, metavar="NAME", help="Run this case only; may be given several times.")
@click.option("--list-cases", is_flag=True, help="List the cases of this design and stop.")
@click.option("--long", "with_long", is_flag=True, help="Run cases of over half a minute, such as long limits, too.")
@click.option(
    "--json",
    "json_path",
    type=OutputOption("report", Form.JSON),
    metavar="FILE",
    help="Write all that was expected and seen as JSON; - prints it.",
)
@junit_option
@click.option(
    "--paper",
    "paper_path",
    type=OutputOption("report to print", Form.XML),
    metavar="FILE",
    help="Write a report to print and keep: PDF where FILE ends in .pdf, else HTML.",
)
@click.option("--yes", "-y", is_flag=True, help="The cautions are heeded: do not ask.")
@click.option("--no-press", is_flag=True, help="Leave out the last step, a pull of the real trigger by hand.")
@click.option("--patience", "patience_s", type=click.FloatRange(0.2, 120), help="Seconds to wait for the board.")
@click.pass_context
def command(
    ctx: click.Context,
    design: Path,
    port: str | None,
    virtual: VirtualKind | None,
    recorder_port: str | None,
    random_count: int | None,
    seed: int | None,
    names: tuple[str, ...],
    list_cases: bool,
    with_long: bool,
    json_path: Destination | None,
    junit_path: Destination | None,
    paper_path: Destination | None,
    yes: bool,
    no_press: bool,
    patience_s: float | None,
) -> None:
    """Test a board, real or virtual, over its serial link.

    The board says which design it carries; then its contacts and dials are forced over the bench link, case after
    case, and every edge of its outputs is compared with the model, on the board's own clock. The last step is a pull
    of the real trigger.

    \b
      wirecue bench my_feeder.toml --virtual             no board needed
      wirecue bench my_feeder.toml                       lists what is plugged in
      wirecue bench my_feeder.toml --port /dev/ttyACM0   lamps for loads, feeder plug (P1) pulled!
      wirecue bench my_feeder.toml -p /dev/ttyACM0 --recorder /dev/ttyUSB0
      wirecue bench my_feeder.toml --virtual --recorder --random 20

    With a recorder the real trigger and purge inputs are pressed and the real output terminals are watched by a second
    board with a clock of its own: three things are judged, what the board claims, what was seen, and how these fit.

    The test of a real board is entered in the design's logbook where there is one (`wirecue log`), with its verdict and
    where its report lies; that of a virtual board is not: nothing happened at the machine.

    Exit codes: 0 all cases pass, 1 a case fails, 2 no board, the wrong board, or a wrong command.
    """
    from bench.port import require_present
    from bench.run import run_session
    from timing.protocol.target_of_design import target_of
    from wirecue.bench_entry import enter_bench
    from wirecue.firmware import NO_PORT
    from wirecue.projects import load_project

    if port is not None and virtual is not None:
        raise click.UsageError("--port and --virtual exclude each other")
    _check_recorder(port, virtual, recorder_port, random_count, seed, names)
    if printed(json_path, junit_path, paper_path) > 1:
        raise click.UsageError("only one of --json, --junit and --paper can be printed")
    project = load_project(design)
    target = target_of(project)
    cases = _cases(target, names, with_long)
    if list_cases:
        say(table([(case.name, f"{case.lasts_us / 1e6:.1f} s", case.title) for case in cases]))
        return
    if recorder_port is not None:
        written = (json_path, junit_path, paper_path)
        draw = None if random_count is None else (random_count, seed)
        with _pair(project, target, port, recorder_port, virtual, yes, patience_s) as pair:
            passed = _witnessed(project, target, pair, cases, draw, design, virtual, written)
        ctx.exit(0 if passed else 1)
    ask = None
    if virtual is None:
        port = port or _no_port()
        require_present(port)
        _caution(yes)
        ask = None if no_press else _say
    if not names and not with_long:
        _say_what_is_left_out(target)
    with _board(project, target, port, virtual) as address:
        report = run_session(
            address,
            target,
            cases,
            _progress(len(cases), ask is not None),
            real=virtual is None,
            **({} if patience_s is None else {"patience_s": patience_s}),
        )
    if virtual is not None:
        # What is kept must not pass for the test of a real board.
        report = replace(report, port=NO_PORT[virtual])
    _give(report, json_path, junit_path, paper_path)
    if virtual is None:
        written = (paper_path, json_path, junit_path)
        enter_bench(design, report, [one.path for one in written if one is not None and not one.printed])
    ctx.exit(0 if report.passed else 1)


def _check_recorder(
    port: str | None,
    virtual: VirtualKind | None,
    recorder_port: str | None,
    random_count: int | None,
    seed: int | None,
    names: tuple[str, ...],
) -> None:
    if random_count is not None and recorder_port is None:
        raise click.UsageError("--random needs a recorder: --recorder PORT, or --virtual --recorder")
    if random_count is not None and names:
        raise click.UsageError("--random and --case exclude each other")
    if seed is not None and random_count is None:
        raise click.UsageError("--seed is of random scripts: add --random N")
    if recorder_port and virtual is not None:
        raise click.UsageError("--recorder takes no port with --virtual: the recorder is virtual, too")
    if recorder_port == "" and virtual is None:
        raise click.UsageError("--recorder needs the recorder's port, such as /dev/ttyUSB0 or COM5, or --virtual")
    if recorder_port and port is None:
        raise click.UsageError("--recorder needs --port too, with the port of the add-on")


def _cases(target: Target, names: tuple[str, ...], with_long: bool) -> list[Case]:
    from bench.cases import LONGEST_CASE_US, cases_of

    everything = {case.name: case for case in cases_of(target, sys.maxsize)}
    for name in names:
        if name not in everything:
            hint = meant(name, everything) or "--list-cases lists them"
            raise click.UsageError(f"{target.design} has no case {name!r}; {hint}")
    if names:
        return [everything[name] for name in dict.fromkeys(names)]
    return [case for case in everything.values() if with_long or case.lasts_us <= LONGEST_CASE_US]


def _say_what_is_left_out(target: Target) -> None:
    from bench.cases import left_out

    if long := left_out(target):
        _say(f"left out for their length: {', '.join(case.name for case in long)}; --long runs them")


def _no_port() -> str:
    from bench.errors import NoPortGivenError
    from bench.port import listed_ports

    raise NoPortGivenError(listed_ports())


def _caution(yes: bool, more: Sequence[str] = ()) -> None:
    from bench.errors import NotHeededError
    from timing.protocol.target import CAUTIONS

    _say("Before a board is tested:")
    for caution in (*CAUTIONS, *more):
        _say(paragraph(caution, first="  - ", then="    "))
    if yes:
        return
    if not sys.stdin.isatty():
        raise NotHeededError(asked=False)
    if not click.confirm("Is all of this so?", err=True):
        raise NotHeededError(asked=True)


@contextlib.contextmanager
def _board(project: Project, target: Target, port: str | None, virtual: VirtualKind | None) -> Iterator[str]:
    """Yield the address of the board, after starting it where it is virtual."""
    from wirecue.firmware import virtual_board

    if virtual is None:
        yield port or _no_port()
        return
    with virtual_board(virtual, project, target, _say) as address:
        yield address


@contextlib.contextmanager
def _pair(
    project: Project,
    target: Target,
    port: str | None,
    recorder_port: str,
    virtual: VirtualKind | None,
    yes: bool,
    patience_s: float | None,
) -> Iterator[LinkedPair]:
    """Yield both boards, after starting them where they are virtual."""
    from bench.feeder_model.machines import lamps
    from bench.link import PATIENCE_S
    from bench.port import require_present
    from bench.recorder.pair import connected_pair, require_two_ports
    from wirecue.firmware import paired_boards
    from wirecue.witness_words import witness_cautions

    wait_s = PATIENCE_S if patience_s is None else patience_s
    if virtual is not None:
        with (
            paired_boards(virtual, project, target, lamps(project), _say) as (address, recorder_address),
            connected_pair(address, recorder_address, wait_s, follows_host=False) as pair,
        ):
            yield pair
        return
    port = port or _no_port()
    require_two_ports(port, recorder_port)
    require_present(port)
    require_present(recorder_port)
    _caution(yes, witness_cautions(project))
    with connected_pair(port, recorder_port, wait_s) as pair:
        yield pair


def _witnessed(
    project: Project,
    target: Target,
    pair: LinkedPair,
    cases: Sequence[Case],
    draw: tuple[int, int | None] | None,
    design: Path,
    virtual: VirtualKind | None,
    written: tuple[Destination | None, Destination | None, Destination | None],
) -> bool:
    """Run the witnessed test and give its report; tell whether all passed."""
    from bench.recorder.lags import lags_between, random_slack_us
    from bench.recorder.session import run_witnessed
    from bench.script_draws import drawn_cases
    from wirecue.bench_entry import enter_bench
    from wirecue.firmware import NO_PORT

    lags = lags_between(project)
    seed, spares = None, None
    if draw is not None:
        count, seed = draw[0], secrets.randbelow(2**32) if draw[1] is None else draw[1]
        _say(f"drawing {count} random scripts with seed {seed}; --seed {seed} draws them again")
        draws = drawn_cases(target, DRAWS_A_SCRIPT * count, seed, random_slack_us(lags))
        cases, spares = list(itertools.islice(draws, count)), draws
    observer = _progress(len(cases), asks=False)
    report = run_witnessed(pair, target, cases, lags, observer, real=virtual is None, seed=seed, spares=spares)
    if virtual is not None:
        report = replace(report, bench=replace(report.bench, port=NO_PORT[virtual]), recorder_port=NO_PORT[virtual])
    json_path, junit_path, paper_path = written
    _give_witnessed(report, json_path, junit_path, paper_path)
    if virtual is None:
        files = [one.path for one in (paper_path, json_path, junit_path) if one is not None and not one.printed]
        enter_bench(design, report.bench, files)
    return report.passed


def _progress(count: int, asks: bool) -> BenchObserver:
    from bench.reports import result_line
    from bench.run import BenchObserver

    on_terminal = sys.stderr.isatty()
    numbers = iter(range(1, count + 1))

    def found(identity: Identity) -> None:
        _say(f"found {identity.carries}, made with version {identity.version}")

    def begins(case: Case) -> None:
        if on_terminal:
            # A random script that proved nothing is followed by another one in its place.
            click.echo(f"\r\x1b[K[{next(numbers, count)}/{count}] {case.title} ...", nl=False, err=True)

    def done(result: CaseResult) -> None:
        # The table at the end has all of it; on the way only what fails is worth a line.
        if on_terminal:
            click.echo("\r\x1b[K", nl=False, err=True)
        if not result.passed:
            click.secho(result_line(result), fg="red", err=True)

    return BenchObserver(found, begins, done, _say if asks else None)


def _say(text: str) -> None:
    say(text, err=True)


def _give(
    report: BenchReport, json_path: Destination | None, junit_path: Destination | None, paper_path: Destination | None
) -> None:
    from bench.reports import junit_text, report_data, table_text

    if json_path is not None:
        json_path.give(json_text(report_data(report)))
    if junit_path is not None:
        junit_path.give(junit_text(report))
    if paper_path is not None:
        from codegen.papers.blocks import paper_file
        from wirecue.bench_paper import bench_paper

        paper_path.give(paper_file(bench_paper(report), paper_path.path))
    say(table_text(report).rstrip("\n"), err=printed(json_path, junit_path, paper_path) > 0)


def _give_witnessed(
    report: WitnessReport, json_path: Destination | None, junit_path: Destination | None, paper_path: Destination | None
) -> None:
    from bench.recorder.words import witness_data, witness_text
    from bench.reports import junit_text

    if json_path is not None:
        json_path.give(json_text(witness_data(report)))
    if junit_path is not None:
        junit_path.give(junit_text(report.bench, "witness"))
    if paper_path is not None:
        from codegen.papers.blocks import paper_file
        from wirecue.witness_paper import witness_paper

        paper_path.give(paper_file(witness_paper(report), paper_path.path))
    say(witness_text(report).rstrip("\n"), err=printed(json_path, junit_path, paper_path) > 0)
