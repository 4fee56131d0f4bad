"""What people keep in and beside a build folder, and a picture of a tree down to modes and links."""

from __future__ import annotations

import os
import socket
import stat
import subprocess
import venv
from pathlib import Path


def tree(folder: Path, without: frozenset[str] = frozenset()) -> dict[str, tuple[object, ...]]:
    """Return everything below a folder by its name: kind, mode, inode, and content or where a link leads."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if name in without:
            continue
        facts = path.lstat()
        kind = stat.S_IFMT(facts.st_mode)
        inside: object = None
        if stat.S_ISLNK(facts.st_mode):
            inside = path.readlink()
        elif stat.S_ISREG(facts.st_mode):
            inside = path.read_bytes()
        found[name] = (kind, stat.S_IMODE(facts.st_mode), facts.st_ino, facts.st_nlink if inside else None, inside)
    return found


def put_foreign_files(folder: Path) -> int:
    """Put some thirty things of every kind into a folder that is there. Returns how many."""
    before = len(list(folder.rglob("*")))
    texts = {
        "notes.txt": "27.4 V open, 24.1 V loaded",
        "measured.csv": "time,volts\n0,27.4\n",
        "empty": "",
        ".hidden": "x",
        ".DS_Store": "\0\0",
        "name with spaces, öäü.md": "x",
        "line\nend.txt": "x",
        "-rf": "x",
        "sheet.html~": "x",
        "sketch.old": "x",
        ".out.old": "somebody's own",
        ".out.new.abc": "somebody's own",
        ".wirecue-0123456789abcdef-00000000": "a false mark",
        "journal.json": "{}",
        "done.json": "{}",
        "0.new": "x",
        "0.old": "x",
        "sub/deep/er/file.c": "int x;",
        "sub/manifest.json": "{}",
    }
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    (folder / "run.sh").write_text("#!/bin/sh\n")
    (folder / "run.sh").chmod(0o750)
    (folder / "locked").write_bytes(bytes(range(256)))
    (folder / "locked").chmod(0o400)
    (folder / "empty folder").mkdir()
    (folder / ".wirecue-fedcba9876543210-ffffffff").mkdir()
    os.mkfifo(folder / "pipe")
    (folder / "relative link").symlink_to("notes.txt")
    (folder / "link out").symlink_to("/etc/hostname")
    (folder / "link to folder").symlink_to("sub")
    (folder / "dangling").symlink_to("nowhere/at all")
    (folder / "loop").symlink_to("loop")
    os.link(folder / "notes.txt", folder / "hard link")
    with socket.socket(socket.AF_UNIX) as listening:
        # The path of a socket is short.
        here = os.open(folder, os.O_RDONLY)
        listening.bind(f"/proc/self/fd/{here}/socket")
        os.close(here)
    with (folder / "sparse").open("wb") as file:
        file.truncate(1 << 20)
    return len(list(folder.rglob("*"))) - before


def put_repository(folder: Path) -> None:
    """Make a git repository of a folder, with a commit."""
    who = ["-c", "user.name=x", "-c", "user.email=x@example.org", "-c", "commit.gpgsign=false"]
    for words in (["init", "-q"], ["add", "-A"], [*who, "commit", "-q", "-m", "as it is"]):
        subprocess.run(["git", *words], cwd=folder, check=True, capture_output=True)


def status_of(folder: Path) -> str:
    """Return what git says of a repository; fails where it is broken."""
    for words in (["fsck", "--strict"], ["rev-parse", "HEAD"]):
        subprocess.run(["git", *words], cwd=folder, check=True, capture_output=True)
    words = ["git", "--no-optional-locks", "status", "--porcelain"]
    return subprocess.run(words, cwd=folder, check=True, capture_output=True, text=True).stdout


def put_environment(folder: Path) -> None:
    """Make a virtual environment, links and all."""
    venv.create(folder, symlinks=True, with_pip=False)
