"""A bench run as a paper: verdict, cases, and every edge expected and measured."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest

from bench.compare import BenchReport, CaseResult, output_word
from bench.reports import run_verdict
from codegen.charts.capture import capture_svg
from codegen.papers.blocks import Block, Caution, Fill, Grid, Paper, PaperSection, Paragraph, Picture, Steps
from timing.formatting import signed_ms
from timing.safety import NOT_SAFETY
from timing.sequence.core.engine import Edge
from timing.sequence.core.table import Output

MOST_PICTURES = 3
"""Failed cases that are drawn: enough to see what is wrong, and the paper stays short."""
_SIGNED_OFF = (
    Fill("Date"),
    Fill("Tested by"),
    Fill("Loads", "Lamps, or what else stood in for valve, drive and contactor."),
)


def bench_paper(report: BenchReport) -> Paper:
    """Return the run as a paper."""
    failed = [result for result in report.results if not result.passed]
    sections = [
        PaperSection("verdict", "Verdict", _verdict(report)),
        PaperSection("record", "For the record", _SIGNED_OFF),
        *([PaperSection("failed", "What failed", list(_failed(failed)))] if failed else []),
        PaperSection("cases", "Cases", [_cases(report.results)]),
        PaperSection("edges", "Edges, expected and measured", [Paragraph(_EDGES), _edges(report.results)]),
    ]
    foot = f"{report.design}, design {report.digest}, bench report"
    return Paper(f"Bench report: {report.design}", _subtitle(report), foot, sections)


_EDGES = (
    "Milliseconds from the start of each case, on the board's own clock. Behind each expected instant stands by how "
    "much the board was late (+) or early (-). An edge under way while inputs change over the link may come late by as "
    "much as the link took."
)


def _subtitle(report: BenchReport) -> str:
    passed = len(report.results) - report.failures
    return f"{'PASS' if report.passed else 'FAIL'}: {passed} of {len(report.results)} cases pass"


def _verdict(report: BenchReport) -> list[Block]:
    facts = (
        ("design", report.design),
        ("digest", f"`{report.digest}`"),
        ("board", report.board),
        ("sketch made by", f"wirecue {report.firmware}"),
        ("port", report.port),
    )
    verdict = run_verdict(report)
    return [
        Paragraph(verdict) if report.passed else Caution(verdict),
        Grid(("what", "this run"), facts),
        Paragraph(NOT_SAFETY),
    ]


def _failed(results: Sequence[CaseResult]) -> Iterator[Block]:
    for number, result in enumerate(results):
        yield Paragraph(f"`{result.name}`: {result.title}")
        yield Steps(result.troubles, "bullet")
        if number < MOST_PICTURES and result.predicted is not None and result.seen is not None:
            picture = capture_svg(result.title, result.predicted, result.seen.edges, ())
            yield Picture(picture, f"{result.title}: outputs as expected above outputs as measured")


def _cases(results: Sequence[CaseResult]) -> Grid:
    rows = [
        (
            "pass" if result.passed else "FAIL",
            result.name,
            result.title,
            str(result.compared),
            signed_ms(result.earliest_us),
            signed_ms(result.latest_us),
            f"{result.took_us / 1e6:.2f}",
        )
        for result in results
    ]
    head = ("", "case", "what", "changes", "earliest, ms", "latest, ms", "took, s")
    return Grid(head, tuple(rows), numbers=frozenset({3, 4, 5, 6}))


def _edges(results: Sequence[CaseResult]) -> Grid:
    outputs = sorted({output for result in results for output in _seen(result)}, key=lambda output: output.value)
    rows = [
        (result.name, *(_course(result, output) for output in outputs))
        for result in results
        if result.predicted is not None
    ]
    return Grid(("case", *map(output_word, outputs)), tuple(rows))


def _seen(result: CaseResult) -> Mapping[Output, tuple[Edge, ...]]:
    return {} if result.seen is None else result.seen.edges


def _course(result: CaseResult, output: Output) -> str:
    expected = () if result.predicted is None else result.predicted.edges_of(output)
    pairs = zip_longest(expected, _seen(result).get(output, ()))
    return ", ".join(_pair(*pair) for pair in pairs) or "stays off"


def _pair(wanted: Edge | None, seen: Edge | None) -> str:
    """Return one edge; the two stand at the same place in the order of their output."""
    edge = wanted or seen
    if edge is None:
        return ""
    # An edge stays in one piece where the line breaks.
    word = "on\N{NO-BREAK SPACE}" if edge.on else "off\N{NO-BREAK SPACE}"
    if seen is None:
        return f"{word}{edge.at_us / 1000:.1f} MISSING"
    if wanted is None:
        return f"{word}{edge.at_us / 1000:.1f} UNEXPECTED"
    return f"{word}{wanted.at_us / 1000:.1f}\N{NO-BREAK SPACE}({signed_ms(seen.at_us - wanted.at_us)})"
