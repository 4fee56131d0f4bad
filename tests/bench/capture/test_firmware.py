"""The real firmware, run in a simulator with its pins captured, is what the design says."""

from __future__ import annotations

import pytest

from bench.avr.simulator import Cue, Simulator, Wiring, build_runner
from bench.capture.capture import Capture, Channel
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from tests.conftest import CACHE, VERSION
from timing.project import Project
from wirecue.projects import load_board

BEGIN_US, PRESS_US, RELEASE_US, END_US = 700_000, 800_000, 1_900_000, 4_600_000


@pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")
def test_a_capture_of_the_firmwares_pins_passes_and_a_late_one_does_not(shop_desk, alter):
    board = load_board("uno")
    wiring = Wiring(shop_desk.design, board)
    counts = {
        name: scale.counts_for(shop_desk.target.rig.times_us[name]) for name, scale in shop_desk.target.scales.items()
    }
    cues = wiring.quiet(counts | {"supply": shop_desk.target.supply.good})
    cues += [wiring.contact("trigger", True, PRESS_US), wiring.contact("trigger", False, RELEASE_US)]
    program = compile_sketch(sketch_files(Project(shop_desk.design, board), VERSION), board, CACHE)
    events = Simulator(build_runner(CACHE), program, board).run([*cues, Cue(wiring.cycle(END_US), "end")])

    def channel(role, begins, changes):
        return Channel(role, begins, tuple((at_ns - BEGIN_US * 1_000, level) for at_ns, level in changes))

    # The trigger closes its pin to board common; the outputs of this design switch on when high.
    channels = {"trigger": channel("trigger", 1, [(PRESS_US * 1_000, 0), (RELEASE_US * 1_000, 1)])}
    for role in ("gas_valve", "wire_drive", "contactor"):
        moves = [(event.cycle * 1_000 // 16, int(event.level)) for event in events if event.pin == wiring.port(role)]
        channels[role] = channel(role, 0, [(at_ns, level) for at_ns, level in moves if at_ns > BEGIN_US * 1_000])
    capture = Capture("pins", channels, (END_US - BEGIN_US) * 1_000, 62.5, "the simulator's cycle")
    check = shop_desk.check(capture)
    assert check.passed, check.troubles
    assert len(check.edges) == 6
    late = alter(capture, "gas_valve", lambda changes: [(changes[0][0] + 1_000_000, 1), changes[1]])
    assert "1.0" in shop_desk.check(late).troubles[0]
