"""`wirecue recorder`: one folder with all that hands need, and nothing over what somebody edited."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from codegen import toolchain
from tests.conftest import ROOT
from wirecue.cli import main

SHOP = ROOT / "examples" / "shop_two_step.toml"


@pytest.fixture(autouse=True)
def _without_compiler(monkeypatch):
    """What the compiler makes is tested with the sketch; here it would only take time."""
    monkeypatch.setattr(toolchain, "find_tools", lambda: None)


def made(folder: Path, *options: str, design: Path = SHOP) -> tuple[int, str]:
    done = CliRunner().invoke(main, ["recorder", str(design), "-o", str(folder), *options])
    return done.exit_code, done.output


def test_one_folder_has_sketch_papers_drawings_lists_and_disc(tmp_path):
    code, output = made(tmp_path / "out", "--roll", "35 mm")
    assert code == 0, output
    names = {path.relative_to(tmp_path / "out").as_posix() for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert {
        "recorder/recorder.ino", "sheet.pdf", "sheet.html", "schematic.svg", "bench.svg", "machine.svg", "disc.svg",
        "disc.pdf", "parts.csv", "wires.csv", "nets.csv", "manifest.json",
    } <= names  # fmt: skip
    assert "test it on the table before it goes near the machine" in " ".join(output.split())
    manifest = json.loads((tmp_path / "out" / "manifest.json").read_text())
    assert manifest["makes"] == "recorder"
    assert manifest["for_design"] == "shop_two_step"
    # The same again changes nothing; an edited file is kept.
    (tmp_path / "out" / "parts.csv").write_text("mine")
    code, output = made(tmp_path / "out", "--roll", "35 mm")
    assert code == 2
    assert "parts.csv" in output
    assert (tmp_path / "out" / "parts.csv").read_text() == "mine"


def test_as_json_it_tells_lags_and_circuits(tmp_path):
    code, output = made(tmp_path / "out", "--json", "--board", "pico", "--sensor", "flag")
    assert code == 0, output
    told = json.loads(output)
    assert told["board"] == "pico"
    gas = told["circuits"]["inputs"]["gas_valve"]
    assert gas["on_lag_us"][1] > gas["steady_on_lag_us"][1]
    assert told["circuits"]["inputs"]["sensor"]["kind"] == "reflex sensor"
    assert "sheet.pdf" in told["new"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--board", "nanno"), "no board 'nanno'"),
        (("--roll", "35"), "--roll"),
        (("--roll", "3 m"), "15 mm to 80 mm"),
        (("--sensor", "nose"), "--sensor"),
    ],
)
def test_a_bad_option_is_refused_with_what_is_allowed(tmp_path, options, words):
    code, output = made(tmp_path / "out", *options)
    assert code == 2
    assert words in " ".join(output.split())
    assert not (tmp_path / "out").exists()


def test_what_must_not_be_built_is_not(tmp_path):
    code, output = made(tmp_path / "out", "--disc", "40 mm", "--bore", "20 mm")
    assert code == 1
    assert "A larger disc" in " ".join(output.split())
    assert not (tmp_path / "out").exists()


def test_it_never_takes_the_folder_of_a_build(tmp_path):
    """Its files would be removed as those of an earlier build."""
    from codegen.plan import Plan
    from codegen.writing import write_plan

    write_plan(Plan({"sheet.html": b"a build"}), tmp_path / "out", {"made_by": "wirecue 1", "design": "x"})
    code, output = made(tmp_path / "out")
    assert code == 2
    assert "the folder of a build" in " ".join(output.split())
    assert (tmp_path / "out" / "sheet.html").read_bytes() == b"a build"
