"""The RP2040 board: its sketch compiled for its core, and run on it in a simulator.

The board's core itself is not at hand: functions of the chip's software kit that the sketch calls are stood in for by
tests/support/rp2040, which declares them as that kit does.
"""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from codegen.sketch import sketch_files
from codegen.toolchain import compiled_here, find_tools
from tests.conftest import ROOT, VERSION
from tests.support.rp2040 import program as chip
from timing.design.loading import parse_design
from timing.design.pinning import pin_names
from timing.project import Project
from timing.protocol.target_of_design import target_of
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Fault, Output, Phase
from timing.sequence.simulate import simulate
from wirecue.cli import main
from wirecue.projects import load_board

OUTPUTS = {"gas_valve": Output.GAS, "wire_drive": Output.WIRE, "contactor": Output.CONTACTOR}
BOOT_US = 700_000
# The simulated core runs a tenth as fast as a real one: three of its passes.
TOLERANCE_US = 1_000
WATCHDOG_US = 60_000
# A window and a half, in which the clock is judged.
WATCHED_US = 40_000

compiler = pytest.mark.debian("arm-gcc")
simulated = pytest.mark.debian("arm-gcc", "node", "npm")

ON_PICO = (
    ('type = "nano"', 'type = "pico"'),
    ('pause = { from = "200 ms", to = "1.5 s", setting = "800 ms", off_switch = true }', 'pause = "800 ms"'),
    ('rating = "75 VA"', 'rating = "75 VA"\nregulator = "switching"'),
    ('divider_top = "56 kohm", divider_bottom = "4.7 kohm"', 'divider_top = "68 kohm", divider_bottom = "3.9 kohm"'),
)


def text_of(*changes, example="spot_stitch"):
    text = (ROOT / "examples" / f"{example}.toml").read_text()
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


@pytest.fixture
def board():
    return load_board("pico")


@pytest.fixture
def design():
    return parse_design(text_of(*ON_PICO))


@pytest.fixture
def files(design, board):
    return sketch_files(Project(design, board), VERSION)


class Rig:
    """One design's program on the simulated chip."""

    def __init__(self, design, board):
        self.design, self.target = design, target_of(Project(design, board))
        self.pins = {role: board.pin(name) for role, name in pin_names(design, board).items() if name is not None}
        self.program = chip.compile_program(sketch_files(Project(design, board), VERSION), ["LINK_UART"])

    def number(self, role):
        return self.pins[role].port.removeprefix("GPIO")

    def contact(self, role, closed, at_us):
        return at_us, f"pin {self.number(role)} {int(not closed)}"

    def reading(self, role, counts, at_us=0):
        return at_us, f"adc {self.pins[role].analog_channel} {counts}"

    def serial(self, text, at_us):
        return at_us, f"uart {text.encode().hex()}"

    def rest(self, *, bench_link=False):
        """A panel at rest: switches on, dials at their settings, the supply good."""
        on = [role for role in self.pins if role.endswith("_switch") or role == "interlock"]
        cues = [self.contact(role, True, 0) for role in on]
        cues.append(self.contact("bench_link", bench_link, 0))
        times_us = self.target.rig.times_us
        cues += [
            self.reading(f"{name}_dial", scale.counts_for(times_us[name])) for name, scale in self.target.scales.items()
        ]
        return [*cues, self.reading("supply_sense", self.target.supply.good)]

    def edges(self, events, offset_us=0):
        """Edges of the outputs from `offset_us` on."""
        roles = {self.number(role): role for role in OUTPUTS}
        found = []
        for event in events:
            if event.kind == "pin" and event.words[0] in roles and event.at_us >= offset_us:
                role = roles[event.words[0]]
                high = getattr(self.design.board.on_level, role) == "high"
                found.append((event.at_us - offset_us, OUTPUTS[role], (event.words[1] == "1") == high))
        return found


def said(events):
    return bytes(int(event.words[0], 16) for event in events if event.kind == "uart").decode("latin-1")


@compiler
@pytest.mark.parametrize("defines", [[], ["LINK_UART"]], ids=["USB", "hardware port"])
def test_it_compiles_with_all_warnings_as_errors(files, defines):
    program = chip.compile_program(files, defines)
    # The stand-ins are small: this is about the sketch alone.
    assert 4_000 < program.stat().st_size < 12_000


@compiler
def test_each_header_compiles_alone_and_twice(files, tmp_path):
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    for name in files:
        if name.endswith(".h"):
            alone = tmp_path / f"alone_{name[:-2]}.c"
            alone.write_text(f'#include "{name}"\n#include "{name}"\nextern int alone;\n')
            chip.compile_one(alone, tmp_path)


@pytest.mark.debian("cppcheck")
def test_the_static_analyser_has_nothing_to_say(files, tmp_path):
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    command = ["cppcheck", "--enable=warning,style,performance,portability", "--error-exitcode=1", "--quiet"]
    # Headers of the chip's software kit are not shown to it.
    command += ["--std=c99", "--platform=unix32", "--suppress=missingIncludeSystem", "--max-configs=4"]
    chip.run(*command, *(str(tmp_path / name) for name in files if name.endswith((".c", ".cpp"))))


@compiler
@pytest.mark.parametrize(
    ("example", "changes"),
    [
        (
            "shop_two_step",
            [
                ('type = "uno"', 'type = "pico"\npins = { preflow_dial = "GP26" }'),
                ('postflow = { from = "200 ms", to = "4 s", setting = "2 s" }', 'postflow = "2 s"'),
            ],
        ),
        ("gasless_four_step", [('type = "leonardo"', 'type = "pico"')]),
    ],
)
def test_other_designs_compile_too(example, changes, board):
    files = sketch_files(Project(parse_design(text_of(*changes, example=example)), board), VERSION)
    assert chip.compile_program(files).is_file()


@simulated
def test_a_spot_on_its_simulated_chip_is_the_models(design, board):
    rig = Rig(design, board)
    script = Script(
        (
            Change(20_000, "trigger", 1),
            Change(340_000, "arc", 1),
            Change(1_000_000, "arc", 0),
            Change(1_200_000, "trigger", 0),
        ),
        2_600_000,
    )
    moves = [rig.contact(change.what, bool(change.value), BOOT_US + change.at_us) for change in script.changes]
    seen = rig.edges(chip.simulate(rig.program, [*rig.rest(), *moves, (BOOT_US + script.end_us, "end")]), BOOT_US)
    wanted = simulate(design, script).edges
    assert [(output, on) for _, output, on in seen] == [(edge.output, edge.on) for edge in wanted]
    assert len(wanted) == 6
    for (at_us, _, _), edge in zip(seen, wanted, strict=True):
        assert abs(at_us - edge.at_us) <= TOLERANCE_US


@simulated
def test_outputs_are_driven_to_off_first_whichever_level_that_is(board):
    low = ('type = "pico"', 'type = "pico"\non_level = { contactor = "low" }')
    rig = Rig(parse_design(text_of(*ON_PICO, low)), board)
    events = chip.simulate(rig.program, [*rig.rest(), (BOOT_US, "end")])
    levels = {
        role: [e.words[1] for e in events if e.kind == "pin" and e.words[0] == rig.number(role)] for role in OUTPUTS
    }
    assert levels == {"gas_valve": ["0"], "wire_drive": ["0"], "contactor": ["1"]}


@simulated
def test_it_answers_on_its_port_and_reads_twelve_bits(design, board):
    rig = Rig(design, board)
    ask = rig.serial("*IDN?\nSEQ:STAT?\nINP:ANAL? 5\n", BOOT_US)
    events = chip.simulate(
        rig.program, [*rig.rest(), rig.reading("supply_sense", 3_210, 600_000), ask, (800_000, "end")]
    )
    assert said(events) == f"wirecue,spot_stitch,{design.digest()},0.1.0\n{Phase.IDLE},0\n3210\n"


@simulated
@pytest.mark.parametrize("counts", [0, 4_095], ids=["broken", "shorted"])
def test_a_dial_wire_that_is_broken_or_shorted_is_told_and_lets_nothing_start(design, board, counts):
    rig = Rig(design, board)
    cues = [rig.reading("burnback_dial", counts, BOOT_US), rig.contact("trigger", True, BOOT_US + 50_000)]
    cues += [rig.serial("SEQ:STAT?\n", BOOT_US + 350_000), (BOOT_US + 380_000, "end")]
    events = chip.simulate(rig.program, [*rig.rest(), *cues])
    assert not any(on for _, _, on in rig.edges(events))
    assert said(events) == f"{Phase.HOLD_OFF},{Fault.DIAL}\n"


@simulated
def test_a_held_loop_is_ended_by_the_watchdog_and_nothing_starts_by_itself(design, board):
    rig = Rig(design, board)
    hang_us = BOOT_US + 300_000
    cues = [rig.contact("trigger", True, BOOT_US), rig.serial("BENC:HANG\n", hang_us)]
    cues += [rig.serial("SEQ:STAT?\n", hang_us + 700_000), (hang_us + 800_000, "end")]
    events = chip.simulate(rig.program, [*rig.rest(bench_link=True), *cues])
    (reset,) = [event for event in events if event.kind == "reset"]
    assert hang_us < reset.at_us < hang_us + WATCHDOG_US + 10_000
    assert any(on for at_us, _, on in rig.edges(events) if at_us < reset.at_us), "it was welding"
    assert not any(on for _, _, on in rig.edges(events, reset.at_us)), "the trigger is still held"
    assert said(events) == f"{Phase.HOLD_OFF},0\n"


@simulated
@pytest.mark.parametrize(
    ("fault", "mended"),
    [("timer 0", "timer 1"), ("timer 0.5", "timer 1"), ("timer 2", "timer 1"), ("converter 0", "converter 1")],
)
def test_a_clock_or_converter_that_stops_or_goes_wrong_ends_with_everything_off(fault, mended, design, board):
    rig = Rig(design, board)
    at_us = BOOT_US + 300_000
    cues = [rig.contact("trigger", True, BOOT_US), (at_us, fault), (at_us + 100_000, mended)]
    events = chip.simulate(rig.program, [*rig.rest(), *cues, (at_us + 800_000, "end")])
    first = next(event for event in events if event.kind == "reset")
    assert at_us < first.at_us < at_us + WATCHED_US
    assert rig.edges(events)[-1][2] is False
    assert any(on for at_us, _, on in rig.edges(events) if at_us < first.at_us), "it was welding"
    assert not any(on for _, _, on in rig.edges(events, first.at_us)), "the trigger is still held"


def test_its_memory_is_estimated(files, design, board, tmp_path):
    assert compiled_here(files, board, tmp_path, find_tools()) is None
    assert not Project(design, board).footprint.measured


def test_command_line_builds_for_it_tests_its_model_and_says_what_has_no_simulator(tmp_path):
    path = tmp_path / "spot_stitch.toml"
    path.write_text(text_of(*ON_PICO))
    built = CliRunner().invoke(main, ["build", str(path), "--output", str(tmp_path / "out")])
    assert built.exit_code == 0, built.output
    sketch = tmp_path / "out" / "spot_stitch"
    assert "#include <hardware/adc.h>" in (sketch / "board.cpp").read_text()
    assert "#define TRIGGER_PIN PIN_OF(2) /* GP2: trigger */" in (sketch / "settings.h").read_text()
    assert CliRunner().invoke(main, ["bench", str(path), "--virtual", "--case", "weld"]).exit_code == 0
    refused = CliRunner().invoke(main, ["bench", str(path), "--virtual=avr"])
    assert refused.exit_code == 2
    assert "Pico-style board, RP2040, 3.3 V has no simulator here; the virtual board tests the model" in refused.output


def test_a_design_with_more_dials_than_it_has_channels_is_told_which_has_no_pin(tmp_path):
    path = tmp_path / "shop_two_step.toml"
    path.write_text(text_of(('type = "uno"', 'type = "pico"'), example="shop_two_step"))
    result = CliRunner().invoke(main, ["check", str(path)])
    assert result.exit_code == 1
    assert "the postflow dial has no pin" in result.output
