"""A coverage-guided fuzzer with address and undefined-behaviour sanitizers on the whole portable sketch, its serial
parser above all. What must hold is in fuzz_link.c."""

from __future__ import annotations

import re
import subprocess
import warnings
from pathlib import Path

import pytest

from codegen.sketch_facts import SketchFacts, sketch_facts
from codegen.toolchain import STRICT, built_once, digest_of
from tests.conftest import EXAMPLES, ROOT, SOAK, VERSION, gate_share
from tests.support.host_core import host_core_files
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.commands import ERROR_QUEUE
from timing.protocol.target import RAW_ALL, RAW_BIT
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("clang", "clang-runtime")

HERE = Path(__file__).parent
RUNS = 25_000
SOAK_S = 1_200
"""For each example, three of them: an hour."""
LONGEST_INPUT = 400
FULL_SCALE = 1023
SANITIZED = ("-g", "-O1", "-fsanitize=fuzzer-no-link,address,undefined", "-fno-sanitize-recover=all")
PORT = ("port_receive", "port_can_send", "port_send")
"""Functions of the bridge that the target puts its own in front of."""
NOTHING_OF_THE_HOSTS = {"bridge.c", "control.c", "filter.c", "lamp.c", "panel.c", "sequence.c", "trace.c"}
"""Files that run in every pass and never look at a character: what they compare gives nothing to guess from."""
NOT_COMPARED = "-fno-sanitize-coverage=trace-cmp"
REGRESSIONS = HERE / "regressions"
"""Inputs that once broke something, one a file, named for what they show; each is run first."""


def target(example: Path, cache: Path) -> tuple[Path, SketchFacts]:
    """Compile the fuzz target of an example; the same files only once."""
    design = load_design(example)
    board = load_board(design.board.type)
    facts = sketch_facts(Project(design, board), VERSION)
    return built_target(host_core_files(design, board, VERSION), facts, cache), facts


def built_target(files: dict[str, str], facts: SketchFacts, cache: Path) -> Path:
    own = {name: (HERE / name).read_text() for name in ("fuzz_link.c", "own_sections.h")}
    defines = {
        "CONTACTS": RAW_ALL,
        "FULL_SCALE": FULL_SCALE,
        "READINGS": len(facts.readings),
        "DIALS": len(facts.dials),
        "DIAL_LOWS_US": braced(time.scale.low_us for time in facts.dials),
        "DIAL_HIGHS_US": braced(time.scale.high_us for time in facts.dials),
        "ERROR_QUEUE": ERROR_QUEUE,
    }
    options = [f"-D{name}={value}" for name, value in defines.items()]

    sources = sorted(name for name in files if name.endswith(".c"))
    objects = [compiled(name, files, own["own_sections.h"], cache) for name in sources]

    def link(folder: Path) -> None:
        for name, text in (files | own).items():
            (folder / name).write_text(text)
        linked = SANITIZED[2].replace("fuzzer-no-link", "fuzzer")
        clang(
            *("-std=c11", "-g", "-O1", linked, *SANITIZED[3:], NOT_COMPARED, *STRICT[:3], *options),
            *(folder / "fuzz_link.c", *objects, "-lm", "-o", folder / "fuzz_link"),
        )

    content = [part for item in sorted((files | own).items()) for part in item]
    return built_once(cache, f"fuzz-{digest_of([*content, *options, *SANITIZED, NOT_COMPARED])}", link) / "fuzz_link"


def compiled(name: str, files: dict[str, str], sections: str, cache: Path) -> Path:
    """Compile one file of the sketch; the same file under the same headers only once, whichever sketch it is in."""
    seen = {header: text for header, text in sorted(files.items()) if header.endswith(".h")}
    renamed = [f"-D{port}=bridge_{port}" for port in PORT] if name == "bridge.c" else []
    guessing = [NOT_COMPARED] if name in NOTHING_OF_THE_HOSTS else []
    options = ["-std=c99", *SANITIZED, *guessing, *STRICT, *renamed]

    def build(folder: Path) -> None:
        for written, text in {**seen, name: files[name], "own_sections.h": sections}.items():
            (folder / written).write_text(text)
        clang(*options, "-include", folder / "own_sections.h", "-c", folder / name, "-o", folder / "object.o")

    content = [part for item in seen.items() for part in item]
    key = digest_of([name, files[name], sections, *content, *options])
    return built_once(cache, f"fuzz-object-{key}", build) / "object.o"


def clang(*arguments: str | Path) -> None:
    done = subprocess.run(["clang", *arguments], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def braced(values) -> str:
    return f"{{{', '.join(f'{value}u' for value in values) or '0u'}}}"


def fuzz(program: Path, *arguments: str | Path, timeout_s: float = 900.0) -> subprocess.CompletedProcess:
    return subprocess.run(
        [program, *arguments], capture_output=True, text=True, errors="replace", check=False, timeout=timeout_s
    )


# ---- What the fuzzer starts from: scripts as fuzz_link.c reads them ----

BENCH_LINK, LATE_CLOCK = 1, 2
LEAP_10_MS, LEAP_100_MS, LEAP_500_MS, LEAP_1_S, LAPSE = 0x99, 0x9B, 0x9C, 0x9D, 0xA0
PASSES_128 = 0x87


def contacts(*closed: str) -> bytes:
    return b"\xa8" + sum(RAW_BIT[name] for name in closed).to_bytes(2, "little")


def settled(facts: SketchFacts) -> bytes:
    """Readings that are sound, the interlock closed, and hold-off waited for."""
    readings = b"".join(bytes([0xB0 + place]) + (500).to_bytes(2, "little") for place in range(len(facts.readings)))
    waited = bytes([LEAP_10_MS, LEAP_500_MS, LEAP_10_MS, LEAP_100_MS])
    return contacts("interlock") + readings + waited


def seeds(facts: SketchFacts) -> list[bytes]:
    """One script for each command with sound parameters, some whole welds, and some lines that are wrong."""
    closed = sum(RAW_BIT[name] for name in ("trigger", "interlock"))
    given = {"channel": "1", "counts": "700", "contacts": str(closed), "bits": "36"}
    lines = [
        f"{header} {','.join(given[name] for name in command.takes)}"
        for command in facts.commands
        for header in command.headers
    ]
    lines += [
        "*ESE 256",
        "*SRE 65.6",
        "*ESE #H1F;*SRE #B101;*ESE 3.2E1",
        "STAT:OPER:ENAB #Q77777;ENAB?;:STAT:PRES;QUES?",
        "BENC:CONT 2048",
        "BENC:CONT 65535",
        "BENC:ANAL 1,1024",
        "INP:TIME? 6",
        "SYST:VERS?;:SYST:ERR?;*WAI",
        "BENC:CONT 1,2",
        "*ESE #H1F",
        "*SRE #B101;*ESE #Q17",
        "*ESE 1.6 E 1",
        "STAT:OPER:ENAB 32767;PTR?",
        "FOO;*IDN?",
        "x" * 70,
        "",
    ]
    begin = settled(facts)
    scripts = [
        bytes([start]) + begin + line.encode() + b"\n" + bytes([PASSES_128]) for line in lines for start in (0, 1)
    ]
    weld = bytes([LEAP_10_MS, LEAP_10_MS, LEAP_500_MS, LEAP_1_S])
    for start in (0, BENCH_LINK, BENCH_LINK | LATE_CLOCK):
        scripts.append(
            bytes([start])
            + begin
            + contacts("interlock", "trigger")
            + weld
            + b"*RST\n"
            + bytes([PASSES_128])
            + contacts("interlock")
            + weld
        )
    forced = f"BENC:CONT {closed}\n".encode() + bytes([PASSES_128, LEAP_10_MS]) + weld
    scripts.append(bytes([BENCH_LINK]) + begin + forced + bytes([LAPSE, PASSES_128]) + weld)
    scripts.append(
        bytes([BENCH_LINK, 0xB8]) + begin + b"*IDN?\n" + bytes([PASSES_128, 0xBF]) + b"BENC:ANAL 1,\xc0700\n"
    )
    # Characters that are lost on the way, one by one and in a flood.
    lost, at_once = b"\xc0", bytes([0x88])
    scripts.append(bytes([BENCH_LINK]) + begin + b"BENC:CONT 1" + lost + b"2\n34\n" + bytes([PASSES_128]))
    scripts.append(bytes([BENCH_LINK]) + begin + at_once + b"BENC:CONT 1;" * 6 + b"\n" + bytes([PASSES_128]))
    return scripts


def dictionary(facts: SketchFacts) -> str:
    """Words of the link, for the fuzzer to put in."""
    words = {part for command in facts.commands for part in re.findall(r"[*:A-Za-z]+\??", command.header)}
    shorts = {re.sub("[a-z]", "", word) for word in words}
    plain = sorted(
        {
            *words,
            *shorts,
            "1,700",
            "2047",
            "255",
            "65535",
            "4294967296",
            "1E3",
            "1.5E1",
            "#H1F",
            "#B101",
            "#Q17",
            "#H",
            "#B1",
            "-1",
            ";",
            "\\x0a",
            "\\x0d\\x0a",
        }
    )
    return "".join(f'"{word}"\n' for word in plain)


@pytest.fixture
def prepared(tmp_path):
    """A folder with what the fuzzer starts from; returns its arguments."""

    def prepare(facts: SketchFacts) -> list[str | Path]:
        corpus = tmp_path / "corpus"
        corpus.mkdir()
        for place, script in enumerate(seeds(facts)):
            (corpus / f"{place:03}").write_bytes(script)
        (tmp_path / "words").write_text(dictionary(facts))
        return [
            f"-max_len={LONGEST_INPUT}",
            "-len_control=0",
            "-timeout=20",
            f"-dict={tmp_path / 'words'}",
            f"-artifact_prefix={tmp_path}/",
            corpus,
            *([REGRESSIONS] if REGRESSIONS.is_dir() else []),
        ]

    return prepare


def what_broke(done: subprocess.CompletedProcess, folder: Path) -> str:
    """The finding, and the input that shows it in hex: once it is understood it goes into REGRESSIONS."""
    said = [line for line in done.stderr.splitlines() if re.search(r"BROKEN|ERROR|runtime error|SUMMARY| #\d ", line)]
    inputs = [f"{path.name}: {path.read_bytes().hex()}" for path in folder.glob("*-*") if path.is_file()]
    return "\n".join([*said[:20], *inputs])


def replayed(program: Path, folder: Path) -> bool:
    """Tell whether an input that broke something, or took too long, does so by itself."""
    inputs = [path for path in folder.glob("*-*") if path.is_file()]
    return not inputs or any(fuzz(program, "-timeout=20", path).returncode != 0 for path in inputs)


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=2), ids=lambda path: path.stem)
@pytest.mark.filterwarnings("default:a finding that does not replay")
def test_nothing_that_comes_over_the_link_breaks_what_must_hold(example, cache, prepared, tmp_path):
    program, facts = target(example, cache)
    given = prepared(facts)
    for seed in (1, 2):
        length = [f"-max_total_time={SOAK_S}"] if SOAK else [f"-runs={RUNS}", f"-seed={seed}"]
        done = fuzz(program, *length, *given, timeout_s=2 * SOAK_S)
        if done.returncode == 0 or replayed(program, tmp_path):
            break
        # Seen once in some thirty runs: a finding that its own input does not show in a process of its own. It is told,
        # and a second one in a row fails.
        warnings.warn(f"a finding that does not replay: {what_broke(done, tmp_path)}", stacklevel=1)
    assert done.returncode == 0, what_broke(done, tmp_path)
    runs = re.search(r"^Done (\d+) runs", done.stderr, re.MULTILINE)
    assert runs is not None
    assert SOAK or int(runs[1]) >= RUNS
    print(example.stem, [line for line in done.stderr.splitlines() if "DONE" in line])


PLANTED = {
    # One fault a row: the file, what is in it, what is put in its place, and what the fuzzer says.
    "the bench link is not asked for": (
        "link.c",
        "&& !jumper",
        "&& false",
        "BROKEN: forced without the bench link",
    ),
    "*RST restarts without the bench link": ("link_actions.c", "if (jumper) {", "if (true) {", "and no bench link"),
    "a line is kept one character too long": (
        "link.c",
        "length < sizeof line)",
        "length <= sizeof line)",
        "out of bounds",
    ),
    "contacts out of range": (
        "link_actions.c",
        "parameters[0] > ALL_CONTACTS",
        "parameters[0] > 60000u",
        "which nobody sent",
    ),
    "forced states do not lapse": ("forced.c", ">= LAPSE_US", ">= 4294967295u", "us after the last line"),
    "a lost character goes unnoticed": (
        "received.c",
        "if (!dropping && room() > 0) {",
        "if (false) {",
        "which nobody sent",
    ),
    "a full error queue": (
        "link_status.c",
        "if (queued < QUEUE_LENGTH)",
        "if (queued <= QUEUE_LENGTH)",
        "out of bounds",
    ),
}


@pytest.mark.parametrize("planted", gate_share(list(PLANTED), 2))
def test_the_fuzzer_finds_what_is_planted(planted, cache, prepared, tmp_path):
    name, old, new, says = PLANTED[planted]
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    board = load_board(design.board.type)
    files, facts = host_core_files(design, board, VERSION), sketch_facts(Project(design, board), VERSION)
    assert old in files[name]
    files[name] = files[name].replace(old, new)
    program = built_target(files, facts, cache)
    done = fuzz(program, f"-runs={4 * RUNS}", "-seed=1", *prepared(facts))
    assert done.returncode != 0
    assert replayed(program, tmp_path)
    assert says in what_broke(done, tmp_path)
