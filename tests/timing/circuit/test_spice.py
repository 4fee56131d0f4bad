"""The netlists that are written for others to run: ngspice measures what their comments promise."""

from __future__ import annotations

from pathlib import Path

import pytest

from codegen.drawings.files import drawing_files
from tests.conftest import EXAMPLES
from tests.support.ngspice import simulated
from tests.support.running import run
from timing.circuit.spice import spice_circuits
from timing.design.loading import parse_design
from timing.power.spice import Expected, SpiceCircuit
from timing.project import Project
from wirecue.projects import load_board, load_project

SHOP = next(path for path in EXAMPLES if path.stem == "shop_two_step")
ALWAYS = {
    "supply-high-bare", "supply-low-aged", "supply-pull-in", "supply-inrush", "trigger-pressed-low-line",
    "trigger-on-level", "trigger-off-level", "trigger-leak", "trigger-damp-cable", "trigger-rc-left",
}  # fmt: skip


def held(one: SpiceCircuit, file: Path) -> list[str]:
    """What of a circuit's promises ngspice does not measure in its file."""
    found = simulated(file, {each.measure for each in one.expected})
    return [f"{each}: {found[each.measure]}" for each in one.expected if not each.holds(found[each.measure])]


def written(one: SpiceCircuit, folder: Path) -> Path:
    file = folder / f"{one.name}.cir"
    file.write_text(one.text)
    return file


@pytest.mark.debian("ngspice")
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_ngspice_measures_what_each_file_of_a_build_promises(example: Path, tmp_path: Path) -> None:
    project = load_project(example)
    built = {name: text for name, text in drawing_files(project).items() if name.startswith("spice/")}
    circuits = {f"spice/{one.name}.cir": one for one in spice_circuits(project)}
    assert built == {name: one.text for name, one in circuits.items()}
    assert {Path(name).stem for name in built} >= ALWAYS
    (tmp_path / "spice").mkdir()
    for name, text in built.items():
        # Every corner of the supply for one example; the others differ in their numbers only.
        if example == SHOP or not name.startswith("spice/supply-") or "inrush" in name:
            (tmp_path / name).write_text(text)
            assert held(circuits[name], tmp_path / name) == [], name


@pytest.mark.debian("ngspice")
def test_the_command_writes_a_circuit_that_ngspice_runs(tmp_path: Path) -> None:
    file = tmp_path / "leak.cir"
    assert run("supply", SHOP, "--spice", file, "--circuit", "trigger-leak").exit_code == 0
    one = next(one for one in spice_circuits(load_project(SHOP)) if one.name == "trigger-leak")
    assert held(one, file) == []
    # An earlier one is written over, one that was edited is not.
    assert run("supply", SHOP, "--spice", file).exit_code == 0
    file.write_text(file.read_text().replace("Rload", "Rother") + "* mine\n")
    assert run("supply", SHOP, "--spice", file).exit_code == 2
    wrong = run("supply", SHOP, "--spice", "-", "--circuit", "leak")
    assert wrong.exit_code == 2
    assert "trigger-leak: open, a leak of 1 mA" in wrong.output


@pytest.mark.debian("ngspice")
def test_without_its_bleed_the_same_input_reads_the_leak_as_a_press(tmp_path: Path) -> None:
    """What the file shows is the bleed's doing: with it out, the promise is broken."""
    circuits = {one.name: one for one in spice_circuits(load_project(SHOP))}
    for name in ("trigger-leak", "trigger-rc-left", "trigger-damp-cable"):
        lines = circuits[name].text.splitlines(keepends=True)
        file = tmp_path / f"{name}.cir"
        file.write_text("".join(line for line in lines if not line.startswith("Rbleed")))
        assert held(circuits[name], file), name


@pytest.mark.debian("ngspice")
def test_a_stated_leak_and_the_rc_across_a_load_have_files_of_their_own(tmp_path: Path) -> None:
    text = SHOP.read_text().replace("[trigger]", '[trigger]\nsnubber_capacitor = "150 nF"\nleak = "200 kohm"')
    text = text.replace("[feeder.contactor]", '[feeder.contactor]\nsnubber_capacitor = "47 nF"')
    circuits = {one.name: one for one in spice_circuits(Project(parse_design(text), load_board("uno")))}
    for name in ("trigger-stated-leak", "snubber-contactor"):
        assert held(circuits[name], written(circuits[name], tmp_path)) == []


def test_a_promise_holds_within_its_bounds_only() -> None:
    about = Expected("mean", "", 10.0, "V", share=0.01, within=0.2)
    assert [about.holds(value) for value in (9.79, 9.81, 10.19, 10.21)] == [False, True, True, False]
    assert str(about) == "mean about 10 V, within 1 % or 0.2 V"
    assert not Expected("low", "", 3.0, "V", limit="at least").holds(2.9)
    assert not Expected("low", "", 1.0, "V", limit="at most").holds(1.1)
