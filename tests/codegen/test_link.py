"""The generated link, run on a laptop: what it answers, and that it answers as the virtual board does."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.virtual.board import VirtualBoard
from tests.conftest import VERSION
from tests.support.host_core import compile_core
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.commands import COMMANDS, ERROR_QUEUE, LAPSE_US, LONGEST_LINE, TRACE_RECORDS
from timing.protocol.resets import FIRST_ON_LAMP, Reset
from timing.protocol.status import ERRORS
from timing.protocol.target import LEVEL_BIT, RAW_ALL, RAW_BIT
from timing.protocol.target_of_design import target_of
from timing.sequence.core.table import Fault, Phase
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("gcc")

SETTLED_US = 700_000


@pytest.fixture(scope="module")
def shop(cache):
    return load_design(cache.parents[1] / "examples" / "shop_two_step.toml")


@pytest.fixture(scope="module")
def core(shop, cache):
    return compile_core(shop, load_board("uno"), VERSION, cache)


@pytest.fixture
def idle(core):
    """A board with the bench link, in idle, its trace empty."""
    board = core.board(bench_link=True)
    settle(board)
    board.ask("TRAC:CLE\n", now_us=SETTLED_US)
    return board


def settle(board):
    for _ in range(3):
        for channel in range(3):
            board.reading(channel, 500, 0)
        board.reading(3, 400, 0)
    for at_us in range(0, SETTLED_US, 500):
        board.run_pass(0, at_us)


def test_it_says_who_it_is_and_which_design(idle, shop):
    assert idle.ask("*IDN?\n") == f"wirecue,shop_two_step,{shop.digest()},0.1.0\n"


def test_short_and_long_forms_and_capitals_and_colons_are_the_same(idle):
    for header in ("SYST:ERR?", "SYSTEM:ERROR?", "syst:error?", ":System:Err?", "\t SYST:ERR? \t\r"):
        assert idle.ask(f"{header}\n") == '0,"No error"\n'


@pytest.mark.parametrize(
    "header", ["SYSTE:ERR?", "SYST:ERRO?", "SYS:ERR?", "SYST:ERR", "::SYST:ERR?", ":*IDN?", "*IDN ?"]
)
def test_nothing_in_between_will_do(idle, header):
    assert idle.ask(f"{header}\nSYST:ERR?\n") == '-113,"Undefined header"\n'


def test_answers_of_one_line_are_parted_by_semicolons_and_silent_commands_say_nothing(idle):
    assert idle.ask("*OPC?;*CLS; ;*ese 5;*ESE?;;*WAI\n*CLS\n\n;\n*OPC?\n") == "1;5\n1\n"


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        # SCPI-99, volume 1, 6.2.4: a header begins where the one before it did; a colon leads back to the root; common
        # commands change nothing. An optional word that was sent is part of the path.
        ("SYST:ERR?;VERS?", '0,"No error";1999.0'),
        ("SYST:ERR?;*ESE?;VERS?", '0,"No error";0;1999.0'),
        ("SYST:ERR:NEXT?;NEXT?", '0,"No error";0,"No error"'),
        ("SYST:ERR?;:SEQ:STAT?;CLOC?", None),
        ("STAT:OPER:ENAB 3;ENAB?;:STAT:QUES:ENAB 9;ENAB?", "3;9"),
        ("STAT:OPER?;QUES?;QUES:ENAB?;COND?", "256;0;0;0"),
        ("*CLS;SYST:VERS?;VERS?", "1999.0;1999.0"),
    ],
)
def test_a_header_begins_where_the_one_before_it_did(core, line, answer):
    board = core.board(bench_link=False)
    settle(board)
    found = board.ask(f"{line}\n", now_us=SETTLED_US)
    assert answer is None or found == f"{answer}\n"
    assert board.ask("SYST:ERR?\n", now_us=SETTLED_US) == '0,"No error"\n'


@pytest.mark.parametrize("line", ["SYST:ERR?;SYST:VERS?", "SYST:ERR:NEXT?;VERS?", "STAT:OPER?;ENAB?", "*CLS;VERS?"])
def test_a_header_that_is_not_under_the_path_is_undefined(core, line):
    board = core.board(bench_link=False)
    board.ask(f"{line}\n")
    assert board.ask("SYST:ERR?\n") == '-113,"Undefined header"\n'


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("32.0", 32), ("3.2e1", 32), ("3.2 E +1", 32), ("0.32E2", 32), ("3200e-2", 32), (".5", 1), ("0.5", 1),
        ("0.49999999999999999999999", 0), ("-0.4", 0), ("+7.", 7), ("254.5", 255), ("254.49", 254), ("5e-1", 1),
        ("05e-2", 0), ("1e-9999999", 0), ("0e9999999", 0), ("0.00000000000000001e18", 10), ("#HfF", 255),
        ("#Q17", 15), ("#b101 ", 5), ("000000000000000000012", 12),
    ],
)  # fmt: skip
def test_numbers_are_read_and_rounded_as_ieee_488_2_has_it(core, text, value):
    board = core.board(bench_link=False)
    assert board.ask(f"*ESE {text};*ESE?;:SYST:ERR?\n") == f'{value};0,"No error"\n'


@pytest.mark.parametrize("text", ["255.5", "256", "2.56e2", "-1", "-0.5", "1e99999", "65536", "#H100", "9" * 30])
def test_numbers_out_of_range_are_an_execution_error_and_the_line_goes_on(core, text):
    board = core.board(bench_link=False)
    assert board.ask(f"*ESE 5;*ESE {text};*ESE?\nSYST:ERR?\n") == '5\n-222,"Data out of range"\n'


def test_nothing_is_carried_out_after_a_command_error(core):
    board = core.board(bench_link=False)
    assert board.ask("*ESE 1;*OPC?;*ESE x;*ESE 2;*OPC?\n*ESE?\nSYST:ERR?;NEXT?\n").splitlines() == [
        "1",
        "1",
        '-104,"Data type error"',
    ], "optional words of one command are no path of another"
    assert board.ask("SYST:ERR?\n") == '-113,"Undefined header"\n'


def test_conditions_that_begin_are_events_and_sum_up_in_the_status_byte(core):
    board = core.board(bench_link=True)
    settle(board)
    clock = itertools.count(SETTLED_US, 100_000)

    def ask(text: str) -> str:
        return board.ask(text, now_us=next(clock))

    assert ask("STAT:OPER:COND?;EVEN?;EVEN?\n") == "0;256;0\n", "hold-off was there at power-up, and is over"
    assert ask("STAT:OPER:ENAB 1024;:STAT:QUES:ENAB 4;:*STB?\n") == "", "a star stands for itself"
    assert ask("*CLS;*STB?;:BENC:CONT 0;*STB?\n") == "0;128\n", "forced is bit 10 of OPERation"
    assert ask("STAT:OPER?;:*CLS;:BENC:ANAL 0,0\n") == "1024\n"
    assert ask("*CLS;:BENC:ANAL 0,0;ANAL 0,0;ANAL 0,0\n") == ""
    assert ask("STAT:QUES:COND?;*STB?;:STAT:QUES?;*STB?\n") == "4;8;4;0\n", "a dial at the rail: TIME"
    assert ask("STAT:QUES:ENAB 65535;ENAB?;:STAT:PRES;QUES:ENAB?\n") == "32767;0\n"
    assert ask("STAT:OPER:ENAB?\n") == "0\n"


def test_each_error_has_its_number_text_and_event(core):
    board = core.board(bench_link=False)
    provoke = {
        "SYNTAX": "!",
        "DATA_TYPE": "*ESE x",
        "PARAMETER_NOT_ALLOWED": "*CLS 1",
        "MISSING_PARAMETER": "*ESE",
        "UNDEFINED_HEADER": "FOO",
        "PROTECTED": "BENC:CONT 1",
        "OUT_OF_RANGE": "*ESE 256",
        "TOO_MUCH_DATA": "*" * (LONGEST_LINE + 1),
    }
    # What a port loses or mangles is tried with the port.
    assert {error.name for error in ERRORS} == {*provoke, "QUEUE_OVERFLOW", "OVERRUN", "FRAMING"}
    for error in ERRORS:
        if error.name in provoke:
            answer = board.ask(f"*CLS\n{provoke[error.name]}\n*ESR?;:SYST:ERR?\n")
            assert answer == f'{error.event.value};{error.number},"{error.text}"\n'


def test_a_full_error_queue_ends_with_its_overflow(idle):
    idle.ask("X\n" * (ERROR_QUEUE + 3), passes=6_000)
    answers = idle.ask("SYST:ERR?\n" * (ERROR_QUEUE + 1), passes=6_000).splitlines()
    assert answers == ['-113,"Undefined header"'] * (ERROR_QUEUE - 1) + ['-350,"Queue overflow"', '0,"No error"']


def test_a_line_of_the_greatest_length_is_read_and_one_more_is_dropped_whole(idle):
    fits = "*OPC?" + " " * (LONGEST_LINE - 5)
    assert idle.ask(f"{fits}\r\n") == "1\n"
    assert idle.ask(f"*OPC?;*OPC?{fits}\nSYST:ERR?\n") == '-223,"Too much data"\n'
    # A carriage return in the last place ends nothing: what follows it was sent, too.
    assert idle.ask(f"{fits}\r;*ESE 8\nSYST:ERR?\n") == '-223,"Too much data"\n'


def test_the_status_byte_sums_up_after_ieee_488_2(idle):
    # IEEE 488.2 section 11.2: bit 2 error queue (SCPI-99), bit 5 event summary, bit 6 master summary.
    assert idle.ask("*CLS;*ESE 32;*SRE 32;*STB?\n") == "0\n"
    assert idle.ask("FOO\n*STB?;*SRE 255;*SRE?;*STB?\n") == "100;191;100\n"
    assert idle.ask("*ESR?;*STB?\n") == "32;68\n"


def test_without_the_bench_link_nothing_moves(core):
    board = core.board(bench_link=False)
    settle(board)
    for command in (command for command in COMMANDS if command.needs_bench_link):
        given = ",".join("0" for _ in command.takes)
        assert board.ask(f"{command.header} {given}\nSYST:ERR?\n") == '-203,"Command protected"\n'
    assert board.ask("*RST;:SEQ:STAT?;:BENC:CONT?;:BENC:STAT?\n", now_us=SETTLED_US) == f"{Phase.IDLE},0;0,0,0;0\n"
    assert not board.hung


def test_forced_contacts_weld_and_lapse_when_traffic_stops(idle):
    idle.ask(f"BENC:CONT {RAW_BIT['trigger']}\n", now_us=SETTLED_US, passes=200)
    now_us = SETTLED_US + 200 * 50
    for at_us in range(now_us, SETTLED_US + LAPSE_US, 500):
        outputs = idle.run_pass(0, at_us)
    assert outputs == 1 | 2 | 4
    for at_us in range(SETTLED_US + LAPSE_US, SETTLED_US + LAPSE_US + 60_000, 500):
        outputs = idle.run_pass(0, at_us)
    assert outputs == 1 | 4, "burnback, a filter time after the forced trigger was let go"
    assert idle.ask("BENC:CONT?\n", now_us=SETTLED_US + LAPSE_US + 60_000) == "0,0,0\n"


def test_contacts_answer_the_instant_from_which_they_were_forced(idle):
    forced, contacts, since_us = idle.ask("BENC:CONT 3;:BENC:CONT?\n", now_us=SETTLED_US).strip().split(",")
    assert (forced, contacts) == ("1", "3")
    assert SETTLED_US < int(since_us) < SETTLED_US + 5_000


def test_the_trace_keeps_the_oldest_and_counts_what_it_loses(idle):
    now_us = SETTLED_US + 1_000_000
    for press in range(20):
        for at_us in range(0, 60_000, 1_000):
            idle.run_pass(RAW_BIT["purge"] if at_us < 30_000 else 0, now_us + press * 60_000 + at_us)
    answers = [idle.ask("TRAC:DATA?\n", now_us=now_us + 2_000_000).strip() for _ in range(TRACE_RECORDS + 1)]
    first = answers[0].split(",")
    # The press is seen after its filter of 20 ms, and in the same pass the gas comes on.
    levels = LEVEL_BIT["purge"] | LEVEL_BIT["gas_valve"]
    assert first == [str(TRACE_RECORDS), str(now_us + 20_000), str(levels), str(Phase.PURGE.value), "0"]
    assert answers[-1] == "0,0,0,0,0"
    assert int(idle.ask("TRAC:LOST?\n", now_us=now_us + 2_000_000)) == 40 - TRACE_RECORDS


def test_a_reset_over_the_link_starts_in_hold_off_and_ends_forced_states(idle):
    now_us = SETTLED_US
    answer = idle.ask("BENC:CONT 1;:BENC:ANAL 0,100\n*RST;:SEQ:STAT?;:BENC:CONT?\n", now_us=now_us)
    assert answer == f"{Phase.HOLD_OFF},{Fault.NONE};0,0,0\n"


def test_forced_readings_stand_in_the_place_of_the_converters(idle):
    assert idle.ask("BENC:ANAL 0,600;:INP:ANAL? 0\n", now_us=SETTLED_US) == "600\n"
    idle.reading(0, 100, SETTLED_US + 200_000)
    assert idle.ask("INP:ANAL? 0;:INP:ANAL? 1;:INP:ANAL? 9\n", now_us=SETTLED_US + 200_000) == "600\n"
    idle.ask("BENC:REL\n", now_us=SETTLED_US + 200_000)
    idle.reading(0, 100, SETTLED_US + 400_000)
    assert idle.ask("INP:ANAL? 0\n", now_us=SETTLED_US + 400_000) == "100\n"


def test_the_lamp_flickers_while_anything_is_forced(idle):
    idle.ask("BENC:CONT 0\n", now_us=SETTLED_US, passes=400)
    lit = []
    for at_us in range(SETTLED_US + 20_000, SETTLED_US + 900_000, 1_000):
        idle.run_pass(0, at_us)
        lit.append(idle.lamp)
    changes = sum(before != after for before, after in itertools.pairwise(lit))
    assert 12 <= changes <= 14, "one change in 65.5 ms"


@pytest.mark.parametrize("fault", [Fault.SUPPLY, Fault.DIAL])
def test_the_lamp_blinks_the_number_of_the_fault(core, fault):
    board = core.board(bench_link=False)
    settle(board)
    lit = []
    for at_us in range(SETTLED_US, SETTLED_US + 8_000_000, 1_000):
        board.reading(3, 100 if fault is Fault.SUPPLY else 400, at_us)
        board.reading(0, 0 if fault is Fault.DIAL else 500, at_us)
        board.run_pass(0, at_us)
        lit.append(board.lamp)
    text = "".join("#" if on else "." for on in lit[2_000:])
    rests = [group for group in re.split(r"\.{900,}", text) if group.strip(".")]
    assert [len(re.findall("#+", group)) for group in rests[1:-1]].count(fault) >= 1


@pytest.mark.parametrize("cause", Reset)
def test_it_says_why_it_started(core, cause):
    board = core.board(bench_link=False)
    board.started_by(cause)
    assert board.ask("SYST:RES?\n") == f"{int(cause)}\n"


def winks(board, from_us, lasts_us, contacts=0):
    """How often the lamp goes dark in each group that two thirds of a second of light end; nothing for steady light."""
    lit = []
    for at_us in range(from_us, from_us + lasts_us, 1_000):
        board.run_pass(contacts, at_us)
        lit.append(board.lamp)
    text = "".join("#" if on else "." for on in lit)
    assert not re.search(r"\.{200,}", text), "a wink is short"
    return [len(re.findall(r"\.+", group)) for group in re.split("#{660,}", text) if group.strip("#")]


@pytest.mark.parametrize("cause", Reset)
def test_the_lamp_winks_the_number_of_a_reset_that_was_a_fault_until_the_first_press(core, cause):
    board = core.board(bench_link=False)
    board.started_by(cause)
    settle(board)
    seen = winks(board, SETTLED_US, 12_000_000)
    if cause < FIRST_ON_LAMP:
        assert seen == []
        return
    # The first and the last group may be cut.
    assert set(seen[1:-1]) == {int(cause)}
    press_us = SETTLED_US + 12_000_000
    for at_us in range(press_us, press_us + 200_000, 1_000):
        board.run_pass(RAW_BIT["trigger"], at_us)
    for at_us in range(press_us + 200_000, press_us + 9_000_000, 1_000):
        board.run_pass(0, at_us)
    assert winks(board, press_us + 9_000_000, 6_000_000) == []


def test_a_fault_is_told_before_a_reset(core):
    board = core.board(bench_link=False)
    board.started_by(Reset.BROWN_OUT)
    settle(board)
    dark = 0
    for at_us in range(SETTLED_US, SETTLED_US + 8_000_000, 1_000):
        board.reading(3, 100, at_us)
        board.run_pass(0, at_us)
        dark += not board.lamp
    assert dark > 5_000, "a fault blinks out of the dark"


def test_the_latest_fault_is_kept_when_it_is_shown_no_more(core):
    board = core.board(bench_link=True)
    settle(board)
    assert board.ask("SEQ:FAUL?\n", now_us=SETTLED_US) == "0\n"
    for at_us in range(SETTLED_US, SETTLED_US + 200_000, 500):
        board.reading(0, 0, at_us)
        board.run_pass(0, at_us)
    for at_us in range(SETTLED_US + 200_000, SETTLED_US + 400_000, 500):
        board.reading(0, 500, at_us)
        board.run_pass(0, at_us)
    board.ask("*RST\n", now_us=SETTLED_US + 400_000)
    assert board.ask("SEQ:STAT?;FAUL?\n", now_us=SETTLED_US + 600_000).endswith(f",0;{int(Fault.DIAL)}\n")


# What answers the time of day differs between any two boards; what hangs or restarts one is tested above.
TIMED = {
    "operation_event",
    "operation_condition",
    "questionable_event",
    "questionable_condition",
    "clock",
    "trace",
    "trace_lost",
    "trace_clear",
    "state",
    "hang",
    "reset",
    "time",
    "outputs",
    "self_test",
}
calm = st.sampled_from([command for command in COMMANDS if command.name not in TIMED])
WHOLE = "0 1 5 -1 +3 -0 255 256 1023 1024 2047 2048 65535 65536 4294967296 00000000000000000012"
DECIMAL = "32.0 3.2e1 2.55E+2 2549e-1 254.5 255.5 -0.4 .5 7. 0.0000000000000001e16 1e400 0e400"
RADIX = "#HFF #hfFfF #H10000 #Q377 #q17 #B101"
NO_NUMBER = "x 1.5. --1 0x1 + é ' . e1 1e 1e+ 1e1.5 # #H #HG #H: #Q8 #B2 #D1 -#H1 1#"
numbers = st.sampled_from([*f"{WHOLE} {DECIMAL} {RADIX}".split(), "0.049e 2", "1 e2"])
odd = st.sampled_from([*NO_NUMBER.split(), "", " ", "1 2", "+ 5", "#H1 2", "1e5 5", "9" * 15])


@st.composite
def orders(draw):
    command = draw(calm)
    header = draw(st.sampled_from(command.headers))
    header = draw(st.sampled_from([header, re.sub("[a-z]", "", header), header.lower()]))
    # Whole, or as it may follow another of the same path.
    header = draw(
        st.sampled_from([f":{header}", header, header.rpartition(":")[2], header.partition(":")[2] or header])
    )
    header = draw(st.sampled_from(["", "", "", " "])) + header
    count = draw(st.sampled_from([len(command.takes)] * 4 + [0, 1, 2, 3]))
    parameters = [draw(st.one_of(numbers, numbers, odd)) for _ in range(count)]
    text = header + (draw(st.sampled_from([" ", "\t ", "  "])) + ",".join(parameters) if parameters else "")
    if draw(st.integers(0, 9)) == 0:
        place = draw(st.integers(0, len(text)))
        text = (
            text[:place] + draw(st.sampled_from(["", "?", "*", ":", ";", "\r", "\x7f", "ß", "Q", "9"])) + text[place:]
        )
    return text


lines = st.lists(st.lists(orders(), max_size=3).map(";".join), min_size=1, max_size=8)


@given(lines)
@settings(max_examples=200)
def test_it_answers_every_line_as_the_virtual_board_does(core, shop, lines):
    virtual = VirtualBoard(target_of(Project(shop, load_board("uno"))), version=VERSION)
    compiled = core.board(bench_link=True)
    for channel, counts in enumerate(virtual.machine.pin_counts[number] for number in (0, 2, 3, 5)):
        compiled.reading(channel, counts, 0)
    now_us = 0
    for line in [*lines, *["SYST:ERR?"] * (ERROR_QUEUE + 1), "*STB?;*ESR?;*ESE?;*SRE?"]:
        wanted = virtual.receive(f"{line}\n".encode("latin-1")).decode()
        got = compiled.ask(f"{line}\n", now_us=now_us, passes=1_500, pass_us=10)
        now_us += 15_000
        assert since_masked(got) == since_masked(wanted), line


def since_masked(answer):
    """Hide since when contacts are forced: the two boards' clocks differ."""
    return re.sub(r"(^|;)(1,[0-9]+),[0-9]+(?=[;\n])", r"\1\2,T", answer)


def test_every_contact_bit_is_in_range_and_the_next_is_not(idle):
    assert idle.ask(f"BENC:CONT {RAW_ALL};:BENC:CONT {RAW_ALL + 1};:SYST:ERR?\n", now_us=SETTLED_US).startswith("-222")


@pytest.mark.parametrize("number", ["1E257", "1E256", "0.1E258", "1E0000000000000512", "2E2570", "1E-257"])
def test_an_exponent_of_any_length_is_no_other_exponent(idle, number):
    # Two hundred and fifty-seven is one, modulo two hundred and fifty-six.
    idle.ask(f"*ESE {number}\n")
    assert idle.ask("*ESE?\n") == "0\n"
    assert idle.ask("SYST:ERR?\n") == ('0,"No error"\n' if "-" in number else '-222,"Data out of range"\n')


def test_a_supply_that_was_never_read_lets_nothing_begin(core):
    board = core.board(bench_link=False)
    for at_us in range(0, 2_000_000, 1_000):
        assert board.run_pass(0, at_us) == 0
    assert board.ask("SEQ:STAT?\n", now_us=2_000_000) == f"{Phase.HOLD_OFF.value},{Fault.SUPPLY.value}\n"
