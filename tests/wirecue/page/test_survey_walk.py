"""A survey on the page: every answer is kept, the terminal goes on from there, and either way makes one design."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from tests.timing.survey.test_filling import GOOD, asked_one_by_one
from timing.design.loading import load_design
from wirecue.cli import main
from wirecue.design_names import TakenNameError
from wirecue.output_files import OutputError
from wirecue.page.files import Folder
from wirecue.page.survey_walk import SurveyWalk
from wirecue.surveying import surveyed_text


def walk_in(path) -> SurveyWalk:
    return SurveyWalk(Folder(path), "mine")


def to_the_end(walk: SurveyWalk, answers=GOOD) -> None:
    walk.take(answers)
    while walk.topic is not None:
        assert walk.go_on()


def test_topic_by_topic_it_makes_the_design_that_the_terminal_makes(tmp_path):
    walk = walk_in(tmp_path)
    to_the_end(walk)
    assert walk.kept.exists()
    file, told = walk.finish()
    assert file == "mine.toml"
    assert told[0].startswith("Dials on the panel: ")
    assert (tmp_path / "mine.toml").read_text() == surveyed_text("mine", asked_one_by_one(GOOD))
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]
    assert load_design(tmp_path / "mine.toml").process.wire_class == "ER70S-6"


def test_it_goes_no_further_than_what_is_answered(tmp_path):
    walk = walk_in(tmp_path)
    assert not walk.go_on()
    walk.take({"survey.feeder_power": "24vac"})
    walk.take({"survey.drive_and_contactor": "one-relay"})
    walk.take({"survey.contactor_place": "feeder"})
    assert not walk.go_on()
    walk.take({"survey.drive_and_contactor": "apart"})
    assert walk.go_on()
    walk.go_back()
    walk.go_back()
    assert walk.at == 0


def test_what_was_answered_is_there_again_after_a_stop_and_what_was_not_touched_is_still_asked(tmp_path):
    walk = walk_in(tmp_path)
    walk.take({key: GOOD[key] for key in list(GOOD)[:3]})
    walk.go_on()
    walk.take({"supply.measured_open": "27.4 V", "trigger.nonsense": "x"})
    kept = json.loads(walk.kept.read_text())
    assert kept["feeder.wire_drive.switched"] == "relay-coil"
    assert kept["supply.measured_open"] == "27.4 V"
    assert "supply.rating" not in kept
    again = walk_in(tmp_path)
    assert again.at == 1
    assert again.typed["supply.measured_open"] == "27.4 V"


def test_the_terminal_goes_on_where_the_page_stopped_and_the_page_where_the_terminal_did(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    walk = walk_in(tmp_path)
    walk.take({key: GOOD[key] for key in list(GOOD)[:3]})
    walk.go_on()
    said = CliRunner().invoke(main, ["survey", "mine"], input="50 Hz\n100\nstop\n")
    assert "Going on after" in said.output
    assert "7 answers kept in mine.survey.json" in said.output
    again = walk_in(tmp_path)
    assert (again.typed["supply.line_frequency"], again.typed["supply.rating"]) == ("50 Hz", "100 VA")
    to_the_end(again)
    assert again.filled.interview.answers["supply.rating"] == "100 VA"


def test_a_file_that_came_meanwhile_is_not_written_over_and_no_answer_is_lost(tmp_path):
    walk = walk_in(tmp_path)
    to_the_end(walk)
    (tmp_path / "mine.toml").write_text("somebody's")
    with pytest.raises(TakenNameError, match="nothing is written over it"):
        walk.finish()
    assert (tmp_path / "mine.toml").read_text() == "somebody's"
    assert walk.kept.exists()


def test_a_file_of_something_else_is_not_taken_for_answers(tmp_path):
    (tmp_path / "mine.survey.json").write_text('{"theirs": 1}')
    with pytest.raises(OutputError, match="not the answers of a survey"):
        walk_in(tmp_path)


def test_answers_that_are_forgotten_are_gone(tmp_path):
    walk = walk_in(tmp_path)
    to_the_end(walk)
    walk.forget()
    assert (walk.at, walk.typed, list(tmp_path.iterdir())) == (0, {}, [])
