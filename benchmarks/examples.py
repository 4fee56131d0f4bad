"""The example designs, for benchmarks."""

from __future__ import annotations

import os
from pathlib import Path

from timing.design.design import Design
from timing.design.loading import load_design

ROOT = Path(__file__).parent.parent


def example_design(name: str) -> Design:
    """Return one example."""
    return load_design(ROOT / "examples" / f"{name}.toml")


def user_environment() -> dict[str, str]:
    """Return the environment as a user has it: modules compiled once, as those of every installed package are."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
