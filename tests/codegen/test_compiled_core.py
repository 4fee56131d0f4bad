"""The compiled sequence against the model on every combination that the proof walks, and compilers that misbehave."""

from __future__ import annotations

import os
import re
import shutil
import signal
import tempfile
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

import pytest

from codegen import compiled_core
from codegen.compiled_core import CoreComparison, CoreDiffersError, compare_core
from codegen.sketch import sketch_files
from codegen.toolchain import Programs, ToolchainError, run_bounded
from tests.conftest import ROOT
from tests.support.finer_passes import finer
from timing.design.loading import parse_design
from timing.project import Project
from timing.proof.exploration import Walk, walk
from timing.proof.state_space import state_space_of
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("gcc")

GASLESS = parse_design((ROOT / "examples" / "gasless_four_step.toml").read_text())


@cache
def walk_of(name: str) -> Walk:
    """The walk of an example."""
    return walk(state_space_of(parse_design((ROOT / "examples" / f"{name}.toml").read_text())))


@pytest.fixture(scope="module")
def walked():
    """Some of the walk of a small design: enough where the compiler is what is tried."""
    whole = walk_of(GASLESS.name)
    return Walk(whole.world, dict(list(whole.groups.items())[:5]))


@pytest.fixture
def sketch(version):
    return sketch_files(Project(GASLESS, load_board(GASLESS.board.type)), version)


@pytest.fixture(autouse=True)
def own_temporary_folder(tmp_path, monkeypatch):
    """A temporary folder in which nothing may stay."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    yield folder
    assert list(folder.iterdir()) == []


def test_the_compiled_sequence_agrees_on_every_combination(design, board, version):
    whole = walk_of(design.name)
    told = []
    found = compare_core(design, sketch_files(Project(design, board), version), whole, told.append)
    assert found == CoreComparison("gcc", whole.total)
    assert found.as_data() == {
        "result": "compared, no difference",
        "compiler": "gcc",
        "combinations": whole.total,
    }
    assert told[-1] == f"{whole.total:,} of {whole.total:,}"


def test_it_agrees_where_timers_stand_as_the_proof_need_not_tell_apart(design, board, version):
    whole = walk_of(design.name)
    found = compare_core(design, sketch_files(Project(design, board), version), finer(whole))
    assert found.combinations > whole.total / 2


def test_it_agrees_where_times_are_zero_or_as_short_as_a_stall(version):
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    for begins, line in (
        ("mode", 'mode = "switch"'),
        ("time", 'time = { from = "1 ms", to = "2 s", setting = "600 ms", off_switch = true }'),
        ("preflow", 'preflow = { from = "0 ms", to = "1 s", setting = "150 ms", off_switch = true }'),
        ("burnback", 'burnback = { from = "0 ms", to = "200 ms", setting = "60 ms" }'),
    ):
        text = text.replace(next(found for found in text.splitlines() if found.startswith(begins)), line, 1)
    design = parse_design(text)
    whole = walk(state_space_of(design))
    sketch = sketch_files(Project(design, load_board(design.board.type)), version)
    assert compare_core(design, sketch, whole).combinations == whole.total
    # Finer than the proof tells timers apart, the widest walk need not be gone to its end.
    some = Walk(whole.world, dict(list(whole.groups.items())[::21]))
    assert compare_core(design, sketch, finer(some)).compiler == "gcc"


def test_the_sequence_of_another_design_is_told_with_a_combination_that_shows_it(design, board, version):
    # Another purge, inch or weld limit shows, wherever the design has it.
    limits = design.limits.model_copy(update={"purge_us": 31_000_000, "inch_us": 11_000_000, "weld_us": 60_000_000})
    other = sketch_files(Project(design.model_copy(update={"limits": limits}), board), version)
    with pytest.raises(CoreDiffersError) as error:
        compare_core(design, other, walk_of(design.name))
    print(error.value)
    lines = str(error.value).splitlines()
    assert lines[0] == "the sequence as compiled with gcc does not do what the model does; nothing was written."
    assert [line.split()[0] for line in lines[2:]] == ["at", "before", "seen", "model", "compiled"]
    assert "trigger 0" in lines[4] or "trigger 1" in lines[4]


BROKEN = {
    # What a compiler or a template could get wrong, one at a time.
    "an output that stays on": (r"return OUTPUT_GAS \| OUTPUT_CONTACTOR;", "return OUTPUT_WIRE | OUTPUT_CONTACTOR;"),
    "a flag set wrongly": (r"state->limited = true;", "state->limited = false;"),
    "a fault that is not cleared": (r"state->fault = FAULT_NONE;\n( +)enter", r"enter"),
    "a limit that is late": (r">= limit_us", "> limit_us"),
    "power-up with the trigger seen open": (r"state->trigger_was = true;", "state->trigger_was = false;"),
    "an impossible phase that is let stand": (
        r"enter\(state, inputs, PHASE_HOLD_OFF, now_us\);\n    state->fault = FAULT_STATE;",
        "state->fault = FAULT_STATE;",
    ),
}


@pytest.mark.parametrize("wrong", BROKEN)
def test_whatever_is_wrong_in_the_sequence_is_found(wrong, sketch):
    sketch["sequence.c"], count = re.subn(*BROKEN[wrong], sketch["sequence.c"])
    assert count > 0
    with pytest.raises(CoreDiffersError, match="model "):
        compare_core(GASLESS, sketch, walk_of(GASLESS.name))


@pytest.mark.parametrize(
    ("right", "wrong"),
    [("<= STALL_US", "< STALL_US"), ("case PHASE_IDLE:", "case PHASE_IDLE: if (state->pressed_again) { return 0; }")],
    ids=["a stall that begins early", "a flag asked where it is dead"],
)
def test_what_only_finer_states_show_is_found_in_them(right, wrong, sketch):
    assert right in sketch["sequence.c"]
    # The last place where it stands: in the step itself, not where a phase is entered.
    sketch["sequence.c"] = wrong.join(sketch["sequence.c"].rsplit(right, 1))
    with pytest.raises(CoreDiffersError, match="model "):
        compare_core(GASLESS, sketch, finer(walk_of(GASLESS.name)))


def test_a_sequence_that_does_not_compile_is_an_error_with_the_compilers_words(sketch, walked):
    sketch["sequence.c"] += "int wrong(void) { return 1 }\n"
    with pytest.raises(
        ToolchainError,
        match=r"cc ended with 1\nsequence.c: In function .wrong.:\nsequence.c:\d+:27: error: expected .;. before",
    ):
        compare_core(GASLESS, sketch, walked)


@pytest.mark.parametrize(
    ("does", "said"),
    [("__builtin_trap();", r"crashed \(signal \d+\)"), ("for (;;) { }", "did not come to an end within 0.5 s")],
)
def test_a_sequence_that_crashes_or_hangs_is_an_error_in_a_sentence(does, said, sketch, walked, monkeypatch):
    monkeypatch.setattr(compiled_core, "_RUN_TIMEOUT_S", 0.5)
    sketch["sequence.c"] = sketch["sequence.c"].replace(
        "state->fault = FAULT_NONE;", f"state->fault = FAULT_NONE; {does}"
    )
    with pytest.raises(ToolchainError, match=said):
        compare_core(GASLESS, sketch, walked)


@pytest.mark.parametrize(
    ("compiler", "why"),
    [
        ("exit 1", "cc makes no program that runs here"),
        ("sleep 600 & wait", "cc makes no program that runs here"),
        ("exit 0", "cc makes no program that runs here"),
        (
            'for last; do :; done; printf "#!/bin/sh\\nexit 3\\n" > "$last"; chmod +x "$last"',
            "cc makes no program that runs here",
        ),
        ('for last; do :; done; echo no > "$last"', "cc makes no program that runs here"),
        (None, "no C compiler on this machine"),
    ],
)
def test_with_a_compiler_that_does_not_work_nothing_is_compared_and_it_is_said(
    compiler, why, sketch, walked, tmp_path, monkeypatch
):
    tools = tmp_path / "tools"
    tools.mkdir()
    for name in ("sh", "sleep", "chmod"):
        (tools / name).symlink_to(str(shutil.which(name)))
    if compiler is not None:
        (tools / "cc").write_text(f"#!/bin/sh\n{compiler}\n")
        (tools / "cc").chmod(0o755)
    monkeypatch.setenv("PATH", str(tools))
    monkeypatch.setattr(compiled_core, "_COMPILE_TIMEOUT_S", 0.3)
    monkeypatch.setattr(compiled_core, "_PROBE_TIMEOUT_S", 0.3)
    found = compare_core(GASLESS, sketch, walked)
    assert found == CoreComparison(None, 0, why)
    assert found.as_data() == {"result": "not compared here"}


def test_a_program_that_gives_too_little_is_not_taken_for_agreement(sketch, walked, monkeypatch):
    # The compiler works; what it made of the comparison does not write all that it should.
    template = compiled_core.render
    monkeypatch.setattr(
        compiled_core,
        "render",
        lambda *given: template(*given).replace("while (fread", "if (fread").replace("feof(rows) != 0 && ", ""),
    )
    with pytest.raises(ToolchainError, match="gave no result for some passes"):
        compare_core(GASLESS, sketch, walked)


def test_without_a_temporary_folder_nothing_is_compared_and_it_is_said(sketch, walked, tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    found = compare_core(GASLESS, sketch, walked)
    assert found.why_not == "the temporary folder cannot be used: no such file or directory"


def test_nothing_of_a_program_that_was_stopped_runs_on(tmp_path):
    noted = tmp_path / "noted"
    script = tmp_path / "script"
    script.write_text(f"#!/bin/sh\nsleep 600 &\necho $! > {noted}\nwait\n")
    script.chmod(0o755)
    with pytest.raises(ToolchainError, match="script did not come to an end within 1 s"):
        run_bounded([script], 1.0)
    assert gone(int(Path(noted).read_text()))


def test_programs_that_are_ended_from_outside_stop_at_once_and_no_more_start(tmp_path):
    started = tmp_path / "started"
    os.mkfifo(started)
    programs = Programs()
    with ThreadPoolExecutor() as beside:
        ran = beside.submit(programs.run, ["sh", "-c", f"echo $$ > {started}; sleep 600"], 600.0)
        process = int(started.read_text())
        programs.end()
        assert ran.result().code == -signal.SIGKILL
    assert gone(process)
    with pytest.raises(ToolchainError, match="true was not started: what it was for is over"):
        programs.run(["true"], 1.0)


def gone(process: int) -> bool:
    """True once no such process runs; one that was told to end has so many looks' time to be scheduled for it."""
    return any(_ended(process) for _ in range(100_000))


def _ended(process: int) -> bool:
    # One that has ended and waits for its parent counts as gone.
    try:
        os.kill(process, 0)
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] in "ZX"
    except (ProcessLookupError, FileNotFoundError):
        return True
