"""What all tests share: examples, the rule about missing tools, and how they are shared out among workers."""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TypeVar

import pytest
from hypothesis import HealthCheck, settings

with contextlib.suppress(ImportError):
    importlib.import_module("readline")
# The line editor tells all programs that are started from here how wide a terminal is that there is not.
for _told in ("COLUMNS", "LINES"):
    os.environ.pop(_told, None)
    os.unsetenv(_told)

# A port's lock goes by its name, and the system gives the name of a closed terminal to whoever asks next: a worker that
# still waits for a board that is gone must not hold the port of another worker.
if _worker := os.environ.get("PYTEST_XDIST_WORKER"):
    _folder = Path(tempfile.gettempdir()) / f"wirecue-tests-{os.getuid()}-{_worker}"
    _folder.mkdir(mode=0o700, exist_ok=True)
    os.environ["TMPDIR"] = str(_folder)
    tempfile.tempdir = None

ROOT = Path(__file__).parent.parent
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
VERSION = "0.1.0"
"""Of the program, in what the tests generate."""
CACHE = ROOT / "out" / "compiled"
"""Folder for compiled files: the same files are compiled once and for all, whoever of the workers is first."""
CI = os.environ.get("CI") == "true"
SOAK = bool(os.environ.get("WIRECUE_SOAK"))

# The longest, dealt out to the workers file by file: each begins with one, and none is begun when all others are done.
LONGEST = (
    *("tests/attack/test_core.py", "tests/codegen/test_static_proof.py", "tests/codegen/test_same_bytes.py"),
    *("tests/codegen/fuzz/", "tests/bench/avr/test_faults.py", "tests/timing/proof/test_prove.py"),
    *("tests/board_templates/test_rp2040.py", "tests/bench/avr/test_edges.py", "tests/wirecue/test_hostile_input.py"),
    *("tests/attack/test_avr.py", "tests/codegen/test_compiled_core.py", "tests/codegen/test_harness.py"),
    *("tests/wirecue/page/test_browser.py", "tests/wirecue/page/test_start_browser.py"),
    *("tests/test_wheel.py", "tests/wirecue/test_memory.py"),
)

Case = TypeVar("Case")


def gate_share(cases: Sequence[Case], every: int, first: int = 0) -> Sequence[Case]:
    """Return each case in a soak; in the gate, which has minutes, one of `every`, beginning with the number `first`.

    For cases that are dear and much alike. Tests of the examples begin with another one each, so that between them
    they come to all.
    """
    return cases if SOAK else cases[first::every]


# What the marker `debian` may name, and the file (or pattern of files) or command that shows it is there.
TOOLS = {
    "gcc": "gcc",
    "clang": "clang",
    "clang-runtime": "/usr/lib/llvm-*/lib/clang/*/lib/linux/libclang_rt.fuzzer-*.a",
    "avr-gcc": "avr-gcc",
    "arduino-core": "/usr/share/arduino/hardware/arduino/avr/cores/arduino/Arduino.h",
    "arduino-builder": "arduino-builder",
    "avrdude": "avrdude",
    "arm-gcc": "arm-none-eabi-gcc",
    "node": "node",
    "npm": "npm",
    "simavr": "/usr/include/simavr/sim_avr.h",
    "cppcheck": "cppcheck",
    "frama-c": "frama-c",
    "ngspice": "ngspice",
    "sigrok-cli": "sigrok-cli",
    "chromium": "chromium",
    "poppler": "pdftoppm",
    "git": "git",
}

settings.register_profile(
    "wirecue",
    deadline=None,
    max_examples=50,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=CI,
    print_blob=True,
)
settings.register_profile("soak", settings.get_profile("wirecue"), max_examples=5_000, derandomize=False)
settings.load_profile("soak" if SOAK else "wirecue")

_skipped: list[str] = []


def _present(tool: str) -> bool:
    probe = TOOLS[tool]
    return any(Path("/").glob(probe[1:])) if probe.startswith("/") else shutil.which(probe) is not None


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: some tests wait for a browser or for a program of their own."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Deal the longest out: workers are given equal shares of the list, in its order, and steal from its end."""
    workers: int = getattr(config, "workerinput", {}).get("workercount", 1)
    begins: list[list[pytest.Item]] = [[] for _ in range(workers)]
    for place, name in enumerate(LONGEST):
        begins[place % workers] += [item for item in items if item.nodeid.startswith(name)]
    dealt = {item for share in begins for item in share}
    others = [item for item in items if item not in dealt]
    ordered: list[pytest.Item] = []
    for index, begin in enumerate(begins):
        share = max((len(items) - len(ordered)) // (workers - index) - len(begin), 0)
        ordered += [*begin, *others[:share]]
        del others[:share]
    items[:] = ordered + others


def pytest_collection_finish() -> None:
    """Seldom look for cycles, and never through the thousands of tests and all that was imported: those stay."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


def pytest_runtest_setup(item: pytest.Item) -> None:
    marker = item.get_closest_marker("debian")
    if marker is None:
        return
    missing = [tool for tool in marker.args or TOOLS if not _present(tool)]
    if missing:
        pytest.skip(f"needs {', '.join(missing)}: `make packages` installs them")


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.skipped and not hasattr(report, "wasxfail"):
        _skipped.append(report.nodeid)


@pytest.hookimpl(wrapper=True)
def pytest_sessionfinish(session: pytest.Session) -> Iterator[None]:
    result = yield
    if CI and _skipped and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
    return result


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if _skipped:
        verdict = "FAILURE, since CI=true" if CI else "these were NOT checked"
        terminalreporter.section(f"{len(_skipped)} tests skipped: {verdict}", "!", red=True, bold=True)


@pytest.fixture(params=EXAMPLES, ids=[path.stem for path in EXAMPLES])
def example(request: pytest.FixtureRequest) -> Path:
    """Each example's design file in turn."""
    return Path(request.param)
