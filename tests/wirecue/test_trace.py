"""`wirecue trace` as people and scripts use it."""

from __future__ import annotations

import io
import json
import subprocess
import xml.etree.ElementTree as ET

import pytest
from click.testing import CliRunner
from vcd import VCDWriter

from tests.conftest import ROOT
from wirecue.cli import main

SHOP = ROOT / "examples" / "shop_two_step.toml"
# Instants of the ordinary weld of the shop example, in microseconds.
WELD_US = {
    "trigger": (100_000, 1_925_000),
    "gas": (125_000, 4_080_000),
    "wire": (425_000, 1_950_000),
    "contactor": (425_000, 2_080_000),
}


def run(*arguments):
    return CliRunner().invoke(main, list(map(str, arguments)))


def dump(path, pulses=WELD_US, end_us=4_300_000):
    """Write a dump of one pulse a channel."""
    file = io.StringIO()
    with VCDWriter(file, timescale="1 us", date="") as writer:
        wires = {name: writer.register_var("analyser", name, "wire", size=1, init=0) for name in pulses}
        changes = [(at, name, 1 - index) for name, pulse in pulses.items() for index, at in enumerate(pulse)]
        for at_us, name, level in sorted(changes):
            writer.change(wires[name], at_us, level)
        writer.close(end_us)
    path.write_text(file.getvalue())
    return path


@pytest.mark.parametrize("form", ["vcd", "csv"])
def test_our_own_simulation_passes(example, tmp_path, form):
    assert run("simulate", example, f"--{form}", tmp_path / "run").exit_code == 0
    result = run("trace", tmp_path / "run", example)
    assert result.exit_code == 0, result.output
    assert "edges are as the design has them." in result.stdout


def test_a_simulation_with_an_edge_moved_does_not(tmp_path):
    run("simulate", SHOP, "--csv", tmp_path / "run.csv")
    text = (tmp_path / "run.csv").read_text()
    assert text.count("2080000,contactor,0\n") == 1
    (tmp_path / "run.csv").write_text(text.replace("2080000,contactor,0\n", "1950000,contactor,0\n"))
    result = run("trace", tmp_path / "run.csv", SHOP)
    assert result.exit_code == 2
    assert "time goes back at '1950000'" in result.stderr
    rows = [row for row in text.splitlines() if row != "2080000,contactor,0"]
    rows.insert(rows.index("1950000,wire_drive,0"), "1950000,contactor,0")
    (tmp_path / "run.csv").write_text("\n".join(rows))
    result = run("trace", tmp_path / "run.csv", SHOP)
    assert result.exit_code == 1
    assert "FAIL  contactor goes off      2080.000     1950.000" in result.stdout


def test_every_edge_is_shown_with_its_error(tmp_path):
    result = run("trace", dump(tmp_path / "a.vcd"), SHOP)
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert lines[0].startswith("design     shop_two_step, digest ")
    assert "trigger    channel trigger, closed when high: it begins open" in lines
    assert sum(line.startswith("pass  ") for line in lines) == 6
    assert lines[-1] == "All 6 edges are as the design has them."


def test_a_moved_and_a_missing_edge_fail_and_are_named(tmp_path):
    late = WELD_US | {"contactor": (425_000, 2_095_000), "gas": (125_000,)}
    result = run("trace", dump(tmp_path / "a.vcd", late), SHOP, "--svg", tmp_path / "a.svg")
    assert result.exit_code == 1
    assert "contactor goes off at 2.095000 s, expected at 2.080000 s: 15.000 ms late" in result.stdout
    assert "gas valve goes off: expected at 4.080000 s, did not happen." in result.stdout
    assert "--dials-as-found" in result.stdout
    assert result.stdout.endswith("2 of 6 edges FAIL. Do not connect this board to the feeder.\n")
    picture = (tmp_path / "a.svg").read_text()
    for words in ("gas valve expected", "measured", "15.000 ms late", "missing", "burnback"):
        assert words in picture
    ET.fromstring(picture)


def test_reports_are_written_and_one_may_be_printed(tmp_path):
    path = dump(tmp_path / "a.vcd", WELD_US | {"wire": (425_000, 1_990_000)})
    result = run("trace", path, SHOP, "--json", "-", "--junit", tmp_path / "a.xml")
    assert result.exit_code == 1
    data = json.loads(result.stdout)
    assert (data["passed"], data["channels"]["gas_valve"]["channel"]) == (False, "gas")
    assert [edge["error_us"] for edge in data["edges"] if not edge["passed"]] == [40_000]
    suite = ET.parse(tmp_path / "a.xml").getroot().find("testsuite")
    assert suite is not None
    assert suite.get("name") == "wirecue trace shop_two_step"
    assert [case.get("name") for case in suite.findall("testcase") if case.find("failure") is not None] == [
        "wire_drive"
    ]


def test_channels_dials_and_rate_can_be_told(tmp_path):
    pulses = {"D0": (1_000_000, 2_000_000), "D1": (1_325_000, 2_025_000), "D2": (1_325_000, 2_175_000)}
    path = dump(tmp_path / "a.vcd", pulses)
    told = ["--map", "trigger=D0,wire_drive=D1", "-m", "contactor=D2", "--script", "0 s dial burnback 150 ms"]
    result = run("trace", path, SHOP, *told, "--sample-rate", "100 kHz")
    assert result.exit_code == 0, result.output
    assert "samples    every 10 us: as given" in result.stdout
    assert "All 4 edges" in result.stdout


@pytest.mark.debian("sigrok-cli")
@pytest.mark.parametrize(
    ("options", "name"),
    [(["-O", "vcd"], "b.vcd"), (["-O", "csv"], "b.csv"), (["-O", "csv:header=false"], "bare.csv")],
)
def test_what_an_analysers_software_makes_of_a_simulation_passes_too(tmp_path, options, name):
    run("simulate", SHOP, "--vcd", tmp_path / "run.vcd")
    # Every tick becomes a sample: one in a hundred is plenty.
    command = ["sigrok-cli", "-I", "vcd:downsample=100", "-i", str(tmp_path / "run.vcd"), *options]
    done = subprocess.run(command, capture_output=True, check=True)
    (tmp_path / name).write_bytes(done.stdout)
    maps = ["--map", "trigger=D0,gas_valve=D1,wire_drive=D3,contactor=D5"] if name == "bare.csv" else []
    result = run("trace", tmp_path / name, SHOP, *maps)
    assert result.exit_code == 0, result.output
    assert "samples    every 100 us" in result.stdout
    assert "All 6 edges" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--map", "gas=D0"], "--map: 'gas' for a role; allowed: gas_valve, "),
        (["--map", "gas_valve=D9"], "a.vcd: no channel 'D9'; allowed: 'trigger', 'gas', 'wire', 'contactor'."),
        (["--script", "0 s dial spot 1 s"], "this needs a dial for spot in it"),
        (["--script", "0 s press", "--script-file", "x"], "--script and --script-file exclude each other"),
        (["--sample-rate", "fast"], "for example '1 MHz'"),
        (["--svg", "-", "--json", "-"], "only one of --svg, --json and --junit can be printed"),
    ],
)
def test_a_wrong_command_is_exit_code_2_and_a_sentence(tmp_path, arguments, says):
    result = run("trace", dump(tmp_path / "a.vcd"), SHOP, *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""


def test_a_file_that_is_no_capture_is_exit_code_2_and_a_sentence(tmp_path):
    (tmp_path / "a.vcd").write_bytes(b"$var wire\x00 \xff")
    result = run("trace", tmp_path / "a.vcd", SHOP)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{tmp_path / 'a.vcd'}")
    assert len(result.stderr.splitlines()) == 1


def test_help_says_how_to_capture_and_what_not_to_touch():
    text = " ".join(run("trace", "--help").stdout.split())
    for words in (
        "lamps for loads",
        "feeder plug (P1) pulled",
        "Never to 24 V",
        "isolation",
        "open-circuit voltage can kill",
    ):
        assert words in text
