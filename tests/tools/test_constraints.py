"""The versions that are allowed, those that are written down and those that these tests run with belong together."""

from __future__ import annotations

import tomllib
from importlib import metadata

import pytest
from packaging.requirements import Requirement
from packaging.version import Version

from tests.conftest import CI, ROOT
from tools.write_constraints import CONSTRAINTS, HEAD, constraints, lowest

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
RUN_TIME = PROJECT["dependencies"] + PROJECT["optional-dependencies"]["page"]
HARNESS = (ROOT / "board_templates" / "common" / "harness" / "requirements.txt.j2").read_text().splitlines()
EXTRAS = PROJECT["optional-dependencies"]
EVERYTHING = [*RUN_TIME, *EXTRAS["dev"], *EXTRAS["docs"], *HARNESS]


def pinned() -> dict[str, str]:
    lines = CONSTRAINTS.read_text(encoding="utf-8").removeprefix(HEAD).splitlines()
    return dict(line.split("==") for line in lines)


@pytest.mark.parametrize("text", EVERYTHING)
def test_what_is_allowed_includes_what_was_tested(text):
    asked = Requirement(text)
    assert asked.specifier.contains(pinned()[asked.name.lower()])


@pytest.mark.parametrize("text", [*RUN_TIME, *HARNESS])
def test_what_runs_at_users_is_bounded_to_the_majors_that_were_tested(text):
    asked = Requirement(text)
    bounds = {each.operator: Version(each.version) for each in asked.specifier}
    assert set(bounds) == {">=", "<"}
    assert bounds["<"].major == Version(pinned()[asked.name]).major + 1


def test_every_package_that_is_installed_for_this_project_is_written_down():
    names = [line.partition("==")[0] for line in constraints().removeprefix(HEAD).splitlines()]
    assert names == sorted(pinned())
    assert {"numpy", "nicegui", "ruff", "starlette", "pydantic-core"} <= set(names)


def test_the_gate_runs_with_the_versions_that_are_written_down():
    found = {name: metadata.version(name) for name in pinned()}
    # Elsewhere somebody may be trying newer ones.
    assert found == pinned() or not CI


def test_the_least_versions_are_those_of_the_bounds():
    assert lowest(["numpy>=2.0,<3", "click>=8.2,<9"]) == ["numpy==2.0", "click==8.2"]
