"""The test of a real board in the design's logbook: from terminal and page alike."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from timing.logbook.entry import EntryKind, EntryValue
from wirecue.logbooks import enter, told_place

if TYPE_CHECKING:
    from bench.compare import BenchReport


def enter_bench(design: Path, report: BenchReport, papers: Sequence[str] = ()) -> None:
    """Enter the test of a real board, where the design has a logbook; papers: files that the report was written to."""
    values: dict[str, EntryValue] = {
        "verdict": "passed" if report.passed else "FAILED",
        "cases": len(report.results),
        "failed": report.failures,
        "digest": report.digest,
        "firmware": report.firmware,
        "port": report.port,
    }
    files = [told_place(path, design) for path in papers]
    enter(design, (EntryKind.BENCH, values | ({"report": ", ".join(files)} if files else {})))
