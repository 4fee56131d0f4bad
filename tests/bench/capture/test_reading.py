"""Captures: value change dumps and tables by any writer, and files that are neither."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.capture.capture import Capture, CaptureError
from bench.capture.reading import read_capture

HEAD = '$timescale 1 us $end $scope module a $end $var wire 1 ! D0 $end $var wire 1 " D1 $end $enddefinitions $end\n'


def read(tmp_path, content, rate_hz=None):
    path = tmp_path / "capture"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_capture(path, rate_hz)


def levels(capture):
    return {name: (channel.begins, *channel.changes) for name, channel in capture.channels.items()}


def test_a_dump_gives_first_levels_and_changes_from_the_first_instant_on(tmp_path):
    capture = read(tmp_path, HEAD + '#5 0! 1"\n#15 1!\n#20 0" 1!\n#105\n')
    assert levels(capture) == {"D0": (0, (10_000, 1)), "D1": (1, (15_000, 0))}
    assert capture.end_ns == 100_000


@pytest.mark.parametrize(
    ("preface", "step_ns", "says"),
    [
        ("META samplerate: 500000\n", 2_000, "stated in the file"),
        ("", 5_000, "guessed"),
        ("$comment\n  Acquisition with 2/8 channels at 250 kHz\n$end\n", 4_000, "stated in the file"),
    ],
)
def test_the_sample_step_is_stated_or_guessed(tmp_path, preface, step_ns, says):
    capture = read(tmp_path, preface + HEAD + '#0 0! 0"\n#10 1!\n#15 1"\n#100\n')
    assert capture.step_ns == step_ns
    assert says in capture.step_from
    assert read(tmp_path, preface + HEAD + "#0 0!\n#10 1!\n", 1e6).step_ns == 1_000


def test_a_step_of_many_samples_is_not_guessed(tmp_path):
    capture = read(tmp_path, HEAD + '#0 0! 0"\n#100000 1!\n#300000 1"\n')
    assert capture.step_ns == 1_000


def test_buses_come_apart_and_what_is_no_level_is_passed_over(tmp_path):
    text = (
        "$timescale 100 ns $end $scope module a $end $var wire 3 ! bus $end $var real 64 r volts $end\n"
        "$var wire 1 i one [4] $end $var string 1 s word $end $upscope $end\n"
        "$scope module b $end $var wire 1 j one [4] $end $upscope $end $enddefinitions $end\n"
        "#0 bx ! r1.5 r xi 0j sx s\n#10 b101 ! 0i\n#20 b1 ! 1i 1j\n"
    )
    assert levels(read(tmp_path, text)) == {
        "bus[0]": (1,),
        "bus[1]": (0,),
        "bus[2]": (1, (2_000, 0)),
        "one[4]": (0, (2_000, 1)),
        "b.one[4]": (0, (2_000, 1)),
    }


def test_a_pulse_within_one_instant_is_none(tmp_path):
    assert levels(read(tmp_path, HEAD + '#0 0! 0"\n#5 1!\n#5 0!\n#9\n'))["D0"] == (0,)


def test_a_level_that_gets_lost_is_told_with_its_instant(tmp_path):
    assert read(tmp_path, HEAD + '#0 0! 0"\n#7 x!\n#9\n').channels["D0"].unknown_ns == 7_000


def test_a_simulation_of_ours_says_that_1_is_on(tmp_path):
    assert read(tmp_path, "$version wirecue $end\n" + HEAD + "#0 0!\n#1 1!\n").logical
    assert not read(tmp_path, HEAD + "#0 0!\n#1 1!\n").logical


@pytest.mark.parametrize(
    "text",
    [
        "; Channels (2/2): D0, D1\n; Samplerate: 1 kHz\nlogic,logic\n0,1\n0,1\n1,0\n1,0\n",
        "META samplerate: 1000\nD0,D1\n0,1\n0,1\n1,0\n1,0\n",
        "Time [s],D0,D1\n5.000,0,1\n5.002,1,0\n5.003,1,0\n",
        "time (ms); D0; D1\r\n0; 0; 1\r\n2; 1; 0\r\n3; 1; 0\r\n",
        "# made by hand\ntime_us\tD0\tD1\n0\t0\t1\n2000\t1\t0\n3000\t1\t0\n",
        "\ufeffTime,D0,D1\n0.0,0,1\n0.002,1,0\n3e-3,1,0\n",
    ],
)
def test_a_table_gives_the_same_with_a_rate_or_with_times(tmp_path, text):
    capture = read(tmp_path, text)
    assert levels(capture) == {"D0": (0, (2_000_000, 1)), "D1": (1, (2_000_000, 0))}
    assert capture.end_ns == 3_000_000


def test_a_bare_table_takes_the_rate_from_the_user_and_counts_its_channels(tmp_path):
    assert levels(read(tmp_path, "0,1\n1,1\n", 1e6)) == {"D0": (0, (1_000, 1)), "D1": (1,)}


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "an empty file; allowed: a value change dump (VCD) or a CSV of samples"),
        (b"  \n", "an empty file"),
        (b"PK\x03\x04rest", "a packed session of an analyser's own kind; allowed: "),
        (b"\x7fELF\x00\x01", "a binary file"),
        (b"hello\nworld\n", "line 2: 'world'; allowed: rows of 0 and 1, a column a channel"),
        (b"; samplerate: 1000\na,b\n0,1\n0,2\n", "line 4: '0,2'"),
        (b"time,b\n0,1\nx,1\n", "line 3: 'x' for a time; allowed: a number"),
        (b"time,b\n1,1\n0,1\n", "line 3: time goes back at '0'"),
        (b"time,b\n0,1\ninf,1\n", "line 3: 'inf' for a time"),
        (b"time,b\n0,1\nnan,1\n", "line 3: 'nan' for a time"),
        (
            b"a,b\n0,1\n0,1\n",
            'line 2: neither a sample rate nor a time column; allowed: one of them; --sample-rate "1 MHz"',
        ),
        (b"; samplerate: 1000\na,b\n0,1\n0\n", "line 4: 1 levels where 2 channels are"),
        (b"; samplerate: 1000\na,a\n0,1\n", "line 3: 2 columns and the names a, a"),
        (b"; samplerate: 1000\na,b\n0,1\n", "no time passes in it"),
        (b"$timescale 3 parsec $end", "allowed: a value change dump"),
        (b"$enddefinitions $end\n#5\n#4\n", "line 3: time goes back from #5 to #4; allowed: times in order"),
        (b"$enddefinitions $end\n", "no instant at all"),
        (b"$enddefinitions $end\n#5\n", "no wire in the dump"),
    ],
)
def test_what_is_no_capture_gets_one_sentence_with_file_and_place(tmp_path, content, says):
    with pytest.raises(CaptureError) as caught:
        read(tmp_path, content)
    assert str(caught.value).startswith(f"{tmp_path / 'capture'}")
    assert says in str(caught.value)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(CaptureError, match="nowhere: no such file or directory; allowed: "):
        read_capture(tmp_path / "nowhere")


PIECES = [
    "$timescale",
    "1 us",
    "$end",
    "$var",
    "wire",
    "1",
    "!",
    "D0",
    "$enddefinitions",
    "#1",
    "#2",
    "0!",
    "b1 !",
    "$",
]


@given(st.binary(max_size=200) | st.lists(st.sampled_from(PIECES)).map(lambda words: " ".join(words).encode()))
def test_whatever_is_in_a_file_it_is_a_capture_or_an_error_of_ours(tmp_path_factory, content):
    path = tmp_path_factory.getbasetemp() / "whatever"
    path.write_bytes(content)
    result = outcome(path)
    assert isinstance(result, Capture) or (result.startswith(str(path)) and "\n" not in result)


def outcome(path):
    try:
        return read_capture(path)
    except CaptureError as error:
        return str(error)


CHANGES = "time_us,trace,value\n0,trigger,0\n0,gas_valve,0\n0,phase,idle\n0,arc_length_mm,0.0\n"


def test_a_table_of_changes_gives_its_traces_and_leaves_out_words_and_lengths(tmp_path):
    capture = read(tmp_path, CHANGES + "100,trigger,1\n250,gas_valve,1\n400,arc_length_mm,1.25\n")
    assert levels(capture) == {"trigger": (0, (100_000, 1)), "gas_valve": (0, (250_000, 1))}
    assert capture.end_ns == 400_000
    assert capture.logical


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("100,trigger,2\n", "line 6: '2' for a level of 'trigger'; allowed: 0 or 1."),
        ("100,trigger\n", "line 6: '100,trigger'; allowed: rows of time_us,trace,value"),
        ("soon,trigger,1\n", "line 6: 'soon' for an instant; allowed: a whole number of microseconds."),
        ("100,trigger,1\n99,trigger,0\n", "line 7: time goes back at '99'; allowed: times in order."),
        ("", "no time passes in it"),
    ],
)
def test_a_bad_row_of_a_table_of_changes_is_named(tmp_path, rows, says):
    with pytest.raises(CaptureError) as refused:
        read(tmp_path, CHANGES + rows)
    assert says in str(refused.value)
