"""A bench run for people."""

from __future__ import annotations

from bench.results import CaseResult, Report


def result_line(result: CaseResult) -> str:
    """Return one line for one case, its troubles below."""
    verdict = "pass" if result.passed else "FAIL"
    line = f"{verdict}  {result.name:<24} {result.title}"
    if result.passed and result.compared:
        line += f" ({result.compared} changes, {_error(result)})"
    return "\n".join([line, *(f"        {trouble}" for trouble in result.troubles)])


def table_text(report: Report) -> str:
    """Return the whole run as a table with its verdict."""
    head = [
        f"design   {report.design}, digest {report.digest}",
        f"board    {report.board}, made with version {report.firmware}, on {report.port}",
        "",
        f"{'':<4}  {'case':<24} {'changes':>7}  {'earliest':>10}  {'latest':>10}  what",
    ]
    rows = [
        f"{'pass' if result.passed else 'FAIL':<4}  {result.name:<24} {result.compared:>7}  "
        f"{_us(result.earliest_us):>10}  {_us(result.latest_us):>10}  {result.title}"
        for result in report.results
    ]
    return "\n".join([*head, *rows, "", verdict_text(report)]) + "\n"


def verdict_text(report: Report) -> str:
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
    return f"{_us(result.earliest_us)} to {_us(result.latest_us)}"


def _us(error_us: int) -> str:
    return f"{error_us / 1000:+.3f} ms"
