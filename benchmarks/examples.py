"""The example designs, for benchmarks."""

from __future__ import annotations

from pathlib import Path

from timing.design.design import Design
from timing.design.loading import load_design

ROOT = Path(__file__).parent.parent


def example_design(name: str) -> Design:
    """Return one example."""
    return load_design(ROOT / "examples" / f"{name}.toml")
