"""Compiler, uploader and core are found where each system's IDE puts them; the systems' own names are made up here."""

from __future__ import annotations

from pathlib import Path

import pytest

from codegen.tool_places import avrdude_settings, data_folder, find_core, find_tool, searched_places


@pytest.fixture
def home(tmp_path, monkeypatch):
    """A user without tools on the search path, with the folders of every system below one home."""
    monkeypatch.setenv("PATH", str(tmp_path / "empty"))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "Local"))
    monkeypatch.setenv("PROGRAMFILES(X86)", str(tmp_path / "Programs"))
    monkeypatch.delenv("WIRECUE_AVR_CORE", raising=False)
    monkeypatch.delenv("ARDUINO_DIRECTORIES_DATA", raising=False)
    return tmp_path


def put(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch(mode=0o755)
    return path


DATA = {"linux": ".arduino15", "darwin": "Library/Arduino15", "win32": "Local/Arduino15"}


@pytest.mark.parametrize("system", DATA)
def test_the_newest_version_in_the_data_folder_is_taken(home, monkeypatch, system):
    # The search for programs has rules of its own on Windows, which only Windows has: they are not played here.
    monkeypatch.setattr("codegen.tool_places.sys.platform", system)
    packages = home / DATA[system] / "packages" / "arduino"
    for version in ("5.4.0-atmel3.6.1-arduino2", "7.3.0-atmel3.6.1-arduino7", "7.3.0-atmel3.6.1-arduino10"):
        put(packages / "tools" / "avr-gcc" / version / "bin" / "avr-gcc")
    settings = put(packages / "tools" / "avrdude" / "6.3.0-arduino17" / "etc" / "avrdude.conf")
    put(packages / "tools" / "avrdude" / "6.3.0-arduino17" / "bin" / "avrdude")
    for version in ("1.8.6", "1.8.10"):
        put(packages / "hardware" / "avr" / version / "cores" / "arduino" / "Arduino.h")
    (packages / "hardware" / "avr" / "2.0.0").mkdir()  # an install that was cut short holds no core
    if system != "win32":
        gcc, avrdude = find_tool("avr-gcc"), find_tool("avrdude")
        assert gcc is not None
        assert avrdude is not None
        assert gcc.parent.parent.name == "7.3.0-atmel3.6.1-arduino10"
        assert avrdude_settings(avrdude) == settings
    assert find_core() == packages / "hardware" / "avr" / "1.8.10"
    assert str(home / DATA[system]) in searched_places()


def test_the_search_path_comes_first_and_its_uploader_knows_its_own_settings(home):
    data = home / ".arduino15" / "packages" / "arduino" / "tools"
    put(data / "avrdude" / "6.3.0" / "bin" / "avrdude")
    mine = put(home / "empty" / "avrdude")
    assert find_tool("avrdude") == mine
    assert avrdude_settings(mine) is None


def test_an_older_ide_carries_both(home, monkeypatch):
    monkeypatch.setattr("codegen.tool_places.sys.platform", "win32")
    core = home / "Programs" / "Arduino" / "hardware" / "arduino" / "avr"
    put(core / "cores" / "arduino" / "Arduino.h")
    assert find_core() == core


def test_a_named_folder_is_the_only_one(home, monkeypatch):
    named = home / "mine"
    put(named / "cores" / "arduino" / "Arduino.h")
    monkeypatch.setenv("WIRECUE_AVR_CORE", str(named))
    assert find_core() == named
    monkeypatch.setenv("WIRECUE_AVR_CORE", str(home / "nowhere"))
    assert find_core() is None


@pytest.mark.usefixtures("home")
def test_a_user_without_a_home_has_no_data_folder(monkeypatch):
    def no_home() -> Path:
        raise RuntimeError("no home")

    monkeypatch.setattr(Path, "home", no_home)
    assert data_folder() is None
    assert find_tool("avr-gcc") is None
