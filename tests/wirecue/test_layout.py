"""`wirecue layout`, and what a build makes of a board that was laid out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.support.running import run
from wirecue.board_layouts import kept_board
from wirecue.commands.build import _tell_next
from wirecue.projects import load_project

DESIGN = ROOT / "examples/gasless_four_step.toml"
BUILD, MODULES = 'build = "board"', 'build = "modules"'


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "wirecue" / "boards"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(DESIGN.read_text().replace(BUILD, MODULES))
    return path


def test_a_board_is_laid_out_told_written_and_kept(cache, small, tmp_path):
    pdf, holes = tmp_path / "board.pdf", tmp_path / "holes.csv"
    result = run("layout", small, "--moves", 3000, "--pdf", pdf, "--holes", holes)
    assert result.exit_code == 0
    assert "net list read back from holes, cuts and links: that of the circuit" in result.output
    assert pdf.read_bytes().startswith(b"%PDF")
    assert holes.read_text().startswith("what,name,hole,to,note")
    assert len(list(cache.iterdir())) == 1
    assert kept_board(load_project(small)) is not None
    assert kept_board(load_project(DESIGN)) is None


def test_what_is_kept_is_not_searched_for_again_and_damage_counts_for_nothing(cache, small, monkeypatch):
    first = run("layout", small, "--moves", 3000, "--json")
    monkeypatch.setattr("wirecue.board_layouts.place", lambda *_: pytest.fail("searched again"))
    assert run("layout", small, "--moves", 3000, "--json").output == first.output
    (kept,) = cache.iterdir()
    data = json.loads(kept.read_text())
    damaged = [b"", b"[" * 100_000, b"\xff", b"{}", json.dumps(data | {"links": data["links"][1:]}).encode(),
               json.dumps(data | {"cuts": []}).encode(), json.dumps(data | {"rows": 10**9}).encode(),
               json.dumps(data | {"rows": -1}).encode()]  # fmt: skip
    for content in damaged:
        kept.write_bytes(content)
        assert kept_board(load_project(small)) is None, content[:40]


@pytest.mark.usefixtures("cache")
def test_another_seed_gives_another_board(small):
    boards = [json.loads(run("layout", small, "--moves", 2000, "--seed", seed, "--json").output) for seed in (1, 2, 1)]
    assert boards[0] == boards[2]
    assert boards[0]["parts"] != boards[1]["parts"]


def test_a_load_above_extra_low_voltage_is_refused_with_a_remedy(cache, tmp_path):
    path = tmp_path / "mains.toml"
    low = 'fed_from = "elsewhere", voltage = "24 V"'
    path.write_text(DESIGN.read_text().replace(low, low.replace("24 V", "115 V")))
    result = run("layout", path, "--moves", 10)
    assert result.exit_code == 1
    assert "above extra-low voltage" in result.output
    assert "do       a relay or opto module" in result.output
    assert not cache.exists()


def test_without_a_cache_folder_the_board_is_given_all_the_same(small, tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert run("layout", small, "--moves", 2000).exit_code == 0


@pytest.mark.usefixtures("cache")
def test_a_build_draws_the_board_that_was_laid_out(tmp_path):
    assert run("layout", DESIGN, "--moves", 3000).exit_code == 0
    folder = tmp_path / "made"
    built = run("build", DESIGN, "-o", folder)
    assert built.exit_code == 0
    assert "`wirecue layout" not in built.output
    assert {path.name for path in (folder / "strip_board").iterdir()} == {
        "pages.pdf", "component.svg", "copper.svg", "holes.csv", "layout.json",
    }  # fmt: skip


def test_a_build_without_a_board_says_how_to_get_one(capsys):
    _tell_next(Path(DESIGN), Path("made"), load_project(DESIGN), {"sheet.pdf"})
    assert "`wirecue layout DESIGN`" in capsys.readouterr().out
