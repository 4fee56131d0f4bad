"""The lock on a port: one bench a board, and nothing that stands in its place does harm."""

from __future__ import annotations

import os
import socket
import tempfile
from pathlib import Path

import pytest

from bench.errors import LockFailedError
from bench.port import PortLock


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """Return the folder in which locks go here."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path / f"wirecue-{os.getuid()}"


def test_a_lock_is_free_again_after_its_release(folder):
    first, second = PortLock("port"), PortLock("port")
    assert first.acquire()
    assert not second.acquire()
    assert PortLock("other").acquire()
    first.release()
    assert second.acquire()
    assert folder.stat().st_mode & 0o777 == 0o700
    assert all(path.stat().st_mode & 0o777 == 0o600 for path in folder.iterdir())


def test_a_link_to_a_port_is_the_same_port(tmp_path):
    (tmp_path / "tty").touch()
    (tmp_path / "by-id").symlink_to("tty")
    assert PortLock(str(tmp_path / "tty")).path() == PortLock(str(tmp_path / "by-id")).path()
    assert PortLock("/dev/tty-A").path() != PortLock("/dev/tty/A").path()


def test_a_name_of_any_length_has_a_lock():
    assert PortLock("/dev/" + "a" * 5_000 + "\udcff").acquire()


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as opened:
        opened.bind(path.name)


def _link(path: Path) -> None:
    Path("mine").write_text("mine")
    path.symlink_to("mine")


def _link_to_nowhere(path: Path) -> None:
    path.symlink_to("nowhere")


@pytest.mark.parametrize(
    ("put", "says"),
    [
        (_pipe, "is no file"),
        (_socket, r"cannot be used \("),
        (Path.mkdir, r"cannot be used \(is a directory\)"),
        (_link, "is a link"),
        (_link_to_nowhere, "is a link"),
    ],
)
def test_whatever_else_stands_in_its_place_is_told_and_stays(put, says, monkeypatch):
    lock = PortLock("ttyACM0")
    path = lock.path()
    monkeypatch.chdir(path.parent)
    put(path)
    kind = path.lstat().st_mode
    with pytest.raises(LockFailedError, match=rf"ttyACM0 cannot be locked .*\.lock {says}.*TMPDIR\.") as caught:
        lock.acquire()
    assert caught.value.exit_code == 2
    assert path.lstat().st_mode == kind
    assert not Path("nowhere").exists()
    assert [each.read_text() for each in Path().glob("mine")] in ([], ["mine"])


def test_a_folder_that_is_not_this_users_alone_is_told(folder):
    folder.mkdir()
    folder.chmod(0o777)
    with pytest.raises(LockFailedError, match="is a folder that others can write to"):
        PortLock("port").acquire()


def test_a_link_in_the_folders_place_is_told(folder, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    folder.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(LockFailedError, match="is a link, not a folder"):
        PortLock("port").acquire()
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_file_in_the_folders_place_is_told(folder):
    folder.write_text("")
    with pytest.raises(LockFailedError, match=r"cannot be used \(file exists\)"):
        PortLock("port").acquire()
