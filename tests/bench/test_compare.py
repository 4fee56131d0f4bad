"""Every edge, phase and fault is compared with the prediction, and each difference has its sentence."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bench.compare import Observation, Tolerance, compare
from timing.sequence.core.engine import Edge, PhaseChange, Timeline
from timing.sequence.core.script import Change
from timing.sequence.core.table import Fault, Output, Phase

TOLERANCE = Tolerance(early_us=100, late_us=300)


def timeline(edges, phases=()):
    return Timeline(0, 10_000_000, (PhaseChange(0, Phase.IDLE, Fault.NONE), *phases), tuple(edges), ())


def seen(edges, phases=(), outputs=(Output.GAS,)):
    by_output = {output: tuple(edge for edge in edges if edge.output is output) for output in outputs}
    return Observation((PhaseChange(0, Phase.IDLE, Fault.NONE), *phases), by_output)


def gas(at_us, on=True):
    return Edge(at_us, Output.GAS, on)


def sentences(wanted, got, windows=()):
    return [str(difference) for difference in compare(wanted, windows, got, TOLERANCE).differences]


@given(st.integers(-1_000, 1_000))
def test_an_edge_passes_exactly_within_the_tolerance(error_us):
    comparison = compare(timeline([gas(5_000)]), (), seen([gas(5_000 + error_us)]), TOLERANCE)
    assert (not comparison.differences) == (-100 <= error_us <= 300)
    assert (comparison.earliest_us, comparison.latest_us) == (min(error_us, 0), max(error_us, 0))


@given(st.integers(-1_000, 3_000), st.integers(0, 2_000))
def test_an_input_whose_instant_is_open_lets_later_edges_be_late(error_us, window_us):
    change = Change(4_000, "supply", 0)
    comparison = compare(timeline([gas(5_000)]), [(change, window_us)], seen([gas(5_000 + error_us)]), TOLERANCE)
    assert (not comparison.differences) == (-100 <= error_us <= 300 + window_us)
    assert comparison.latest_us == max(error_us - window_us, 0)


def test_an_input_that_comes_later_excuses_nothing():
    change = Change(6_000, "supply", 0)
    assert sentences(timeline([gas(5_000)]), seen([gas(6_000)]), [(change, 2_000)])


def test_what_did_not_happen_is_told():
    assert sentences(timeline([gas(5_000), gas(9_000, on=False)]), seen([gas(5_000)])) == [
        "gas valve: goes off expected at 9.000 ms, did not happen"
    ]


def test_what_is_not_expected_is_told():
    assert sentences(timeline([]), seen([gas(1_500_000)])) == [
        "gas valve: comes on at 1.500000 s, which is not expected"
    ]


def test_another_phase_is_told_with_the_one_expected():
    wanted = timeline([], [PhaseChange(2_000, Phase.PREFLOW, Fault.NONE)])
    got = seen([], [PhaseChange(2_100, Phase.HOLD_OFF, Fault.INTERLOCK)])
    assert sentences(wanted, got) == [
        "phase: preflow begins expected at 2.000 ms; instead hold-off with fault 1 (interlock) at 2.100 ms"
    ]


def test_a_missing_fault_is_told_though_the_phase_is_right():
    wanted = timeline([], [PhaseChange(2_000, Phase.BURNBACK, Fault.WELD_LIMIT)])
    got = seen([], [PhaseChange(2_000, Phase.BURNBACK, Fault.NONE)])
    assert sentences(wanted, got) == [
        "phase: burnback with fault 5 (weld limit) expected at 2.000 ms; instead burnback begins at 2.000 ms"
    ]


def test_an_output_without_a_pin_is_not_looked_at():
    assert sentences(timeline([gas(5_000)]), seen([], outputs=())) == []


def test_faults_of_the_bare_pins_after_a_reset_do_not_count_until_something_starts():
    reset = (Change(1_000, "reset", 1), 0)
    calm = [PhaseChange(1_000, Phase.HOLD_OFF, Fault.NONE), PhaseChange(2_000, Phase.IDLE, Fault.NONE)]
    bare = [
        PhaseChange(1_000, Phase.HOLD_OFF, Fault.NONE),
        PhaseChange(1_050, Phase.HOLD_OFF, Fault.SUPPLY),
        PhaseChange(2_000, Phase.IDLE, Fault.SUPPLY),
    ]
    started = PhaseChange(3_000, Phase.PREFLOW, Fault.NONE)
    assert sentences(timeline([], [*calm, started]), seen([], [*bare, started]), [reset]) == []
    kept = PhaseChange(3_000, Phase.PREFLOW, Fault.SUPPLY)
    assert sentences(timeline([], [*calm, started]), seen([], [*bare, kept]), [reset]) != []
    assert sentences(timeline([], [*calm, started]), seen([], [*bare, started])) != []
