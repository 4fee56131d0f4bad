"""The example designs that come along."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path


def _folder() -> Traversable:
    installed = files("wirecue") / "examples"
    # In a checkout the examples lie beside the package; in an installation, inside it.
    return installed if installed.is_dir() else Path(__file__).parent.parent / "examples"


def example_names() -> list[str]:
    """Return the names of the examples, sorted."""
    return sorted(entry.name.removesuffix(".toml") for entry in _folder().iterdir() if entry.name.endswith(".toml"))


def example_text(name: str) -> str:
    """Return the text of one example's design file. Raises FileNotFoundError."""
    return (_folder() / f"{name}.toml").read_text(encoding="utf-8")
