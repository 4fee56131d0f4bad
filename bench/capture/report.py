"""A capture compared with the design: a table for people, JSON data for scripts, cases for JUnit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bench.capture.capture import Capture
from bench.capture.check import CaptureCheck, EdgeCheck
from bench.compare import OUTPUT_NAMES, BenchReport, CaseResult, Observation, output_word
from timing.formatting import exact_ms, signed_ms
from timing.protocol.target import Target
from timing.sequence.core.table import Output, Phase

CAPTURE_FORMAT = 1


def edges_text(check: CaptureCheck, target: Target) -> str:
    """Return what was taken for granted, every edge with its error, and the verdict."""
    return "\n".join([*_head(check, target), "", *_rows(check), "", *_end(check)]) + "\n"


def _head(check: CaptureCheck, target: Target) -> Iterator[str]:
    yield f"design     {target.design}, digest {target.digest}"
    yield f"capture    {check.capture.source}, {exact_ms(check.capture.end_ns / 1000)} long"
    yield f"samples    every {_step(check.capture)}: {check.capture.step_from}"
    for each in check.assigned:
        means = "on" if each.role in OUTPUT_NAMES.values() else "good" if each.role == "supply" else "closed"
        role = each.role.replace("_", " ")
        yield f"{role:<10} channel {each.channel.name}, {means} when {each.on_level}: {each.why}"
    for name, time_us in check.dials_us.items():
        how = "as the capture shows" if name in check.as_found else "as told or as in the design"
        yield f"{name + ' dial':<14} taken as {exact_ms(time_us)}, {how}"


def _step(capture: Capture) -> str:
    return f"{capture.step_ns / 1000:.3g} us" if capture.step_ns < 1e6 else f"{capture.step_ns / 1e6:.3g} ms"


def _rows(check: CaptureCheck) -> Iterator[str]:
    yield f"{'':<4}  {'edge':<19}  expected ms  measured ms  error ms  allowed ms"
    for edge in check.edges:
        yield (
            f"{'pass' if edge.passed else 'FAIL':<4}  {edge.what:<19}  {_instant(edge.expected_us):>11}  "
            f"{_instant(edge.measured_us):>11}  {_error(edge):>8}  {_allowed(edge)}"
        ).rstrip()


def _instant(at_us: int | None) -> str:
    return "none" if at_us is None else f"{at_us / 1000:.3f}"


def _error(edge: EdgeCheck) -> str:
    return "" if edge.error_us is None else signed_ms(edge.error_us, 3)


def _allowed(edge: EdgeCheck) -> str:
    return "" if edge.expected_us is None else f"{signed_ms(-edge.early_us, 3)} to {signed_ms(edge.late_us, 3)}"


def _end(check: CaptureCheck) -> Iterator[str]:
    yield from (f"- {trouble}" for trouble in check.troubles)
    last = check.predicted.phases[-1].phase
    if last is not Phase.IDLE or check.beyond:
        yield f"The capture ends in {last.word}: what comes after it is not checked."
    count, failed = len(check.edges), sum(not edge.passed for edge in check.edges)
    if check.passed:
        yield f"All {count} edges are as the design has them."
    elif failed:
        if set(check.dials_us) - check.as_found:
            yield "If dials stand elsewhere than written above, --dials-as-found reads them from the capture."
        yield f"{failed} of {count} edges FAIL. Do not connect this board to the feeder."
    else:
        yield "The capture FAILS. Do not connect this board to the feeder."


def edges_data(check: CaptureCheck, target: Target) -> dict[str, Any]:
    """Return the same as plain JSON data, units in the names of the keys."""
    return {
        "format": CAPTURE_FORMAT,
        "design": target.design,
        "digest": target.digest,
        "board": target.board,
        "capture": check.capture.source,
        "end_us": round(check.capture.end_ns / 1000),
        "sample_step_us": check.capture.step_ns / 1000,
        "passed": check.passed,
        "troubles": list(check.troubles),
        "channels": {each.role: {"channel": each.channel.name, "on_level": each.on_level} for each in check.assigned},
        "dials_us": dict(check.dials_us),
        "dials_as_found": sorted(check.as_found),
        "edges": [
            {
                "output": OUTPUT_NAMES[edge.output],
                "on": edge.on,
                "expected_us": edge.expected_us,
                "measured_us": edge.measured_us,
                "error_us": edge.error_us,
                "early_us": edge.early_us,
                "late_us": edge.late_us,
                "passed": edge.passed,
            }
            for edge in check.edges
        ],
    }


def edges_report(check: CaptureCheck, target: Target) -> BenchReport:
    """Return the same as a report with a case for each output, and one for what is wrong beside the edges."""
    cases = [_case(check, output) for output in check.seen]
    if check.others:
        cases.append(CaseResult("capture", "the capture as a whole", check.others))
    return BenchReport(target.design, target.digest, target.board, "", check.capture.source, tuple(cases))


def _case(check: CaptureCheck, output: Output) -> CaseResult:
    edges = [edge for edge in check.edges if edge.output is output]
    errors_us = [edge.error_us for edge in edges if edge.error_us is not None]
    return CaseResult(
        OUTPUT_NAMES[output],
        f"{output_word(output)} as captured",
        tuple(edge.trouble for edge in edges if not edge.passed),
        len(edges),
        min(errors_us, default=0),
        max(errors_us, default=0),
        round(check.capture.end_ns / 1000),
        check.predicted,
        Observation(check.predicted.phases, {output: check.seen[output]}),
    )
