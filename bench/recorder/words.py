"""A witnessed run in words: which of board, wiring and clock is wrong, and what to do; and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bench.compare import OUTPUT_NAMES, output_word
from bench.recorder.clocks import ClockRatio
from bench.recorder.judging import JudgedCase, JudgedEdge
from bench.recorder.session import Latency, WitnessReport
from bench.reports import report_data, table_text
from timing.formatting import exact_ms
from timing.sequence.core.engine import Edge


def verdict_lines(report: WitnessReport) -> list[str]:
    """Return what is wrong and what to do, a sentence or two a line."""
    if report.wiring.troubles:
        return [
            "The wiring is to be put right first: nothing else was tested.",
            *report.wiring.troubles,
        ]
    lines: list[str] = []
    if report.clocks.troubles:
        lines += report.clocks.troubles
    told = [case for case in report.cases if not case.inconclusive]
    bad = [case for case in told if not case.result.passed]
    honest = [case for case in bad if not case.claims_pass]
    lying = [case for case in bad if case.claims_pass]
    if honest:
        lines.append(
            f"The board: in {_cases(honest)} its own trace already shows another course than its design's. Was it "
            "flashed with this build, and are its settings those of the design? Build and flash it again."
        )
    if lying:
        lines.append(
            f"The board, or what lies behind its pins: in {_cases(lying)} it claims to do what its design says, and "
            "the recorder saw otherwise. Look at drive, terminals and adapter of the outputs that are named; if "
            "these are good, the sketch is not the one that was built: flash it again."
        )
    if close := [case for case in report.cases if case.inconclusive]:
        lines.append(f"Undecided: {_cases(close)}. Their outcome hung on less than can be told apart; run them again.")
    if not lines:
        lines.append(
            "What the board claims is what the recorder saw, and both are what the design says."
            if report.passed
            else "No case ran."
        )
    return lines


def _cases(cases: list[JudgedCase]) -> str:
    names = ", ".join(case.name for case in cases[:3])
    more = f" and {len(cases) - 3} more" if len(cases) > 3 else ""
    return f"{len(cases)} case{'s' * (len(cases) != 1)} ({names}{more})"


def witness_text(report: WitnessReport) -> str:
    """Return the whole run as text: the table of a bench run, then what only a witness can tell."""
    parts = [table_text(report.bench).rstrip("\n"), ""]
    parts += [f"recorder  made with version {report.recorder_version}, on {report.recorder_port}"]
    if report.seed is not None:
        parts += [f"seed      {report.seed}: --seed {report.seed} draws the same scripts again"]
    parts += [
        f"{'clocks':<10}{line}" if not place else " " * 10 + line for place, line in enumerate(clock_lines(report))
    ]
    parts += [
        f"{'latency':<10}{latency_line(one)}" if not place else " " * 10 + latency_line(one)
        for place, one in enumerate(report.latencies)
    ]
    parts += [
        f"{'apart':<10}{line}" if not place else " " * 10 + line for place, line in enumerate(apart_lines(report))
    ]
    parts += [f"note      {note}" for note in report.wiring.notes]
    if report.left_out:
        parts += [f"left out  {', '.join(report.left_out)}"]
    return "\n".join([*parts, "", *verdict_lines(report)]) + "\n"


def _under(head: str, lines: list[str]) -> list[str]:
    return [f"{'' if place else head:<10}{line}" for place, line in enumerate(lines)]


def clock_lines(report: WitnessReport) -> list[str]:
    """Return what the clocks came to, a line each."""
    found = report.clocks
    if found.ratio is None:
        return ["too short a run to compare the clocks"]
    lines = [
        f"board over recorder {found.ratio.ratio:.6f}, known to {found.ratio.uncertainty * 1e6:.0f} millionths; "
        f"allowed 1 +- {found.allowed:.4f}"
    ]
    for name, one in (("by questions in turn", found.asked), ("by presses that both saw", found.pressed)):
        if one is not None:
            lines.append(
                f"{name}: {one.ratio:.6f} +- {one.uncertainty * 1e6:.0f} millionths over {one.span_us / 1e6:.1f} s"
            )
    for name, host in (("board", found.board_host), ("recorder", found.recorder_host)):
        if host is not None:
            lines.append(f"{name} over this computer: {host.ratio:.5f} over {host.host_s:.1f} s")
    return lines


def latency_line(one: Latency) -> str:
    """Return one latency in words."""
    return (
        f"{one.contact} {'pressed' if one.pressed else 'let go'} to {output_word(one.output)} "
        f"{'on' if one.on else 'off'}: {exact_ms(one.typical_us)} ({exact_ms(one.least_us)} to "
        f"{exact_ms(one.most_us)}, {_times(one.count)}), {exact_ms(one.filter_us)} of it the filter"
    )


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def apart_lines(report: WitnessReport) -> list[str]:
    """Return how far seen lies behind claimed, by output and direction."""
    found: dict[tuple[str, bool], list[int]] = {}
    for case in report.cases:
        for one in case.edges:
            claimed, seen = one.edge.claimed, one.edge.seen
            if claimed is not None and seen is not None and claimed.on == seen.on:
                found.setdefault((output_word(seen.output), seen.on), []).append(seen.at_us - claimed.at_us)
    return [
        f"{word} {'on' if on else 'off'} seen {exact_ms(min(apart))} to {exact_ms(max(apart))} after it was claimed, "
        f"{_times(len(apart))}"
        for (word, on), apart in sorted(found.items(), key=lambda one: (one[0][0], not one[0][1]))
    ]


def witness_data(report: WitnessReport) -> dict[str, Any]:
    """Return the run as plain data: that of a bench run, with what only a witness can tell."""
    clocks = report.clocks
    return report_data(report.bench) | {
        "recorder": {
            "port": report.recorder_port,
            "firmware": report.recorder_version,
            "seed": report.seed,
            "verdict": verdict_lines(report),
            "notes": list(report.wiring.notes),
            "left_out": list(report.left_out),
            "clocks": {
                "used": _ratio(clocks.ratio),
                "questions": _ratio(clocks.asked),
                "presses": _ratio(clocks.pressed),
                "allowed_share": clocks.allowed,
                "board_over_host": None if clocks.board_host is None else clocks.board_host.ratio,
                "recorder_over_host": None if clocks.recorder_host is None else clocks.recorder_host.ratio,
            },
            "latencies": [
                {
                    "contact": one.contact,
                    "pressed": one.pressed,
                    "output": OUTPUT_NAMES[one.output],
                    "on": one.on,
                    "filter_us": one.filter_us,
                    "least_us": one.least_us,
                    "typical_us": one.typical_us,
                    "most_us": one.most_us,
                    "count": one.count,
                }
                for one in report.latencies
            ],
            "cases": [_case(case) for case in report.cases],
        }
    }


def _ratio(ratio: ClockRatio | None) -> dict[str, Any] | None:
    if ratio is None:
        return None
    return {"ratio": ratio.ratio, "uncertainty": ratio.uncertainty, "span_us": ratio.span_us}


def _case(case: JudgedCase) -> dict[str, Any]:
    return {
        "name": case.name,
        "claims": list(case.reading.claims.troubles),
        "seen": list(case.seen_troubles),
        "apart": list(case.apart_troubles),
        "undecided": case.inconclusive,
        "clocks_within_us": round(case.reading.within_us),
        "presses": [
            {"at_us": press.at_us, "what": str(press.what), "value": press.value} for press in case.reading.presses
        ],
        "edges": list(_edges(case.edges)),
    }


def _edges(edges: tuple[JudgedEdge, ...]) -> Iterator[dict[str, Any]]:
    for one in edges:
        yield {
            "output": OUTPUT_NAMES[one.edge.output],
            "expected": _edge(one.edge.expected),
            "claimed": _edge(one.edge.claimed),
            "seen": _edge(one.edge.seen),
            "follows": one.edge.cause.value,
            "late_us": one.late_us,
            "allowed_early_us": one.tolerance.early_us,
            "allowed_late_us": one.tolerance.late_us,
            "apart_us": one.apart_us,
            "apart_allowed_us": one.apart_allowed_us,
        }


def _edge(edge: Edge | None) -> dict[str, Any] | None:
    return None if edge is None else {"at_us": edge.at_us, "on": edge.on}
