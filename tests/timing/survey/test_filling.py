"""The survey as a form: the same answers as by question and reply, in whatever order the fields are filled."""

from __future__ import annotations

import json

import pytest

from timing.survey.filling import filled
from timing.survey.interview import Interview, kept_text, resumed
from timing.survey.question import NO_ANSWER
from timing.survey.topics import topics
from wirecue.projects import board_names, load_board

TOPICS = topics(tuple(load_board(name) for name in board_names()))
GOOD = {
    "survey.feeder_power": "24vac",
    "survey.drive_and_contactor": "apart",
    "survey.contactor_place": "feeder",
    "supply.measured_open": "27.4",
    "supply.measured_loaded": "25.2 V",
    "supply.measured_load": "2.1 A",
    "feeder.as_found.trigger": "relay",
    "trigger.sense": "ac",
    "process.wire": "ER70S-6",
    "feeder.gas_valve.coil.hold": "330 mA",
    "feeder.wire_drive.coil.hold": "2.5 A",
    "feeder.contactor.coil.hold": "0.2 A",
}


def asked_one_by_one(answers):
    interview = Interview(TOPICS, {})
    while (question := interview.next_question) is not None:
        interview = interview.answered(question, answers.get(question.key, ""))
    return interview


def test_a_form_that_is_filled_makes_the_same_answers_as_the_interview():
    found = filled(TOPICS, dict(reversed(GOOD.items())), len(TOPICS))
    assert dict(found.interview.answers) == dict(asked_one_by_one(GOOD).answers)
    assert found.good
    assert found.interview.next_question is None
    assert found.taken["supply.measured_open"] == "taken as 27.4 V"


def test_what_is_missing_or_will_not_do_is_told_by_its_question():
    found = filled(TOPICS, {"supply.measured_open": "27,4 V"}, 2)
    assert not found.good
    assert found.refused["survey.feeder_power"].found == NO_ANSWER
    assert found.refused["supply.measured_open"].hint == "write a decimal point, not a comma"
    assert "supply.rating" not in found.refused
    assert found.interview.answers["supply.rating"] == "75 VA"


def test_a_question_is_asked_once_its_condition_holds_and_what_was_typed_waits():
    typed = {**GOOD, "survey.supply_measured": "no"}
    keys = {question.key for question in filled(TOPICS, typed, 2).asked}
    assert "supply.measured_open" not in keys
    assert "supply.measured_open" in {question.key for question in filled(TOPICS, GOOD, 2).asked}


def test_what_rules_the_job_out_is_no_good_end():
    found = filled(TOPICS, {**GOOD, "survey.feeder_power": "arc"}, len(TOPICS))
    assert not found.refused
    assert not found.good


@pytest.mark.parametrize("gap", ["survey.drive_and_contactor", "supply.measured_load"])
def test_answers_kept_behind_a_gap_are_offered_again(tmp_path, gap):
    whole = asked_one_by_one(GOOD)
    kept = {key: text for key, text in json.loads(kept_text(whole)).items() if key != gap}
    (tmp_path / "kept.json").write_text(json.dumps(kept))
    interview = resumed(TOPICS, tmp_path / "kept.json")
    assert interview.next_question.key == gap
    interview = interview.answered(interview.next_question, GOOD[gap])
    while (question := interview.next_question) is not None:
        interview = interview.answered(question, "")
    assert dict(interview.answers) == dict(whole.answers)


def test_what_ends_the_job_or_is_no_answer_is_not_offered(tmp_path):
    kept = {"survey.drive_and_contactor": "one-relay", "supply.measured_open": "nonsense", "trigger.sense": "dc"}
    (tmp_path / "kept.json").write_text(json.dumps(kept))
    assert dict(resumed(TOPICS, tmp_path / "kept.json").withdrawn) == {"trigger.sense": "dc"}
