"""A board that shows itself as a drive: found, given its file, and asked what it carries."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bench.usb_ports import UsbPort
from bench.virtual.board import VirtualBoard
from bench.virtual.serving import behind_pty
from tests.conftest import ROOT
from tests.support.uf2_files import uf2_of
from timing.design.text_file import UnreadableFileError
from timing.protocol.target_of_design import target_of
from wirecue import __version__, drive_way
from wirecue.flash_errors import (
    CopyFailedError,
    DriveMissingError,
    NoUf2Error,
    OtherUf2Error,
    SeveralDrivesError,
    SilentBoardError,
)
from wirecue.flashing import plan_flash, run_flash
from wirecue.projects import load_board, load_project

PROJECT = replace(load_project(ROOT / "examples" / "shop_two_step.toml"), board=load_board("pico"))
DIGEST = PROJECT.design.digest()
SAYS = b"UF2 Bootloader v3.0\r\nBoard-ID: RPI-RP2\r\n"


@pytest.fixture
def design(tmp_path, monkeypatch):
    """A design in an empty folder, on a machine where no drive is plugged in."""
    monkeypatch.setattr(drive_way, "_mounted", lambda: iter(()))
    # What is wrong with this design on that board is not what is tested.
    monkeypatch.setattr("wirecue.flashing.require_sound", id)
    return tmp_path / "shop_two_step.toml"


@pytest.fixture
def drive(tmp_path):
    folder = tmp_path / "RPI-RP2"
    folder.mkdir()
    (folder / "INFO_UF2.TXT").write_bytes(SAYS)
    return folder


def exported(design, carries=DIGEST):
    """Return the file that the IDE exports below the sketch's folder."""
    file = design.parent / "shop_two_step_build" / "shop_two_step" / "build" / "x" / "shop_two_step.ino.uf2"
    file.parent.mkdir(parents=True)
    file.write_bytes(uf2_of(b"answers shop_two_step," + carries.encode()))
    return file


def planned(design, port=None, ports=tuple, **options):
    return plan_flash(design, PROJECT, port, ports=ports, patience_s=1, **options)


def test_the_file_is_copied_and_the_board_that_comes_up_is_asked(design, drive, monkeypatch):
    file = exported(design)
    monkeypatch.setattr(drive_way, "_mounted", lambda: iter([design.parent, drive]))
    told = []
    with behind_pty(VirtualBoard(target_of(PROJECT), __version__)) as port:
        there = UsbPort(port, "the sketch", "2E8A:000A")
        plan = planned(design, ports=lambda: (there,) if (drive / file.name).exists() else ())
        assert plan.port == ""
        assert str(drive) in plan.steps[0]
        result = run_flash(plan, told.append)
    assert (drive / file.name).read_bytes() == file.read_bytes()
    assert result.identity.digest == DIGEST
    assert result.bootloader is None
    assert any(line.startswith("copying") for line in told)


def test_without_a_file_the_steps_to_one_are_told(design, drive):
    with pytest.raises(NoUf2Error, match="Export Compiled Binary") as refused:
        planned(design, drive=drive)
    assert refused.value.exit_code == 2


def test_a_file_of_another_design_is_not_copied(design, drive):
    exported(design, "0" * 16)
    with pytest.raises(OtherUf2Error, match=f"is not of shop_two_step with digest {DIGEST}"):
        planned(design, drive=drive)


def test_a_file_that_is_cut_short_is_not_copied(design, drive):
    file = exported(design)
    file.write_bytes(file.read_bytes()[:-1])
    with pytest.raises(UnreadableFileError, match="not a multiple of 512"):
        planned(design, drive=drive)


def test_a_folder_that_is_no_such_drive_gets_nothing(design, tmp_path):
    exported(design)
    with pytest.raises(DriveMissingError, match=r"is not the drive RPI-RP2 .* hold its BOOTSEL button down"):
        planned(design, drive=tmp_path)
    with pytest.raises(DriveMissingError, match="No drive RPI-RP2 is here"):
        planned(design)


def test_of_two_drives_one_must_be_named(design, drive, tmp_path, monkeypatch):
    exported(design)
    other = tmp_path / "RPI-RP2 1"
    other.mkdir()
    (other / "INFO_UF2.TXT").write_bytes(SAYS)
    monkeypatch.setattr(drive_way, "_mounted", lambda: iter([drive, other]))
    with pytest.raises(SeveralDrivesError, match="name one with --drive"):
        planned(design)
    assert planned(design, drive=other).way.drive == other


def test_a_drive_that_does_not_take_the_file_is_told_with_what_to_do(design, drive):
    file = exported(design)
    (drive / file.name).mkdir()
    with pytest.raises(CopyFailedError, match="did not take the file: is a directory"):
        run_flash(planned(design, "/dev/ttyX", drive=drive), [].append)


def test_a_board_that_does_not_come_up_is_told(design, drive, monkeypatch):
    exported(design)
    monkeypatch.setattr(drive_way, "PORT_COMES_S", 0.1)
    with pytest.raises(SilentBoardError, match="No port came up within"):
        run_flash(planned(design, drive=drive), [].append)
