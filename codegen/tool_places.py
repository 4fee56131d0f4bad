"""Where compiler, uploader and the boards' core lie, system by system.

On the search path first, as for any program. Then in the data folder of the board maker's IDE, where its boards manager
unpacks `packages/MAKER/tools/NAME/VERSION/bin` and `packages/MAKER/hardware/avr/VERSION` (published: the IDE's platform
specification, "Platform installation directories"; its command-line tool's configuration page for the folders' names).
Last within an older IDE, which carries one of each itself.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

_MAKER = "arduino"
_CORE_SHOWN_BY = Path("cores", "arduino", "Arduino.h")
_IDE_CARRIES = Path("hardware", "tools", "avr", "bin")


def find_tool(name: str) -> Path | None:
    """Return a program such as "avr-gcc" or "avrdude"; None where this machine has none."""
    on_path = shutil.which(name)
    if on_path is not None:
        return Path(on_path)
    kit = "avrdude" if name == "avrdude" else "avr-gcc"
    unpacked = (folder / "bin" for folder in _newest_first(Path("tools", kit)))
    carried = (folder / _IDE_CARRIES for folder in _older_ides())
    programs = (shutil.which(name, path=str(folder)) for folder in (*unpacked, *carried))
    return next((Path(program) for program in programs if program is not None), None)


def find_core() -> Path | None:
    """Return the boards' core, a folder with cores/ and variants/; None where this machine has none.

    The environment variable WIRECUE_AVR_CORE names another place, and then no other is looked at.
    """
    named = os.environ.get("WIRECUE_AVR_CORE")
    carried = (folder / "hardware" / _MAKER / "avr" for folder in _older_ides())
    folders = (Path(named),) if named else (*_newest_first(Path("hardware", "avr")), *carried)
    return next((folder for folder in folders if (folder / _CORE_SHOWN_BY).is_file()), None)


def avrdude_settings(avrdude: Path) -> Path | None:
    """Return the file that the uploader must be told of with -C; None where it knows its own, as on Debian."""
    beside = avrdude.parent.parent / "etc" / "avrdude.conf"
    return beside if beside.is_file() else None


def data_folder() -> Path | None:
    """Return the data folder of the board maker's IDE, there or not; None for a user without a home."""
    named = os.environ.get("ARDUINO_DIRECTORIES_DATA")
    if named:
        return Path(named)
    home = _home()
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA")
        return Path(local, "Arduino15") if local else None
    if sys.platform == "darwin":
        return home and home / "Library" / "Arduino15"
    return home and home / ".arduino15"


def searched_places() -> tuple[str, ...]:
    """Return where tools and core are looked for, in words."""
    return "the search path", *(str(folder) for folder in (data_folder(), *_older_ides()) if folder is not None)


def _home() -> Path | None:
    try:
        return Path.home()
    except RuntimeError:
        return None


def _older_ides() -> tuple[Path, ...]:
    """Return where an IDE lies that carries tools and core itself; Debian's packages of them lie alike."""
    if sys.platform == "win32":
        bases = (os.environ.get("PROGRAMFILES(X86)"), os.environ.get("PROGRAMFILES"))
        return tuple(Path(base, "Arduino") for base in bases if base)
    if sys.platform == "darwin":
        return (Path("/Applications/Arduino.app/Contents/Java"),)
    return (Path("/usr/share/arduino"), Path("/usr/local/share/arduino"))


def _newest_first(below: Path) -> list[Path]:
    """Return the versions that the boards manager has unpacked of something, the newest first."""
    data = data_folder()
    if data is None:
        return []
    return sorted(_folders(data / "packages" / _MAKER / below), key=lambda path: _version(path.name), reverse=True)


def _folders(place: Path) -> Iterator[Path]:
    try:
        yield from (path for path in place.iterdir() if path.is_dir())
    except OSError:  # none there, or not ours to read
        return


def _version(name: str) -> tuple[int, ...]:
    return tuple(map(int, re.findall(r"\d+", name)))
