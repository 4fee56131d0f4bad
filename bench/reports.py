"""A bench run as text for people, as plain JSON data, and as JUnit XML, which test servers and editors read."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from typing import Any

from bench.compare import OUTPUT_NAMES, BenchReport, CaseResult
from timing.formatting import error_ms
from timing.sequence.core.engine import Edge, PhaseChange


def result_line(result: CaseResult) -> str:
    """Return one line for one case, its troubles below."""
    verdict = "pass" if result.passed else "FAIL"
    line = f"{verdict}  {result.name:<24} {result.title}"
    if result.passed and result.compared:
        line += f" ({result.compared} changes, {_error(result)})"
    return "\n".join([line, *(f"        {trouble}" for trouble in result.troubles)])


def table_text(report: BenchReport) -> str:
    """Return the whole run as a table with its verdict."""
    head = [
        f"design   {report.design}, digest {report.digest}",
        f"board    {report.board}, made with version {report.firmware}, on {report.port}",
        "",
        f"{'':<4}  {'case':<24} {'changes':>7}  {'earliest':>10}  {'latest':>10}  what",
    ]
    rows = [
        f"{'pass' if result.passed else 'FAIL':<4}  {result.name:<24} {result.compared:>7}  "
        f"{error_ms(result.earliest_us, places=3):>10}  {error_ms(result.latest_us, places=3):>10}  {result.title}"
        for result in report.results
    ]
    return "\n".join([*head, *rows, "", run_verdict(report)]) + "\n"


def run_verdict(report: BenchReport) -> str:
    """Return the last line."""
    count = len(report.results)
    if report.passed:
        return f"All {count} cases pass."
    return (
        f"{report.failures} of {count} cases FAIL. Do not connect this board to the feeder."
        if count
        else "No case ran."
    )


def _error(result: CaseResult) -> str:
    return f"{error_ms(result.earliest_us, places=3)} to {error_ms(result.latest_us, places=3)}"


RUN_FORMAT = 1


def report_data(report: BenchReport) -> dict[str, Any]:
    """Return the run, units in the names of the keys."""
    return {
        "format": RUN_FORMAT,
        "design": report.design,
        "digest": report.digest,
        "board": report.board,
        "firmware": report.firmware,
        "port": report.port,
        "passed": report.passed,
        "cases": [_case(result) for result in report.results],
    }


def _case(result: CaseResult) -> dict[str, Any]:
    data: dict[str, Any] = {
        "name": result.name,
        "title": result.title,
        "passed": result.passed,
        "troubles": list(result.troubles),
        "compared": result.compared,
        "earliest_us": result.earliest_us,
        "latest_us": result.latest_us,
        "took_us": result.took_us,
    }
    if result.predicted is not None and result.seen is not None:
        data["inputs"] = [
            {"at_us": change.at_us, "what": str(change.what), "value": change.value}
            for change in result.predicted.changes
        ]
        data["predicted"] = {"phases": _phases(result.predicted.phases), "edges": _edges(result.predicted.edges)}
        seen = sorted((edge for edges in result.seen.edges.values() for edge in edges), key=lambda edge: edge.at_us)
        data["seen"] = {"phases": _phases(result.seen.phases), "edges": _edges(seen)}
    return data


def _phases(phases: Iterable[PhaseChange]) -> list[dict[str, Any]]:
    return [{"at_us": each.at_us, "phase": each.phase.word, "fault": each.fault.value} for each in phases]


def _edges(edges: Iterable[Edge]) -> list[dict[str, Any]]:
    return [{"at_us": edge.at_us, "output": OUTPUT_NAMES[edge.output], "on": edge.on} for edge in edges]


# XML 1.0 takes no other characters, not even escaped.
_FORBIDDEN = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit_text(report: BenchReport, kind: str = "bench") -> str:
    """Return the run as an XML text; `kind` is the command that made it. Times are seconds on the board's clock."""
    suite = ET.Element(
        "testsuite",
        name=_clean(f"wirecue {kind} {report.design}"),
        tests=str(len(report.results)),
        failures=str(report.failures),
        errors="0",
        skipped="0",
        time=_seconds(sum(result.took_us for result in report.results)),
    )
    properties = ET.SubElement(suite, "properties")
    facts = {"digest": report.digest, "board": report.board, "port": report.port, "firmware": report.firmware}
    for name, value in facts.items():
        ET.SubElement(properties, "property", name=name, value=_clean(value))
    for result in report.results:
        case = ET.SubElement(
            suite,
            "testcase",
            classname=_clean(f"{kind}.{report.design}"),
            name=_clean(result.name),
            time=_seconds(result.took_us),
        )
        if not result.passed:
            failure = ET.SubElement(case, "failure", message=_clean(result.troubles[0]))
            failure.text = _clean("\n".join(result.troubles))
    root = ET.Element("testsuites")
    root.append(suite)
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _seconds(duration_us: int) -> str:
    return f"{duration_us / 1e6:.6f}"


def _clean(text: str) -> str:
    return _FORBIDDEN.sub("?", text)
