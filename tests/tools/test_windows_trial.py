"""What the Windows trial takes from strangers is looked at before it is used, and what cannot be tried is said."""

from __future__ import annotations

import zipfile

import pytest

from tests.conftest import CI
from tools.windows_trial import machine
from tools.windows_trial.__main__ import main
from tools.windows_trial.machine import PYTHONS, NoTrialError, WindowsMachine
from tools.windows_trial.steps import COMMANDS
from wirecue.cli import COMMAND_HELP


def test_another_archive_than_was_tried_is_not_unpacked(tmp_path, monkeypatch):
    def another(_, place):
        archive = place / "data.zip"
        with zipfile.ZipFile(archive, "w") as packed:
            packed.writestr("cp312/python.exe", "something else")
        return archive

    monkeypatch.setattr(machine, "_install_debian_packages", lambda: None)
    monkeypatch.setattr(machine, "_downloaded_archive", another)
    windows = WindowsMachine(tmp_path, "3.12")
    with pytest.raises(NoTrialError, match=r"another archive than was tried: [0-9a-f]{64}"):
        windows.prepare()
    assert not windows.python.exists()


def test_where_there_is_no_wine_that_is_said(tmp_path, monkeypatch, capsys):
    def refused():
        raise NoTrialError("Debian's wine cannot be installed here: not allowed to run as root")

    monkeypatch.setattr(machine, "_install_debian_packages", refused)
    with pytest.raises(SystemExit) as left:
        main(["--keep", str(tmp_path)])
    assert "Windows: NOT TRIED. Debian's wine cannot be installed here" in capsys.readouterr().err
    assert bool(left.value.code) is CI


def test_it_tries_commands_that_there_are_and_pythons_by_their_hash():
    assert {step.line[0] for step in COMMANDS} <= set(COMMAND_HELP)
    assert all(len(one.sha256) == 64 for one in PYTHONS.values())
