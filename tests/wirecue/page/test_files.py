"""The page's folder: nothing outside it is read, listed or written, and nobody's change is lost."""

from __future__ import annotations

import pytest

from timing.design.text_file import DesignFileError
from wirecue.output_files import OutputError
from wirecue.page.files import ChangedOnDiskError, Folder, OutsideError


@pytest.fixture
def folder(tmp_path) -> Folder:
    inner = tmp_path / "inner"
    (inner / "sub").mkdir(parents=True)
    (tmp_path / "secret.toml").write_text("x = 1")
    (inner / "a.toml").write_text("a = 1")
    (inner / "sub" / "b.toml").write_text("b = 1")
    (inner / ".hidden.toml").write_text("h = 1")
    (inner / "pyproject.toml").write_text("p = 1")
    (inner / "link.toml").symlink_to(tmp_path / "secret.toml")
    (inner / "way_out").symlink_to(tmp_path)
    return Folder(inner)


def test_design_files_are_listed_and_nothing_else(folder):
    assert folder.names() == ["a.toml", "sub/b.toml"]


@pytest.mark.parametrize(
    "name", ["../secret.toml", "sub/../../secret.toml", "link.toml", "way_out/secret.toml", "/etc/x"]
)
def test_nothing_outside_is_read_or_written(folder, tmp_path, name):
    with pytest.raises(OutsideError, match="a file outside"):
        folder.read(name)
    with pytest.raises(OutsideError):
        folder.write(name, "y = 2", force=True)
    assert (tmp_path / "secret.toml").read_text() == "x = 1"


def test_a_file_is_written_whole_where_it_was_read(folder):
    assert folder.read("sub/b.toml") == "b = 1"
    folder.write("sub/b.toml", "b = 2")
    folder.write("sub/b.toml", "b = 3")
    assert folder.read("sub/b.toml") == "b = 3"
    folder.write("new.toml", "n = 1")
    assert "new.toml" in folder.names()


def test_a_change_from_elsewhere_is_not_overwritten_unless_told(folder):
    folder.read("a.toml")
    (folder.root / "a.toml").write_text("a = 'from an editor'")
    with pytest.raises(ChangedOnDiskError, match=r"a\.toml was changed on the disk"):
        folder.write("a.toml", "a = 2")
    assert (folder.root / "a.toml").read_text() == "a = 'from an editor'"
    folder.write("a.toml", "a = 2", force=True)
    assert (folder.root / "a.toml").read_text() == "a = 2"


def test_a_file_never_read_here_is_not_overwritten(folder):
    with pytest.raises(ChangedOnDiskError):
        folder.write("a.toml", "a = 2")


def test_a_missing_file_and_a_missing_folder_are_told(folder):
    with pytest.raises(DesignFileError):
        folder.read("nowhere.toml")
    with pytest.raises(OutputError):
        folder.write("no/such/place.toml", "x = 1")


def test_a_design_without_a_file_gets_a_name_that_is_free(folder):
    assert folder.free_name("mine") == "mine.toml"
    assert folder.free_name("a") == "a2.toml"
