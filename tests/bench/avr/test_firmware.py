"""What the firmware does at its pins and its port, executed as AVR code."""

from __future__ import annotations

import time

import pytest

from bench.avr.simulator import said
from timing.protocol.resets import Reset
from timing.protocol.target import RAW_BIT
from timing.sequence.core import filters
from timing.sequence.core.table import Fault, Output, Phase

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

BOOT_US = 700_000
LONGEST_PASS_US = 80
WATCHDOG_US = 60_000
SERVED_US = 50_000
# Milliseconds of the simulator's watchdog are the data sheet's nominal ones.
WATCHDOG_SLACK_US = 10_000


def output_pins(rig):
    names = {"gas_valve", "wire_drive", "contactor"} & set(rig.target.fitted)
    return {rig.wiring.port(name) for name in names}


def test_every_output_is_driven_to_off_and_never_to_on_before(rig):
    events = rig.simulator.run([*rig.boot(), rig.end(BOOT_US)])
    for pin in output_pins(rig):
        assert [event.level for event in events if event.pin == pin] == ["0"]


def test_a_trigger_found_closed_at_power_up_starts_nothing(rig):
    cues = [*rig.wiring.quiet(rig.counts()), rig.wiring.contact("trigger", True, 0)]
    cues += [rig.wiring.contact("trigger", False, 1_500_000), rig.wiring.contact("trigger", True, 1_700_000)]
    events = rig.simulator.run([*cues, rig.end(2_200_000)])
    edges = rig.wiring.edges(events, 0)
    assert edges
    assert edges[0].at_us > 1_700_000


def test_it_answers_over_the_serial_port(rig):
    events = rig.simulator.run(
        [*rig.boot(), rig.wiring.serial(b"*IDN?\nSEQ:STAT?\n", BOOT_US), rig.end(BOOT_US + 20_000)]
    )
    assert said(events) == f"wirecue,{rig.design.name},{rig.design.digest()},0.1.0\n{Phase.IDLE},0\n"


def traffic(rig, from_us, until_us):
    """Lines that keep the link busy without a break: long headers, long answers, errors."""
    lines = b"*IDN?;:SEQUENCE:CLOCK?;:TRACE:DATA?\nBENCH:CONTACTS?;:SYSTEM:ERROR?;:INPUT:ANALOG? 0\nFOO;*ESE 300,1\n"
    return [rig.wiring.serial(lines, at_us) for at_us in range(from_us, until_us, 12_000)]


def test_no_pass_takes_longer_than_it_may_under_full_traffic(rig):
    cues = [*rig.boot(bench_link=True), rig.passes(BOOT_US)]
    for press in range(8):
        at_us = BOOT_US + 10_000 + press * 120_000
        cues += [rig.wiring.contact("trigger", closed, at_us + 60_000 * (not closed)) for closed in (True, False)]
    cues += traffic(rig, BOOT_US, BOOT_US + 1_000_000)
    events = rig.simulator.run([*sorted(cues, key=lambda cue: cue.cycle), rig.end(BOOT_US + 1_000_000)])
    count, longest, total = next(event.passes for event in events if event.kind == "passes")
    print(f"{rig.design.name}: longest pass {longest / 16:.1f} us, mean {total / count / 16:.1f} us")
    assert longest <= LONGEST_PASS_US * rig.wiring.cycles_per_us
    assert said(events).count("wirecue") > 20


def test_forced_contacts_weld_over_the_link_and_only_with_the_bench_link(rig):
    command = f"BENC:CONT {RAW_BIT['trigger'] | rest(rig)}\n".encode()
    for bench_link in (True, False):
        cues = [*rig.boot(bench_link=bench_link), rig.wiring.serial(command, BOOT_US), rig.end(BOOT_US + 900_000)]
        welded = any(edge.output is Output.WIRE for edge in rig.wiring.edges(rig.simulator.run(cues), 0))
        assert welded == bench_link


def test_a_real_trigger_starts_a_weld_while_the_rest_is_forced_and_only_where_it_was_left_to_its_pin(rig):
    for left in (RAW_BIT["trigger"], 0):
        pressed_us = BOOT_US + 100_000
        command = f"BENC:CONT {rest(rig)};PINS {left}\n".encode()
        cues = [*rig.boot(bench_link=True), rig.wiring.serial(command, BOOT_US)]
        cues += [rig.wiring.contact("trigger", True, pressed_us), rig.end(BOOT_US + 900_000)]
        edges = rig.wiring.edges(rig.simulator.run(cues), pressed_us)
        assert any(edge.output is Output.WIRE for edge in edges) == bool(left)
        assert all(edge.at_us > 0 for edge in edges)


def rest(rig):
    """Contacts of a panel at rest: interlock closed, switches on."""
    return sum(
        bit for role, bit in RAW_BIT.items() if role in rig.target.fitted and (role == "interlock" or "switch" in role)
    )


def test_a_held_loop_is_ended_by_the_watchdog_with_everything_off_and_begins_in_hold_off(rig):
    cues = [*rig.boot(bench_link=True), rig.wiring.contact("trigger", True, BOOT_US)]
    hang_us = BOOT_US + 150_000
    cues += [rig.wiring.serial(b"*ESE 9;*ESR?;:BENC:HANG\n", hang_us)]
    cues += [rig.wiring.serial(b"SEQ:STAT?;*ESR?;*ESE?;:STAT:OPER?\n", hang_us + 200_000)]
    events = rig.simulator.run([*cues, rig.end(hang_us + 900_000)])
    bite = next(event for event in events if event.kind == "reset")
    bitten_us = bite.cycle // rig.wiring.cycles_per_us
    assert hang_us < bitten_us < hang_us + WATCHDOG_US + WATCHDOG_SLACK_US
    after = rig.wiring.edges([event for event in events if event.cycle > bite.cycle], bitten_us)
    assert not any(edge.on for edge in after), "the trigger is still held: nothing starts"
    assert said(events).endswith(f"{Phase.HOLD_OFF},0;128;0;256\n"), "status registers as at power-up"


def test_a_chip_whose_own_clock_goes_at_half_speed_is_ended_by_the_watchdog(rig):
    """Timer and converter fall back together: only the watchdog's oscillator can tell."""
    slow_us, half = BOOT_US + 150_000, rig.board.clock_hz // 2
    cues = [*rig.boot(), rig.wiring.contact("trigger", True, BOOT_US), rig.wiring.clock(half, slow_us)]
    events = rig.simulator.run([*cues, rig.end(slow_us + 1_000_000)])
    bitten_us = [(event.cycle // rig.wiring.cycles_per_us) for event in events if event.kind == "reset"]
    # Cycles now last twice as long as they are counted; the simulated watchdog learns of it when it is served next.
    assert slow_us < bitten_us[0] < slow_us + SERVED_US + (WATCHDOG_US + WATCHDOG_SLACK_US) // 2
    edges = rig.wiring.edges(events, 0)
    assert any(edge.on for edge in edges), "it was welding"
    assert not any(edge.on for edge in edges if edge.at_us > bitten_us[0]), "for as long as the clock is slow"
    assert len(bitten_us) > 10


def test_a_chip_is_not_ended_by_a_watchdog_that_is_a_fifth_fast_or_a_quarter_slow(rig):
    """The watchdog's oscillator is a rough one (data sheet: 128 kHz nominal; it moves with temperature and supply)."""
    for clock_hz in (rig.board.clock_hz * 4 // 5, rig.board.clock_hz * 5 // 4):
        cues = [*rig.boot(), rig.wiring.clock(clock_hz, BOOT_US)]
        assert not [each for each in rig.simulator.run([*cues, rig.end(BOOT_US + 500_000)]) if each.kind == "reset"]


def test_an_interlock_that_flickers_does_nothing_and_one_that_stays_open_ends_the_weld(gasless):
    rig, wiring, at_us = gasless, gasless.wiring, BOOT_US + 300_000
    shortest_us = filters.PANEL_SHORTEST_US - LONGEST_PASS_US
    longest_us = filters.PANEL_LONGEST_US + 2 * LONGEST_PASS_US

    def weld(*cues):
        start = [*rig.boot(), wiring.contact("trigger", True, BOOT_US)]
        events = rig.simulator.run([*start, *cues, rig.end(at_us + 200_000)])
        return wiring.edges(events, at_us)

    flickers = [
        wiring.contact("interlock", closed, at_us + index * 5_000 + (shortest_us if closed else 0))
        for index in range(20)
        for closed in (False, True)
    ]
    calm, flickered, opened = weld(), weld(*flickers), weld(wiring.contact("interlock", False, at_us))
    assert [edge for edge in flickered if edge.at_us >= 0] == [edge for edge in calm if edge.at_us >= 0] == []
    offs = [edge for edge in opened if edge.at_us >= 0]
    assert {edge.output for edge in offs} == {Output.WIRE, Output.CONTACTOR}
    assert all(not edge.on and shortest_us <= edge.at_us <= longest_us for edge in offs)


def test_a_reset_lets_every_output_go_at_once(rig):
    reset_us = BOOT_US + 150_000
    cues = [*rig.boot(), rig.wiring.contact("trigger", True, BOOT_US)]
    cues.append(rig.wiring.contact("trigger", True, reset_us))
    events = rig.simulator.run([*cues, type(cues[0])(rig.wiring.cycle(reset_us), "reset"), rig.end(reset_us + 700_000)])
    at = [event for event in events if event.cycle >= rig.wiring.cycle(reset_us)]
    assert {event.level for event in at if event.pin in output_pins(rig)} == {"z", "0"}


def test_the_board_behind_a_pseudo_terminal_answers_in_real_time(shop):
    import serial

    with shop.simulator.behind_port(shop.boot(bench_link=True)) as name, serial.Serial(name, timeout=5) as port:
        port.write(b"*IDN?\n")
        assert port.readline().decode() == f"wirecue,{shop.design.name},{shop.design.digest()},0.1.0\n"
        began = time.monotonic()
        port.write(b"SEQ:CLOC?\n")
        first_us = int(port.readline())
        while time.monotonic() - began < 0.2:
            port.write(b"SEQ:CLOC?\n")
            last_us = int(port.readline())
        assert first_us < last_us < first_us + 2_000_000


def test_why_it_started_and_the_latest_fault_outlive_the_reset_that_opening_a_port_makes(shop):
    """A brown-out, a fault, then a reset by the pin: both are still told, by link and by lamp."""
    asked = b"SYST:RES?;:SEQ:FAUL?\n"
    dial = next(iter(shop.counts()))
    fault_us, opened_us = 1_600_000, 1_900_000
    cues = [
        *shop.boot(),
        shop.wiring.serial(asked, BOOT_US),
        shop.wiring.reset(800_000, "brown-out"),
        shop.wiring.counts(dial, 0, fault_us),
        shop.wiring.counts(dial, shop.counts()[dial], fault_us + 200_000),
        shop.wiring.reset(opened_us),
        shop.wiring.serial(asked, opened_us + BOOT_US),
    ]
    ends_us = opened_us + 4_500_000
    events = shop.simulator.run([*cues, shop.end(ends_us)])
    assert said(events) == f"1;0\n{int(Reset.BROWN_OUT)};{int(Fault.DIAL)}\n"
    lamp = shop.wiring.port("lamp")
    edges = [(event.cycle // shop.wiring.cycles_per_us, event.level) for event in events if event.pin == lamp]
    assert winks(edges, opened_us + BOOT_US, ends_us)[1] == int(Reset.BROWN_OUT)


def winks(edges, from_us, until_us):
    """How often the lamp goes dark in each group that two thirds of a second of light end."""
    groups, lit_us = [0], from_us
    for at_us, level in edges:
        if not from_us < at_us < until_us:
            continue
        if level == "1":
            lit_us = at_us
        elif at_us - lit_us > 660_000:
            groups.append(1)
        else:
            groups[-1] += 1
    return groups
