"""`wirecue symptom`: a person's own words in, causes with checks and remedies out."""

from __future__ import annotations

import json

from tests.support.running import run


def test_without_words_it_lists_what_may_be_seen(example):
    result = run("symptom", example)
    assert result.exit_code == 0
    assert "The wire sticks" in result.output
    assert "in your own words" in result.output


def test_words_are_answered_with_figures_checks_and_remedies(example):
    result = run("symptom", example, "it sticks")
    assert result.exit_code == 0
    assert all(word in result.output for word in ("1. ", "   check  ", "   do     ", "   here   ", "Caution: "))


def test_words_need_no_quotes(example):
    assert run("symptom", example, "it", "sticks").output == run("symptom", example, "it sticks").output


def test_words_that_mean_nothing_are_answered_with_the_list(example):
    result = run("symptom", example, "purple")
    assert result.exit_code == 2
    assert "'purple'" in result.output
    assert "sticks" in result.output


def test_as_json_the_causes_come_ranked(example):
    data = json.loads(run("symptom", example, "sticks", "--json").stdout)
    (one,) = data["symptoms"]
    order = ["likely", "open", "unlikely"]
    standings = [cause["standing"] for cause in one["causes"]]
    assert standings == sorted(standings, key=order.index)
    assert len(json.loads(run("symptom", example, "--json").stdout)["symptoms"]) > 15
