"""wirecue prove."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import json_text, paragraph, say

if TYPE_CHECKING:
    from timing.proof.prove import Proof, Verdict


@click.command(
    name="prove", cls=WritingCommand, short_help="Walk the phase table in every state; show what must always hold."
)
@click.argument("design", type=click.Path(path_type=Path))
@click.option(
    "--json",
    "json_path",
    type=OutputOption("data", Form.JSON),
    help="Write the result as JSON to this file; - prints it.",
)
@click.option(
    "--svg",
    type=OutputOption("picture", Form.XML),
    help="Draw the first broken rule's script to this file; - prints it.",
)
@click.pass_context
def command(ctx: click.Context, design: Path, json_path: Destination | None, svg: Destination | None) -> None:
    """Walk the phase table in every state; show what must always hold.

    Contactor only with gas, no weld without a fresh press, everything off at a fault, and so on: each rule is held
    against every combination of phase, inputs, timers and flags that the phase table of this design can meet. Filters,
    dials, the code around the table and the board are not part of it: the result says so at its end.

    A rule that holds is shown with the number of combinations. For one that does not you get the shortest script
    that breaks it, to play with `wirecue simulate --script-file`, and its picture with --svg.

    Exit codes: 0 all rules hold, 1 one is broken, 2 a bad file.
    """
    from codegen.charts.timeline import timeline_svg
    from timing.proof.prove import as_data, prove
    from wirecue.projects import load_project

    project = load_project(design)
    proof = prove(project.design)
    if json_path is not None:
        json_path.give(json_text(as_data(project.design, proof)))
    drawn = next((verdict.counterexample for verdict in proof.broken if verdict.counterexample is not None), None)
    if svg is not None and drawn is not None:
        svg.give(timeline_svg(project.design, drawn.timeline))
    elif svg is not None:
        say("no rule is broken by a script: nothing to draw", err=True)
    if not printed(json_path, svg if drawn is not None else None):
        say("\n".join(_lines(project.design.name, proof)))
    ctx.exit(0 if proof.holds else 1)


def _lines(name: str, proof: Proof) -> Iterator[str]:
    from timing.proof.prove import NOT_WALKED, WALKED

    for verdict in proof.verdicts:
        yield from _verdict_lines(verdict)
    yield ""
    yield from (paragraph(text) for text in WALKED)
    yield ""
    yield "What is not covered:"
    yield from (paragraph(text, first="- ", then="  ") for text in NOT_WALKED)
    yield ""
    count = f"{proof.situations:,} situations, {proof.combinations:,} combinations"
    broken = len(proof.broken)
    summary = (
        "all rules hold on the phase table." if proof.holds else f"{broken} rule{'' if broken == 1 else 's'} broken."
    )
    yield f"{name}: {count}; {summary}"


def _verdict_lines(verdict: Verdict) -> Iterator[str]:
    from timing.proof.prove import phase_words, starts
    from timing.sequence.script_text import write_script

    word, colour = ("holds", "green") if verdict.holds else ("BROKEN", "red")
    count = f"{verdict.combinations:,}" if verdict.holds else ""
    margin = " " * 20
    text = paragraph(verdict.rule.sentence, first=margin, then=margin)
    head = f"{click.style(word.ljust(7), fg=colour, bold=True)} {count:>10}"
    yield head + text[18:]
    if verdict.holds:
        return
    yield f"{margin}phases   {', '.join(phase_words(verdict))}"
    if verdict.counterexample is None:
        yield f"{margin}script   none found: it takes more rounds, or a fault that scripts have no words for"
        return
    yield f"{margin}script   starts {starts(verdict.counterexample)}"
    yield from (f"{margin}         {line}" for line in write_script(verdict.counterexample.script).splitlines())
