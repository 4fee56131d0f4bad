"""`wirecue flash`: what it would do, what it refuses, and what it says of everything that goes wrong."""

from __future__ import annotations

import itertools
import json
import os
import shlex
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from bench.usb_ports import UsbPort
from bench.virtual.board import VirtualBoard
from bench.virtual.serving import behind_pty
from codegen.plan import Plan
from codegen.writing import write_plan
from tests.conftest import ROOT
from tests.support.running import run
from timing.design.board import Bootloader
from timing.logbook.entry import EntryKind
from timing.protocol.target_of_design import target_of
from wirecue import __version__, avrdude, bootloader_way
from wirecue.avrdude import find_uploader, upload
from wirecue.flash_errors import (
    DesignNotReadyError,
    FlashError,
    NoBoardError,
    NoBootloaderError,
    NoFirmwareError,
    NoSuchBootloaderError,
    OtherBoardError,
    OtherChipError,
    OtherDigestError,
    PortLostError,
    SeveralPortsError,
    SilentBoardError,
    UploaderMissingError,
    UploaderTooOldError,
    UploadFailedError,
    UploadStoppedError,
    VerifyError,
)
from wirecue.flashing import FlashPlan, plan_flash, run_flash
from wirecue.logbooks import append_entry, read_logbook
from wirecue.projects import load_board, load_project, parse_project

SHOP = ROOT / "examples" / "shop_two_step.toml"
PROJECT = load_project(SHOP)
NEW, OLD = PROJECT.board.bootloaders
ADAPTER = UsbPort("/dev/ttyUSB0", "a serial adapter", "1A86:7523")
UNO = UsbPort("/dev/ttyACM0", "a board", PROJECT.board.usb_ids[0])
MEGA = UsbPort("/dev/ttyACM1", "a board", load_board("mega").usb_ids[0])
HEX = b":00000001FF\n"


def program(folder, name, script):
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(f"#!/bin/sh\n{script}\n")
    (folder / name).chmod(0o755)


@pytest.fixture
def tools(tmp_path, monkeypatch):
    """A machine of its own: an uploader of version 7.1, a compiler and a core that nothing is asked of, no more."""
    folder = tmp_path / "tools"
    program(folder, "avrdude", 'echo "avrdude version 7.1, URL: ..." >&2')
    program(folder, "avr-gcc", "exit 1")
    core = tmp_path / "core" / "cores" / "arduino"
    core.mkdir(parents=True)
    (core / "Arduino.h").touch()
    monkeypatch.setenv("PATH", str(folder))
    monkeypatch.setenv("WIRECUE_AVR_CORE", str(tmp_path / "core"))
    monkeypatch.setenv("ARDUINO_DIRECTORIES_DATA", str(tmp_path / "ide"))
    return folder


@pytest.fixture
def design(tmp_path):
    path = tmp_path / "shop_two_step.toml"
    path.write_text(SHOP.read_text())
    return path


def planned(design, port=None, present=(), **options):
    return plan_flash(design, PROJECT, port, ports=lambda: tuple(present), **options)


def built(design, about=(), edited=False):
    """Return the folder of a build of the design, as small as one can be."""
    name, folder = PROJECT.design.name, design.parent / "shop_two_step_build"
    facts = {"made_by": f"wirecue {__version__}", "design": name, "digest": PROJECT.design.digest(), **dict(about)}
    write_plan(Plan({f"{name}.hex": HEX, f"{name}/settings.h": b"1\n"}), folder, facts, force=False)
    if edited:
        (folder / name / "settings.h").write_text("2\n")
    return folder


# ---- The plan ----


def test_a_dry_run_says_what_would_be_run_and_opens_nothing(tools, design):
    result = run("flash", design, "--port", "/dev/ttyNOWHERE", "--dry-run")
    assert result.exit_code == 0, result.output
    lines = [line for line in result.output.splitlines() if line.startswith(str(tools))]
    expected = "{} -c arduino -p atmega328p -P /dev/ttyNOWHERE -b {} -D -U flash:w:shop_two_step.hex:i"
    assert lines == [expected.format(tools / "avrdude", baud) for baud in (57600, 115200)]
    assert f"it must answer shop_two_step with digest {PROJECT.design.digest()}" in " ".join(result.output.split())


@pytest.mark.usefixtures("tools")
def test_the_bootloader_that_answered_last_time_is_asked_first(design):
    # Else the one to which being asked at the wrong speed does harm.
    assert planned(design, "/dev/ttyX").way.loaders == (OLD, NEW)
    append_entry(design.with_suffix(".log"), EntryKind.FLASH, {"bootloader": "new"})
    assert planned(design, "/dev/ttyX").way.loaders == (NEW, OLD)
    assert planned(design, "/dev/ttyX", bootloader="old").way.loaders == (OLD,)
    with pytest.raises(NoSuchBootloaderError, match=r"no bootloader 'usual' for the Uno-style .*; there is new, old"):
        planned(design, "/dev/ttyX", bootloader="usual")


@pytest.mark.usefixtures("tools")
def test_the_only_board_is_meant_and_of_two_the_one_that_says_it_is_the_designs(design):
    assert planned(design, present=[ADAPTER]).port == ADAPTER.name
    assert planned(design, present=[ADAPTER, UNO]).port == UNO.name
    with pytest.raises(SeveralPortsError, match=r"More than one port.*\n  /dev/ttyUSB0  a serial adapter\n"):
        planned(design, present=[ADAPTER, replace(ADAPTER, name="/dev/ttyUSB1")])
    with pytest.raises(NoBoardError, match="No board is plugged in"):
        planned(design)


@pytest.mark.usefixtures("tools")
@pytest.mark.parametrize("named", [None, MEGA.name])
def test_a_port_that_says_it_is_another_board_is_not_touched(design, named):
    with pytest.raises(OtherBoardError, match=r"says that it is a Mega-style .*; the design is for a Uno-style"):
        planned(design, named, [MEGA])


def test_without_an_uploader_or_with_an_old_one_it_is_said_where_to_get_one(tools, design):
    program(tools, "avrdude", 'echo "avrdude version 5.11.1, URL: ..." >&2')
    with pytest.raises(UploaderTooOldError, match=r"is version 5\.11; 6\.3 or newer is wanted"):
        planned(design, "/dev/ttyX")
    (tools / "avrdude").unlink()
    with pytest.raises(UploaderMissingError, match="on Debian: apt install avrdude"):
        planned(design, "/dev/ttyX")


def test_without_a_compiler_the_builds_own_file_is_taken(tools, design):
    (tools / "avr-gcc").unlink()
    with pytest.raises(NoFirmwareError) as refused:
        planned(design, "/dev/ttyX")
    assert "Or run `wirecue build` where there is one" in str(refused.value)
    folder = built(design)
    plan = planned(design, "/dev/ttyX")
    assert plan.way.file == folder / "shop_two_step.hex"
    assert plan.notes == ()
    assert all(str(folder) in line for line in plan.commands)


def test_a_builds_file_of_another_design_or_that_was_touched_is_not_taken(tools, design):
    (tools / "avr-gcc").unlink()
    folder = built(design, {"digest": "0" * 16})
    with pytest.raises(NoFirmwareError):
        planned(design, "/dev/ttyX")
    elsewhere = built(design, {})
    assert elsewhere == folder
    (folder / "shop_two_step.hex").write_bytes(HEX + b"\n")
    with pytest.raises(NoFirmwareError):
        planned(design, "/dev/ttyX")


def test_settings_that_were_edited_in_a_build_and_a_build_of_another_version_are_told(tools, design):
    built(design, {"made_by": "wirecue 0.0.1"}, edited=True)
    # With a compiler it is made anew rather.
    assert planned(design, "/dev/ttyX").way.file is None
    (tools / "avr-gcc").unlink()
    edited, older = planned(design, "/dev/ttyX").notes
    assert "settings.h in that build was edited since" in edited
    assert "made by wirecue 0.0.1" in older


@pytest.mark.usefixtures("tools")
def test_a_design_that_breaks_a_rule_goes_onto_no_board(design):
    text = SHOP.read_text().replace('gas_valve = "D5"', 'gas_valve = "D0"')
    spoilt = parse_project(text + '\n[board.pins]\ngas_valve = "D0"\n', "shop")
    with pytest.raises(DesignNotReadyError, match="must not go onto a board yet") as refused:
        plan_flash(design, spoilt, "/dev/ttyX", ports=tuple)
    assert refused.value.exit_code == 1


# ---- Which bootloader answers ----


def asked(design, monkeypatch, answering, *, back):
    """Return what was told while bootloaders were asked, and what came of it; `answering` goes by the time asked."""
    monkeypatch.setattr(bootloader_way, "require_present", id)
    monkeypatch.setattr(bootloader_way, "answers", lambda _, loader: answering(loader))
    monkeypatch.setattr(bootloader_way, "plugged_in_again", lambda *_: back)
    monkeypatch.setattr(bootloader_way, "upload", lambda *_: None)
    built(design)
    told = []
    try:
        return told, planned(design, "/dev/ttyX").way.carry(told.append)[0]
    except NoBootloaderError as error:
        return told, error


@pytest.mark.usefixtures("tools")
def test_where_none_answers_the_board_is_to_be_plugged_in_again_and_is_asked_once_more(design, monkeypatch):
    times = itertools.count()
    # Twice each, then the other board's, then once more.
    told, found = asked(design, monkeypatch, lambda loader: next(times) >= 5 and loader == NEW, back=True)
    assert found == NEW
    assert any("pull the board's USB plug and plug it in again" in line for line in told)


@pytest.mark.usefixtures("tools")
def test_where_none_answers_at_all_it_is_said_what_may_be_the_matter(design, monkeypatch):
    _, found = asked(design, monkeypatch, lambda _: False, back=False)
    assert isinstance(found, NoBootloaderError)
    assert "no bootloader answers on /dev/ttyX (old, 57600 baud; new, 115200 baud)" in str(found)
    assert "the watchdog loop of an old bootloader" in str(found)


@pytest.mark.usefixtures("tools")
def test_a_bootloader_of_another_board_is_named(design, monkeypatch):
    told, found = asked(design, monkeypatch, lambda loader: loader.protocol == "wiring", back=True)
    assert isinstance(found, NoBootloaderError)
    assert "likely a Mega-style board" in str(found)
    assert not any("plug it in again" in line for line in told)


# ---- The uploader's words, and its silence ----


def fake(tmp_path, script):
    """Return the command of an uploader that does as a shell script says."""
    program(tmp_path, "uploader", script)
    return (str(tmp_path / "uploader"),)


def failure(command, port="/dev/ttyX"):
    with pytest.raises(FlashError) as failed:
        upload(command, port, PROJECT.board, [].append, {"1E9801": "Mega-style board"}.get)
    assert failed.value.exit_code == 1
    return failed.value


WRITING = "printf 'Writing | ##########' >&2; "


def test_progress_is_told_by_stages_and_fifths(tmp_path):
    bar = "#" * 50
    script = f"printf 'Reading | {bar} | 100%%\\nWriting | {bar[:30]}' >&2; printf '{bar[30:]} | 100%%\\n' >&2"
    told = []
    upload(fake(tmp_path, script), "/dev/ttyX", PROJECT.board, told.append, str)
    assert told[-1] == "writing 100 %"


def test_a_chip_that_is_another_is_named_by_its_boards(tmp_path):
    said = "avrdude: device signature = 0x1e9801 (probably m2560)\\navrdude error: expected signature for ATmega328P"
    found = failure(fake(tmp_path, f"echo '{said} is 1E 95 0F' | sed 's/\\\\n/\\n/' >&2; exit 1"))
    assert isinstance(found, OtherChipError)
    assert "has the signature 1E9801 (Mega-style board); atmega328p of the Uno-style" in str(found)
    assert "Nothing was written" in str(found)


def test_what_is_read_back_otherwise_is_not_taken_for_flashed(tmp_path):
    said = "avrdude warning: verification mismatch; device 0xff != input 0x0c at addr 0x0000"
    found = failure(
        fake(tmp_path, f"{WRITING} echo '{said}' >&2; echo 'avrdude error: verification mismatch'>&2; exit 1")
    )
    assert isinstance(found, VerifyError)
    assert "part of a sketch" in str(found)


@pytest.mark.parametrize(("before", "written"), [("", False), (WRITING, True)])
def test_an_uploader_to_which_nothing_answers_any_more_is_ended(tmp_path, monkeypatch, before, written):
    monkeypatch.setattr(avrdude, "QUIET_S", 0.2)
    monkeypatch.setattr(avrdude, "_LOOKS_EVERY_S", 0.05)
    complains = "while :; do echo 'avrdude warning: attempt 2 of 10: not in sync: resp=0x00' >&2; sleep 0.05; done"
    found = failure(fake(tmp_path, f"{before} {complains}"))
    assert isinstance(found, PortLostError)
    assert found.written is written
    assert ("part of a sketch" in str(found)) is written


def test_a_port_that_goes_away_ends_it_at_once(tmp_path, monkeypatch):
    monkeypatch.setattr(avrdude, "_LOOKS_EVERY_S", 0.05)
    port = tmp_path / "port"
    port.touch()
    assert isinstance(failure(fake(tmp_path, f"{WRITING} /bin/rm {port}; sleep 600"), str(port)), PortLostError)


def test_any_other_failure_is_told_in_the_uploaders_own_words(tmp_path):
    found = failure(fake(tmp_path, "echo 'avrdude error: no such thing as a \\033[31mfoo' >&2; exit 1"))
    assert isinstance(found, UploadFailedError)
    assert "no such thing as a <1b>[31mfoo" in str(found)


def test_who_stops_it_in_the_middle_is_told_what_the_board_carries(tmp_path):
    def stop(_line):
        raise KeyboardInterrupt

    with pytest.raises(UploadStoppedError, match="part of a sketch"):
        upload(fake(tmp_path, f"{WRITING} sleep 600"), "/dev/ttyX", PROJECT.board, stop, str)


# ---- What the board answers ----


@dataclass(frozen=True)
class Done:
    """A way whose upload is over, whatever came of it."""

    port: str
    loader: Bootloader | None = NEW

    def carry(self, tell):
        return self.loader, self.port


def flashed(design, project, port, loader=NEW):
    return run_flash(FlashPlan(design, project, Done(port, loader), 1.0), [].append)


def test_a_board_that_answers_with_the_digest_is_flashed_and_says_how_it_is(design):
    append_entry(design.with_suffix(".log"), EntryKind.NOTE, {"text": "begun"})
    with behind_pty(VirtualBoard(target_of(PROJECT), __version__)) as port:
        result = flashed(design, PROJECT, port, OLD)
    whole = " ".join(result.sentences)
    assert f"carries shop_two_step with digest {PROJECT.design.digest()}" in whole
    assert "outputs read back as off" in whole
    assert "Its bootloader is the old one" in whole
    (entry,) = read_logbook(design.with_suffix(".log")).of(EntryKind.FLASH)
    assert entry.values["digest"] == PROJECT.design.digest()
    assert entry.values["bootloader"] == "old"


def test_a_board_that_answers_with_another_design_is_not_taken_for_flashed(design):
    other = replace(target_of(PROJECT), digest="0" * 16)
    with (
        behind_pty(VirtualBoard(other, __version__)) as port,
        pytest.raises(OtherDigestError, match=f"carries shop_two_step with digest {'0' * 16}, not shop_two_step"),
    ):
        flashed(design, PROJECT, port)


def test_a_board_that_says_nothing_is_told_of_and_entered(design):
    append_entry(design.with_suffix(".log"), EntryKind.NOTE, {"text": "begun"})
    host, device = os.openpty()
    try:
        with pytest.raises(SilentBoardError, match="Written and read back, but"):
            flashed(design, PROJECT, os.ttyname(device))
    finally:
        os.close(host)
        os.close(device)
    (entry,) = read_logbook(design.with_suffix(".log")).of(EntryKind.FLASH)
    assert entry.values["answer"] == "none"


# ---- The command ----


@pytest.mark.usefixtures("tools")
def test_nobody_there_to_heed_the_cautions_means_that_no_port_is_opened(design):
    result = run("flash", design, "--port", "/dev/ttyNOWHERE")
    assert result.exit_code == 2
    assert "Feeder plug" in result.output or "feeder plug" in result.output
    assert "--yes says so" in result.output


@pytest.mark.usefixtures("tools")
def test_of_several_ports_somebody_is_asked_which(design, monkeypatch):
    present = (ADAPTER, replace(ADAPTER, name="/dev/ttyUSB1"))
    monkeypatch.setitem(plan_flash.__kwdefaults__, "ports", lambda: present)
    refused = run("flash", design, "--dry-run")
    assert refused.exit_code == 2
    assert "name the board's with --port" in refused.output
    monkeypatch.setattr("wirecue.commands.flash._attended", lambda: True)
    asked = run("flash", design, "--dry-run", stdin="2\n")
    assert asked.exit_code == 0, asked.output
    assert "-P /dev/ttyUSB1 " in asked.output


def test_a_port_that_is_not_there_is_told_before_anything_is_sent(tools, design):
    (tools / "avr-gcc").unlink()
    built(design)
    result = run("flash", design, "--port", "/dev/ttyNOWHERE", "--yes")
    assert result.exit_code == 2
    assert "There is no port /dev/ttyNOWHERE" in result.output


@pytest.mark.usefixtures("tools")
def test_a_plan_is_given_as_json(design):
    result = run("flash", design, "--port", "/dev/ttyX", "--dry-run", "--json")
    data = json.loads(result.stdout)
    assert data["digest"] == PROJECT.design.digest()
    assert [shlex.split(line)[-1] for line in data["commands"]] == ["flash:w:shop_two_step.hex:i"] * 2


@pytest.mark.skipif(sys.platform == "win32", reason="a program of this machine is asked")
@pytest.mark.debian("avrdude")
def test_the_uploader_of_this_machine_is_found_and_states_its_version():
    found = find_uploader()
    assert found.version >= (7, 0)
    assert Path(found.path).name == "avrdude"
