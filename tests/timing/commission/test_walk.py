"""Where the walk stands: the last outcome counts, what has changed is asked anew, and nothing is asked too early."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.commission.reply import WalkWord, answers_of, read_step_reply, read_weld_reply, walk_word
from timing.commission.step import CommissionStage, CommissionStep, ReadingAsked, WeldsAsked
from timing.commission.steps import CommissionPlan
from timing.commission.walk import StepOutcome, StepState, step_values, walk_of
from timing.logbook.entry import Entry, EntryKind, Logbook
from timing.logbook.text import heading, line_of_entry, read_logbook_text
from timing.survey.question import ReplyError

AT = "2026-03-01T10:22:05+01:00"


def made(name: str, rests_on: str = "", needed: bool = False, **others: object) -> CommissionStep:
    stage = CommissionStage.DRY_RUNS
    return CommissionStep(
        f"dry.{name}", stage, name, ("do",), "expect", "if not", needed=needed, rests_on=rests_on, **others
    )


STEPS = tuple(made(name, rests_on=f"{name} as it was") for name in "abcde")
PLAN = CommissionPlan(STEPS, {})


def entered(step: CommissionStep, outcome: StepOutcome, reading: str = "") -> Entry:
    return Entry(AT, EntryKind.STEP, step_values(step, outcome, reading, "0123456789abcdef"))


def after(*entries: Entry, plan: CommissionPlan = PLAN):
    return walk_of(plan, Logbook(entries))


GIVEN = st.lists(st.tuples(st.sampled_from(STEPS), st.sampled_from(StepOutcome)), max_size=12)


@given(GIVEN)
def test_the_last_outcome_of_each_step_counts_and_the_first_that_is_to_do_comes_next(given_outcomes):
    walk = after(*(entered(step, outcome) for step, outcome in given_outcomes))
    last = dict(given_outcomes)
    for step in STEPS:
        assert walk.state(step).value == (last[step].value if step in last else "open")
    to_do = [step for step in STEPS if last.get(step) in (None, StepOutcome.FAILED)]
    left_out = [step for step in STEPS if last.get(step) is StepOutcome.SKIPPED]
    assert walk.next_step() == next(iter([*to_do, *left_out]), None)
    assert walk.finished == (not to_do)
    assert walk.left == len(to_do)
    everything = frozenset(step.key for step in STEPS)
    assert walk.next_step(everything) == next(iter(to_do), None)


@given(GIVEN, st.sets(st.sampled_from(STEPS)))
def test_what_rested_on_something_else_is_asked_anew_and_nothing_besides(given_outcomes, changed):
    now = tuple(replace(step, rests_on="as it is now") if step in changed else step for step in STEPS)
    walk = after(*(entered(step, outcome) for step, outcome in given_outcomes), plan=CommissionPlan(now, {}))
    before = after(*(entered(step, outcome) for step, outcome in given_outcomes))
    for old, new in zip(STEPS, now, strict=True):
        anew = old in changed and before.state(old) is not StepState.OPEN
        assert walk.state(new) is (StepState.ANEW if anew else before.state(old))


def test_words_alone_do_not_ask_a_step_anew_that_says_what_it_rests_on():
    assert made("a", "wiring").fingerprint == replace(made("a", "wiring"), expect="in other words").fingerprint
    assert made("a").fingerprint != replace(made("a"), expect="another figure").fingerprint


@given(st.data())
def test_an_outcome_comes_back_from_the_text_of_the_logbook_and_a_torn_line_costs_itself(data):
    step, outcome = data.draw(st.sampled_from(STEPS)), data.draw(st.sampled_from(StepOutcome))
    reading = data.draw(st.text(max_size=10))
    line = line_of_entry(entered(step, outcome, reading))
    whole = walk_of(PLAN, read_logbook_text(f"{heading('x')}{line}\n"))
    assert (whole.records[step.key].outcome, whole.records[step.key].reading) == (outcome, reading)
    torn = line[: data.draw(st.integers(0, len(line) - 1))]
    assert walk_of(PLAN, read_logbook_text(heading("x") + torn)).records == {}


@pytest.mark.parametrize("values", [{}, {"step": "dry.a"}, {"step": "dry.a", "outcome": "dreamt"}, {"step": 7}])
def test_an_entry_that_tells_of_no_outcome_is_passed_over(values):
    assert after(Entry(AT, EntryKind.STEP, values)).records == {}


VOLTS = made("volts", ask=ReadingAsked("voltage", "V", "V", 24, 30, "too little", "too much"))
OHMS = made("ohms", needed=True, ask=ReadingAsked("resistance", "ohm", "Mohm", 1e6, below="a short"))


@pytest.mark.parametrize(
    ("step", "text", "outcome", "reading", "means"),
    [
        (VOLTS, "27", "passed", "27 V", ""),
        (VOLTS, " 27.5 V ", "passed", "27.5 V", ""),
        (VOLTS, "27500 mV", "passed", "27500 mV", ""),
        (VOLTS, "23.9", "failed", "23.9 V", "too little"),
        (VOLTS, "31 V", "failed", "31 V", "too much"),
        (VOLTS, "no", "failed", "", ""),
        (VOLTS, "skip", "skipped", "", ""),
        (OHMS, "OL", "passed", "OL", ""),
        (VOLTS, ".5", "failed", ".5 V", "too little"),
        (OHMS, "2 Mohm", "passed", "2 Mohm", ""),
        (OHMS, "900 kohm", "failed", "900 kohm", "a short"),
        (STEPS[0], "Yes", "passed", "", ""),
        (STEPS[0], "n", "failed", "", ""),
    ],
)
def test_what_is_answered_is_read_as_it_is_meant_and_kept_as_it_was_typed(step, text, outcome, reading, means):
    reply = read_step_reply(step, text)
    assert (reply.outcome.value, reply.reading, reply.means) == (outcome, reading, means)


@pytest.mark.parametrize(
    ("step", "text", "hint"),
    [
        (STEPS[0], "", ""),
        (STEPS[0], "perhaps", ""),
        (STEPS[0], "27 V", ""),
        (VOLTS, "", ""),
        (VOLTS, "27,5", "write a decimal point, not a comma"),
        (VOLTS, "27 A", "measures something else"),
        (VOLTS, "-3", "zero or more"),
        (OHMS, "500", "a number needs its unit: ohm or kohm or Mohm"),
        (VOLTS, "OL", "one number and one unit"),
        (OHMS, "skip", "not safe without this step"),
    ],
)
def test_an_answer_that_does_not_do_is_refused_with_what_does(step, text, hint):
    with pytest.raises(ReplyError) as refused:
        read_step_reply(step, text)
    assert hint in refused.value.hint
    assert "back, later" in refused.value.allowed


@pytest.mark.parametrize("step", [VOLTS, OHMS, made("welds", ask=WeldsAsked((), 0, 0))], ids=lambda step: step.key)
def test_what_may_be_answered_leaves_room_to_type_it(step):
    assert len(f"  {answers_of(step)} > ") <= 76


def test_a_weld_is_told_by_what_it_left_beside_the_burnback_that_was_asked_for():
    step = made("welds", ask=WeldsAsked((90_000,), 90_000, 90_000))
    assert read_weld_reply(step, "9 mm, ball", "90 ms", None).sentence == "90 ms: 9 mm, ball"
    assert read_weld_reply(step, "70 ms: frozen", "90 ms", None).burnback_s == pytest.approx(0.07)
    assert read_weld_reply(step, "done", "90 ms", None) is None
    assert read_weld_reply(step, "9", "90 ms", None).sentence == "90 ms: 9 mm"
    for text in ("", "9 s", "melted"):
        with pytest.raises(ReplyError, match="frozen, fused, done"):
            read_weld_reply(step, text, "90 ms", None)


@pytest.mark.parametrize(
    ("text", "word"), [("Back", WalkWord.BACK), ("later ", WalkWord.LATER), ("?", WalkWord.HELP), ("yes", None)]
)
def test_words_that_move_the_walk(text, word):
    assert walk_word(text) is word


@given(st.text(max_size=20))
def test_no_text_does_worse_than_a_reason(text):
    for step in (STEPS[0], VOLTS, OHMS):
        try:
            reply = read_step_reply(step, text)
        except ReplyError as error:
            refused = error
        else:
            assert reply.outcome in StepOutcome
            continue
        assert refused.allowed
