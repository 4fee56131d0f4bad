"""What is tried on that Windows: commands as a user gives them, what they must say, and what else must be so."""

from __future__ import annotations

import re
import subprocess
import sys
import time
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from http.cookiejar import CookieJar
from pathlib import Path

from tools.windows_trial.machine import ROOT, WindowsMachine

DESIGN = "my_feeder"
NOT_PROVED = (
    "a Windows kernel and its file systems: wine stands on Linux's",
    "serial ports, their list among it: this wine has none",
    "a console window, a virus scanner, an IDE that holds a file open",
    "the installers of Python and pipx; the compiler of the board maker's IDE",
    "NumPy later than 2.1, Python 3.14",
)
_PAGE_PATIENCE_S = 300.0


@dataclass(frozen=True)
class CommandStep:
    """A command, what it must say, and how it must end."""

    line: tuple[str, ...]
    says: str
    code: int = 0


def _step(line: str, says: str, code: int = 0) -> CommandStep:
    return CommandStep(tuple(line.split()), says, code)


COMMANDS = (
    _step(f"new {DESIGN} --like spot_stitch", "your figures go in there"),
    _step(f"check {DESIGN}.toml", "0 errors"),
    _step("check typed.toml", "0 errors"),
    _step(f"simulate {DESIGN}.toml", "trigger"),
    _step(f"simulate {DESIGN}.toml --script-file script.txt", "trigger"),
    _step(f"supply {DESIGN}.toml", "supply"),
    _step(f"advise {DESIGN}.toml", "burnback"),
    _step(f"prove {DESIGN}.toml", "holds"),
    _step(f"build {DESIGN}.toml", "new"),
    _step(f"bench {DESIGN}.toml --virtual --yes --case weld --case tap", "All 2 cases pass."),
    _step(f"bench {DESIGN}.toml --virtual=avr --case tap", "no AVR compiler", 2),
    _step(f"status {DESIGN}.toml --virtual", DESIGN),
    CommandStep(("log", f"{DESIGN}.toml", "--note", "new liner"), "new liner"),
    CommandStep(("fit", f"{DESIGN}.toml", "--weld", "mark 90: 9 mm", "--weld", "60 ms: frozen"), "Test welds"),
    _step(f"log {DESIGN}.toml", "new liner"),
    _step(f"commission {DESIGN}.toml --steps", "power"),
    _step(f"simulate {DESIGN}.toml --svg nul.svg", "Windows keeps for a device", 2),
    _step("new aux", "device", 2),
)
"""In this order, in one folder."""

SNIPPETS: tuple[tuple[str, str, str], ...] = (
    (
        "a lock that somebody holds is not had",
        "from timing.system.locking import own_lock, taken_lock as take\n"
        "print('got', take(own_lock('COM4')) is not None, take(own_lock('COM4')))",
        "got True None",
    ),
    (
        "a build folder that somebody holds is not had",
        "from pathlib import Path; from timing.system.locking import taken_folder\n"
        "held = taken_folder(Path.cwd())\n"
        "try: taken_folder(Path.cwd())\n"
        "except BlockingIOError: print('held', held.is_still_there())",
        "held True",
    ),
    (
        "a program that does not end is ended",
        "import sys; from codegen.toolchain import ToolchainError, run_bounded\n"
        "try: run_bounded([sys.executable, '-c', 'import time; time.sleep(600)'], 5.0)\n"
        "except ToolchainError as error: print(error)",
        "did not come to an end within 5 s",
    ),
    (
        "a compiler is found where the IDE puts it",
        "import os; from pathlib import Path; from codegen.tool_places import data_folder, find_tool\n"
        "kit = data_folder() / 'packages/arduino/tools/avr-gcc/7.3.0-x/bin'; kit.mkdir(parents=True, exist_ok=True)\n"
        "(kit / 'avr-gcc.exe').touch(); print(find_tool('avr-gcc'))\n"
        "(kit / 'avr-gcc.exe').unlink()",
        r"Local\Arduino15\packages\arduino\tools\avr-gcc\7.3.0-x\bin\avr-gcc",
    ),
    (
        "the page's port is nobody else's",
        "import socket; from timing.system.listening import listening_alone\n"
        "held = listening_alone(0); other = socket.socket()\n"
        "other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)\n"
        "try: other.bind(held.getsockname())\n"
        "except OSError: print('not shared')",
        "not shared",
    ),
)
"""What is tried, the Python that tries it, and what it must print."""

Verdict = tuple[str, str]
"""What was tried; empty where it went well, else what was wrong."""


def verdicts(machine: WindowsMachine, folder: Path, tell: Callable[[str], None]) -> Iterator[Verdict]:
    """Try everything in an empty folder, yielding what came of each."""
    _put_files_as_windows_has_them(folder)
    for step in COMMANDS:
        begun_s = time.monotonic()
        ended = machine.wirecue(step.line, folder)
        tell(f"{time.monotonic() - begun_s:5.1f} s")
        well = ended.code == step.code and step.says in ended.said
        yield f"wirecue {' '.join(step.line)}", "" if well else f"code {ended.code}, said:\n{ended.said[-1500:]}"
    yield "the build is that of Linux, byte for byte", _differences(machine.wheel, folder)
    for what, code, says in SNIPPETS:
        ended = machine.run(machine.python / "python.exe", "-c", code, cwd=folder)
        yield what, "" if says in ended.said else f"code {ended.code}, said:\n{ended.said[-1500:]}"
    yield "the page is served", _page(machine, folder)


def _put_files_as_windows_has_them(folder: Path) -> None:
    """Write a design and a script as an editor there may leave them: a mark at the start, other line ends."""
    mark = b"\xef\xbb\xbf"
    design = (ROOT / "examples" / "spot_stitch.toml").read_bytes()
    (folder / "typed.toml").write_bytes(mark + design.replace(b"\n", b"\r\n"))
    (folder / "script.txt").write_bytes(mark + b"0.1 s press\r\n1.2 s release\r\n")


def _differences(wheel: Path, folder: Path) -> str:
    """Build the same design here, from the same wheel, without compilers; name what is not the same, if anything."""
    here, packages = folder / "linux", folder / "packages"
    here.mkdir()
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(packages)
    (here / f"{DESIGN}.toml").write_bytes((folder / f"{DESIGN}.toml").read_bytes())
    environment = {"PATH": "", "HOME": str(here), "PYTHONPATH": str(packages)}
    command = [sys.executable, "-m", "wirecue", "build", f"{DESIGN}.toml"]
    done = subprocess.run(command, cwd=here, env=environment, capture_output=True, encoding="utf-8", check=False)
    if done.returncode != 0:
        return done.stderr
    ours, theirs = (_contents(place / f"{DESIGN}_build") for place in (here, folder))
    return ", ".join(sorted(name for name in ours.keys() | theirs.keys() if ours.get(name) != theirs.get(name)))


def _contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def _page(machine: WindowsMachine, folder: Path) -> str:
    """Start the page and fetch it by its link; empty where it came."""
    program = machine.python / "Scripts" / "wirecue.exe"
    process = machine.start(program, "page", f"{DESIGN}.toml", "--no-browser", cwd=folder)
    try:
        assert process.stdout is not None
        link = next((found[0] for line in process.stdout if (found := re.search(r"http://\S+", line))), None)
        if link is None:
            return "it gave no link"
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        with browser.open(link, timeout=_PAGE_PATIENCE_S) as opened:
            opened.read()
        with browser.open(link.partition("/open")[0], timeout=_PAGE_PATIENCE_S) as opened:
            text = opened.read().decode()
        return "" if "nicegui" in text and "wirecue" in text else f"it gave {text[:500]}"
    except OSError as error:
        return str(error)
    finally:
        machine.end()
        process.wait()
