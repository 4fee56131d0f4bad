"""`wirecue status`: a board is asked, and nothing of it changes."""

from __future__ import annotations

import json
import os
import pty
import threading
import tty
from contextlib import contextmanager

import pytest

from bench.port import PortLock
from bench.virtual.board import VirtualBoard
from bench.virtual.machine import Faults
from bench.virtual.recorder import VirtualRecorder
from bench.virtual.serving import behind_pty
from tests.conftest import ROOT
from tests.support.running import run
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.resets import Reset
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board

SHOP = ROOT / "examples" / "shop_two_step.toml"
QUICK = ("--patience", "1")


class Listening(VirtualBoard):
    """Remembers what it is told."""

    def __post_init__(self):
        super().__post_init__()
        self.heard = b""

    def receive(self, data):
        self.heard += data
        return super().receive(data)


def board(**options):
    design = load_design(SHOP)
    return Listening(target_of(Project(design, load_board(design.board.type))), "1.2.3", **options)


def status(board, *arguments):
    with behind_pty(board) as name:
        return run("status", *arguments, "--port", name)


def test_a_board_says_who_it_is_and_how_it_is():
    result = status(board(bench_link=False), SHOP)
    assert result.exit_code == 0, result.output
    for says in (
        "shop_two_step with digest ",
        "made with version 1.2.3",
        "This one, as it was built.",
        "1, power-up: the supply came up.",
        "Opening the port has just reset this board",
        "errors        none",
        "burnback      130 ms",
        "supply        22.1 V; low below 18 V, good from 22 V on",
    ):
        assert says in result.stdout
    assert "bench link is fitted" not in result.stdout
    assert "never while somebody welds" in result.stderr


def test_without_a_design_it_is_told_all_the_same():
    result = status(board())
    assert result.exit_code == 0, result.output
    assert "shop_two_step with digest " in result.stdout
    assert "Opening the port resets many boards" in result.stdout
    assert "supply  " not in result.stdout
    assert "take it out before the board goes back" in result.stdout


@pytest.mark.parametrize("arguments", [(), (SHOP,)])
def test_it_only_asks(arguments):
    asked = board()
    before = asked.machine.state, asked.machine.pins
    status(asked, *arguments)
    lines = [line for line in asked.heard.decode().split("\n") if line]
    assert len(lines) >= 7
    assert all("?" in line and "*RST" not in line and "*CLS" not in line for line in lines)
    assert all(part.partition(" ")[0].endswith("?") for line in lines for part in line.split(";"))
    assert (asked.machine.state.phase, asked.machine.pins) == (before[0].phase, before[1])
    assert asked.machine.trace == board().machine.trace


def test_errors_that_stood_are_told():
    asked = board()
    asked.receive(b"NO:SUCH\n*ESE 300\n")
    result = status(asked, SHOP)
    assert "errors        -113 Undefined header\n              -222 Data out of range" in result.stdout
    assert result.exit_code == 0


@pytest.mark.parametrize("cause", Reset)
def test_every_cause_is_told_with_what_to_look_for(cause):
    result = status(board(faults=Faults(reset=cause)))
    assert f"started       {int(cause)}, {cause.word}: " in result.stdout
    assert ("The lamp winks that number" in result.stdout) == cause.on_lamp


def test_another_design_is_exit_code_1_and_its_readings_are_not_asked_for():
    asked = board(faults=Faults(digest="a" * 16))
    result = status(asked, SHOP)
    assert result.exit_code == 1
    assert "Another one. shop_two_step as it stands has digest " in result.stdout
    assert b"INP:" not in asked.heard


def test_edited_settings_are_exit_code_1():
    result = status(board(faults=Faults(edited=True)), SHOP)
    assert result.exit_code == 1
    assert "a number of its settings.h was edited after the build" in " ".join(result.stdout.split())


def test_as_json_with_a_format_number(tmp_path):
    result = status(board(faults=Faults(reset=Reset.LOOP)), SHOP, "--json", "-")
    data = json.loads(result.stdout)
    assert data["format"] == 1
    assert data["this_design"] is True
    assert data["reset"]["word"] == "loop hung"
    assert data["latest_fault"]["number"] == 0
    assert data["supply_v"] == pytest.approx(22.1, abs=0.05)
    assert 129_000 < data["times_us"]["burnback"] < 131_000
    assert "started " in result.stderr
    assert status(board(), "--json", tmp_path / "status.json").exit_code == 0
    assert json.loads((tmp_path / "status.json").read_text())["this_design"] is None


@pytest.mark.parametrize(
    ("faults", "says"),
    [(Faults(mute=True), "No answer on /dev/"), (Faults(noisy=True), "which makes no sense")],
)
def test_silence_and_garbage_are_exit_code_2_and_one_sentence(faults, says):
    result = status(board(faults=faults), SHOP, *QUICK)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""


@contextmanager
def parrot(answers):
    """A device that answers each line that ends in a question as it was told to; yields its port."""
    far, near = pty.openpty()
    os.set_blocking(near, True)
    tty.setraw(near)

    def serve():
        buffer = b""
        while True:
            try:
                got = os.read(far, 512)
            except OSError:
                return
            if got == b"\x04":
                return
            buffer += got
            *lines, buffer = buffer.split(b"\n")
            for line in filter(None, lines):
                os.write(far, answers.get(line.decode(), "0").encode() + b"\n")

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield os.ttyname(near)
    finally:
        os.write(near, b"\x04")
        thread.join(5)
        os.close(near)
        os.close(far)


@pytest.mark.parametrize(
    ("question", "answer"),
    [
        ("SYST:RES?", "99"),
        ("SYST:RES?", '4,"brown-out"'),
        ("SEQ:STAT?", "77,0"),
        ("SEQ:FAUL?", "99"),
        ("SEQ:FAUL?", "\x1b[2J"),
    ],
)
def test_an_answer_that_no_board_gives_is_exit_code_2(question, answer):
    sane = {
        "*IDN?": "wirecue,shop,0123456789abcdef,0.1.0",
        "SYST:VERS?": "1999.0",
        "SYST:ERR?": '0,"No error"',
        "SEQ:STAT?": "1,0",
        "SEQ:FAUL?": "0",
        "SYST:RES?": "1",
        "BENC:STAT?": "0",
    }
    with parrot(sane) as name:
        assert run("status", "--port", name).exit_code == 0
    with parrot(sane | {question: answer}) as name:
        result = run("status", "--port", name)
    assert result.exit_code == 2, result.output
    assert "makes no sense" in result.stderr
    assert "\x1b" not in result.stderr
    assert result.stdout == ""


def test_a_port_that_another_bench_holds_is_left_alone():
    asked = board()
    with behind_pty(asked) as name:
        lock = PortLock(name)
        assert lock.acquire()
        result = run("status", "--port", name)
        lock.release()
    assert result.exit_code == 2
    assert "is in use by another bench" in result.stderr
    assert asked.heard == b""


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((SHOP, "--virtual", "--port", "x"), "--port and --virtual exclude each other"),
        (("--virtual",), "--virtual needs a DESIGN"),
        ((), "No port was named"),
        (("--port", "/dev/nonesuch"), "There is no port /dev/nonesuch."),
        (("none.toml", "--virtual"), "none.toml"),
    ],
)
def test_a_wrong_command_is_exit_code_2_and_a_sentence(arguments, says):
    result = run("status", *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""


@pytest.mark.debian("avr-gcc", "arduino-core", "gcc", "simavr")
def test_the_real_firmware_in_a_simulator_answers():
    result = run("status", SHOP, "--virtual=avr")
    assert result.exit_code == 0, result.output
    assert "This one, as it was built." in result.stdout
    assert "1, power-up" in result.stdout
    assert "supply        22.1 V" in result.stdout


def test_a_recorder_is_told_from_the_add_on_that_was_meant():
    result = status(VirtualRecorder(version="1.2.3"), SHOP)
    assert result.exit_code == 2
    assert "is a recorder, the second board, not the add-on's: name the add-on's port" in " ".join(
        result.stderr.split()
    )
