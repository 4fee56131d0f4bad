"""The main commands where a system has other modules, another console, and no text encoding of its own."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.conftest import SOAK

RUN_ALL = """
import builtins, select
real = builtins.__import__
def without(name, globals=None, *rest, **named):
    if name in {blocked!r} and (globals or {{}}).get("__name__", "").partition(".")[0] in {ours!r}:
        raise ModuleNotFoundError(name)
    return real(name, globals, *rest, **named)
builtins.__import__ = without
if {blocked!r}:
    del select.poll, select.epoll
import click
from wirecue.cli import main
for line in {lines!r}:
    try:
        main(line.split(), prog_name="wirecue", standalone_mode=False)
    except click.exceptions.Exit as left:
        assert left.exit_code == 0, (line, left.exit_code)
    print("did", line, flush=True)
"""
POSIX_ONLY = ("fcntl", "pty", "termios", "tty", "pwd", "grp", "resource", "readline", "curses", "syslog")
OURS = ("timing", "codegen", "bench", "wirecue")
"""Blocked for these alone: the library for serial ports has a module of its own for each system."""
LINES = (
    "new f --like spot_stitch",
    "check f.toml",
    "supply f.toml",
    "advise f.toml",
    "simulate f.toml",
    "burnback f.toml",
    "prove f.toml",
    "bench f.toml --virtual --yes --case tap",
    "status f.toml --virtual",
    "log f.toml --note liner",
    "log f.toml",
    "parts f.toml",
    "symptom f.toml sticks",
    "build f.toml",
)


CONSOLES = ("ascii", "cp1252", "cp437") if SOAK else ("ascii",)
"""What an ASCII console shows the others show too, if in other letters."""


@pytest.mark.parametrize("console", CONSOLES)
def test_the_main_commands_need_no_module_of_posix_and_no_utf_8(tmp_path, console):
    """A text file that is opened without a word on its encoding is an error here, too."""
    done = subprocess.run(
        [sys.executable, "-c", RUN_ALL.format(blocked=POSIX_ONLY, ours=OURS, lines=LINES)],
        cwd=tmp_path,
        env=os.environ
        | {"HOME": str(tmp_path), "PATH": "", "PYTHONIOENCODING": console}
        | {"PYTHONWARNDEFAULTENCODING": "1", "PYTHONWARNINGS": "error::EncodingWarning"},
        capture_output=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr.decode(errors="replace")[-2000:]
    said = done.stdout.decode(console)
    assert [line for line in LINES if f"did {line}\n" in said] == list(LINES)
    assert (tmp_path / "f_build" / "f" / "f.ino").is_file()
