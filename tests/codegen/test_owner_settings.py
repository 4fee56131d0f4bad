"""Numbers that an owner changed in settings.h: what follows from them follows, what is not allowed stops the compiler,
and the board says that they were changed."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.avr.simulator import UART_DEFINES, Cue, Simulator, Wiring, build_runner, said
from bench.message import read_identity
from codegen.owner_settings import OwnerSetting, checksum, owner_settings
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from tests.conftest import EXAMPLES, VERSION, gate_share
from tests.support.host_core import compile_core
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board


def edited(settings_h: str, **changes: str) -> str:
    """Return settings.h with other texts behind some names, each of which must be there."""
    for name, value in changes.items():
        settings_h, count = re.subn(rf"(?m)^(#define {name}) \S.*?( /\*.*)?$", rf"\1 {value}\2", settings_h)
        assert count == 1, name
    return settings_h


def cases():
    for path in EXAMPLES:
        design = load_design(path)
        board = load_board(design.board.type)
        files = sketch_files(Project(design, board), VERSION)
        for setting in owner_settings(files["settings.h"], design, board):
            yield pytest.param(design, board, files, setting, id=f"{path.stem}-{setting.name}")


CASES = list(cases())


def each_number(first: int) -> pytest.MarkDecorator:
    """Give a test all numbers, or its third of them: what is changed in one is compiled alone."""
    return pytest.mark.parametrize(("design", "board", "files", "setting"), gate_share(CASES, 3, first))


def other_than(setting: OwnerSetting, settings_h: str) -> str:
    """Return another value that is allowed for a number, or a pin that no role has."""
    if setting.highest is None:
        pin = re.search(rf"#define {setting.name} PIN_OF\((.*?)\)", settings_h)
        assert pin is not None
        return "PIN_OF(F, 7)" if "," in pin[1] else "PIN_OF(40)"
    return str(setting.number + 1 if setting.number < setting.highest else setting.number - 1)


def preprocessed(compiler: str, header: str, files: dict[str, str], folder: Path) -> subprocess.CompletedProcess[str]:
    for name in ("settings.h", "derived.h", "identity.h"):
        (folder / name).write_text(files[name])
    source = f'#include "{header}"\nDIGEST_ANSWERED\n'
    command = [compiler, "-E", "-P", "-xc", "-std=c99", f"-I{folder}", "-"]
    return subprocess.run(command, input=source, capture_output=True, text=True, check=False)


def digest_answered(compiler: str, files: dict[str, str], folder: Path) -> str:
    done = preprocessed(compiler, "identity.h", files, folder)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()[-1].replace('" "', "").strip('"')


COMPILERS = [
    pytest.param("gcc", marks=pytest.mark.debian("gcc")),
    pytest.param("avr-gcc", marks=pytest.mark.debian("avr-gcc")),
]


@pytest.mark.debian("gcc")
@each_number(first=0)
def test_each_number_changed_alone_is_noticed(design, board, files, setting, tmp_path):
    changed = files | {
        "settings.h": edited(files["settings.h"], **{setting.name: other_than(setting, files["settings.h"])})
    }
    assert digest_answered("gcc", changed, tmp_path) == f"{design.digest()}-edited"
    assert checksum(owner_settings(changed["settings.h"], design, board)) != checksum(
        owner_settings(files["settings.h"], design, board)
    )


@pytest.mark.parametrize("compiler", COMPILERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_what_was_not_changed_or_only_written_otherwise_answers_the_plain_digest(compiler, path, tmp_path):
    design = load_design(path)
    board = load_board(design.board.type)
    files = sketch_files(Project(design, board), VERSION)
    assert digest_answered(compiler, files, tmp_path) == design.digest()
    postflow = next(s for s in owner_settings(files["settings.h"], design, board) if s.name.startswith("POSTFLOW"))
    for text in (str(postflow.number), f"{postflow.number}ul", hex(postflow.number), f"({postflow.number} + 1 - 1)"):
        same = files | {"settings.h": edited(files["settings.h"], **{postflow.name: text})}
        assert digest_answered(compiler, same, tmp_path) == design.digest(), text
    other = files | {"settings.h": edited(files["settings.h"], **{postflow.name: str(postflow.number + 1)})}
    assert digest_answered(compiler, other, tmp_path) == f"{design.digest()}-edited"


@given(st.lists(st.integers(0, 0xFFFFFFFF), min_size=1, max_size=60), st.data())
def test_no_number_changed_alone_leaves_the_checksum(numbers, data):
    place = data.draw(st.integers(0, len(numbers) - 1))
    other = data.draw(st.integers(0, 0xFFFFFFFF).filter(lambda number: number != numbers[place]))

    def of(values):
        return checksum(OwnerSetting(f"N{n}", value) for n, value in enumerate(values))

    assert of(numbers) != of([*numbers[:place], other, *numbers[place + 1 :]])


@pytest.mark.debian("gcc")
@each_number(first=1)
def test_a_number_that_is_not_allowed_stops_the_compiler_and_says_what_is(design, board, files, setting, tmp_path):
    assert setting in owner_settings(files["settings.h"], design, board)
    if setting.highest is None:
        bad, header = ("PIN_OF(D, 8)" if board.family == "avr" else "PIN_OF(64)"), "identity.h"
        says = f"settings.h: {setting.name} may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
    else:
        bad, header = str(setting.highest + 1), "derived.h"
        says = f"settings.h: {setting.name} may be {setting.allowed}"
    done = preprocessed(
        "gcc", header, files | {"settings.h": edited(files["settings.h"], **{setting.name: bad})}, tmp_path
    )
    assert done.returncode != 0
    assert f'#error "{says}"' in done.stderr
    negative = files | {"settings.h": edited(files["settings.h"], **{setting.name: "-1"})}
    assert setting.highest is None or preprocessed("gcc", header, negative, tmp_path).returncode != 0


@pytest.mark.debian("gcc")
@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"BURNBACK_HIGH_US": "2000001"}, "BURNBACK_HIGH_US may be 0 ms to 2 s (0 to 2000000)"),
        ({"SPOT_HIGH_US": "150000"}, "SPOT_LOW_US must be less than SPOT_HIGH_US"),
        ({"SUPPLY_LOW_COUNTS": "400u"}, "SUPPLY_LOW_COUNTS must be less than SUPPLY_GOOD_COUNTS"),
        ({"DIAL_FAULT_BELOW": "60u"}, "DIAL_FAULT_BELOW must be less than DIAL_LOW_COUNTS"),
        ({"GAS_VALVE_PIN": "PIN_OF(D, 7)"}, "two roles on one pin"),
        ({"CONTACTOR_ON_HIGH": "2"}, "CONTACTOR_ON_HIGH may be 0 or 1"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_numbers_that_do_not_go_together_are_told(changes, says, tmp_path):
    design = load_design(EXAMPLES[-1])
    files = sketch_files(Project(design, load_board("nano")), VERSION)
    files["settings.h"] = edited(files["settings.h"], **changes)
    said_of = [preprocessed("gcc", header, files, tmp_path).stderr for header in ("derived.h", "identity.h")]
    assert f'#error "settings.h: {says}"' in "".join(said_of)


def test_a_spot_that_completes_may_last_ten_seconds_and_no_longer():
    design = load_design(EXAMPLES[-1])
    assert design.spot is not None
    design = design.model_copy(update={"spot": design.spot.model_copy(update={"on_release": "complete"})})
    files = sketch_files(Project(design, load_board("nano")), VERSION)
    assert "SPOT_HIGH_US may be 1 ms to 10 s (1000 to 10000000)" in files["derived.h"]


THREE_SECONDS = {"SPOT_HIGH_US": "UINT32_C(3000000)"}
COUNTS = (0, 55, 56, 200, 512, 800, 967, 968, 1023)


def wanted_us(counts: int) -> int:
    """Evenly from 200 ms to 3 s between counts 55 and 968."""
    place = min(max(counts - 55, 0), 968 - 55)
    return round(200_000 + 2_800_000 * place / (968 - 55))


@pytest.mark.debian("gcc")
def test_a_dial_with_another_end_climbs_evenly_up_to_it_on_the_laptop(cache):
    design = load_design(EXAMPLES[-1])
    board = load_board("nano")
    settings_h = edited(sketch_files(Project(design, board), VERSION)["settings.h"], **THREE_SECONDS)
    core = compile_core(design, board, VERSION, cache, {"settings.h": settings_h})
    counts = np.arange(20, 1004, dtype=np.uint16)
    times_us, faults = core.dial(0, counts)
    assert not faults.any()
    assert max(abs(int(got) - wanted_us(int(at))) for at, got in zip(counts, times_us, strict=True)) <= 60
    steps_us = np.diff(times_us.astype(np.int64))
    assert steps_us.min() >= 0
    assert steps_us.max() <= 2_800_000 / (968 - 55) + 60, "no jump at the end"
    answer = read_identity(core.board(bench_link=False).ask("*IDN?\n").strip())
    assert (answer.digest, answer.edited) == (design.digest(), True)


@pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")
def test_a_dial_with_another_end_climbs_evenly_up_to_it_on_the_board(cache):
    design = load_design(EXAMPLES[-1])
    board = load_board("nano")
    files = sketch_files(Project(design, board), VERSION)
    wiring, target = Wiring(design, board), target_of(Project(design, board))
    rest = {name: scale.counts_for(target.rig.times_us[name]) for name, scale in target.scales.items()}
    start_us = 50_000
    cues = wiring.quiet(rest | {"supply": target.supply.good}, bench_link=True)
    for counts in COUNTS:
        start_us += 20_000
        cues.append(wiring.serial(f"BENC:ANAL 1,{min(max(counts, 20), 1003)};:INP:TIME? 1\n".encode(), start_us))
    cues += [wiring.serial(b"*IDN?\n", start_us + 20_000), Cue(wiring.cycle(start_us + 50_000), "end")]
    for changes in ({}, THREE_SECONDS):
        sketch = files | {"settings.h": edited(files["settings.h"], **changes)}
        program = compile_sketch(sketch, board, cache, UART_DEFINES[board.native_usb])
        *times_us, identity = said(Simulator(build_runner(cache), program, board).run(cues)).splitlines()
        assert read_identity(identity).edited == bool(changes)
        if changes:
            assert len(times_us) == len(COUNTS)
            for counts, got in zip(COUNTS, times_us, strict=True):
                assert abs(int(got) - wanted_us(counts)) <= 60
        else:
            assert [int(got) for got in times_us] == [target.scales["spot"].time_us(counts) for counts in COUNTS]


def test_the_map_at_the_head_of_the_sketch_names_every_file_and_what_may_be_changed(design, board, version):
    files = sketch_files(Project(design, board), version)
    head = files[f"{design.name}.ino"].partition("#include")[0]
    for name in files:
        assert re.search(rf"[ ,]{re.escape(name)}(,|$)", head, re.MULTILINE), name
    before, _, after = head.partition("Everything else follows from the design. Not to be changed")
    assert "settings.h" in before
    assert "settings.h\n" not in after


def test_settings_hold_numbers_and_pins_only(design, board):
    with pytest.raises(ValueError, match="HALF_US is neither a whole number nor a pin"):
        owner_settings("#define HALF_US (FULL_US / 2)\n", design, board)
