"""`wirecue advise`: every time with its unit, band and reasons; one screen of words where nothing can burn."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET

import pytest

from tests.conftest import ROOT, gate_share
from tests.support.running import run, shop
from wirecue.terminal import paragraph

# A band in words: '90 ms to 700 ms does', '1.3 s to 2.9 s does'.
DOES = re.compile(r"[\d.]+ m?s to [\d.]+ m?s does")


def test_every_time_of_the_design_is_advised_on_with_band_and_reasons(example):
    result = run("advise", example)
    assert result.exit_code == 0
    blocks = [block for block in result.output.split("\n\n") if DOES.search(block.splitlines()[0])]
    data = json.loads(run("advise", example, "--json").stdout)
    assert [block.split()[0] for block in blocks] == list(data["times"])
    assert all("- " in block for block in blocks)
    assert "prove it on scrap" in result.output.splitlines()[-1]


def test_it_says_what_the_design_has_beside_the_advice(tmp_path):
    result = run("advise", shop(tmp_path, 'setting = "130 ms"', 'setting = "60 ms"'))
    assert "the design has 60 ms" in result.output


def test_gasless_wire_is_told_that_it_needs_no_gas_times():
    from tests.conftest import EXAMPLES

    result = run("advise", next(path for path in EXAMPLES if "gasless" in path.stem))
    assert "leave preflow and postflow at 0 s" in result.output


def test_as_json_every_number_has_its_unit_in_its_key(example):
    data = json.loads(run("advise", example, "--json").stdout)
    units = re.compile(r"_(us|s|mm|l|mm_s|percent)$|share|welds_per_cylinder|^(low|middle|high)$")

    def walk(key, value):
        if isinstance(value, dict):
            for name, inner in value.items():
                walk(name if not name.startswith(("low", "middle", "high")) else f"{key}", inner)
        elif isinstance(value, list):
            for inner in value:
                walk(key, inner)
        elif isinstance(value, float | int) and not isinstance(value, bool):
            assert units.search(key), key

    walk("", {name: value for name, value in data.items() if name != "times"})
    for time in data["times"].values():
        assert {key for key, value in time.items() if isinstance(value, int)} <= {
            f"{name}_us" for name in ("setting", "low", "high", "dial_from", "dial_to", "design")
        }


def test_the_picture_is_written_whole(tmp_path):
    path = tmp_path / "advice.svg"
    assert run("advise", shop(tmp_path), "--svg", path).exit_code == 0
    texts = " ".join(element.text or "" for element in ET.parse(path).iter() if element.tag.endswith("text"))
    for words in ("preflow time", "burnback time", "postflow time", "frozen in the puddle", "prove it on scrap"):
        assert words in texts


def test_where_no_arc_can_burn_it_says_so_and_ends_with_1(tmp_path):
    result = run("advise", shop(tmp_path, 'open_circuit_voltage = "23 V"', 'open_circuit_voltage = "14 V"'))
    assert result.exit_code == 1
    assert result.stdout == ""
    what, allowed, remedy = result.stderr.splitlines()
    assert "no arc is possible" in what
    assert allowed.startswith("  allowed  ")
    assert remedy.startswith("  do       ")


def test_json_and_picture_cannot_both_be_printed(tmp_path):
    assert run("advise", shop(tmp_path), "--json", "--svg", "-").exit_code == 2


@pytest.mark.parametrize("width", [20, 33, 60])
def test_a_number_is_never_parted_from_its_unit(width):
    lines = paragraph("Between 100 ms and 300 ms it takes 0.2 mm off, 15 % of it; at 14 L/min.", width).splitlines()
    assert all(not re.search(r"\d$", line) for line in lines)
    assert all(len(line) <= width for line in lines)


def test_write_puts_the_advice_into_the_design_and_then_has_nothing_to_add(tmp_path):
    path = shop(tmp_path, 'setting = "130 ms"', 'setting = "60 ms"')
    before = path.read_text()
    result = run("advise", path, "--write")
    assert result.exit_code == 0
    assert f"written: {path}" in result.stderr
    assert "the design has" not in result.stdout
    after = path.read_text()
    assert [line for line in after.splitlines() if line.startswith("#")] == [
        line for line in before.splitlines() if line.startswith("#")
    ]
    assert run("advise", path, "--write").stderr == ""
    assert path.read_text() == after
    data = json.loads(run("advise", path, "--json").stdout)
    assert all(time["design_us"] == time["setting_us"] for time in data["times"].values())


@pytest.mark.parametrize(
    ("name", "metal", "gas"),
    gate_share(
        [
            ("spot_stitch", '"mild-steel"', '"M21"'),
            ("spot_stitch", '"aluminium"', '"I1"'),
            ("gasless_four_step", "", ""),
            ("shop_two_step", "", ""),
        ],
        2,
    ),
)
def test_the_checks_have_nothing_against_the_advice_once_written(name, metal, gas, tmp_path):
    path = tmp_path / f"{name}.toml"
    path.write_text((ROOT / "examples" / path.name).read_text())
    if name == "spot_stitch":
        # The amperes that were read belong to steel.
        text = path.read_text().replace('load_current = "100 A"\n', "")
        path.write_text(text.replace('"mild-steel"', metal).replace('"M21"', gas))
    assert run("advise", path, "--write").exit_code == 0
    told = run("check", path)
    assert told.exit_code == 0
    assert not re.search(r"(?m)^warning  (times|spot|stitch)", told.output)


SLOW_WIRE = ('coast = "50 ms"', 'coast = "100 ms"')


def test_before_the_plates_are_made_a_dial_that_gets_new_ends_is_told(tmp_path):
    path = shop(tmp_path)
    told = run("advise", path, "--write").stdout
    assert "preflow: a dial from 0 ms to 2 s, not 0 ms to 1.5 s, set to 350 ms" in told
    assert "Plates to print anew: preflow, burnback, postflow (`wirecue sheet" in " ".join(told.split())
    assert "Flash the board again" in told
    assert "On the panel nothing moves." in run("advise", path, "--write").stdout


def test_made_plates_stay_true_and_a_dial_that_no_longer_serves_is_told_with_the_way_out(tmp_path):
    path = shop(tmp_path, *SLOW_WIRE)
    path.write_text(path.read_text() + "\n[panel]\nmade = true\n")
    ends = re.compile(r'from = "[^"]*", to = "[^"]*"')
    before = ends.findall(path.read_text())
    told = run("advise", path, "--write")
    assert ends.findall(path.read_text()) == before
    assert "burnback: turn its dial from 130 ms to " in told.stdout
    assert "The triangle on a plate stays where it was printed" in told.stdout
    short = json.loads(run("advise", path, "--write", "--json").stdout)["short"]
    assert ("burnback", "high", 300_000) in [(one["time"], one["end"], one["has_us"]) for one in short]
    assert "These dials no longer serve" in told.stdout
    assert "--new-ranges" in told.stdout

    anew = json.loads(run("advise", path, "--write", "--new-ranges", "--json").stdout)
    names = {one["time"] for one in short}
    # Only what is short gets another plate.
    assert set(anew["plates_to_print"]) == names
    assert anew["short"] == []
    assert "made = false" in path.read_text()
    assert len(set(ends.findall(path.read_text())) & set(before)) == len(before) - len(names)


def test_new_ranges_are_written_or_nothing_is(tmp_path):
    path = shop(tmp_path)
    before = path.read_text()
    refused = run("advise", path, "--new-ranges")
    assert refused.exit_code == 2
    assert "--new-ranges goes with --write" in refused.stderr
    assert path.read_text() == before


def test_a_picture_on_standard_output_stays_a_picture(tmp_path):
    result = run("advise", shop(tmp_path), "--write", "--svg", "-")
    ET.fromstring(result.stdout)
    assert "Plates to print anew" in result.stderr
