"""From commanded to actual: valves, motors and contactors respond late, and to short commands not at all."""

from __future__ import annotations

from collections.abc import Sequence

from timing.circuit.suppression import off_delay_of
from timing.design.design import Design
from timing.design.feeder import Actuator
from timing.sequence.table import Output
from timing.sequence.timeline import Edge, Timeline


def lagged(edges: Sequence[Edge], on_delay_us: int, off_delay_us: int) -> tuple[Edge, ...]:
    """Return when one load really switches, given the commanded edges of its output in order of time.

    A command that is taken back before its delay is over has no effect: armature and plunger have inertia.
    """
    actual: list[Edge] = []
    for edge in edges:
        # What was still under way is overtaken by the new command.
        while actual and actual[-1].at_us >= edge.at_us:
            actual.pop()
        acting = bool(actual) and actual[-1].on
        if acting != edge.on:
            delay_us = on_delay_us if edge.on else off_delay_us
            actual.append(Edge(edge.at_us + delay_us, edge.output, edge.on))
    return tuple(actual)


def loads_of(design: Design) -> dict[Output, Actuator]:
    """Return the load on each output of `design`; gasless designs have no gas valve."""
    loads: dict[Output, Actuator] = {Output.WIRE: design.feeder.wire_drive, Output.CONTACTOR: design.feeder.contactor}
    if design.feeder.gas_valve is not None:
        loads = {Output.GAS: design.feeder.gas_valve, **loads}
    return loads


def actual_edges(design: Design, timeline: Timeline) -> dict[Output, tuple[Edge, ...]]:
    """Return the actual edges of every load at its typical delays, the suppression of its coil counted.

    The wire drive's edge is the motor losing its supply; the wire coasts on from there.
    """
    return {
        output: lagged(timeline.edges_of(output), load.on_delay.typical_us, off_delay_of(design, load).typical_us)
        for output, load in loads_of(design).items()
    }
