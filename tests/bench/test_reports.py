"""Reports: a table for people, JUnit XML for test servers, JSON for scripts."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.compare import BenchReport, CaseResult
from bench.reports import junit_text, report_data, result_line, table_text
from bench.virtual.machine import Faults
from timing.sequence.core.table import Output


@pytest.fixture
def report(shop, run_case):
    good = run_case(shop, "purge")
    bad = run_case(shop, "weld", Faults(dead=frozenset({Output.WIRE})))
    return BenchReport(shop.design, shop.digest, shop.board, "0.1", "/dev/ttyACM0", (good, bad))


def test_the_table_names_board_cases_and_verdict(report):
    text = table_text(report)
    assert "design   shop_two_step, digest " in text
    assert "\npass  purge " in text
    assert "\nFAIL  weld " in text
    assert text.endswith("\n1 of 2 cases FAIL. Do not connect this board to the feeder.\n")


def test_a_failed_case_shows_its_troubles_at_once(report):
    first, *troubles = result_line(report.results[1]).splitlines()
    assert first.startswith("FAIL  weld")
    assert troubles == [f"        {trouble}" for trouble in report.results[1].troubles]


def test_a_run_that_passes_says_so(report):
    passed = BenchReport(
        *[getattr(report, name) for name in ("design", "digest", "board", "firmware", "port")], report.results[:1]
    )
    assert table_text(passed).endswith("\nAll 1 cases pass.\n")


def test_no_case_is_no_pass():
    assert table_text(BenchReport("d", "0", "uno", "0", "p", ())).endswith("\nNo case ran.\n")


def test_junit_has_a_case_each_and_a_failure_for_what_failed(report):
    root = ET.fromstring(junit_text(report))
    suite = root.find("testsuite")
    assert suite is not None
    assert (suite.get("tests"), suite.get("failures")) == ("2", "1")
    passed, failed = suite.findall("testcase")
    assert passed.get("name") == "purge"
    assert passed.find("failure") is None
    failure = failed.find("failure")
    assert failure is not None
    assert failure.get("message") == report.results[1].troubles[0]
    assert suite.find("properties/property[@name='digest']").get("value") == report.digest


@given(st.text(), st.text(min_size=1))
def test_junit_is_well_formed_whatever_the_texts(name, trouble):
    report = BenchReport("d", "0", "uno", "0", name, (CaseResult(name, name, (trouble,)),))
    assert ET.fromstring(junit_text(report)).find("testsuite/testcase/failure") is not None


def test_json_holds_inputs_prediction_and_what_was_seen(report):
    data = json.loads(json.dumps(report_data(report)))
    assert (data["passed"], data["digest"], data["format"]) == (False, report.digest, 1)
    good, bad = data["cases"]
    assert good["passed"]
    assert not bad["passed"]
    assert [change["what"] for change in good["inputs"]] == ["purge", "purge"]
    edges = zip(good["predicted"]["edges"], good["seen"]["edges"], strict=True)
    assert all(seen["output"] == wanted["output"] and seen["on"] == wanted["on"] for wanted, seen in edges)
    assert not any(edge["output"] == "wire_drive" for edge in bad["seen"]["edges"])
