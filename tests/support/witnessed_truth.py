"""Random scripts on both simulated firmwares: what the recorder told against what really happened at its lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from bench.avr.pair import Pair, PairEdge
from bench.recorder.judging import JudgedCase
from bench.recorder.lags import lags_between, random_slack_us
from bench.recorder.monitor import LineEdge
from bench.recorder.session import WitnessReport, run_witnessed
from bench.script_draws import drawn_cases
from tests.support.cosimulated import cosimulated, linked_boards
from timing.project import Project
from timing.protocol.recorder import SAMPLE_US
from timing.protocol.target_of_design import target_of


@dataclass(frozen=True)
class TruthError:
    """One edge that the recorder told: how much later than the pin that caused it."""

    line: str
    on: bool
    late_us: float


@dataclass(frozen=True)
class WitnessedScripts:
    """A run of random scripts."""

    report: WitnessReport
    errors: tuple[TruthError, ...]
    missed: int
    """Edges that happened at a watched line and were not told."""
    invented: int
    """Edges that were told and did not happen."""
    simulated_s: float


def witnessed_scripts(project: Project, count: int, seed: int, board_ppm: int, recorder_ppm: int) -> WitnessedScripts:
    """Run random scripts on a pair whose crystals are off by so many millionths."""
    target, lags = target_of(project), lags_between(project, at_pins=True)
    draws = drawn_cases(target, 3 * count, seed, random_slack_us(lags))
    cases = list(islice(draws, count))
    with cosimulated(project, board_ppm=board_ppm, recorder_ppm=recorder_ppm, seed=seed) as pair:
        began_us = pair.at_us
        report = run_witnessed(linked_boards(pair), target, cases, lags, real=False, spares=draws)
        errors, missed, invented = _held_against_truth(pair, report.cases)
        return WitnessedScripts(report, errors, missed, invented, (pair.at_us - began_us) / 1e6)


def _held_against_truth(pair: Pair, cases: Sequence[JudgedCase]) -> tuple[tuple[TruthError, ...], int, int]:
    happened: dict[tuple[str, bool], list[int]] = {}
    for edge in pair.edges:
        happened.setdefault((_line(edge), edge.on), []).append(edge.at_us)
    rate = pair.boards["recorder"].real_hz() / pair.boards["recorder"].simulator.board.clock_hz
    started_us = _started_us([edge for case in cases for edge in case.reading.raw.edges], happened, rate)
    errors, missed, invented = [], 0, 0
    for case in cases:
        told = [edge for edge in case.reading.raw.edges if (edge.line, edge.on) in happened]
        invented += len(case.reading.raw.edges) - len(told)
        at_us = [edge.at_us / rate + started_us for edge in told]
        left = {kind: list(instants) for kind, instants in happened.items()}
        for edge, seen_us in zip(told, at_us, strict=True):
            nearest_us = min(left[edge.line, edge.on], key=lambda one: abs(one - seen_us))
            left[edge.line, edge.on].remove(nearest_us)
            errors.append(TruthError(edge.line, edge.on, seen_us - nearest_us))
        if at_us:
            missed += sum(min(at_us) < one < max(at_us) for instants in left.values() for one in instants)
    return tuple(errors), missed, invented


def _line(edge: PairEdge) -> str:
    return edge.what if edge.side == "board" else f"press_{edge.what}"


def _started_us(edges: Sequence[LineEdge], happened: dict[tuple[str, bool], list[int]], rate: float) -> float:
    """Return the true instant of the recorder's 0: no press is told before it was made, and one at once."""
    presses = [edge for edge in edges if (edge.line, edge.on) == ("press_trigger", True)]
    first_us = presses[0].at_us / rate
    candidates = [made_us - first_us for made_us in happened["press_trigger", True]]

    def left(candidate_us: float) -> float:
        made = happened["press_trigger", True]
        return sum(min(abs(edge.at_us / rate + candidate_us - one) for one in made) for edge in presses)

    near_us = min(candidates, key=left)
    late = [
        min((edge.at_us / rate + near_us - one for one in happened["press_trigger", True]), key=abs) for edge in presses
    ]
    return near_us - min(late) if max(late) - min(late) <= 2 * SAMPLE_US else near_us
