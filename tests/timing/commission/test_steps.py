"""The steps of commissioning: what they ask for the panel can do, and what they promise the model does."""

from __future__ import annotations

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from codegen.papers.blocks import paper_html
from codegen.papers.commissioning_sheet import commissioning_paper
from codegen.papers.sheet import SheetSource
from tests.support.panel_designs import drawn_project, panel_designs
from timing.commission.step import CommissionStage, CommissionStep, DryRun, WeldsAsked
from timing.commission.steps import commission_plan
from timing.design.front_panel import controls_of
from timing.design.times import TIME_TITLES
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
    setups = set()
    for step in plan.steps:
        if step.run is not None:
            keeps_its_promise(step, played(project, step))
        elif step.setup.changes and step.setup.changes not in setups:
            played(project, step)
        setups.add(step.setup.changes)
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
    paper_asks_for_nothing_else(project)


NAMES = {title.removesuffix(" time"): name for name, title in TIME_TITLES.items()}
DIAL = re.compile(rf"({'|'.join(NAMES)}|the) dial (?:at|to) (?:mark )?([0-9.]+) (ms|s)\b", re.IGNORECASE)
SWITCH = re.compile(r"(\w+) switch at ([A-Z-]+)")


def paper_asks_for_nothing_else(project: Project) -> None:
    """The commissioning sheet, rendered and read again."""
    html = paper_html(commissioning_paper(SheetSource(project, "1.2.3")))
    switches = {one.title: {place.label.upper() for place in one.positions} for one in controls_of(project.design)}
    for row in re.findall(r"(?s)<tr>.*?</tr>|<li>.*?</li>", html):
        told = " ".join(re.sub("<[^>]+>", " ", row).split())
        for words, number, unit in DIAL.findall(told):
            name = told.split()[0].removeprefix("mark.") if words == "the" else NAMES[words.lower()]
            dial = project.dials[name]
            assert unit == dial.plate_unit[1]
            time_us, near_us = float(number) * dial.plate_unit[0], 0.006 * dial.setting.high_us
            assert dial.setting.low_us - near_us <= time_us <= dial.setting.high_us + near_us
        for title, position in SWITCH.findall(told):
            assert position in switches[title.lower()]
    begin = re.findall(r'<td class="figure">[1-6]</td>\s*<td[^>]*>([0-9.]+) (ms|s)</td>', html)
    low_us, high_us = (project.design.times.burnback.low_us, project.design.times.burnback.high_us)
    assert begin
    for number, unit in begin:
        assert 0.994 * low_us <= float(number) * {"ms": 1e3, "s": 1e6}[unit] <= 1.006 * high_us
