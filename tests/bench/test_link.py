"""The link finds its board, or says in a sentence why not."""

from __future__ import annotations

import errno

import pytest
import serial
from hypothesis import given
from hypothesis import strategies as st

from bench.board_clock import WRAP_US, UnwrappedClock
from bench.errors import (
    EditedSettingsError,
    GarbledError,
    NoAnswerError,
    NoPortGivenError,
    NotFittedError,
    PortBusyError,
    PortDeniedError,
    PortFailedError,
    PortMissingError,
    RefusedError,
    VanishedError,
    WrongDesignError,
)
from bench.link import Link, connected, require_design
from bench.message import AnswerError, answer_line, message, read_answer
from bench.port import locked, open_port
from bench.virtual.board import VirtualBoard
from bench.virtual.machine import Faults
from bench.virtual.reading import ADD_ON_TABLE, read_line
from bench.virtual.serving import behind_pty, behind_socket
from tests.support.virtual_boards import Loopback
from timing.protocol.commands import COMMANDS, LONGEST_LINE, command_named


def test_a_board_behind_a_pseudo_terminal_says_who_it_is(shop):
    with behind_pty(VirtualBoard(shop, "1.2.3")) as name, connected(name) as (link, identity):
        require_design(identity, name, shop.design, shop.digest)
        assert identity.version == "1.2.3"
        assert link.query("version").text("version") == "1999.0"


def test_a_board_behind_a_socket_says_who_it_is(shop):
    with behind_socket(VirtualBoard(shop)) as (host, port), connected(f"socket://{host}:{port}") as (_, identity):
        assert identity.digest == shop.digest


def test_clients_may_come_and_go(shop):
    with behind_pty(VirtualBoard(shop)) as name:
        for _ in range(3):
            with connected(name) as (link, _):
                assert link.query("bench").number("fitted") == 1


class Bootloader(Loopback):
    """Babbles, and swallows the first questions."""

    asked = 0

    def write(self, data: bytes, /) -> int:
        self.asked += 1
        if self.asked <= 3:
            self._answers += b"\xf0\x14\x10\n"
            return len(data)
        return super().write(data)


def test_a_board_that_restarts_when_opened_is_asked_again(shop, monkeypatch):
    monkeypatch.setattr("bench.link.ASK_AGAIN_S", 0.005)
    link = Link(Bootloader(VirtualBoard(shop)), "loopback", 0)
    assert link.identify().design == "shop_two_step"
    assert link.query("operation_complete_query").number("one") == 1


def test_answers_that_come_late_do_not_mix_with_later_ones(shop):
    class Doubling(Loopback):
        def write(self, data: bytes, /) -> int:
            return super().write(data + data if b"*IDN?" in data else data)

    link = Link(Doubling(VirtualBoard(shop)), "loopback")
    link.identify()
    assert link.query("bench").number("fitted") == 1


def test_a_port_that_comes_back_is_opened_again(shop):
    opened = []

    class Vanishing(Loopback):
        def write(self, data: bytes, /) -> int:
            raise OSError(5, "Input/output error")

    def opener(port: str) -> Loopback:
        opened.append(port)
        if len(opened) == 2:
            raise PortMissingError(port)
        return (Vanishing if len(opened) == 1 else Loopback)(VirtualBoard(shop))

    with connected("ttyACM9", opener=opener) as (_, identity):
        assert identity.design == "shop_two_step"
    assert len(opened) == 3


def test_no_answer_is_told_with_what_to_look_at(shop):
    link = Link(Loopback(VirtualBoard(shop, faults=Faults(mute=True))), "ttyACM0", 0)
    with pytest.raises(NoAnswerError) as caught:
        link.identify(patience_s=0)
    assert str(caught.value) == (
        "No answer on ttyACM0 to *IDN? within 0 s. Is the sketch on the board, is it this port, and is the cable one "
        "that carries data?"
    )
    assert caught.value.exit_code == 2


def test_a_port_that_is_not_there_is_told_with_those_that_are(tmp_path):
    with pytest.raises(PortMissingError, match=r"There is no port .*ttyNONE\. .* Check cable and name\."):
        open_port(str(tmp_path / "ttyNONE"))


def test_something_that_is_no_port_is_told(tmp_path):
    path = tmp_path / "file"
    path.write_text("")
    with pytest.raises(Exception, match="cannot be used") as caught:
        open_port(str(path))
    assert caught.value.exit_code == 2


def test_no_port_named_lists_what_is_plugged_in():
    assert "none is plugged in" in str(NoPortGivenError([]))
    assert str(NoPortGivenError(["/dev/ttyACM0  some board"])).endswith("\n  /dev/ttyACM0  some board")


def test_two_benches_do_not_share_a_board(shop):
    with (
        behind_pty(VirtualBoard(shop)) as name,
        connected(name),
        pytest.raises(PortBusyError, match=r"is in use by another bench\. Close it"),
        connected(name),
    ):
        pass


def test_a_lock_is_given_back_when_the_board_does_not_answer(shop, monkeypatch):
    monkeypatch.setattr("bench.link.ASK_AGAIN_S", 0.01)
    with behind_pty(VirtualBoard(shop, faults=Faults(mute=True))) as name:
        with pytest.raises(NoAnswerError), connected(name, patience_s=0.02):
            pass
        with locked(name):
            pass


def test_another_design_on_the_board_is_told_with_both_digests(shop):
    board = VirtualBoard(shop, faults=Faults(digest="0123456789abcdef"))
    identity = Link(Loopback(board), "ttyACM0", 0).identify()
    with pytest.raises(WrongDesignError, match="carries shop_two_step with digest 0123456789abcdef; this test is for"):
        require_design(identity, "ttyACM0", shop.design, shop.digest)


def test_edited_settings_are_told_with_what_to_do(shop):
    board = VirtualBoard(shop, faults=Faults(edited=True))
    identity = Link(Loopback(board), "ttyACM0", 0).identify()
    assert (identity.digest, identity.edited) == (shop.digest, True)
    with pytest.raises(EditedSettingsError) as caught:
        require_design(identity, "ttyACM0", shop.design, shop.digest)
    assert str(caught.value) == (
        f"The board on ttyACM0 carries shop_two_step with digest {shop.digest}, but its settings.h was edited after "
        "the build, so that it need not do what the design says: put the changed numbers into the design file, build "
        "and flash it again."
    )
    assert caught.value.exit_code == WrongDesignError.exit_code == 2


def test_another_design_with_edited_settings_is_told_as_both(shop):
    board = VirtualBoard(shop, faults=Faults(digest="0123456789abcdef", edited=True))
    identity = Link(Loopback(board), "ttyACM0", 0).identify()
    with pytest.raises(WrongDesignError, match=r"digest 0123456789abcdef, edited in its settings\.h; this test"):
        require_design(identity, "ttyACM0", shop.design, shop.digest)


def test_another_instrument_is_told():
    class Meter:
        in_waiting = 0

        def __init__(self) -> None:
            self.answers = b""

        def write(self, data: bytes, /) -> int:
            self.answers += b"ACME,METER,1,2\n" if b"IDN" in data else b"1999.0\n"
            return len(data)

        def read(self, size: int, /) -> bytes:
            taken, self.answers = self.answers[:size], self.answers[size:]
            return taken

        def close(self) -> None:
            pass

    with pytest.raises(GarbledError, match="Another device, or a bad cable"):
        Link(Meter(), "ttyUSB0", 0).identify()


def test_an_order_that_is_refused_is_told_with_the_boards_error(shop):
    link = Link(Loopback(VirtualBoard(shop)), "ttyACM0", 0)
    with pytest.raises(RefusedError, match=r"refuses BENC:ANAL 3,9999: -222 Data out of range\."):
        link.command("force_analog", 3, 9999)
    # The error is out of the queue: the next order is taken.
    link.command("force_contacts", 8)


def test_forcing_without_bench_link_is_told_with_how_to_fit_it(shop):
    link = Link(Loopback(VirtualBoard(shop, bench_link=False)), "ttyACM0", 0)
    with pytest.raises(NotFittedError, match="it is read at power-up only"):
        link.command("force_contacts", 8)


def test_noise_without_a_line_end_is_told(shop):
    class Noise(Loopback):
        in_waiting = 64

        def read(self, size: int, /) -> bytes:
            return b"~" * size

    with pytest.raises(GarbledError):
        Link(Noise(VirtualBoard(shop)), "ttyACM0").query("clock")


def test_a_dead_descriptor_is_a_port_that_went_away(shop):
    with behind_pty(VirtualBoard(shop)) as name:
        link = Link(open_port(name), name)
        link.close()
        with pytest.raises(VanishedError):
            link.send("*IDN?")


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_every_command_fits_on_a_line(command):
    text = answer_line(message(command.name, *(4095 for _ in command.takes)))
    assert len(text) <= LONGEST_LINE
    assert text.upper().replace(" ", "").startswith(text.split(" ")[0].upper())


@given(st.lists(st.sampled_from(COMMANDS), min_size=1, max_size=4))
def test_commands_on_one_line_are_read_as_those_that_were_meant(commands):
    messages = [message(command.name, *(0 for _ in command.takes)) for command in commands]
    try:
        line = answer_line(*messages)
    except ValueError:
        return
    assert [order.command for order in read_line(line, ADD_ON_TABLE)] == commands
    assert not any(order.error for order in read_line(line, ADD_ON_TABLE))


def test_what_does_not_fit_is_refused_before_it_is_sent():
    with pytest.raises(ValueError, match=f"longer than the {LONGEST_LINE} characters"):
        answer_line(*[message("force_contacts", 2047)] * 6)
    with pytest.raises(ValueError, match="takes 1 parameters"):
        message("force_contacts")


@pytest.mark.parametrize("text", ["", "1", "1,2,3", "1,x", "1,", "1;2", "1,99999999999"])
def test_an_answer_of_another_shape_is_refused(text):
    with pytest.raises(AnswerError):
        read_answer(command_named("state"), text)


@given(st.integers(0, 10 * WRAP_US), st.lists(st.integers(0, WRAP_US // 2 - 1), max_size=20))
def test_a_wrapping_clock_is_unwrapped(start_us, steps_us):
    clock = UnwrappedClock(start_us)
    now_us = start_us
    for step_us in steps_us:
        now_us += step_us
        assert clock.advance(now_us % WRAP_US) == now_us
        assert clock.instant((now_us - step_us) % WRAP_US) == now_us - step_us


def test_a_clock_that_runs_back_is_refused():
    clock = UnwrappedClock(1_000_000)
    with pytest.raises(ValueError, match="ran back"):
        clock.advance(999_999)


@pytest.mark.parametrize(
    ("cause", "error", "says"),
    [
        (serial.SerialException(errno.EACCES, "could not open port"), PortDeniedError, "often dialout or uucp"),
        (serial.SerialException(errno.EBUSY, "could not open port"), PortBusyError, "in use by another program"),
        (
            serial.SerialException("could not open port: PermissionError(13, 'Access is denied.')"),
            PortBusyError,
            "in use",
        ),
        (serial.SerialException("could not open port: FileNotFoundError(2)"), PortMissingError, "There is no port"),
        (serial.SerialException("Could not exclusively lock port"), PortBusyError, "Close it"),
        (OSError(errno.EIO, "Input/output error"), PortFailedError, r"cannot be used: Input/output error\."),
    ],
)
def test_each_reason_not_to_open_has_its_sentence(monkeypatch, cause, error, says):
    def refuse(*_: object, **__: object) -> None:
        raise cause

    monkeypatch.setattr("serial.Serial", refuse)
    with pytest.raises(error, match=says) as caught:
        open_port("COM4")
    assert caught.value.exit_code == 2
