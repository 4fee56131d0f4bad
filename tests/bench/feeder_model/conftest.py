"""Machines behind the examples."""

from __future__ import annotations

from functools import cache

import pytest

from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.project import Project
from wirecue.projects import load_board


@cache
def project_named(name: str) -> Project:
    design = load_design(ROOT / "examples" / f"{name}.toml")
    return Project(design, load_board(design.board.type))


@pytest.fixture(scope="session", params=["shop_two_step", "spot_stitch", "gasless_four_step"])
def project(request) -> Project:
    return project_named(request.param)
