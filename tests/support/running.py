"""The command line called from tests."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from tests.conftest import ROOT
from wirecue.cli import main


def run(*arguments: str | Path, stdin: str | None = None) -> Result:
    """Run a command; an exception that is not an exit fails the test."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], input=stdin)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


def shop(tmp_path: Path, old: str = "", new: str = "") -> Path:
    """Write the shop example, with one piece of its text replaced."""
    text = (ROOT / "examples" / "shop_two_step.toml").read_text()
    assert old in text
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, new, 1) if old else text)
    return path
