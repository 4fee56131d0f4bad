"""A bench run as plain JSON data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bench.results import CaseResult, Report
from bench.trace import OUTPUT_NAMES
from timing.sequence.core.engine import Edge, PhaseChange

FORMAT = 1


def report_data(report: Report) -> dict[str, Any]:
    """Return the run, units in the names of the keys."""
    return {
        "format": FORMAT,
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
            {"at_us": change.at_us, "what": change.what, "value": change.value} for change in result.predicted.changes
        ]
        data["predicted"] = {"phases": _phases(result.predicted.phases), "edges": _edges(result.predicted.edges)}
        seen = sorted((edge for edges in result.seen.edges.values() for edge in edges), key=lambda edge: edge.at_us)
        data["seen"] = {"phases": _phases(result.seen.phases), "edges": _edges(seen)}
    return data


def _phases(phases: Iterable[PhaseChange]) -> list[dict[str, Any]]:
    return [{"at_us": each.at_us, "phase": each.phase.word, "fault": each.fault.value} for each in phases]


def _edges(edges: Iterable[Edge]) -> list[dict[str, Any]]:
    return [{"at_us": edge.at_us, "output": OUTPUT_NAMES[edge.output], "on": edge.on} for edge in edges]
