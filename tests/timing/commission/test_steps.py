"""The steps of commissioning: what they ask for the panel can do, and what they promise the model does."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.panel_designs import drawn_project, panel_designs
from timing.commission.step import CommissionStage, CommissionStep, DryRun, WeldsAsked
from timing.commission.steps import commission_plan
from timing.project import Project
from timing.sequence.core.engine import Timeline
from timing.sequence.core.script import Script
from timing.sequence.core.table import Output
from timing.sequence.simulate import simulate

DESIGNS = panel_designs()
RANDOM = 200


def played(project: Project, step: CommissionStep) -> Timeline:
    """A step as the model does it: refused where the design has no such control, or its dial does not go so far."""
    run = step.run or DryRun((), None)
    return simulate(project.design, Script((*step.setup.changes, *run.changes)), settled=run.settled)


def keeps_its_promise(step: CommissionStep, timeline: Timeline) -> None:
    promise = step.run.promise
    spans = {output: timeline.on_spans_us(output) for output in Output}
    assert {output for output in Output if spans[output]} == promise.on, step.key
    if promise.wire_us is not None:
        assert [end - start for start, end in spans[Output.WIRE]] == list(promise.wire_us), step.key
    if promise.gas_first_us is not None:
        starts = {output: spans[output][0][0] for output in Output}
        assert starts[Output.WIRE] == starts[Output.CONTACTOR] == starts[Output.GAS] + promise.gas_first_us, step.key
    if promise.contactor_later_us is not None:
        assert spans[Output.CONTACTOR][-1][1] == spans[Output.WIRE][-1][1] + promise.contactor_later_us, step.key
    if promise.gas_later_us is not None:
        assert spans[Output.GAS][-1][1] == spans[Output.CONTACTOR][-1][1] + promise.gas_later_us, step.key
    assert timeline.phases[-1].fault is promise.fault or promise.fault in {one.fault for one in timeline.phases}


@settings(max_examples=RANDOM)
@given(text=DESIGNS, advised_us=st.one_of(st.none(), st.integers(0, 3_000_000)))
def test_no_step_asks_for_what_the_fitted_controls_cannot_do(text, advised_us):
    project = drawn_project(text, advised_us)
    plan = commission_plan(project)
    for step in plan.steps:
        timeline = played(project, step)
        if step.run is not None:
            keeps_its_promise(step, timeline)
        if isinstance(step.ask, WeldsAsked):
            setting = project.design.times.burnback
            assert all(setting.low_us <= one <= setting.high_us for one in step.ask.first_us)
            assert (len(step.ask.first_us) > 1) <= setting.dial
        for dial in step.setup.dials:
            number, unit = dial.mark.split()
            unit_us = {"ms": 1_000, "s": 1_000_000}[unit]
            assert unit == project.dials[dial.name].plate_unit[1]
            assert abs(float(number) * unit_us - dial.time_us) <= 0.006 * dial.time_us
    keys = [step.key for step in plan.steps]
    assert len(set(keys)) == len(keys)
    assert all(key.split(".")[0] == step.stage.value for key, step in zip(keys, plan.steps, strict=True))
    assert [step.stage for step in plan.steps] == sorted(
        (step.stage for step in plan.steps), key=list(CommissionStage).index
    )
