"""Try the wheel on a Windows of wine: `python -m tools.windows_trial`. Exit code 1 where something went wrong."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

import click

from tools.windows_trial.machine import PYTHONS, NoTrialError, WindowsMachine
from tools.windows_trial.steps import NOT_PROVED, verdicts


@click.command()
@click.option("--python", "version", type=click.Choice(list(PYTHONS)), default="3.12", show_default=True)
@click.option("--keep", default="out/windows", show_default=True, help="Folder for what is downloaded and made.")
def main(version: str, keep: str) -> None:
    """Install the wheel into a Windows under wine, and try there what a user does."""
    machine = WindowsMachine(Path(keep).resolve(), version)
    try:
        machine.prepare()
    except NoTrialError as error:
        click.echo(f"Windows: NOT TRIED. {error}", err=True)
        sys.exit(os.environ.get("CI") == "true")
    wrong = 0
    try:
        with tempfile.TemporaryDirectory() as place:
            for what, fault in verdicts(machine, Path(place), lambda text: click.echo(f"{text}  ", nl=False)):
                wrong += bool(fault)
                click.echo(f"{'FAIL' if fault else 'pass'}  {what}" + (f"\n{fault}" if fault else ""))
    finally:
        machine.end()
    click.echo(f"\nPython {version} for Windows under wine: {wrong or 'nothing'} went wrong. This does not show:")
    for what in NOT_PROVED:
        click.echo(f"  {what}")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
