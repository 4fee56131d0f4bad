"""The edge trace of a board: records in, phases and edges out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bench.message import Answer
from timing.protocol.levels import LEVEL_BIT, OUTPUT_BIT
from timing.sequence.core.engine import Edge, PhaseChange
from timing.sequence.core.table import Fault, Output, Phase


@dataclass(frozen=True)
class Record:
    """One record: how things stood after a pass. Time on the unwrapped clock, or counted from a case's start."""

    at_us: int
    levels: int
    phase: Phase
    fault: Fault

    def sees(self, contact: str) -> bool:
        """Tell whether the sequence saw that contact closed (see levels.SEEN)."""
        return bool(self.levels & LEVEL_BIT[contact])


def record_of(answer: Answer, at_us: int) -> Record:
    """Return the record in an answer to the trace query. Raises ValueError for a phase or fault that is not."""
    return Record(at_us, answer.number("levels"), Phase(answer.number("phase")), Fault(answer.number("fault")))


@dataclass(frozen=True)
class Observation:
    """What a board did in one case, times counted from the case's start."""

    phases: tuple[PhaseChange, ...]
    edges: Mapping[Output, tuple[Edge, ...]]


def observe(start: Record, records: Iterable[Record], outputs: Iterable[Output]) -> Observation:
    """Return the changes from `start` on of phase, fault and those `outputs`."""
    phases = [PhaseChange(start.at_us, start.phase, start.fault)]
    edges: dict[Output, list[Edge]] = {output: [] for output in outputs}
    levels = start.levels
    for record in records:
        if (record.phase, record.fault) != (phases[-1].phase, phases[-1].fault):
            phases.append(PhaseChange(record.at_us, record.phase, record.fault))
        for output, found in edges.items():
            if (record.levels ^ levels) & output.value:
                found.append(Edge(record.at_us, output, bool(record.levels & output.value)))
        levels = record.levels
    return Observation(tuple(phases), {output: tuple(found) for output, found in edges.items()})


OUTPUT_NAMES = {Output(bit): name for name, bit in OUTPUT_BIT.items()}
"""Outputs by the names of their roles."""


def output_word(output: Output) -> str:
    """Return an output as people write it: 'gas valve'."""
    return OUTPUT_NAMES[output].replace("_", " ")
