"""The sketch builds: with the plain compiler, with the usual build process, and under a static analyser."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from codegen.recorder_sketch import recorder_files
from codegen.sketch import sketch_files
from codegen.sketch_hex import hex_of
from codegen.toolchain import (
    STRICT,
    ToolchainError,
    compile_sketch,
    compiled_here,
    find_tools,
    measure,
)
from tests.conftest import EXAMPLES, ROOT, gate_share
from timing.project import Project
from wirecue.projects import load_board, load_project

compiler = pytest.mark.debian("avr-gcc", "arduino-core")
MOST_FLASH_BYTES = 10_240
MOST_RAM_BYTES = 512


@compiler
def test_it_compiles_with_all_warnings_as_errors_and_is_small(design, board, version, cache):
    took = measure(compile_sketch(sketch_files(Project(design, board), version), board, cache))
    print(f"{design.name} on {board.type}: {took.flash_bytes} bytes of flash, {took.ram_bytes} of RAM")
    # A board that speaks USB itself carries the USB code on top, some 3 kB of it, and its buffers.
    assert took.ram_bytes <= MOST_RAM_BYTES + (128 if board.native_usb else 0)
    assert took.flash_bytes <= MOST_FLASH_BYTES + (3_072 if board.native_usb else 0)


@compiler
@pytest.mark.parametrize(
    ("which", "board_name"), [("full", "nano"), ("bare", "uno"), ("bare", "nano"), ("bare", "leonardo")]
)
def test_designs_with_everything_and_with_nothing_compile(which, board_name, full_design, bare_design, version, cache):
    # Only one of these boards has a pin for every role.
    design, board = full_design if which == "full" else bare_design, load_board(board_name)
    took = measure(compile_sketch(sketch_files(Project(design, board), version), board, cache))
    assert took.flash_bytes < board.flash_bytes


@compiler
def test_each_header_compiles_alone_and_twice(design, board, version, tmp_path):
    tools, files = find_tools(), sketch_files(Project(design, board), version)
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    chip = [f"-mmcu={board.mcu}", f"-DF_CPU={board.clock_hz}L", "-std=gnu11", *STRICT, "-Wpedantic"]
    for name in (name for name in files if name.endswith(".h")):
        alone = tmp_path / f"alone_{name[:-2]}.c"
        # Twice, for the guard; and something of its own, for a header that only defines macros.
        alone.write_text(f'#include "{name}"\n#include "{name}"\nextern int alone;\n', encoding="utf-8")
        tools.run([str(tools.gcc), "-fsyntax-only", *chip, str(alone)])


@compiler
def test_the_estimate_is_near_the_measurement(design, board, version, cache):
    guess = Project(design, board).footprint
    took = measure(compiled_here(sketch_files(Project(design, board), version), board, cache, find_tools()))
    assert took.measured
    assert not guess.measured
    assert guess.flash_bytes == pytest.approx(took.flash_bytes, rel=0.1)
    assert guess.ram_bytes == pytest.approx(took.ram_bytes, rel=0.1)


def test_without_a_compiler_there_is_no_measurement(design, board, version, cache, monkeypatch):
    monkeypatch.setenv("PATH", "")
    assert find_tools() is None
    assert compiled_here(sketch_files(Project(design, board), version), board, cache, find_tools()) is None
    with pytest.raises(ToolchainError, match="Debian in gcc-avr"):
        compile_sketch({}, board, cache)


@compiler
def test_what_the_compiler_says_reaches_the_reader_and_nothing_is_left_behind(board, tmp_path, version, design):
    files = sketch_files(Project(design, board), version) | {"filter.c": "int wrong(void) { return 1.5 }\n"}
    with pytest.raises(ToolchainError, match=r"filter\.c:1"):
        compile_sketch(files, board, tmp_path)
    assert [path.name for path in tmp_path.iterdir() if not path.name.startswith("core-")] == []


@pytest.mark.debian("gcc")
def test_the_portable_files_are_c99_without_a_board_header(design, board, version, tmp_path):
    files = sketch_files(Project(design, board), version)
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    sources = [name for name in files if name.endswith(".c")]
    options = ["-std=c99", *STRICT, "-Wpedantic", "-Wshadow", "-Wstrict-prototypes", "-Wmissing-prototypes"]
    done = subprocess.run(
        ["gcc", "-fsyntax-only", *options, *sources], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert not any(re.search(r"#include <(Arduino|avr)", files[name]) for name in sources)


@pytest.mark.debian("cppcheck")
def test_the_static_analyser_has_nothing_to_say(design, board, version, tmp_path):
    analysed(sketch_files(Project(design, board), version), tmp_path)


@pytest.mark.debian("cppcheck")
def test_the_static_analyser_has_nothing_to_say_of_the_recorder(version, tmp_path):
    analysed(recorder_files(load_board("nano"), version), tmp_path)


def analysed(files, tmp_path):
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    sources = [name for name in files if name.endswith((".c", ".cpp"))]
    command = ["cppcheck", "--enable=warning,style,performance,portability", "--error-exitcode=1", "--quiet"]
    command += ["--std=c99", "--inline-suppr", "--platform=avr8", "-D__AVR__", "-DF_CPU=16000000L"]
    # The board's own headers are not shown to it: their macros are expanded by the compiler alone.
    command += ["--suppress=missingIncludeSystem", "--suppress=unmatchedSuppression", "--max-configs=4"]
    done = subprocess.run([*command, *sources], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=2), ids=lambda path: path.stem)
@pytest.mark.debian("avr-gcc", "arduino-core", "arduino-builder")
def test_the_usual_build_process_builds_the_folder_by_its_name_alone(design, board, version, tmp_path):
    sketch = tmp_path / design.name
    sketch.mkdir()
    for name, text in sketch_files(Project(design, board), version).items():
        (sketch / name).write_text(text)
    for empty in ("tools", "out"):
        (tmp_path / empty).mkdir()
    fqbn = board.fqbn
    preferences = {
        "tools.ctags.path": "/usr/bin",
        "tools.ctags.cmd.path": "/usr/bin/arduino-ctags",
        "tools.ctags.pattern": '"{cmd.path}" -u --language-force=c++ -f - --c++-kinds=svpf --fields=KSTtzns '
        '--line-directives "{source_file}"',
        "runtime.tools.avr-gcc.path": "/usr",
        "compiler.path": "/usr/bin/",
        "build.extra_flags": "-DDECIMAL_DIG=17" + (" {build.usb_flags}" if board.native_usb else ""),
    }
    command = [shutil.which("arduino-builder") or "", "-compile", "-hardware", "/usr/share/arduino/hardware"]
    command += ["-tools", str(tmp_path / "tools"), "-fqbn", fqbn, "-build-path", str(tmp_path / "out")]
    command += [part for key, value in preferences.items() for part in ("-prefs", f"{key}={value}")]
    command += ["-warnings", "all", "-ide-version", "10819", str(sketch / f"{design.name}.ino")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / f"{design.name}.ino.hex").is_file()
    ours = [line for line in done.stderr.splitlines() if "warning" in line and "/sketch/" in line]
    assert not ours


@compiler
def test_the_same_sketch_gives_the_same_file_to_upload_wherever_it_is_compiled(version, cache, tmp_path):
    project = load_project(ROOT / "examples" / "shop_two_step.toml")
    files, tools = sketch_files(project, version), find_tools()
    here = hex_of(compile_sketch(files, project.board, cache), tools)
    elsewhere = tmp_path / "a folder with a longer name"
    # The core is not compiled anew for it.
    for core in cache.glob("core-uno-*"):
        shutil.copytree(core, elsewhere / core.name)
    assert hex_of(compile_sketch(files, project.board, elsewhere), tools) == here
    assert here.startswith(b":")
    assert here.splitlines()[-1] == b":00000001FF"
