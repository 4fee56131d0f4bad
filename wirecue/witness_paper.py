"""A witnessed run as a paper: the bench paper, with what only the recorder can tell behind its verdict."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bench.compare import output_word
from bench.recorder.judging import JudgedCase, JudgedEdge
from bench.recorder.session import WitnessReport
from bench.recorder.words import clock_lines, verdict_lines
from codegen.papers.blocks import Block, Caution, Grid, Paper, PaperSection, Paragraph, Steps
from timing.formatting import signed_ms
from wirecue.bench_paper import bench_paper

_EDGES = (
    "Milliseconds from the start of each case, on the add-on's clock: an edge as the model has it from the recorder's "
    "own presses, as the board claims it, as the recorder saw it, and how late that is once the lags of press, drive "
    "and adapter are taken off."
)


def witness_paper(report: WitnessReport) -> Paper:
    """Return the run as a paper."""
    paper = bench_paper(report.bench)
    verdict, *others = paper.sections
    return replace(paper, sections=[verdict, *_sections(report), *others])


def _sections(report: WitnessReport) -> Iterator[PaperSection]:
    words = verdict_lines(report)
    blocks: list[Block] = [Paragraph(words[0]) if report.passed else Caution(words[0])]
    if len(words) > 1:
        blocks.append(Steps(tuple(words[1:]), "bullet"))
    notes = [*report.wiring.notes, *([f"Left out: {', '.join(report.left_out)}."] if report.left_out else [])]
    blocks += [Paragraph(note) for note in notes]
    yield PaperSection("witness", "What the recorder says", blocks)
    yield PaperSection("clocks", "Clocks", [Steps(tuple(clock_lines(report)), "bullet")])
    if report.latencies:
        yield PaperSection("latency", "From press to output", [_latencies(report)])
    if report.cases:
        yield PaperSection("seen", "Edges, claimed and seen", [Paragraph(_EDGES), _edges(report)])


def _latencies(report: WitnessReport) -> Grid:
    rows = [
        (
            f"{one.contact} {'pressed' if one.pressed else 'let go'}",
            f"{output_word(one.output)} {'on' if one.on else 'off'}",
            f"{one.filter_us / 1000:.1f}",
            f"{one.least_us / 1000:.3f}",
            f"{one.typical_us / 1000:.3f}",
            f"{one.most_us / 1000:.3f}",
            str(one.count),
        )
        for one in report.latencies
    ]
    head = ("press", "output", "filter, ms", "least, ms", "typical, ms", "most, ms", "times")
    return Grid(head, tuple(rows), numbers=frozenset({2, 3, 4, 5, 6}))


def _edges(report: WitnessReport) -> Grid:
    rows = [row for case in report.cases for row in _rows(case)]
    head = ("case", "output", "expected", "claimed", "seen", "late, ms")
    return Grid(head, tuple(rows), numbers=frozenset({2, 3, 4, 5}))


def _rows(case: JudgedCase) -> Iterator[tuple[str, ...]]:
    for one in case.edges:
        edge = one.edge
        on = next(each.on for each in (edge.expected, edge.seen, edge.claimed) if each is not None)
        instants = (
            "-" if each is None else f"{each.at_us / 1000:.2f}" for each in (edge.expected, edge.claimed, edge.seen)
        )
        yield case.name, f"{output_word(edge.output)} {'on' if on else 'off'}", *instants, _late(one)


def _late(one: JudgedEdge) -> str:
    return "-" if one.late_us is None else signed_ms(one.late_us)
