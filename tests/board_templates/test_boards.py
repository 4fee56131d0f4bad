"""The boards that ship: complete, consistent, and as the boards' core has them."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from codegen.recorder_sketch import recorder_pins
from timing.design.board import BROWN_OUT, RECORDER_ROLES, ROLES, Board, Kind
from wirecue.projects import UnknownBoardError, board_names, load_board

CORE = Path("/usr/share/arduino/hardware/arduino/avr")


AVR_BOARDS = [name for name in board_names() if load_board(name).family == "avr"]


@pytest.fixture(params=board_names())
def board(request):
    return load_board(request.param)


@pytest.fixture(params=AVR_BOARDS)
def avr_board(request):
    return load_board(request.param)


def test_a_folder_is_a_board_of_its_own_name(board):
    assert board.type in board_names()
    assert {"uno", "nano", "leonardo"} <= set(board_names())


def test_an_unknown_board_is_told_what_there_is():
    with pytest.raises(UnknownBoardError, match=r"no board 'unno': there are .*uno.*; was 'uno' meant\?"):
        load_board("unno")


def test_pins_are_there_once_and_can_do_what_is_usual(board):
    names = [pin.name for pin in board.pins]
    ports = [pin.port for pin in board.pins]
    channels = [pin.analog_channel for pin in board.pins if pin.analog_channel is not None]
    for listed in (names, ports, channels, list(board.usual_pins.values())):
        assert len(listed) == len(set(listed))
    for role, name in board.usual_pins.items():
        pin, kind = board.pin(name), ROLES[role].kind
        assert pin is not None
        assert not pin.reserved
        assert pin.analog_channel is not None if kind is Kind.ANALOG else pin.digital
        assert pin.pull_up or kind is not Kind.INPUT
        assert not pin.glitch or role == "lamp", "a load must not twitch in the bootloader"


def test_what_every_design_needs_has_a_usual_pin(board):
    assert {"gas_valve", "wire_drive", "contactor", "lamp", "trigger", "bench_link"} <= set(board.usual_pins)


@pytest.mark.debian("arduino-core")
def test_memory_clock_and_microcontroller_are_those_of_the_core(avr_board):
    board = avr_board
    facts = dict(re.findall(rf"^{board.fqbn.split(':')[2]}\.([\w.]+)=(.*)$", (CORE / "boards.txt").read_text(), re.M))
    menu = board.fqbn.split(":cpu=")[1:]
    facts |= {key.removeprefix(f"menu.cpu.{option}."): value for option in menu for key, value in facts.items()}
    assert board.mcu == facts["build.mcu"]
    assert board.clock_hz == int(facts["build.f_cpu"].rstrip("L"))
    assert board.flash_bytes == int(facts["upload.maximum_size"])
    assert board.ram_bytes == int(facts["upload.maximum_data_size"])
    assert board.variant == facts["build.variant"]


@pytest.mark.debian("arduino-core")
def test_the_usual_brown_out_fuse_is_the_one_that_the_core_burns(avr_board):
    fuse, board = BROWN_OUT[avr_board.mcu], avr_board
    name, _, option = board.fqbn.split(":", 2)[2].partition(":cpu=")
    key = f"{name}.menu.cpu.{option}" if option else name
    found = re.search(rf"^{re.escape(key)}\.bootloader\.extended_fuses=(\w+)", (CORE / "boards.txt").read_text(), re.M)
    assert found is not None
    assert fuse.usual_efuse == int(found[1], 16)


def test_the_wanted_brown_out_fuse_differs_in_its_level_only(avr_board):
    fuse = BROWN_OUT[avr_board.mcu]
    assert fuse.wanted_efuse | 7 == fuse.usual_efuse | 7
    assert fuse.usual_v < fuse.wanted_v < avr_board.logic_v
    assert not set(fuse.last_digits(fuse.wanted_efuse)) & set(fuse.last_digits(fuse.usual_efuse))


@pytest.mark.debian("arduino-core")
def test_ports_of_digital_pins_are_those_of_the_cores_pin_map(avr_board):
    board = avr_board
    folder = "standard" if board.variant == "eightanaloginputs" else board.variant
    text = (CORE / "variants" / folder / "pins_arduino.h").read_text()

    def array(name):
        body = re.search(rf"{name}\[\] = \{{(.*?)\}};", text, re.DOTALL)
        assert body is not None
        return [item for line in re.sub(r"//.*|/\*.*?\*/", "", body[1]).split(",") if (item := line.strip())]

    ports, masks = array("digital_pin_to_port_PGM"), array("digital_pin_to_bit_mask_PGM")
    analog = {name: int(number) for name, number in re.findall(r"#define PIN_(A\d+) +\((\d+)\)", text)}
    for pin in board.pins:
        if not pin.digital or not re.fullmatch(r"[DA]\d+", pin.name):
            continue
        index = analog[pin.name] if pin.name.startswith("A") else int(pin.name[1:])
        bit = re.search(r"\d+", masks[index])
        assert bit is not None
        assert pin.port == f"{ports[index]}{bit[0]}", pin.name


@pytest.mark.debian("arduino-core")
def test_analog_channels_are_those_of_the_cores_pin_map(avr_board):
    board = avr_board
    text = (CORE / "variants" / board.variant / "pins_arduino.h").read_text()
    table = re.search(r"analog_pin_to_channel_PGM\[\] = \{(.*?)\};", text, re.DOTALL)
    if table is None:
        # On the other boards the channel is the pin's number.
        channels = {pin.name: int(pin.name[1:]) for pin in board.pins if pin.name.startswith("A")}
    else:
        rows = re.findall(r"(\d+),?\s*//\s*(A\d+)(?:\s+(D\d+))?", table[1])
        channels = {digital or analog: int(channel) for channel, analog, digital in rows}
        channels = {name: channel for name, channel in channels.items() if board.pin(name) is not None}
    assert {pin.name: pin.analog_channel for pin in board.pins if pin.analog_channel is not None} == channels


def test_a_board_states_its_facts_and_nothing_else():
    facts = load_board("uno").model_dump()
    with pytest.raises(ValueError, match="Extra inputs"):
        Board(**facts, colour="blue")


@pytest.mark.debian("arduino-core")
def test_bootloaders_are_those_that_the_core_uploads_through(avr_board):
    board = avr_board
    name, _, option = board.fqbn.split(":", 2)[2].partition(":cpu=")
    text = (CORE / "boards.txt").read_text()

    def fact(key, menu):
        row = rf"^{name}\.(?:menu\.cpu\.{menu}\.)?upload\.{key}=(\w+)$" if menu else rf"^{name}\.upload\.{key}=(\w+)$"
        return re.findall(row, text, re.M)[-1]

    first = board.bootloaders[0]
    assert (first.protocol, str(first.baud)) == (fact("protocol", option), fact("speed", option))
    for old in board.bootloaders[1:]:
        # The core has the old one for the small form factor alone; the large one was sold with the same.
        menu = re.search(r"^nano\.menu\.cpu\.atmega328old\.upload\.speed=(\d+)$", text, re.M)
        assert menu is not None
        assert (old.protocol, old.baud) == ("arduino", int(menu[1]))


@pytest.mark.debian("arduino-core")
def test_usb_ids_are_those_that_the_core_knows_the_board_by(avr_board):
    facts = (CORE / "boards.txt").read_text()
    rows = re.findall(rf"^{avr_board.type}\.upload_port\.(\d+)\.(vid|pid)=0x(\w+)$", facts, re.M)
    numbers = {(index, what): value.upper() for index, what, value in rows}
    known = {f"{value}:{numbers[index, 'pid']}" for (index, what), value in numbers.items() if what == "vid"}
    assert set(avr_board.usb_ids) == known


@pytest.mark.debian("avr-gcc")
def test_the_signature_is_the_one_in_the_compilers_headers(avr_board):
    asked = "#include <avr/io.h>\nSIGNATURE_0 SIGNATURE_1 SIGNATURE_2\n"
    done = subprocess.run(
        ["avr-gcc", f"-mmcu={avr_board.mcu}", "-E", "-P", "-x", "c", "-"],
        input=asked,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    last = done.stdout.strip().splitlines()[-1]
    assert avr_board.signature == "".join(last.split()).upper().replace("0X", "")


def test_a_board_takes_its_sketch_through_a_bootloader_or_as_a_drive(board):
    assert bool(board.bootloaders) != bool(board.upload_drive)
    assert bool(board.bootloaders) == bool(board.signature)


def test_a_recorders_pins_are_free_ones_that_can_do_it_each_once(board):
    assert set(board.recorder_pins) == set(RECORDER_ROLES)
    assert len(set(board.recorder_pins.values())) == len(RECORDER_ROLES)
    for role, name in board.recorder_pins.items():
        pin, kind = board.pin(name), RECORDER_ROLES[role].kind
        assert pin is not None
        assert pin.digital
        assert not pin.reserved
        assert pin.pull_up or kind is not Kind.INPUT
        assert not pin.glitch or role == "lamp", "nothing is pressed by the bootloader"


def test_the_lines_of_a_recorder_are_read_as_sixteen_bits(board):
    lines = [use for use in recorder_pins(board) if use.role.key not in ("lamp", "press_jumper")]
    assert len({use.port for use in lines}) <= 2
    assert all(use.bit < (8 if use.port else 16) for use in lines)
