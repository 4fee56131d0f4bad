"""The longest pass on every board that the simulator knows, with the widest panel that the board has pins for."""

from __future__ import annotations

import itertools

import pytest

from bench.avr.simulator import said
from tests.bench.avr.conftest import ROOT, rig_of_design
from tests.bench.avr.test_firmware import BOOT_US, LONGEST_PASS_US, traffic
from timing.design.loading import parse_design
from timing.design.pinning import pin_names
from timing.sequence.core.table import Output
from wirecue.projects import board_names, load_board

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

RUN_US = 1_200_000
WELD_US = 300_000
CONTACTS_US = {"trigger": (10_000, 140_000), "arc": (100_000, 180_000), "purge": (190_000, 250_000)}
"""When each closes and opens, in the time of one weld."""
BOUNCES_US = (0, 900, 1_700, 3_100, 4_000)
AVR_BOARDS = [name for name in board_names() if load_board(name).family == "avr"]
EVERYTHING = (
    ('mode = "two-step"', 'mode = "switch"'),
    ("purge = true", "purge = true\ninch = true\n[interlock]\nfitted = true"),
    ('preflow = "250 ms"', 'preflow = { from = "0 ms", to = "1 s", setting = "50 ms", off_switch = true }'),
    ('setting = "90 ms" }', 'setting = "90 ms", off_switch = true }'),
    ('postflow = "1.1 s"', 'postflow = { from = "0 ms", to = "5 s", setting = "100 ms", off_switch = true }'),
)
# What a board lacks pins for is left out, in this order: switches first, then dials.
LEFT_OUT = (
    ('to = "5 s", setting = "100 ms", off_switch = true }', 'to = "5 s", setting = "100 ms" }'),
    ('setting = "90 ms", off_switch = true }', 'setting = "90 ms" }'),
    ('to = "1 s", setting = "50 ms", off_switch = true }', 'to = "1 s", setting = "50 ms" }'),
    ("inch = true\n", ""),
    ('mode = "switch"', 'mode = "two-step"'),
    ('postflow = { from = "0 ms", to = "5 s", setting = "100 ms" }', 'postflow = "100 ms"'),
    ('preflow = { from = "0 ms", to = "1 s", setting = "50 ms" }', 'preflow = "50 ms"'),
)


def widest(board):
    """Return the widest design that `board` has pins for, and how much was left out."""
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    for old, new in ((f'type = "{parse_design(text).board.type}"', f'type = "{board.type}"'), *EVERYTHING):
        assert old in text, old
        text = text.replace(old, new)
    for old, new in ((None, None), *LEFT_OUT):
        text = text.replace(old, new) if old is not None else text
        design = parse_design(text)
        if None not in pin_names(design, board).values():
            return design
    raise AssertionError(f"{board.title}: nothing fits")


def load(rig, talks):
    """Short welds one after the other, so that every kind of pass comes often; contacts bounce, the link talks."""
    wiring, fitted = rig.wiring, rig.target.fitted
    cues = [*rig.boot(bench_link=True), rig.passes(BOOT_US)]
    for weld in range(RUN_US // WELD_US):
        for role, (closes_us, opens_us) in CONTACTS_US.items():
            for edge_us, first in ((closes_us, True), (opens_us, False)):
                for bounce_us, closed in zip(BOUNCES_US, itertools.cycle((first, not first)), strict=False):
                    at_us = BOOT_US + weld * WELD_US + edge_us + bounce_us
                    cues += [wiring.contact(role, closed, at_us)] if role in fitted else []
    switches = [role for role in fitted if role.endswith("_switch")]
    off_us = BOOT_US + RUN_US - 90_000
    cues += [wiring.contact(role, closed, off_us + 1_000 * closed) for role in switches for closed in (False, True)]
    cues += traffic(rig, BOOT_US, BOOT_US + RUN_US) if talks else []
    return [*sorted(cues, key=lambda cue: cue.cycle), rig.end(BOOT_US + RUN_US)]


@pytest.mark.parametrize("name", AVR_BOARDS)
@pytest.mark.parametrize("talks", [True, False], ids=["talking", "silent"])
def test_no_pass_of_the_widest_panel_takes_longer_than_it_may(name, talks):
    board = load_board(name)
    rig = rig_of_design(widest(board), board)
    events = rig.simulator.run(load(rig, talks))
    count, longest, total = next(event.passes for event in events if event.kind == "passes")
    per_us, roles = rig.wiring.cycles_per_us, len(rig.target.fitted)
    print(f"{name}, {roles} roles: longest pass {longest / per_us:.1f} us, mean {total / count / per_us:.1f} us")
    outputs = {edge.output for edge in rig.wiring.edges(events, 0) if edge.on}
    assert outputs == set(Output), "it must weld, not only wait"
    assert not talks or said(events).count("wirecue") > RUN_US // 60_000, "it must have time to talk"
    assert longest <= LONGEST_PASS_US * per_us
