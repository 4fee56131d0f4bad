"""wirecue symptom."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.terminal import json_text, paragraph, say, working

if TYPE_CHECKING:
    from collections.abc import Sequence

    from timing.symptoms.symptom import Cause, Diagnosis, Symptom

LABEL = 7
"""Columns that a label takes in front of its text."""


@click.command(name="symptom", short_help="From what you see at the machine to causes, checks and remedies.")
@click.argument("design", type=click.Path(path_type=Path))
@click.argument("words", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Print the causes as JSON.")
def command(design: Path, words: tuple[str, ...], as_json: bool) -> None:
    """From what you see at the machine to causes, checks and remedies.

    Say it in your own words. The causes come ranked: those that this design's own figures point to first, those that
    they speak against last; each with what to look at, and what to do. Without words: all that may be seen.

    \b
      wirecue symptom my_feeder.toml
      wirecue symptom my_feeder.toml "it sticks"
      wirecue symptom my_feeder.toml lamp blinks 4

    Order and usual causes are common practice, no source; the figures are the design's.
    """
    from timing.symptoms.table import diagnoses, meant_by, symptoms_of
    from wirecue.projects import load_project

    project = load_project(design)
    with working("weighing causes"):
        known = symptoms_of(project)
        meant = meant_by(" ".join(words), known) if words else known
        found = diagnoses(project, meant) if words or as_json else ()
    if as_json:
        click.echo(json_text({"design": project.design.name, "symptoms": report(found)}), nl=False)
    elif not words:
        say(listed(design.name, meant))
    else:
        say("\n\n".join(map(text_of, found)))


def listed(design: str, symptoms: Sequence[Symptom]) -> str:
    """Return the symptoms that a design may show, a line each."""
    rows = [f"  {click.style(one.key.ljust(14), bold=True)}  {one.title}" for one in symptoms]
    return "\n".join([*rows, "", f'Say which, by its name or in your own words: wirecue symptom {design} "it sticks"'])


def text_of(found: Diagnosis) -> str:
    """Return one diagnosis as text, a block for each cause."""
    head = click.style(found.symptom.title, bold=True)
    caution = [paragraph(found.symptom.caution, first="Caution: ", then="  ")] if found.symptom.caution else []
    causes = [_cause(number, cause) for number, cause in enumerate(found.causes, 1)]
    return "\n\n".join(["\n".join([head, *caution]), *causes])


def _cause(number: int, cause: Cause) -> str:
    first = f"{number}. "
    head = paragraph(f"{cause.text} ({cause.standing.words})", first=first, then=" " * len(first))
    rows = [("here", cause.figures), ("check", cause.check), ("do", cause.remedy)]
    return "\n".join([head, *(_labelled(label, text) for label, text in rows if text)])


def _labelled(label: str, text: str) -> str:
    return paragraph(text, first=f"   {label.ljust(LABEL)}", then=" " * (3 + LABEL))


def report(found: Sequence[Diagnosis]) -> list[dict[str, object]]:
    """Return diagnoses as data."""
    return [
        {
            "symptom": one.symptom.key,
            "title": one.symptom.title,
            "caution": one.symptom.caution,
            "causes": [
                {
                    "standing": cause.standing.name.lower(),
                    "text": cause.text,
                    "figures": cause.figures,
                    "check": cause.check,
                    "remedy": cause.remedy,
                }
                for cause in one.causes
            ],
        }
        for one in found
    ]
