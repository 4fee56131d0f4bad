"""A fuzzer on the recorder's portable C, under sanitizers: fuzz_recorder.c says what must hold."""

from __future__ import annotations

from pathlib import Path

import pytest

from codegen.recorder_sketch import recorder_files
from codegen.toolchain import built_once, digest_of
from tests.codegen.fuzz.test_fuzz_link import NOT_COMPARED, SANITIZED, clang, fuzz, what_broke
from tests.conftest import ROOT, SOAK, VERSION
from timing.protocol.commands import RECORDER_COMMANDS
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("clang", "clang-runtime")

RUNS, SOAK_S, LONGEST_SCRIPT = 1_500, 600, 256
BRIDGE = ROOT / "tests" / "support" / "recorder_bridge.c"
HARNESS = Path(__file__).with_name("fuzz_recorder.c")
JUMPER, LOOKS_128, ONE_SECOND = b"\x01", b"\x87", b"\x93"


def program(cache, edited=()):
    files = {
        name: text for name, text in recorder_files(load_board("nano"), VERSION).items() if name[-2:] in (".c", ".h")
    }
    for name, old, new in edited:
        assert files[name].count(old) == 1
        files[name] = files[name].replace(old, new)
    own = {BRIDGE.name: BRIDGE.read_text(), HARNESS.name: HARNESS.read_text()}
    linked = [
        SANITIZED[0],
        SANITIZED[1],
        SANITIZED[2].replace("fuzzer-no-link", "fuzzer"),
        *SANITIZED[3:],
        NOT_COMPARED,
    ]

    def build(folder):
        for name, text in (files | own).items():
            (folder / name).write_text(text)
        sources = [folder / name for name in sorted(files) if name.endswith(".c")]
        clang("-std=c11", *linked, folder / HARNESS.name, *sources, "-o", folder / "fuzz_recorder")

    content = [part for item in sorted((files | own).items()) for part in item]
    return built_once(cache, f"fuzz-recorder-{digest_of([*content, *linked])}", build) / "fuzz_recorder"


def arguments(folder):
    """Return the fuzzer's, with a script for each command to begin with, and a press that is left alone."""
    corpus = folder / "corpus"
    corpus.mkdir()
    given = {"input": "1", "time_us": "12000", "presses": "3", "bits": "36"}
    lines = [f"{command.header} {','.join(given[name] for name in command.takes)}" for command in RECORDER_COMMANDS]
    scripts = [jumper + line.encode() + b"\n" + LOOKS_128 for line in lines for jumper in (JUMPER, b"\x00")]
    coil = b"INP:BRID 1,12000\n\x88" + LOOKS_128 + b"\x88" + LOOKS_128 + b"\x88" + LOOKS_128 * 8
    scripts += [JUMPER + b"OUTP:PRES 3\n" + ONE_SECOND * 2, JUMPER + coil, JUMPER + b"\x88\x84" * 60]
    for place, script in enumerate(scripts):
        (corpus / f"{place:03}").write_bytes(script)
    words = sorted({f'"{word.strip("[]")}"' for command in RECORDER_COMMANDS for word in command.header.split(":")})
    (folder / "words").write_text("\n".join(words))
    return [
        f"-max_len={LONGEST_SCRIPT}",
        "-timeout=60",
        f"-dict={folder / 'words'}",
        f"-artifact_prefix={folder}/",
        corpus,
    ]


def test_nothing_that_comes_presses_or_breaks_the_recorder(cache, tmp_path):
    length = f"-max_total_time={SOAK_S}" if SOAK else f"-runs={RUNS}"
    done = fuzz(program(cache), length, "-seed=1", *arguments(tmp_path))
    assert done.returncode == 0, what_broke(done, tmp_path)


PLANTED = {
    "the jumper is not asked for": ("link.c", "&& !jumper", "&& false", "pressed without the jumper"),
    "presses do not lapse": ("press.c", ">= PRESS_LAPSE_US", ">= 4294967295u", "still pressed after the lapse"),
    "a trace of one too many": ("trace.c", "count >= TRACE_RECORDS", "count > TRACE_RECORDS", "BROKEN|overflow|bounds"),
}


@pytest.mark.parametrize("what", PLANTED if SOAK else ["the jumper is not asked for"])
def test_the_fuzzer_finds_what_is_planted_in_the_recorder(what, cache, tmp_path):
    *fault, says = PLANTED[what]
    done = fuzz(program(cache, [fault]), "-runs=20000", "-seed=1", *arguments(tmp_path))
    assert done.returncode != 0
    assert any(word in done.stderr for word in says.split("|")), done.stderr[-2_000:]
