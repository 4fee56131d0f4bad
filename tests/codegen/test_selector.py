"""The selector for spot and stitch: what the compiled sketch does at each position is what its plate says."""

from __future__ import annotations

from itertools import groupby

import pytest

from codegen.sketch import sketch_files
from tests.conftest import ROOT, VERSION
from tests.support.host_core import PASS, compile_core
from timing.circuit.panel_contacts import SELECTOR_TURNED
from timing.circuit.parts import PartKind, Terminal
from timing.commission.steps import commission_plan
from timing.design.front_panel import WeldMode, controls_of
from timing.design.loading import parse_design
from timing.design.times import SELECTED
from timing.project import Project
from timing.protocol.target import OUTPUT_BIT, RAW_BIT
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("gcc")

TOGGLES = (ROOT / "examples" / "spot_stitch.toml").read_text()
for old, new in {
    "[arc_sensor]\n": "", 'filter = "4 ms"\n': "", 'arc_start = "2 s"\n': "", "sense = { divider": "# sense = {",
    'mode = "two-step"': 'mode = "switch"',
    '{ from = "200 ms", to = "2 s", setting = "450 ms", taper = "audio", off': '{ setting = "300 ms", off',
    '{ from = "200 ms", to = "1.5 s", setting = "800 ms", off': '{ setting = "200 ms", off',
    '{ from = "10 ms", to = "200 ms", setting = "90 ms" }': '"50 ms"',
}.items():  # fmt: skip
    assert old in TOGGLES
    TOGGLES = TOGGLES.replace(old, new)
SELECTOR = f'{TOGGLES}\n[panel]\nselector = "three-position"\n'
BOARD = load_board("nano")
PRESSED_US, LET_GO_US, END_US, PASS_US = 1_000_000, 3_000_000, 4_500_000, 1_000
MOVED_US = PRESSED_US + 400_000
SPOT_MS, BURNBACK_MS = 300, 50


@pytest.fixture(scope="module")
def core(cache):
    return compile_core(parse_design(SELECTOR), BOARD, VERSION, cache)


def welds_ms(core, closed, later=None) -> list[int]:
    """How long the contactor is in, each time, in one pull of the trigger of 2 s.

    closed: roles of the contacts that are closed; later: those from the middle of the first weld on, if others.
    """
    board = core.board(bench_link=False)
    before, after = bits(closed), bits(closed if later is None else later)
    trigger, held = RAW_BIT["trigger"], range(PRESSED_US, LET_GO_US)
    deeds = [
        (PASS, (before if at_us < MOVED_US else after) | trigger * (at_us in held), at_us)
        for at_us in range(0, END_US, PASS_US)
    ]
    outputs, _ = board.play(deeds, [])
    board.close()
    runs = groupby(outputs, key=lambda levels: bool(levels & OUTPUT_BIT["contactor"]))
    return [PASS_US * len(list(run)) // 1000 for on, run in runs if on]


def bits(roles) -> int:
    return sum(RAW_BIT[role] for role in roles)


def about(*wanted_ms):
    return [pytest.approx(each_ms, abs=20) for each_ms in wanted_ms]


CONTINUOUS = about(1_750 + BURNBACK_MS)
SAYS = {
    WeldMode.CONTINUOUS: CONTINUOUS,
    WeldMode.SPOT: about(SPOT_MS + BURNBACK_MS),
    WeldMode.STITCH: about(*[SPOT_MS + BURNBACK_MS] * 3, 100 + BURNBACK_MS),
}
"""What the word on the plate means: until let go; once for the spot time; spot after spot, the last cut short."""


def joined_by_the_switch(position: str, stitch_end: str = "b") -> set[str]:
    """The roles that a two-pole on-off-on switch joins to common, linked as its wiring sheet has it.

    With the lever at one end each pole joins its middle to one end; in the middle it joins nothing. stitch_end: the end
    of the other pole that the STITCH wire is on.
    """
    end = {"spot": "a", "continuous": None, "stitch": "b"}[position]
    on_terminal = {("one", "a"): "SPOT", ("one", "b"): "SPOT", ("other", stitch_end): "STITCH"}
    ways = {on_terminal.get((pole, end)) for pole in ("one", "other")} - {None}
    netlist = Project(parse_design(SELECTOR), BOARD).netlist
    selector = netlist.first_of_kind(PartKind.SELECTOR)
    assert netlist.net_of(Terminal(selector.ref, "COM")).name == "COMMON"
    return {netlist.net_of(Terminal(selector.ref, way)).name.removeprefix("PIN-") for way in ways}


@pytest.mark.parametrize("weld", WeldMode)
def test_each_position_gives_the_weld_that_its_plate_names(core, weld):
    (selector,) = [one for one in controls_of(parse_design(SELECTOR)) if one.key == "selector"]
    (position,) = [one for one in selector.positions if one.label == weld.value]
    assert position.closes == joined_by_the_switch(weld)
    assert welds_ms(core, position.closes) == SAYS[weld]


@pytest.mark.parametrize("text", [SELECTOR, TOGGLES])
def test_a_stitch_wire_on_the_wrong_end_shows_at_the_spot_and_the_dry_run_names_it(core, text):
    assert welds_ms(core, joined_by_the_switch("spot", stitch_end="a")) == SAYS[WeldMode.STITCH]
    steps = commission_plan(Project(parse_design(text), BOARD)).steps
    (spot,) = [step for step in steps if step.key == "dry.spot"]
    assert (SELECTOR_TURNED in spot.if_not) == (text == SELECTOR)


def test_a_stitch_without_a_spot_is_a_weld_that_the_trigger_ends(core):
    """The selector cannot stand so; its broken wire, or a lever on the way, can make it so."""
    alone = {role for role in SELECTED if role != "spot_switch"}
    assert welds_ms(core, alone) == CONTINUOUS


def test_either_wire_or_both_broken_leaves_a_weld_that_the_trigger_ends_or_that_ends_itself(core):
    for weld in WeldMode:
        for broken in ({"spot_switch"}, {"pause_switch"}, set(SELECTED)):
            left = set(weld.closes) - broken
            assert welds_ms(core, left) in (CONTINUOUS, SAYS[WeldMode.SPOT])


@pytest.mark.parametrize("start", WeldMode)
@pytest.mark.parametrize("end", WeldMode)
def test_a_lever_moved_while_the_trigger_is_held_changes_nothing_until_the_next_pull(core, start, end):
    assert welds_ms(core, start.closes, end.closes) == SAYS[start]


def test_the_sketch_is_the_same_with_toggles_and_with_the_selector():
    toggles, selector = (parse_design(text) for text in (TOGGLES, SELECTOR))
    files, others = (sketch_files(Project(one, BOARD), VERSION) for one in (toggles, selector))
    stamped = {name: text.replace(toggles.digest(), selector.digest()) for name, text in files.items()}
    assert {name for name in others if stamped[name] != others[name]} <= {"settings.h", "identity.h"}
