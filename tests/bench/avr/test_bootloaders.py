"""Real uploads: the machine's own uploader, through the boards' real bootloaders, in a simulator of the chip."""

from __future__ import annotations

import itertools

import pytest

from bench import bootloader, link
from bench.avr.simulator import OUTPUT_PINS, Cue, Wiring, said
from bench.cases import cases_of
from bench.errors import PortBusyError
from bench.forcing import setting_counts
from bench.port import locked
from bench.reports import result_line
from bench.run import run_session
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch, find_tools
from tests.conftest import CACHE, ROOT, SOAK, VERSION
from tests.support.avr_board import kept_board, mega_loader, new_loader, old_loader
from tests.support.recorder_chip import recorder_chip
from timing.protocol.target_of_design import target_of
from wirecue import avrdude, bootloader_way
from wirecue.carried_sketch import RecorderSketch
from wirecue.flash_errors import FlashError, NoBootloaderError, OtherChipError, PortLostError, VerifyError
from wirecue.flashing import plan_flash, run_flash
from wirecue.projects import load_board, load_project, parse_project
from wirecue.recorder_flashing import plan_recorder_flash, run_recorder_flash

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr", "avrdude")
SHOP = ROOT / "examples" / "shop_two_step.toml"
TEXT = SHOP.read_text()
LOADERS = {"new": new_loader, "old": old_loader, "mega": mega_loader}
PLACES = (100, 1_000, 2_000, 3_000, 4_000, 5_000, 6_000, 7_000, 8_000, 9_000)
"""Bytes to the board after which its power goes: an upload is some 10,000."""


def project_on(board):
    return load_project(SHOP) if board == "uno" else parse_project(TEXT.replace('"uno"', f'"{board}"'), board)


PROJECTS = {}


def in_long_runs(test):
    """Keep what takes half a minute of real time, a piece, for runs with WIRECUE_SOAK=1."""
    return test if SOAK else None


@pytest.fixture(autouse=True)
def patience(monkeypatch):
    """A chip in a simulator may fall behind the clock of a busy computer; its port, too, speaks late then."""
    monkeypatch.setattr(bootloader, "LISTENS_S", 4)
    monkeypatch.setattr(avrdude, "QUIET_S", 25)
    monkeypatch.setattr(link, "LEFT_ALONE_S", 25)
    monkeypatch.setattr(bootloader_way, "REPLUG_S", 0.1)
    # Compiled files are kept where all tests keep them.
    monkeypatch.setenv("XDG_CACHE_HOME", str(CACHE))


def desk(board, loader, tmp_path):
    """Return a project, and a board of its kind with a bootloader, fresh from the shop, its panel at rest."""
    project = PROJECTS.setdefault(board, project_on(board))
    target = target_of(project)
    counts = {name: setting_counts(target, name) for name in target.scales}
    panel = Wiring(project.design, project.board).quiet(counts, bench_link=True)
    return project, kept_board(LOADERS[loader](), tmp_path, panel)


def flash(project, port, tell=lambda line: line, **options):
    return run_flash(plan_flash(SHOP, project, port, ports=tuple, patience_s=60, **options), tell)


def cut_short(board, order):
    """Return what listens to an upload, and gives an order to the board as its bootloader has answered."""

    def tell(line):
        if "bootloader answers" in line:
            board.order(order)

    return tell


def test_a_board_that_was_unplugged_in_mid_upload_is_flashed_again_and_answers(tmp_path):
    project, board = desk("uno", "new", tmp_path)
    with board.plugged_in() as port, pytest.raises(PortLostError, match="part of a sketch, and runs it") as lost:
        flash(project, port, cut_short(board, "after 2000 unplug"), bootloader="new")
    assert lost.value.exit_code == 1
    with board.plugged_in() as port:
        result = flash(project, port, bootloader="new")
    assert result.identity.digest == project.design.digest()
    assert result.bootloader.name == "new"
    assert result.outputs == 0


@in_long_runs
@pytest.mark.parametrize(("board", "loader"), [("nano", "new"), ("nano", "old"), ("mega", "mega")])
def test_every_bootloader_takes_the_sketch_and_the_bench_passes_on_these_bytes(board, loader, tmp_path):
    project, kept = desk(board, loader, tmp_path)
    with kept.plugged_in() as port:
        result = flash(project, port)
        assert result.identity.digest == project.design.digest()
        assert result.bootloader.watchdog_loops is (loader == "old")
    # The flash has outlived the power.
    with kept.plugged_in() as port:
        target = target_of(project)
        report = run_session(port, target, cases_of(target), real=False, patience_s=60)
    assert report.passed, "\n".join(map(result_line, report.results))


@in_long_runs
@pytest.mark.parametrize(("loader", "how"), [("new", "off"), ("old", "unplug")])
@pytest.mark.parametrize("place", PLACES)
def test_power_lost_anywhere_in_an_upload_ends_with_a_sentence_and_a_board_that_can_be_flashed(
    place, loader, how, tmp_path
):
    project, board = desk("nano", loader, tmp_path)
    with board.plugged_in() as port:
        with pytest.raises(FlashError, match=r"^Not flashed: .*(flash it again|part of a sketch)"):
            flash(project, port, cut_short(board, f"after {place} {how}"), bootloader=loader)
        if how == "off":
            board.order("on")
            assert flash(project, port).identity.digest == project.design.digest()
    if how == "unplug":
        with board.plugged_in() as port:
            assert flash(project, port).identity.digest == project.design.digest()


@in_long_runs
def test_a_flash_that_does_not_keep_what_is_written_is_not_taken_for_flashed(tmp_path):
    project, board = desk("uno", "new", tmp_path)

    def spoil(line):
        if line.startswith("reading back"):
            with board.image.open("r+b") as image:
                image.seek(9_000)
                image.write(b"\0\0\0")

    with board.plugged_in() as port, pytest.raises(VerifyError, match="is not what was sent"):
        flash(project, port, spoil)


@in_long_runs
def test_another_chip_is_told_by_its_signature_and_gets_nothing(tmp_path):
    project = project_on("uno")
    board = kept_board(new_loader("atmega168", 0x3E00, 0x4000), tmp_path)
    blank = board.chip.blank()[: board.chip.flash_bytes]
    with board.plugged_in() as port, pytest.raises(OtherChipError, match="has the signature 1E9406; atmega328p of"):
        flash(project, port)
    assert board.image.read_bytes()[: len(blank)] == blank


@in_long_runs
@pytest.mark.parametrize(
    ("wanted", "there", "loader", "found"),
    [("uno", "mega", "mega", "Mega-style"), ("mega", "uno", "old", "Nano-style")],
)
def test_another_board_is_told_by_the_bootloader_that_answers(wanted, there, loader, found, tmp_path):
    _, board = desk(there, loader, tmp_path)
    with board.plugged_in() as port, pytest.raises(NoBootloaderError, match=f"of another board, likely a .*{found}"):
        flash(project_on(wanted), port)


@in_long_runs
def test_a_port_that_is_held_is_told_before_anything_is_sent(tmp_path):
    project, board = desk("uno", "new", tmp_path)
    with board.plugged_in() as port, locked(port), pytest.raises(PortBusyError, match="is in use by another bench"):
        flash(project, port)
    assert board.resets() == []


HANGS_US, SET_FREE_US, PIN_RESET_US, ASKED_US, POWER_US, ASKED_AGAIN_US, END_US = (
    round(seconds * 1_000_000) for seconds in (3, 3.2, 3.5, 4.5, 5, 8, 8.2)
)
TIMER_0_CLOCK = 0x45


def hang(loader, tmp_path):
    """Return what a board does whose sketch hangs for a while, then is reset, then loses power; and its wiring."""
    project, board = desk("uno", loader, tmp_path)
    tools = find_tools()
    program = compile_sketch(sketch_files(project, VERSION), project.board, CACHE, tools=tools)
    tools.run([tools.tool("avr-objcopy"), "-O", "binary", str(program), str(tmp_path / "sketch.bin")])
    board.image.write_bytes(board.chip.with_sketch((tmp_path / "sketch.bin").read_bytes()))
    wiring = Wiring(project.design, project.board)
    ask = b"\n*IDN?\n"
    cues = (
        wiring.stuck(TIMER_0_CLOCK, 0, HANGS_US),
        wiring.freed(TIMER_0_CLOCK, SET_FREE_US),
        wiring.reset(PIN_RESET_US),
        wiring.serial(ask, ASKED_US),
        wiring.reset(POWER_US, "power"),
        wiring.serial(ask, ASKED_AGAIN_US),
        Cue(wiring.cycle(END_US), "end"),
    )
    return board.run(cues), wiring


def between(events, wiring, since_us, until_us):
    return [event for event in events if wiring.cycle(since_us) <= event.cycle < wiring.cycle(until_us)]


def test_an_old_bootloader_never_comes_out_of_a_watchdog_reset_until_the_power_is_cut(tmp_path):
    events, wiring = hang("old", tmp_path)
    looping = between(events, wiring, SET_FREE_US, POWER_US)
    resets = [event.cycle / 16 for event in looping if event.kind == "reset"]
    # Every 16 ms, whatever the reset pin does: opening the port is no way out.
    assert len(resets) > 100
    assert all(later - earlier <= 16_100 for earlier, later in itertools.pairwise(resets))
    assert said(looping) == ""
    # Safe all the while: nothing drives an output, its resistor holds it off.
    outputs = {wiring.port(role) for role in OUTPUT_PINS}
    last = {event.pin: event.level for event in events if event.kind == "pin" and event.cycle < wiring.cycle(POWER_US)}
    assert {last[pin] for pin in outputs} == {"z"}
    assert "shop_two_step" in said(between(events, wiring, POWER_US, END_US))


@in_long_runs
def test_the_new_bootloader_starts_the_sketch_again_after_a_watchdog_reset(tmp_path):
    events, wiring = hang("new", tmp_path)
    assert not [one for one in between(events, wiring, SET_FREE_US + 100_000, PIN_RESET_US) if one.kind == "reset"]
    before = between(events, wiring, 0, PIN_RESET_US)
    last = {event.pin: event.level for event in before if event.kind == "pin"}
    assert {last[wiring.port(role)] for role in OUTPUT_PINS} == {"0"}
    assert "shop_two_step" in said(between(events, wiring, POWER_US, END_US))


@in_long_runs
def test_a_recorder_goes_through_the_bootloader_and_answers_as_one(tmp_path):
    sketch = RecorderSketch(load_board("nano"), "shop")
    at_rest = recorder_chip(sketch.board).rest(jumper=False)
    with kept_board(LOADERS["new"](), tmp_path, at_rest).plugged_in() as port:
        plan = plan_recorder_flash(sketch, port, bootloader="new", ports=tuple, patience_s=60)
        result = run_recorder_flash(plan, lambda line: line)
    assert (result.identity.design, result.identity.digest) == ("recorder", sketch.digest)
    assert result.told == {"presses": 0, "press_jumper": False}
