"""What a simulation leaves: phases, commanded edges, and the inputs that led to them."""

from __future__ import annotations

from dataclasses import dataclass

from timing.sequence.script import Change
from timing.sequence.table import Fault, Output, Phase


@dataclass(frozen=True)
class Edge:
    """One output switches."""

    at_us: int
    output: Output
    on: bool


@dataclass(frozen=True)
class PhaseChange:
    """A phase begins, or the fault shown changes."""

    at_us: int
    phase: Phase
    fault: Fault


@dataclass(frozen=True)
class Timeline:
    """One run of the sequence. Times in microseconds from the start of the script."""

    start_us: int
    end_us: int
    phases: tuple[PhaseChange, ...]
    edges: tuple[Edge, ...]
    """Outputs as commanded. All are off at the start."""
    changes: tuple[Change, ...]
    """Inputs as the script gave them, before any filter."""

    def edges_of(self, output: Output) -> tuple[Edge, ...]:
        """Return the edges of one output."""
        return tuple(edge for edge in self.edges if edge.output is output)

    def on_spans_us(self, output: Output) -> tuple[tuple[int, int], ...]:
        """Return (from, to) for each time that one output is on; what is still on ends with the timeline."""
        return on_spans_us(self.edges_of(output), self.end_us)


def on_spans_us(edges: tuple[Edge, ...], end_us: int) -> tuple[tuple[int, int], ...]:
    """Return (from, to) of each on-time in the edges of one output."""
    spans = []
    since_us: int | None = None
    for edge in edges:
        if edge.on:
            since_us = edge.at_us
        elif since_us is not None:
            spans.append((since_us, edge.at_us))
            since_us = None
    if since_us is not None:
        spans.append((since_us, end_us))
    return tuple(spans)
