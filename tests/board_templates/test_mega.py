"""The ATmega2560 board: room for a panel with everything on it, and the firmware runs on it."""

from __future__ import annotations

import pytest

from bench.avr.simulator import Cue, Simulator, Wiring, build_runner
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch, measure
from tests.conftest import CACHE, ROOT, VERSION
from timing.design.board import DIAL_ROLES, SWITCH_ROLES
from timing.design.loading import parse_design
from timing.design.pinning import pin_names
from timing.project import Project
from timing.protocol.target_of_design import target_of
from timing.sequence.core.script import Change, Script
from timing.sequence.simulate import simulate
from wirecue.projects import load_board

BOOT_US = 700_000
TOLERANCE_US = 250

FULL = (
    ('type = "nano"', 'type = "mega"'),
    ('mode = "two-step"', 'mode = "switch"'),
    ("purge = true", "purge = true\ninch = true\n[interlock]\nfitted = true"),
    ('preflow = "250 ms"', 'preflow = { from = "0 ms", to = "1 s", setting = "250 ms", off_switch = true }'),
    ('setting = "90 ms" }', 'setting = "90 ms", off_switch = true }'),
    ('postflow = "1.1 s"', 'postflow = { from = "0 ms", to = "5 s", setting = "1.1 s", off_switch = true }'),
)


def text_of(example, *changes):
    text = (ROOT / "examples" / f"{example}.toml").read_text()
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


@pytest.fixture
def board():
    return load_board("mega")


@pytest.fixture
def full():
    """Every dial, every switch, every button: more than a smaller board has pins for."""
    return parse_design(text_of("spot_stitch", *FULL))


def test_every_role_has_a_usual_pin_of_its_own(full, board):
    names = pin_names(full, board)
    assert {role.key for role in (*DIAL_ROLES, *SWITCH_ROLES)} <= set(names)
    assert None not in names.values()
    assert len(set(names.values())) == len(names)


@pytest.mark.debian("avr-gcc", "arduino-core")
def test_a_panel_with_everything_compiles_and_is_as_large_as_estimated(full, board):
    took = measure(compile_sketch(sketch_files(Project(full, board), VERSION), board, CACHE))
    guess = Project(full, board).footprint
    assert took.flash_bytes == pytest.approx(guess.flash_bytes, rel=0.15)
    assert took.ram_bytes == pytest.approx(guess.ram_bytes, rel=0.15)


@pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")
@pytest.mark.parametrize("moved", [False, True], ids=["usual pins", "pins that smaller boards lack"])
def test_a_weld_on_its_simulated_microcontroller_is_the_models(moved, board):
    # Dials stay below A8: the simulator keeps no voltages for the converter's upper eight channels.
    pins = 'pins = { trigger = "D22", gas_valve = "D30", wire_drive = "D42", contactor = "A15", burnback_dial = "A6" }'
    change = 'type = "mega"\n' + (pins if moved else "")
    design = parse_design(text_of("shop_two_step", ('type = "uno"', change)))
    target, wiring = target_of(Project(design, board)), Wiring(design, board)
    program = compile_sketch(sketch_files(Project(design, board), VERSION), board, CACHE)
    scales, times_us = target.scales, target.rig.times_us
    counts = {name: scale.counts_for(times_us[name]) for name, scale in scales.items()}
    counts["supply"] = target.supply.good
    script = Script((Change(10_000, "trigger", 1), Change(710_000, "trigger", 0)), 3_500_000)
    cues = [*wiring.quiet(counts), *(wiring.change(change, {}, BOOT_US) for change in script.changes)]
    end = Cue(wiring.cycle(BOOT_US + script.end_us), "end")
    seen = wiring.edges(Simulator(build_runner(CACHE), program, board).run([*cues, end]), BOOT_US)
    wanted = simulate(design, script).edges
    assert [(edge.output, edge.on) for edge in seen] == [(edge.output, edge.on) for edge in wanted]
    assert len(wanted) == 6
    for one, other in zip(seen, wanted, strict=True):
        # The dials stand where a whole count lies, at most half a step from the setting.
        slack_us = max(scale.step_q4_us for scale in scales.values()) // 16
        assert abs(one.at_us - other.at_us) <= TOLERANCE_US + 3 * slack_us
