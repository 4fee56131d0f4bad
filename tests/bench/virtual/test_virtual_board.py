"""The virtual board keeps to the command table, to IEEE 488.2 and to the rules of reading a line."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.commands import HANDLERS
from bench.virtual.machine import WATCHDOG_US
from timing.protocol.commands import COMMANDS, ERROR_QUEUE, LAPSE_US, LONGEST_LINE, TRACE_RECORDS
from timing.protocol.status import ERRORS


@pytest.fixture
def board(shop):
    return VirtualBoard(shop, "0.1", AheadClock(1_000))


def ask(board: VirtualBoard, line: str) -> str:
    return board.receive(line.encode("latin-1") + b"\n").decode().removesuffix("\n")


def idle(board: VirtualBoard) -> None:
    board.clock.time_us += 1_000_000
    ask(board, "TRAC:CLE")
    assert ask(board, "SEQ:STAT?") == "1,0"


def test_every_command_has_its_handler_and_no_other():
    assert set(HANDLERS) == {command.name for command in COMMANDS}


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_every_command_answers_as_its_row_says(command, board):
    parameters = " " + ",".join("0" for _ in command.takes) if command.takes else ""
    for header in command.headers[1:]:
        assert bool(ask(board, header + parameters)) == command.query
    answer = ask(board, command.headers[0] + parameters)
    assert bool(answer) == command.query
    if command.query:
        assert len(answer.split(",")) == len(command.answers)
    if command.name != "hang":
        assert ask(board, "SYST:ERR?") == '0,"No error"'


@pytest.mark.parametrize(
    "line", ["SYST:ERR?", "system:error?", ":Syst:Error?", "SYSTEM:ERR?  ", "\tsyst:err?\r", ";;syst:err?; ;"]
)
def test_headers_are_read_in_both_forms_and_any_case(line, board):
    assert ask(board, line) == '0,"No error"'


@pytest.mark.parametrize(
    ("line", "error"),
    [
        ("7", "SYNTAX"),
        ("?", "SYNTAX"),
        ("\xff\xfe", "SYNTAX"),
        ("SYSTE:ERR?", "UNDEFINED_HEADER"),
        ("SYST", "UNDEFINED_HEADER"),
        ("SYST:ERR", "UNDEFINED_HEADER"),
        (":*IDN?", "UNDEFINED_HEADER"),
        ("*IDN", "UNDEFINED_HEADER"),
        ("*IDN? 1", "PARAMETER_NOT_ALLOWED"),
        ("*ESE", "MISSING_PARAMETER"),
        ("*ESE 1,2", "PARAMETER_NOT_ALLOWED"),
        ("*ESE x", "DATA_TYPE"),
        ("*ESE 1.5.", "DATA_TYPE"),
        ("*ESE 1e", "DATA_TYPE"),
        ("*ESE #HG", "DATA_TYPE"),
        ("*ESE 255.5", "OUT_OF_RANGE"),
        ("*ESE 1 2", "DATA_TYPE"),
        ("*ESE -1", "OUT_OF_RANGE"),
        ("*ESE 256", "OUT_OF_RANGE"),
        ("*ESE " + "9" * 40, "OUT_OF_RANGE"),
        ("BENC:ANAL 3", "MISSING_PARAMETER"),
        ("BENC:ANAL 3,", "DATA_TYPE"),
        ("BENC:ANAL 3,1024", "OUT_OF_RANGE"),
        ("BENC:ANAL 1,100", "OUT_OF_RANGE"),
        ("BENC:ANAL 6,100", "OUT_OF_RANGE"),
        ("INP:TIME? 1", "OUT_OF_RANGE"),
        ("INP:TIME? 5", "OUT_OF_RANGE"),
        ("BENC:CONT 65535", "OUT_OF_RANGE"),
        ("BENC:PINS 65535", "OUT_OF_RANGE"),
        ("BENC:PINS", "MISSING_PARAMETER"),
        ("*CLS" + " " * LONGEST_LINE, "TOO_MUCH_DATA"),
    ],
)
def test_a_wrong_line_leaves_its_error_and_nothing_else(line, error, board):
    expected = next(item for item in ERRORS if item.name == error)
    assert ask(board, line) == ""
    assert ask(board, "SYST:ERR?;ERR?") == f'{expected.number},"{expected.text}";0,"No error"'
    assert int(ask(board, "*ESR?")) & ~128 == expected.event


def test_the_longest_line_is_still_taken(board):
    assert ask(board, "*OPC?" + " " * (LONGEST_LINE - 5) + "\r") == "1"


def test_nothing_is_carried_out_after_a_command_error(board):
    assert ask(board, "*OPC?;*ESE x;*OPC?") == "1"
    assert ask(board, "NO:SUCH;*OPC?") == ""


def test_an_execution_error_leaves_the_rest_of_its_line_alone(board):
    assert ask(board, "*OPC?;*ESE 300;*OPC?") == "1;1"


def test_conditions_that_begin_are_events_and_sum_up_in_the_status_byte(board):
    idle(board)
    assert ask(board, "STAT:OPER:COND?;EVEN?;EVEN?") == "0;256;0"
    ask(board, "*CLS;:STAT:OPER:ENAB 1536;:STAT:QUES:ENAB 5")
    assert ask(board, "*STB?;:BENC:CONT 9;*STB?;:STAT:OPER?;*STB?") == "0;128;1024;0"
    board.clock.time_us += 500_000
    assert ask(board, "STAT:OPER?;OPER:COND?") == "512;1536"
    ask(board, "BENC:ANAL 2,0")
    assert ask(board, "STAT:QUES:COND?;*STB?;:STAT:QUES?;QUES?") == "4;8;4;0"
    assert ask(board, "STAT:QUES:ENAB 65535;ENAB?;:STAT:PRES;OPER:ENAB?") == "32767;0"


@pytest.mark.parametrize("command", [item for item in COMMANDS if item.needs_bench_link], ids=lambda item: item.name)
def test_without_bench_link_nothing_moves_and_the_error_says_so(command, shop):
    board = VirtualBoard(shop, bench_link=False)
    ask(board, command.header + (" " + ",".join("0" for _ in command.takes) if command.takes else ""))
    assert ask(board, "SYST:ERR?") == '-203,"Command protected"'
    assert ask(board, "BENC:CONT?") == "0,0,0"


def test_without_bench_link_reset_leaves_a_purge_alone(shop):
    board = VirtualBoard(shop, bench_link=False)
    board.clock.time_us += 1_000_000
    board.move_contact("purge", True)
    board.clock.time_us += 100_000
    ask(board, "*RST")
    assert ask(board, "SEQ:STAT?;:SYST:ERR?") == '8,0;0,"No error"'


def test_the_queue_overflows_as_the_standard_says(board):
    for _ in range(ERROR_QUEUE + 3):
        ask(board, "NO:SUCH")
    answers = [ask(board, "SYST:ERR?") for _ in range(ERROR_QUEUE + 1)]
    assert answers[:-2] == ['-113,"Undefined header"'] * (ERROR_QUEUE - 1)
    assert answers[-2:] == ['-350,"Queue overflow"', '0,"No error"']


def test_events_and_status_byte_follow_ieee_488(board):
    # IEEE 488.2, sections 11.2 and 11.5: power-on bit 128, command error 32, operation complete 1; ESB 32, MSS 64.
    assert ask(board, "*ESR?") == "128"
    assert ask(board, "*ESR?") == "0"
    assert ask(board, "*ESE 32;*SRE 255;*ESE?;*SRE?;*STB?") == "32;191;0"
    ask(board, "NO:SUCH")
    assert ask(board, "*STB?") == str(4 + 32 + 64)
    assert ask(board, "SYST:ERR?;*STB?").endswith(";96")
    assert ask(board, "*ESR?;*STB?") == "32;0"
    assert ask(board, "*OPC;*ESR?") == "1"
    ask(board, "NO:SUCH")
    assert ask(board, "*CLS;*STB?;*ESR?;:SYST:ERR?") == '0;0;0,"No error"'


def test_forced_contacts_make_a_weld_and_lapse(board, shop):
    idle(board)
    ask(board, "BENC:CONT 9")
    board.clock.time_us += 500_000
    assert ask(board, "SEQ:STAT?;:OUTP:STAT?") == "3,0;7"
    board.clock.time_us += LAPSE_US
    assert ask(board, "BENC:CONT?;:INP:STAT?") == "0,0,0;0"
    assert ask(board, "SEQ:STAT?").split(",")[0] != "3"
    del shop


@pytest.mark.parametrize("line", ["BENC:CONT 8;PINS 1", "BENC:PINS 1;CONT 9"])
def test_a_contact_left_to_its_pin_comes_from_it_while_the_others_are_forced(line, board):
    idle(board)
    board.machine.pin_contacts = 0
    ask(board, line)
    board.clock.time_us += 200_000
    assert ask(board, "SEQ:STAT?") == "1,0", "the pin of the trigger is open, whatever is forced"
    board.machine.move_pin("trigger", True)
    board.clock.time_us += 500_000
    assert ask(board, "SEQ:STAT?;:OUTP:STAT?;:BENC:CONT?").startswith("3,0;7;1,"), "and the interlock is forced"


@pytest.mark.parametrize("end", ["BENC:REL", "*RST", ""], ids=["released", "reset", "lapsed"])
def test_nothing_is_left_to_the_pins_any_more_after(end, board):
    idle(board)
    ask(board, "BENC:PINS 3")
    ask(board, end)
    board.clock.time_us += LAPSE_US if not end else 700_000
    ask(board, "BENC:CONT 9")
    board.clock.time_us += 500_000
    assert ask(board, "SEQ:STAT?") == "3,0", "the forced trigger counts"


def test_pins_alone_force_nothing(board):
    idle(board)
    assert ask(board, "BENC:PINS 3;CONT?;:STAT:OPER:COND?") == "0,0,0;0"


def test_a_reading_that_is_forced_gives_its_time(board, shop):
    scale = shop.scales["burnback"]
    assert ask(board, f"BENC:ANAL 2,{scale.high_counts};:INP:ANAL? 2;:INP:TIME? 2") == f"{scale.high_counts};300000"


def test_a_broken_dial_is_told_by_the_self_test(board):
    idle(board)
    assert ask(board, "*TST?") == "0"
    assert ask(board, "BENC:ANAL 2,0;*TST?") == "4"


def test_low_supply_is_told_after_its_filter(board, shop):
    idle(board)
    ask(board, f"BENC:ANAL 5,{shop.supply.low}")
    board.clock.time_us += shop.rig.supply_filter_us
    assert ask(board, "*TST?") == "2"
    assert ask(board, "SEQ:STAT?") == "0,2"


def test_a_dip_of_the_supply_shorter_than_its_filter_leaves_nothing_behind(board, shop):
    idle(board)
    between = (shop.supply.low + shop.supply.good) // 2
    ask(board, f"BENC:ANAL 5,{shop.supply.low}")
    board.clock.time_us += shop.rig.supply_filter_us // 2
    ask(board, f"BENC:ANAL 5,{between}")
    board.clock.time_us += 2 * shop.rig.supply_filter_us
    assert ask(board, "*TST?") == "0"
    ask(board, f"BENC:ANAL 5,{shop.supply.low}")
    board.clock.time_us += 2 * shop.rig.supply_filter_us
    ask(board, f"BENC:ANAL 5,{between}")
    assert ask(board, "*TST?") == "2"


def test_reset_clears_the_fault_and_starts_in_hold_off(board):
    idle(board)
    ask(board, "BENC:ANAL 2,0")
    assert ask(board, "SEQ:STAT?") == "0,4"
    ask(board, "*RST")
    assert ask(board, "SEQ:STAT?;:BENC:CONT?") == "0,0;0,0,0"


def test_the_trace_keeps_the_oldest_records_and_counts_the_rest(board):
    idle(board)
    for _ in range(TRACE_RECORDS):
        for contacts in (10, 8):
            ask(board, f"BENC:CONT {contacts}")
            board.clock.time_us += 100_000
    ask(board, "*WAI")
    first = ask(board, "TRAC:DATA?;:TRAC:LOST?")
    match = re.fullmatch(r"(\d+),\d+,17,8,0;(\d+)", first)
    assert match is not None
    assert int(match[1]) == TRACE_RECORDS
    assert int(match[2]) == TRACE_RECORDS
    ask(board, "TRAC:CLE")
    assert ask(board, "TRAC:DATA?;:TRAC:LOST?") == "0,0,0,0,0;0"


def test_a_hang_ends_with_the_watchdog_in_hold_off(board):
    idle(board)
    ask(board, "BENC:CONT 10;*ESE 9;*ESR?")
    ask(board, "*WAI")
    assert ask(board, "OUTP:STAT?;:BENC:HANG") == "0"
    assert ask(board, "*IDN?") == ""
    board.clock.time_us += WATCHDOG_US
    assert ask(board, "SEQ:STAT?;:OUTP:STAT?;:BENC:CONT?") == "0,0;0;0,0,0"
    assert ask(board, "*ESR?;*ESE?;:STAT:OPER?") == "128;0;256", "power-on, nothing enabled, hold-off has begun"


def test_the_boards_clock_wraps_on_the_link(board):
    board.clock.time_us = (1 << 32) + 5_000
    assert int(ask(board, "SEQ:CLOC?")) < 10_000


@settings(max_examples=300)
@given(st.lists(st.binary(max_size=70), max_size=20))
def test_garbage_neither_breaks_the_board_nor_starts_anything(shop, garbage):
    board = VirtualBoard(shop, bench_link=False)
    idle(board)
    for piece in garbage:
        board.receive(piece)
    board.receive(b"\n")
    ask(board, "*CLS")
    assert ask(board, "*OPC?;:OUTP:STAT?") == "1;0"


@given(st.text("*:?;, 0189abcdefIDNSYTERQUCLOCBNHA\t", max_size=47))
def test_a_line_of_lookalikes_gets_answers_or_errors(shop, line):
    board = VirtualBoard(shop)
    ask(board, line)
    ask(board, "*CLS")
    assert ask(board, "*OPC?") == "1"


def test_a_board_that_hung_says_so_and_keeps_its_latest_fault(board):
    idle(board)
    assert ask(board, "SYST:RES?;:SEQ:FAUL?") == "1;0"
    ask(board, "BENC:ANAL 2,0")
    assert ask(board, "BENC:HANG") == ""
    board.clock.time_us += WATCHDOG_US + 1_000_000
    assert ask(board, "SYST:RES?;:SEQ:STAT?;FAUL?") == "5;1,0;4"
