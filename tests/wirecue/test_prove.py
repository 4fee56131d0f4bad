"""wirecue prove: what holds, what does not, the script and the picture of a breach."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.conftest import EXAMPLES, ROOT, gate_share
from wirecue.cli import main

FIELD = (ROOT / "examples" / "gasless_four_step.toml").read_text()


def run(*arguments: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


@pytest.fixture
def endless(tmp_path):
    """A four-step design without a weld limit: nothing ends a weld that nobody ends."""
    limit = next(line for line in FIELD.splitlines() if line.startswith("weld = "))
    path = tmp_path / "endless.toml"
    path.write_text(FIELD.replace(limit, ""))
    return path


def test_every_example_holds_and_says_what_was_walked(example):
    result = run("prove", example)
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert lines[0].startswith("holds")
    assert lines[0].endswith("Contactor on implies gas on.")
    assert "BROKEN" not in result.output
    assert "What is covered: the phase table of this design." in result.output
    assert "What is not covered:" in result.output
    assert lines[-1].endswith("combinations; all rules hold on the phase table.")


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=1), ids=lambda path: path.stem)
def test_what_is_not_covered_is_named_and_nothing_claims_all_of_it(example):
    said = " ".join(run("prove", example).output.split())
    for part in ("contact filters", "dials", "control.c", "board glue", "main loop", "clock", "Durations, beyond what"):
        assert part in said, part
    assert "100 %" not in said
    data = json.loads(run("prove", example, "--json", "-").output)
    assert {"contact filters", "main loop, clock and watchdog"} <= set(data["leaves_out"])


def test_a_broken_rule_is_exit_1_with_a_script_that_simulate_plays(endless, tmp_path):
    result = run("prove", endless)
    assert result.exit_code == 1
    assert result.output.splitlines()[-1].endswith("1 rule broken.")
    broken = result.output[result.output.index("BROKEN") :].splitlines()
    assert "All is off in the end" in broken[0]
    first = next(index for index, line in enumerate(broken) if "starts in idle" in line)
    steps = [line.strip() for line in broken[first + 1 :] if " us " in line]
    script = tmp_path / "steps.txt"
    script.write_text("\n".join(steps))
    played = json.loads(run("simulate", endless, "--script-file", script, "--json", "-").output)
    assert "release" in script.read_text()
    assert played["phases"][-1]["phase"] == "weld"


def test_the_breach_is_drawn(endless, tmp_path):
    picture = tmp_path / "breach.svg"
    assert run("prove", endless, "--svg", picture).exit_code == 1
    assert ET.parse(picture).getroot().tag.endswith("svg")


def test_nothing_is_drawn_where_all_rules_hold(tmp_path):
    picture = tmp_path / "breach.svg"
    result = run("prove", ROOT / "examples" / "shop_two_step.toml", "--svg", picture)
    assert result.exit_code == 0
    assert "nothing to draw" in result.output
    assert not picture.exists()


def test_the_result_as_data(endless):
    holds = json.loads(run("prove", ROOT / "examples" / "shop_two_step.toml", "--json", "-").output)
    assert holds["holds"] is True
    assert all(rule["holds"] and rule["combinations"] > 0 and rule["says"] for rule in holds["rules"])
    broken = json.loads(run("prove", endless, "--json", "-").output)
    assert broken["holds"] is False
    rule = next(rule for rule in broken["rules"] if not rule["holds"])
    assert rule["rule"] == "all-off-in-the-end"
    assert rule["script"].endswith(" us end\n")
    assert broken["digest"] != holds["digest"]


def test_a_bad_file_is_exit_2(tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("format = 7\n")
    result = run("prove", bad)
    assert result.exit_code == 2
    assert "format" in result.output
    assert run("prove", tmp_path / "none.toml").exit_code == 2
