"""What is installed at users has a reason and a licence that fits; a service that was not reached gives no verdict."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata

import pytest
from packaging.requirements import Requirement

from tests.conftest import ROOT
from tools.audit import told
from tools.dependencies import fits, licence_of, run_time, unfit

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
DIRECT = [Requirement(text).name for text in PROJECT["dependencies"] + PROJECT["optional-dependencies"]["page"]]
ROW = re.compile(r"^\| (?P<name>[a-z0-9]+) \| (?P<licence>[^|]+) \| (?P<why>[^|]{15,}) \|$", re.M)


def test_each_package_has_its_reason_and_its_licence_in_the_table():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.partition("## What it asks for at run time")[2].partition("\n## ")[0]
    rows = {found["name"]: found["licence"] for found in ROW.finditer(section)}
    assert rows == {name: licence_of(name) for name in DIRECT}


def test_every_licence_of_what_comes_with_them_fits():
    licences = run_time()
    assert set(DIRECT) < set(licences)
    assert list(unfit(licences)) == []


def test_what_was_looked_up_is_so():
    """The one part under another licence, a file for an editor, is not installed."""
    assert not [file for file in metadata.files("docutils") or [] if file.suffix == ".el"]


@pytest.mark.parametrize(
    ("licence", "well"),
    [
        ("MIT", True),
        ("MPL-2.0 AND (Apache-2.0 OR MIT)", True),
        ("GPL-3.0-only OR MIT", True),
        ("MIT AND GPL-3.0-only", False),
        ("", False),
    ],
)
def test_all_that_is_joined_must_fit_and_one_of_a_choice(licence, well):
    assert fits(licence) is well
    assert bool(list(unfit({"x": licence}))) is not well


SKIPPED = {"name": "a", "skip_reason": "not found"}


@pytest.mark.parametrize(
    ("report", "says", "well"),
    [
        (None, "NOT CHECKED", True),
        ({"dependencies": [SKIPPED]}, "NOT CHECKED", True),
        ({"dependencies": [{"name": "b", "version": "1", "vulns": []}, SKIPPED]}, "0 in 1 packages", True),
        ({"dependencies": [{"name": "b", "version": "1", "vulns": [{"id": "X-1"}]}]}, "b 1: X-1", False),
    ],
)
def test_a_known_weakness_fails_and_silence_is_no_verdict(report, says, well):
    lines, found_well = told(report)
    assert says in "\n".join(lines)
    assert found_well is well
