"""`wirecue commission`: every answer is kept as it is given, whatever ends the walk, and it goes on from there."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.support.running import run, shop
from tests.support.scripted_machine import Hidden, ScriptedMachine
from timing.commission import welding
from timing.commission.step import ReadingAsked, WeldsAsked
from timing.process.case import burnback_case
from wirecue.commissioning import Commissioning
from wirecue.logbooks import logbook_path, read_logbook

CLOCK = "2026-03-01T10:22:05+01:00"


@pytest.fixture(autouse=True)
def _no_advice(monkeypatch):
    """What is computed to begin with is tested elsewhere, and would be computed for each command here."""
    monkeypatch.setattr(welding, "_advice", lambda _: None)


@pytest.fixture
def design(tmp_path):
    """The shop's design in a folder of its own."""
    return shop(tmp_path)


def good_answer(step) -> str:
    """An answer that passes."""
    asked = step.ask
    if isinstance(asked, WeldsAsked):
        return "done"
    if not isinstance(asked, ReadingAsked):
        return "yes"
    ends = [end for end in (asked.low, asked.high) if end is not None]
    middle = sum(ends) / len(ends) if ends else 1.0
    return {"ohm": f"{middle} ohm", "us": f"{middle} us"}.get(asked.unit, f"{middle:.3f} {asked.shown}")


def answers(design: Path) -> list[str]:
    return [good_answer(step) for step in Commissioning.of(design).plan.steps]


def outcomes(design: Path) -> list[tuple[str, str]]:
    return [(one.values["step"], one.values["outcome"]) for one in read_logbook(logbook_path(design)).entries]


def test_a_walk_to_the_end(design):
    result = run("commission", design, stdin="\n".join(answers(design)) + "\n")
    assert result.exit_code == 0, result.output
    steps = Commissioning.of(design).plan.steps
    assert outcomes(design) == [(step.key, "passed") for step in steps]
    assert "every step that was asked passed" in result.output
    again = run("commission", design)
    assert again.exit_code == 0
    assert " do  " not in again.output


def test_each_step_says_where_things_stand_what_to_do_what_to_expect_and_what_if_not(design):
    output = run("commission", design, stdin="\n".join(answers(design)) + "\n").output
    for step in Commissioning.of(design).plan.steps:
        at = output.index(f"({step.key})")
        told = " ".join(output[at : output.find(" of 40", at)].split())
        for text in (*step.setup.words, *step.do, step.expect, step.if_not):
            assert " ".join(text.split()) in told, step.key


def test_a_failed_step_is_kept_told_what_to_do_and_asked_again(design):
    result = run("commission", design, stdin="yes\nyes\nno\nlater\n")
    assert result.exit_code == 1
    assert outcomes(design)[-1] == ("before.bypass", "failed")
    assert "Failed; it is kept." in result.output
    again = run("commission", design, stdin="yes\nlater\n")
    assert "1 failed, 2 passed" in " ".join(again.output.split())
    assert outcomes(design)[-1] == ("before.bypass", "passed")


def test_a_reading_outside_its_band_is_kept_and_what_it_means_is_told_at_once(design):
    begun = answers(design)
    keys = [step.key for step in Commissioning.of(design).plan.steps]
    before = begun[: keys.index("power.tap")]
    result = run("commission", design, stdin="\n".join([*before, "35", "later"]) + "\n")
    assert outcomes(design)[-1] == ("power.tap", "failed")
    assert read_logbook(logbook_path(design)).entries[-1].values["reading"] == "35 V"
    assert "35 V is outside 24.7 V to 30.1 V; it is kept." in result.output
    assert "A high mains, or another winding" in result.output


def test_back_asks_the_step_before_and_the_last_answer_counts(design):
    result = run("commission", design, stdin="back\nyes\nback\nno\nyes\nlater\n")
    assert "This is the first step." in result.output
    assert outcomes(design) == [("before.bench", "passed"), ("before.bench", "failed"), ("before.bench", "passed")]


def test_what_is_not_safe_to_leave_out_cannot_be_and_what_was_left_out_is_asked_at_the_end(design):
    refused = run("commission", design, stdin="skip\nlater\n")
    assert "not safe without this step" in refused.output
    assert not logbook_path(design).exists()
    steps = Commissioning.of(design).plan.steps
    given = ["skip" if not step.needed else good_answer(step) for step in steps]
    result = run("commission", design, stdin="\n".join(given) + "\n")
    assert result.exit_code == 0
    assert "Left out: " in result.output
    again = run("commission", design, stdin="later\n")
    first = next(step for step in steps if not step.needed)
    assert f"({first.key})" in again.output


def test_marks_found_good_are_told_as_lines_for_the_design(design):
    steps = Commissioning.of(design).plan.steps
    found = {"mark.burnback": "145", "mark.preflow": "0.3", "mark.postflow": "1.5 s"}
    given = [found.get(step.key, good_answer(step)) for step in steps]
    output = " ".join(run("commission", design, stdin="\n".join(given) + "\n").output.split())
    assert '`times.burnback.setting = "145 ms"`, `times.postflow.setting = "1.5 s"`.' in output
    assert "times.preflow.setting" not in output


def test_steps_that_rest_on_what_has_changed_are_asked_anew(design):
    run("commission", design, stdin="\n".join(answers(design)) + "\n")
    # Another coast is no other wiring and no other sequence: only what shows the digest is to be done anew.
    design.write_text(design.read_text().replace('coast = "50 ms"', 'coast = "55 ms"'))
    again = run("commission", design, stdin="later\n")
    assert "To be done anew, since what they rest on has changed: The bench test.\n" in again.output
    design.write_text(design.read_text().replace('filter = "25 ms"', 'filter = "30 ms"'))
    states = states_of(design)
    assert states["dry.start"] == states["supply.held"] == "anew"
    assert states["before.common"] == states["power.idle"] == states["arc.weld"] == "passed"
    design.write_text(design.read_text().replace('reservoir = "1000 uF"', 'reservoir = "1500 uF"'))
    states = states_of(design)
    assert states["before.common"] == states["power.idle"] == "anew"
    assert states["arc.weld"] == "passed"
    design.write_text(design.read_text().replace('wire_diameter = "0.9 mm"', 'wire_diameter = "1.0 mm"'))
    states = states_of(design)
    assert states["arc.weld"] == states["weld.burnback"] == "anew"


def states_of(design):
    steps = json.loads(run("commission", design, "--steps", "--json").stdout)["steps"]
    return {one["key"]: one["state"] for one in steps}


def test_test_welds_are_kept_as_they_are_and_fitted_until_there_were_enough(design):
    steps = Commissioning.of(design).plan.steps
    number = [step.key for step in steps].index("weld.burnback")
    given = [good_answer(step) for step in steps[:number]]
    result = run("commission", design, stdin="\n".join([*given, "nonsense", "40 mm", "10.8 mm, ball", "later"]) + "\n")
    assert "next weld  burnback dial at mark " in result.output
    assert "above 0 mm and below 22 mm" in result.output
    run("commission", design, "--answer", "weld.burnback", "mark 60: frozen")
    welds = [one.values for one in read_logbook(logbook_path(design)).entries if one.kind == "weld"]
    assert [(weld["outcome"], weld["mark"].split()[0]) for weld in welds] == [("free", "mark"), ("frozen", "mark")]
    case = burnback_case(Commissioning.of(design).project.design)
    machine = ScriptedMachine(case, Hidden(0.06, False, (0.008, 0.001), (0.022, 0.001), (1.4, 0.1)), seed=5)
    logbook_path(design).write_text(
        "".join(line for line in logbook_path(design).read_text().splitlines(True) if " weld " not in line)
    )
    for _ in range(6):
        turn = Commissioning.of(design).weld_turn()
        left = machine.weld(float(turn.set_to.removeprefix("mark ")) / 1000)
        again = run("commission", design, stdin=f"{left}\nlater\n")
        if outcomes_of_steps(design)[-1][0] == "weld.burnback":
            break
    assert outcomes_of_steps(design)[-1] == ("weld.burnback", "passed")
    assert "These welds tell what they can." in again.output


def outcomes_of_steps(design):
    book = read_logbook(logbook_path(design))
    return [(one.values["step"], one.values["outcome"]) for one in book.entries if one.kind == "step"]


def test_answers_from_a_script_are_all_entered_or_none(design):
    result = run("commission", design, "--answer", "power.tap", "27.1", "--answer", "dry.purge", "no")
    assert result.exit_code == 1
    assert outcomes(design) == [("power.tap", "passed"), ("dry.purge", "failed")]
    for key, text, told in (
        ("dry.purgee", "yes", "'dry.purge' meant?"),
        ("power.tap", "27,1", "write a decimal point"),
        ("before.box", "skip", "not safe without this step"),
    ):
        refused = run("commission", design, "--answer", "dry.inch", "yes", "--answer", key, text)
        assert refused.exit_code == 2
        assert told in " ".join(refused.output.split())
    assert len(outcomes(design)) == 2
    assert run("commission", design, "--answer", "weld.burnback", "90 ms: 9 mm").exit_code == 0
    assert read_logbook(logbook_path(design)).entries[-1].values["burnback"] == "90 ms"


def test_the_steps_as_text_and_as_data_are_the_same(design):
    run("commission", design, "--answer", "power.tap", "27.1")
    data = json.loads(run("commission", design, "--steps", "--json").stdout)
    text = " ".join(run("commission", design, "--steps").stdout.split())
    for step in data["steps"]:
        assert f"{step['key']} {step['title']}" in text
        for piece in (*step["set"], *step["do"], step["expect"], step["if_not"]):
            assert " ".join(piece.split()) in text
    tap = next(step for step in data["steps"] if step["key"] == "power.tap")
    assert (tap["state"], tap["outcome"]["reading"]) == ("passed", "27.1 V")
    assert data["next"] == "before.bench"


def test_what_the_model_does_not_hold_for_is_welded_all_the_same(design):
    design.write_text(design.read_text().replace('wire_diameter = "0.9 mm"', 'wire_diameter = "2.4 mm"'))
    step = Commissioning.of(design).plan.step("weld.burnback")
    assert "set burnback by test welds alone" in " ".join(Commissioning.of(design).weld_turn().sentences)
    assert run("commission", design, "--answer", step.key, "9 mm", "--answer", step.key, "done").exit_code == 0
    assert [entry.kind.value for entry in read_logbook(logbook_path(design)).entries] == ["weld", "step"]


def test_a_logbook_of_something_else_and_a_bad_design_are_told(design):
    logbook_path(design).write_text("my shopping\n")
    assert run("commission", design, stdin="yes\n").exit_code == 2
    assert logbook_path(design).read_text() == "my shopping\n"
    assert run("commission", design.with_name("nowhere.toml")).exit_code == 2
    assert run("commission", design, "--json").exit_code == 2


@pytest.mark.parametrize(("how", "stride"), [("SIGKILL", 1), ("SIGINT", 15)])
def test_ended_by_a_signal_at_every_step_the_walk_goes_on_with_nothing_lost(design, how, stride):
    given = "\n".join(answers(design)) + "\n"
    walked = subprocess.run(
        [sys.executable, "-m", "tests.support.killed_walk", str(design), how, str(stride)],
        input=given, capture_output=True, text=True, cwd=ROOT, timeout=300, check=False,
    )  # fmt: skip
    assert walked.returncode == 0, walked.stderr
    keys = [step.key for step in Commissioning.of(design).plan.steps]
    assert walked.stdout.split() == keys
    assert outcomes(design) == [(key, "passed") for key in keys]
