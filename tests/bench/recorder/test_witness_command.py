"""`wirecue bench --recorder` as people and scripts use it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from bench.feeder_model.machines import lamps
from bench.script_draws import drawn_cases
from bench.virtual.pair import TrueTime, VirtualPair, virtual_pair
from timing.protocol.target_of_design import target_of
from wirecue.cli import main

SHOP = Path(__file__).parents[3] / "examples" / "shop_two_step.toml"


def bench(*arguments):
    return CliRunner().invoke(main, ["bench", str(SHOP), *map(str, arguments)])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--recorder", "ttyB"), "needs --port too, with the port of the add-on"),
        (("--port", "ttyA", "--recorder"), "needs the recorder's port, such as"),
        (("--virtual", "--recorder", "ttyB"), "takes no port with --virtual"),
        (("--virtual", "--random", "3"), "--random needs a recorder"),
        (("--virtual", "--seed", "3"), "--seed is of random scripts"),
        (("--virtual", "--recorder", "--random", "3", "--case", "weld"), "exclude each other"),
        (("--virtual", "--recorder", "--random", "0"), "0 is not in the range"),
    ],
)
def test_what_does_not_go_together_is_told(arguments, says):
    result = bench(*arguments)
    assert result.exit_code == 2
    assert says in result.stderr


def test_one_port_for_both_is_told_before_anything_is_opened(tmp_path):
    port = tmp_path / "ttyA"
    port.touch()
    result = bench("--port", port, "--recorder", port, "--yes")
    assert result.exit_code == 2
    assert "was named for the add-on and for the recorder" in result.output


def test_what_to_connect_is_told_for_this_design_and_asked(tmp_path):
    for name in ("ttyA", "ttyB"):
        (tmp_path / name).touch()
    result = bench("--port", tmp_path / "ttyA", "--recorder", tmp_path / "ttyB")
    told = " ".join(result.output.split())
    assert result.exit_code == 2
    assert "input 1 lies across the lamp at the add-on's gas valve terminals" in told
    assert "output 1 stands for the gun's trigger" in told
    assert "output 2 lies across the purge button's terminals" in told
    assert "nobody is there to say that the cautions are heeded" in told


def test_random_scripts_on_a_virtual_pair_can_be_drawn_again(monkeypatch, tmp_path):
    class Quick(VirtualPair):
        def __init__(self, target, hidden, version):
            super().__init__(target, lamps(), version=version, true=TrueTime(5_003))

    monkeypatch.setattr("bench.virtual.pair.VirtualPair", Quick)
    kept = tmp_path / "run.json"
    result = bench("--virtual", "--recorder", "--random", "1", "--seed", "7", "--json", kept)
    assert result.exit_code == 0, result.output
    assert "seed      7: --seed 7 draws the same scripts again" in result.stdout
    data = json.loads(kept.read_text())
    assert [case["name"] for case in data["cases"]] == ["wiring", "random-7-1", "clocks"]
    assert data["port"] == "none, a virtual board: the model"
    assert data["recorder"]["seed"] == 7


def test_a_seed_draws_the_same_scripts(project_named):
    target = target_of(project_named("spot_stitch"))
    assert list(drawn_cases(target, 3, 5)) == list(drawn_cases(target, 3, 5))
    assert list(drawn_cases(target, 3, 5)) != list(drawn_cases(target, 3, 6))


def test_swapped_ports_are_told_with_the_right_line(project_named):
    with virtual_pair(VirtualPair(target_of(project_named("shop_two_step")), lamps())) as (port, recorder_port):
        result = bench("--port", recorder_port, "--recorder", port, "--yes")
    assert result.exit_code == 2
    assert f"--port {port} --recorder {recorder_port}" in " ".join(result.output.split())
