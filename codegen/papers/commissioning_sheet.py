"""The commissioning sheet: the steps that `wirecue commission` walks through, with blanks to write in."""

from __future__ import annotations

from collections.abc import Iterator

from codegen.papers.blocks import Block, Caution, Fill, Grid, Paper, PaperSection, Paragraph, Steps
from codegen.papers.sheet import SheetSource
from timing.commission.step import CommissionStage, CommissionStep, ReadingAsked, WeldsAsked
from timing.commission.steps import CommissionPlan, commission_plan
from timing.formatting import ms
from timing.safety import STANDARDS

TEST_WELDS = 6
"""Blanks for test welds (choice: after so many a fit has told what it can)."""


def commissioning_paper(sheet: SheetSource) -> Paper:
    """Return the sheet of a design."""
    design, plan = sheet.design, commission_plan(sheet.project)
    stages = tuple(PaperSection(stage.value, stage.title, tuple(_stage(plan, stage, sheet))) for stage in plan.stages)
    foot = f"{design.name}, design {design.digest()}, commissioning sheet, wirecue {sheet.version}"
    return Paper(
        f"Commissioning: {design.name}", design.title, foot, (*stages, PaperSection("record", "The record", _RECORD))
    )


_RECORD = (
    Paragraph(STANDARDS),
    Fill("Machine, and where it stands"),
    Fill("Commissioned by, on"),
    Fill("Inspected and tested again (IEC 60974-4) by, on"),
)


def _stage(plan: CommissionPlan, stage: CommissionStage, sheet: SheetSource) -> Iterator[Block]:
    steps = plan.of(stage)
    if stage is plan.stages[0]:
        command = f"wirecue commission {sheet.design.name}.toml"
        yield Paragraph(
            f"With a computer at the machine, `{command}` asks these steps and keeps the answers. What is written down "
            f'here is entered afterwards by the name of its step: `{command} --answer power.tap "27.1 V"`.'
        )
    told = {text for earlier in plan.stages[: plan.stages.index(stage)] for text in plan.cautions.get(earlier, ())}
    yield from (Caution(text) for text in plan.cautions.get(stage, ()) if text not in told)
    yield from (Caution(text) for step in steps for text in step.cautions)
    plain = [step for step in steps if not isinstance(step.ask, WeldsAsked)]
    if plain:
        rows = tuple((f"`{step.key}`", _do(step), _must(step), step.if_not, "") for step in plain)
        yield Grid(("step", "do", "must happen", "if not", "seen"), rows, fill=frozenset({4}), whole=False)
    for step in steps:
        if isinstance(step.ask, WeldsAsked):
            yield from _welds(step, step.ask)


def _do(step: CommissionStep) -> str:
    return " ".join((f"{step.title}.", *([_set(step)] if step.setup.words else []), *step.do))


def _set(step: CommissionStep) -> str:
    words = ", ".join(step.setup.words)
    return f"{words[0].upper()}{words[1:]}."


def _must(step: CommissionStep) -> str:
    asked = step.ask
    if not isinstance(asked, ReadingAsked) or asked.band in step.expect:
        return step.expect
    return f"{step.expect} Passes: {asked.band}."


def _welds(step: CommissionStep, asked: WeldsAsked) -> Iterator[Block]:
    """The test welds, with the settings to begin with; what comes after the first is said by the fit."""
    rows = tuple(
        (str(number + 1), ms(asked.first_us[number]) if number < len(asked.first_us) else "", "", "", "", "")
        for number in range(TEST_WELDS)
    )
    yield Steps((*([_set(step)] if step.setup.words else []), *step.do, f"{step.expect} {step.if_not}"))
    yield Grid(
        ("weld", "burnback, begin with", "burnback set", "extension left, mm", "ball", "free, frozen or fused"),
        rows,
        frozenset({0}),
        frozenset({2, 3, 4, 5}),
    )
