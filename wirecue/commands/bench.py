"""wirecue bench."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
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
    from bench.run import BenchObserver
    from timing.project import Project
    from timing.protocol.target import Target
    from wirecue.firmware import VirtualKind


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
    if printed(json_path, junit_path, paper_path) > 1:
        raise click.UsageError("only one of --json, --junit and --paper can be printed")
    project = load_project(design)
    target = target_of(project)
    cases = _cases(target, names, with_long)
    if list_cases:
        say(table([(case.name, f"{case.lasts_us / 1e6:.1f} s", case.title) for case in cases]))
        return
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


def _caution(yes: bool) -> None:
    from bench.errors import NotHeededError
    from timing.protocol.target import CAUTIONS

    _say("Before a board is tested:")
    for caution in CAUTIONS:
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


def _progress(count: int, asks: bool) -> BenchObserver:
    from bench.reports import result_line
    from bench.run import BenchObserver

    on_terminal = sys.stderr.isatty()
    numbers = iter(range(1, count + 1))

    def found(identity: Identity) -> None:
        _say(f"found {identity.carries}, made with version {identity.version}")

    def begins(case: Case) -> None:
        if on_terminal:
            click.echo(f"\r\x1b[K[{next(numbers)}/{count}] {case.title} ...", nl=False, err=True)

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
