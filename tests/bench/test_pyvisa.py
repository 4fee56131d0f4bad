"""An independent client, PyVISA with pyvisa-py, talks to the virtual board: pseudo terminal and TCP socket."""

from __future__ import annotations

import warnings
from contextlib import contextmanager
from pathlib import Path

import pytest
from pyvisa import ResourceManager

from bench.avr.simulator import UART_DEFINES, Simulator, Wiring, build_runner
from bench.forcing import setting_counts
from bench.link import connected
from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.serving import behind_pty, behind_socket
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from wirecue.projects import load_project

SHOP = Path(__file__).parents[2] / "examples" / "shop_two_step.toml"


@contextmanager
def over_pty(board):
    with behind_pty(board) as name:
        yield f"ASRL{name}::INSTR"


@contextmanager
def over_socket(board):
    with behind_socket(board) as (host, port):
        yield f"TCPIP::{host}::{port}::SOCKET"


@contextmanager
def opened(address):
    """Yield the instrument that PyVISA makes of an address."""
    with warnings.catch_warnings():
        # pyvisa-py says which optional backends are not installed.
        warnings.simplefilter("ignore")
        manager = ResourceManager("@py")
        instrument = manager.open_resource(address, read_termination="\n", write_termination="\n", timeout=5_000)
        try:
            yield instrument
        finally:
            instrument.close()
            manager.close()


@pytest.fixture(params=[over_pty, over_socket], ids=["pty", "socket"])
def visa(request, shop):
    """Yield a board and the instrument that PyVISA makes of it."""
    board = VirtualBoard(shop, "0.1", AheadClock(5_003))
    with request.param(board) as address, opened(address) as instrument:
        yield board, instrument


def test_the_board_says_who_it_is(visa, shop):
    _, instrument = visa
    assert instrument.query("*IDN?") == f"wirecue,shop_two_step,{shop.digest},0.1"


def test_errors_are_queued_and_events_set(visa):
    _, instrument = visa
    instrument.write("*CLS")
    instrument.write("MEAS:VOLT?")
    assert instrument.query("SYST:ERR?") == '-113,"Undefined header"'
    assert instrument.query("SYST:ERR?") == '0,"No error"'
    assert instrument.query("*ESR?") == "32"


def test_a_weld_is_forced_and_its_edges_read_from_the_trace(visa, shop):
    board, instrument = visa
    board.clock.time_us += 1_000_000
    instrument.write("TRAC:CLE")
    instrument.write("BENC:CONT 9")
    started_us = int(instrument.query_ascii_values("BENC:CONT?")[2])
    while instrument.query("SEQ:STAT?") != "3,0":
        pass
    instrument.write("BENC:CONT 8")
    while instrument.query("SEQ:STAT?") != "1,0":
        pass
    records = []
    while (record := [int(value) for value in instrument.query_ascii_values("TRAC:DATA?")])[0]:
        records.append(record[1:])
    assert [(levels & 7, phase) for _, levels, phase, _ in records] == [(1, 2), (7, 3), (5, 4), (1, 5), (0, 1)]
    times = shop.rig.times_us
    preflow_us, weld_us, burnback_us, postflow_us, idle_us = (record[0] for record in records)
    assert preflow_us - started_us == pytest.approx(25_000, abs=100)
    assert weld_us - preflow_us == pytest.approx(times["preflow"], abs=1_000)
    assert postflow_us - burnback_us == pytest.approx(times["burnback"], abs=1_000)
    assert idle_us - postflow_us == pytest.approx(times["postflow"], abs=5_000)


@pytest.mark.debian("avr-gcc", "arduino-core", "gcc", "simavr")
def test_the_simulated_firmware_answers_the_same_client(shop, tmp_path):
    project = load_project(SHOP)
    sketch = sketch_files(project, "0.1")
    program = compile_sketch(sketch, project.board, tmp_path, UART_DEFINES[project.board.native_usb])
    simulator = Simulator(build_runner(tmp_path), program, project.board)
    counts = {name: setting_counts(shop, name) for name in shop.scales} | {"supply": shop.supply.good}
    panel = Wiring(project.design, project.board).quiet(counts, bench_link=True)
    with simulator.behind_port(panel) as name:
        with connected(name) as (_, identity):
            assert identity.version == "0.1"
        ask_as_a_stranger(name, shop)


def ask_as_a_stranger(name, shop):
    with opened(f"ASRL{name}::INSTR") as instrument:
        assert instrument.query("*IDN?") == f"wirecue,shop_two_step,{shop.digest},0.1"
        instrument.write("MEAS:VOLT?")
        assert instrument.query("SYST:ERR?") == '-113,"Undefined header"'
        while instrument.query("SEQ:STAT?") != "1,0":
            pass
        instrument.write("TRAC:CLE;:BENC:CONT 10")
        while not (record := instrument.query_ascii_values("TRAC:DATA?"))[0]:
            pass
        # Purge: first the button is seen and the gas goes on, in phase 8.
        assert (int(record[2]) & 1, record[3], record[4]) == (1, 8, 0)
