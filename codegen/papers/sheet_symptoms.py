"""The build sheet's pages for the day on which something is wrong: what is seen, what may be behind it, what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from codegen.papers.blocks import Block, Caution, Grid, Paragraph
from codegen.papers.sheet import SheetSource
from timing.symptoms.symptom import Cause, Diagnosis, Standing
from timing.symptoms.table import SYMPTOMS, diagnoses


def symptoms(sheet: SheetSource) -> Sequence[Block]:
    """Every symptom but the lamp's codes, which have their own table, with the causes that this design can have."""
    found = diagnoses(sheet.project, SYMPTOMS)
    return [
        Paragraph(
            "Find what you see; begin with the first cause. Those in which this design's own figures point at it come "
            f"first; the screen has the rest: `wirecue symptom {sheet.design.name}.toml "
            '"it sticks"`. Order and usual causes are common practice, no source.'
        ),
        *_tables(found),
    ]


def _tables(found: Sequence[Diagnosis]) -> Iterator[Block]:
    for one in found:
        rows = tuple(_row(cause) for cause in one.causes if cause.standing is not Standing.UNLIKELY)
        if rows:
            if one.symptom.caution:
                yield Caution(f"{one.symptom.title}. {one.symptom.caution}")
            yield Grid(("cause", "look at", "do"), rows, title=one.symptom.title)


def _row(cause: Cause) -> tuple[str, ...]:
    return (f"{cause.text} {cause.figures}".rstrip(), cause.check, cause.remedy)
