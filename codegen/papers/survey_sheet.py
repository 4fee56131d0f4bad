"""The survey on paper: the same questions as the command asks, with room for the readings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from codegen.papers.blocks import Block, Caution, Fill, Paper, PaperSection, Paragraph
from timing.design.board import Board
from timing.safety import (
    ALTERED,
    BEFORE_OPENING,
    CONTROL_CIRCUIT,
    GAS,
    LIVE_MEASURING,
    NOT_SAFETY,
    ROLLS_AND_WIRE,
    STANDARDS,
    TRIGGER_HELD,
    WELDING_CIRCUIT,
)
from timing.survey.question import NO, YES, Question, Topic
from timing.survey.topics import topics

SURVEY_CAUTIONS = (
    BEFORE_OPENING,
    LIVE_MEASURING,
    TRIGGER_HELD,
    WELDING_CIRCUIT,
    ROLLS_AND_WIRE,
    GAS,
    CONTROL_CIRCUIT,
    ALTERED,
    NOT_SAFETY,
)
"""In the order in which somebody at the machine needs them; the command says the same."""


def survey_paper(boards: tuple[Board, ...], version: str) -> Paper:
    """Return the blank survey; `version` is that of this tool."""
    first = PaperSection("before", "Before you begin", list(_cautions()))
    sections = [first, *(_section(topic) for topic in topics(boards))]
    subtitle = "Measure the feeder once; then wirecue survey NAME asks the same, and writes the design."
    return Paper("Survey of a wire feeder", subtitle, f"survey sheet, wirecue {version}", sections)


def _cautions() -> Iterator[Block]:
    for text in SURVEY_CAUTIONS:
        yield Caution(text)
    yield Paragraph(STANDARDS)
    yield Paragraph("Photograph the inside before you touch anything, and label every wire.")
    yield Fill("Machine: make, type, number, and where it stands")
    yield Fill("Surveyed by, on")


def _section(topic: Topic) -> PaperSection:
    return PaperSection(
        _key(topic), topic.title, [block for question in topic.questions for block in _blocks(question)]
    )


def _key(topic: Topic) -> str:
    return topic.questions[0].key.replace(".", "-")


def _blocks(question: Question) -> Sequence[Block]:
    only = f" ({question.when.words})" if question.when else ""
    usual = f" Usual: {question.usual}." if question.usual and question.kind not in ("choice", "yes-no") else ""
    boxes = tuple(_boxes(question))
    if question.kind in ("wire", "gas"):
        # What the label says is written down; who has no label ticks.
        where = "as on the spool" if question.kind == "wire" else "as on the cylinder"
        return [Fill(question.ask + only, question.how + usual, where), Fill("No label to read: tick", boxes=boxes)]
    return [Fill(question.ask + only, question.how + usual, _unit(question), boxes)]


def _unit(question: Question) -> str:
    """The unit that a bare number is taken in, with the others that may be written."""
    three = " (shortest, usual, longest)" if question.kind == "spread" else ""
    others = f" (or {' or '.join(question.other_units)}: write which)" if question.other_units else ""
    return f"{question.unit}{three}{others}"


def _boxes(question: Question) -> Iterator[str]:
    if question.kind == "yes-no":
        yield from (YES, NO)
    for option in question.options:
        ends = f" STOP HERE. {option.rules_out}" if option.rules_out else ""
        first = f" {option.to_do}" if option.to_do else ""
        yield f"`{option.word}` {option.meaning}.{ends}{first}" if option.meaning else f"`{option.word}`"
