"""The columns of the phase table: every member told apart, and nothing named that nothing stands behind."""

from __future__ import annotations

import pytest

from codegen.sequence_c import UnknownInCError, sequence_core
from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.sequence.core import scan
from timing.sequence.core.columns import Action, Condition, ConditionColumns, Dialled, Reads, Sets, Stamps, Time
from timing.sequence.core.table import Guard, Phase, Row, Transition
from timing.sequence.of_design import table_of


@pytest.mark.parametrize("kind", [Condition, Action, Time])
def test_no_two_members_say_the_same(kind):
    assert len(kind) == len(kind.__members__), "an Enum takes the same sentence for the same member"


def test_every_condition_says_its_opposite_in_other_words():
    says = [word for condition in Condition for word in (condition.value, condition.answer.otherwise)]
    assert len(set(says)) == len(says)


def test_every_flag_that_is_kept_is_set_by_an_action_and_every_action_sets_one_that_is():
    set_by = {flag for action in Action if not isinstance(action.effect, Stamps) for flag in action.effect.sets}
    assert set_by == set(scan.KEPT.values())


@pytest.mark.parametrize(
    ("make", "names"),
    [
        (
            lambda: scan._asking(ConditionColumns("not so", Reads.INPUT, "absent", "inputs->absent")),
            "Inputs has no field 'absent'",
        ),
        (
            lambda: scan._asking(ConditionColumns("not so", Reads.STATE, "absent", "state->absent")),
            "State has no field 'absent'",
        ),
        (lambda: scan._doing(Sets("absent", True)), "State has no field 'absent'"),
        (lambda: scan._doing(Stamps("absent_us")), "State has no field 'absent_us'"),
        (lambda: scan._lasting(Dialled("absent")), "Inputs has no field 'absent_us'"),
    ],
)
def test_a_column_that_nothing_stands_behind_is_refused(make, names):
    with pytest.raises(LookupError, match=names):
        make()


@pytest.mark.parametrize("kind", ["rule", "effect", "time"])
def test_what_is_worked_out_needs_its_method(kind):
    make = {
        "rule": lambda: scan._asking(ConditionColumns("not so", Reads.RULE, "absent", "")),
        "effect": lambda: scan._doing(object()),
        "time": lambda: scan._lasting(object()),
    }[kind]
    with pytest.raises((AttributeError, AssertionError)):
        make()


def with_row(monkeypatch, phase, row):
    made = table_of
    monkeypatch.setattr("codegen.sequence_c.table_of", lambda design: made(design) | {phase: row})


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (
            Row(frozenset(), Time.PAUSE, (Transition((Guard(Condition.TIME_OVER),), Phase.IDLE),)),
            "Time.PAUSE: it ends a phase",
        ),
        (
            Row(frozenset(), Time.NONE, (Transition((Guard(Condition.TIME_OVER),), Phase.IDLE),)),
            "Time.NONE: it ends a phase",
        ),
        (
            Row(frozenset(), Time.NONE, (Transition((Guard(Condition.COMPLETES),), Phase.IDLE),)),
            "Condition.COMPLETES: no words",
        ),
    ],
)
def test_the_generator_refuses_what_has_no_words_in_c(monkeypatch, row, says):
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    with_row(monkeypatch, Phase.AWAIT_RELEASE, row)
    with pytest.raises(UnknownInCError, match=says):
        sequence_core(design)
