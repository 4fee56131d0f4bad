"""The sketch is compiled beside the rest of a build, and not longer than the build wants it."""

from __future__ import annotations

import os

import pytest

from codegen.toolchain import ToolchainError
from tests.conftest import ROOT
from wirecue.firmware import compiling
from wirecue.projects import load_project

PROJECT = load_project(ROOT / "examples" / "shop_two_step.toml")
SKETCH = {"sketch.c": "int x;"}
MAKES_THE_PROBE = 'case "$*" in *probe.c*) exit 0;; esac'


def with_compiler(tmp_path, monkeypatch, script: str) -> None:
    """Make `script` the AVR compiler, with a core of one file."""
    core = tmp_path / "core" / "cores" / "arduino"
    core.mkdir(parents=True)
    (core / "Arduino.h").touch()
    (core / "main.c").touch()
    (tmp_path / "avr-gcc").write_text(f"#!/bin/sh\n{script}\n")
    (tmp_path / "avr-gcc").chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    monkeypatch.setenv("WIRECUE_AVR_CORE", str(tmp_path / "core"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def test_a_compiler_that_nobody_waits_for_any_more_is_ended_and_leaves_nothing(tmp_path, monkeypatch):
    started = tmp_path / "started"
    os.mkfifo(started)
    with_compiler(tmp_path, monkeypatch, f"echo > {started}; sleep 600")
    with compiling(PROJECT, SKETCH):
        started.read_text()
    assert list((tmp_path / "cache" / "wirecue").iterdir()) == []


def test_what_the_compiler_refuses_is_told_when_it_is_asked_for(tmp_path, monkeypatch):
    with_compiler(tmp_path, monkeypatch, f"{MAKES_THE_PROBE}; echo no such chip >&2; exit 1")
    with compiling(PROJECT, SKETCH) as waited_for, pytest.raises(ToolchainError, match="no such chip"):
        waited_for()


def test_a_compiler_that_makes_no_program_at_all_is_as_none_and_is_named(tmp_path, monkeypatch):
    with_compiler(tmp_path, monkeypatch, "echo cannot run here >&2; exit 1")
    with compiling(PROJECT, SKETCH) as waited_for:
        compiled = waited_for()
    assert compiled.project is PROJECT
    assert compiled.hex is None
    assert compiled.why_not == f"{tmp_path / 'avr-gcc'} makes no program here"


def test_without_a_compiler_the_estimate_stays(monkeypatch):
    monkeypatch.setenv("PATH", "")
    with compiling(PROJECT, SKETCH) as waited_for:
        assert waited_for().project is PROJECT
