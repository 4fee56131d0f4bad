"""wirecue sheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.design.text_file import shown
from wirecue.output_files import Destination, Form, OutputOption, WritingCommand

LARGEST_RUN_BYTES = 20_000_000
"""Of the file of a bench run: some thousand cases."""

if TYPE_CHECKING:
    from codegen.papers.sheet import BenchRun


@click.command(
    name="sheet",
    cls=WritingCommand,
    short_help="Write papers for the workshop: build sheet, commissioning sheet, plates.",
)
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--build", type=OutputOption("build sheet", Form.XML), metavar="FILE", help="Write the build sheet.")
@click.option(
    "--commissioning",
    type=OutputOption("commissioning sheet", Form.XML),
    metavar="FILE",
    help="Write the sheet to commission by.",
)
@click.option(
    "--dials",
    type=OutputOption("plates of the panel", Form.PDF),
    metavar="FILE.pdf",
    help="Write the plates of the panel, full size: dials, switches, buttons, lamp.",
)
@click.option(
    "--bench",
    type=click.Path(path_type=Path),
    metavar="FILE.json",
    help="Bench run to show on the build sheet, as `wirecue bench --json` writes it.",
)
def command(
    design: Path,
    build: Destination | None,
    commissioning: Destination | None,
    dials: Destination | None,
    bench: Path | None,
) -> None:
    """Write papers for the workshop.

    `wirecue build` makes the build sheet and the plates of the panel as well; here they come one by one, and with
    the results of a bench run. A sheet is PDF where its FILE ends in .pdf, and HTML otherwise; both print on A4 and
    Letter. Print plates at 100 % and measure their check bar.

    \b
      wirecue sheet my_feeder.toml --commissioning commissioning.pdf
      wirecue sheet my_feeder.toml --build sheet.html --bench bench.json
      wirecue sheet my_feeder.toml --dials dials.pdf

    The blank sheet for the survey comes from `wirecue survey --sheet FILE`.
    """
    from codegen.papers.blocks import paper_files
    from codegen.papers.build_sheet import build_paper
    from codegen.papers.commissioning_sheet import commissioning_paper
    from codegen.papers.dial_pages import plates_pdf
    from codegen.papers.sheet import SheetSource
    from wirecue import __version__
    from wirecue.projects import load_project

    if build is None and commissioning is None and dials is None:
        raise click.UsageError("nothing to write: --build, --commissioning or --dials with a file")
    found = load_project(design)
    run = None if bench is None else _bench_run(bench)
    if build is not None or commissioning is not None:
        sheet = SheetSource(found, __version__, run)
        wanted = [(build, build_paper), (commissioning, commissioning_paper)]
        papers = [(destination, make(sheet)) for destination, make in wanted if destination is not None]
        made = paper_files([(paper, destination.path) for destination, paper in papers])
        for (destination, _), content in zip(papers, made, strict=True):
            destination.give(content)
    if dials is not None:
        dials.give(plates_pdf(found, __version__))


def _bench_run(path: Path) -> BenchRun:
    import json

    from codegen.papers.sheet import NoBenchRunError, bench_run
    from timing.design.text_file import read_text_file

    try:
        data = json.loads(read_text_file(path, LARGEST_RUN_BYTES))
        # Half a surrogate pair is JSON, but no text.
        json.dumps(data, ensure_ascii=False).encode()
        return bench_run(data)
    except NoBenchRunError as error:
        raise click.UsageError(f"{shown(path)}: {error}") from None
    except (ValueError, RecursionError) as error:
        raise click.UsageError(f"{shown(path)} cannot be read as JSON: {error}") from None
