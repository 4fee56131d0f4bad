"""`wirecue flash --recorder`: what it would do, and what it says of the board that answers."""

from __future__ import annotations

import json
from dataclasses import dataclass

import pytest

from bench.virtual.board import VirtualBoard
from bench.virtual.looks import RecorderFaults
from bench.virtual.recorder import VirtualRecorder
from bench.virtual.serving import behind_pty
from codegen.recorder_sketch import recorder_digest
from tests.conftest import ROOT
from tests.support.running import run
from timing.protocol.target_of_design import target_of
from wirecue import __version__
from wirecue.carried_sketch import RecorderSketch
from wirecue.flash_errors import NoFirmwareError, NoUf2Error, OtherDigestError, SilentBoardError
from wirecue.projects import load_board, load_project
from wirecue.recorder_flashing import RecorderFlashPlan, plan_recorder_flash, run_recorder_flash

SHOP = ROOT / "examples" / "shop_two_step.toml"
NANO = load_board("nano")
SKETCH = RecorderSketch(NANO, "shop_two_step")


@dataclass(frozen=True)
class Done:
    """A way whose upload is over, whatever came of it."""

    port: str

    def carry(self, tell):
        tell("carried")
        return NANO.bootloaders[0], self.port


def flashed(port):
    return run_recorder_flash(RecorderFlashPlan(SKETCH, Done(port), 1.0), [].append)


def recorder(**options):
    return VirtualRecorder(version=__version__, digest=recorder_digest(NANO, __version__), **options)


def test_a_recorder_that_answers_with_its_sketchs_digest_is_flashed():
    with behind_pty(recorder()) as port:
        result = flashed(port)
    whole = " ".join(result.sentences)
    assert f"carries recorder with digest {SKETCH.digest}" in whole
    assert "Nothing is pressed" in whole
    assert "jumper is fitted" in whole
    assert result.told == {"presses": 0, "press_jumper": True}


def test_without_its_jumper_it_is_said_that_it_only_watches():
    with behind_pty(recorder(faults=RecorderFaults(no_jumper=True))) as port:
        assert "it only watches" in " ".join(flashed(port).sentences)


def test_a_board_that_carries_something_else_is_not_taken_for_a_recorder():
    with (
        behind_pty(VirtualRecorder(version=__version__)) as port,
        pytest.raises(OtherDigestError, match="0000, not recorder"),
    ):
        flashed(port)
    add_on = VirtualBoard(target_of(load_project(SHOP)), __version__)
    with behind_pty(add_on) as port, pytest.raises(OtherDigestError, match="carries shop_two_step with digest"):
        flashed(port)


def test_one_that_does_not_answer_is_told_with_what_to_do():
    with (
        behind_pty(recorder(faults=RecorderFaults(mute=True))) as port,
        pytest.raises(SilentBoardError, match="does not say what it carries"),
    ):
        flashed(port)


def test_without_a_compiler_there_is_nothing_to_send(monkeypatch):
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr("wirecue.recorder_flashing.find_tools", lambda: None)
    with pytest.raises(NoFirmwareError):
        plan_recorder_flash(SKETCH, "/dev/ttyX", ports=tuple)


def test_a_board_that_is_a_drive_is_told_the_recorders_own_steps(tmp_path):
    sketch = RecorderSketch(load_board("pico"), "shop_two_step")
    drive = tmp_path / "RPI-RP2"
    drive.mkdir()
    (drive / "INFO_UF2.TXT").write_text("Model: Raspberry\nBoard-ID: RPI-RP2\n")
    with pytest.raises(NoUf2Error, match=r"wirecue recorder shop_two_step\.toml\n.*shop_two_step_recorder/recorder"):
        plan_recorder_flash(sketch, drive=drive, folders=(tmp_path,), ports=tuple)


@pytest.mark.debian("avr-gcc", "arduino-core", "avrdude")
def test_the_plan_names_board_digest_and_cautions(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    planned = run("flash", str(SHOP), "--recorder", "--board", "nano", "--port", "/dev/ttyX", "--dry-run", "--json")
    assert planned.exit_code == 0, planned.output
    told = json.loads(planned.stdout)
    assert (told["design"], told["digest"], told["board"]) == ("recorder", SKETCH.digest, "nano")
    assert all("recorder.hex" in line for line in told["commands"])
    asked = run("flash", str(SHOP), "--recorder", "--port", "/dev/ttyX")
    assert asked.exit_code == 2
    assert "The board that is meant is the second one" in asked.stderr


def test_a_board_alone_is_refused_since_a_design_names_its_own():
    refused = run("flash", str(SHOP), "--board", "nano")
    assert refused.exit_code == 2
    assert "--board goes with --recorder" in refused.stderr
