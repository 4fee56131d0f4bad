"""COMMON is not isolated from the winding: which finding and which caution for which answer."""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt

import pytest

from timing.checks.finding import Severity
from timing.checks.isolation import common_to_chassis
from timing.circuit.parts import Netlist, PartKind, Terminal
from timing.design.loading import parse_design
from timing.power.budget import common_potential
from timing.project import Project

Projects = Callable[..., Project]
FLOATS = 'grounded = "no"'
SENSE = 'sense = { divider_top = "56 kohm", divider_bottom = "4.7 kohm", low = "15 V", good = "18 V" }'
ANSWERS = {"no": FLOATS, "yes": 'grounded = "yes"', "unknown": 'grounded = "unknown"', "left out": ""}


@pytest.mark.parametrize("answer", ANSWERS)
def test_what_was_found_of_the_winding_changes_finding_and_cautions(answer: str, project: Projects) -> None:
    changed = project((FLOATS, ANSWERS[answer]))
    found = changed.budget
    (finding,) = common_to_chassis(changed)
    at = common_potential(found)
    assert finding.severity == (Severity.INFO if answer == "no" else Severity.WARNING)
    assert at.swing in finding.text + finding.reason
    told = " ".join(remedy.text for remedy in finding.remedies)
    wiring = changed.netlist
    placed = {caution.at: caution.text for caution in wiring.cautions}
    port = placed[next(part.ref for part in wiring.parts if part.kind is PartKind.BOARD)]
    assert placed["COMMON"].startswith("COMMON is not isolated: it is joined to the winding by the rectifier.")
    assert "Never to chassis, work, or an oscilloscope's ground" in placed["COMMON"]
    if answer == "no":
        assert "measured to float" in placed["COMMON"]
        assert port.startswith("USB only on the bench with the feeder plug (P1) pulled")
        assert "must be B" not in placed["T1"]
        return
    assert "counts as tied" in finding.text or answer == "yes"
    assert ("Measure it cold" in told) == (answer != "yes")
    assert "Never connect USB, an oscilloscope's ground or chassis" in told
    assert "through a second transformer, 24 V to 18 V, 16 VA" in told
    assert "isolating dc-dc module" in told
    assert at.short in finding.reason
    assert at.short in placed["COMMON"]
    assert ("may be grounded" in placed["COMMON"]) == (answer != "yes")
    assert port.startswith("No USB with the feeder plug (P1) in")
    assert "A side on chassis must be B" in placed["T1"]


def test_the_default_of_the_design_file_is_the_careful_one(shop_text: str) -> None:
    assert parse_design(shop_text.replace(FLOATS, "")).supply.grounded == "unknown"


def test_half_wave_is_one_side_of_the_winding_itself(project: Projects) -> None:
    changed = project((FLOATS, 'grounded = "yes"\nrectifier = "half-wave"'))
    found = changed.budget
    at = common_potential(found)
    peak_v = found.winding.open_v * 1.1 * sqrt(2.0)
    assert (at.lowest_v, at.highest_v) == pytest.approx((-peak_v, peak_v))
    assert at.tied_rms_a == pytest.approx(found.winding.stiff.prospective_a(1.1))
    (finding,) = common_to_chassis(changed)
    assert "shorts the winding outright" in finding.reason
    common = next(caution.text for caution in changed.netlist.cautions if caution.at == "COMMON")
    assert "it is side B of the winding" in common


def test_nothing_says_any_more_that_common_is_isolated(project: Projects) -> None:
    for answer in ANSWERS.values():
        wiring = project((FLOATS, answer)).netlist
        assert not any("is isolated" in caution.text for caution in wiring.cautions)


@pytest.mark.parametrize("kind", ["transformer", "module"])
def test_what_parts_common_is_said_in_finding_cautions_and_readings(kind: str, project: Projects) -> None:
    """The netlist is asked as well: nothing joins the winding's side to COMMON."""
    sense = () if kind == "transformer" else ((SENSE, ""),)
    changed = project((FLOATS, f'grounded = "yes"\nisolation = "{kind}"'), *sense)
    (finding,) = common_to_chassis(changed)
    assert finding.severity is Severity.INFO
    assert "COMMON is parted from the winding by" in finding.text
    wiring = changed.netlist
    placed = {caution.at: caution.text for caution in wiring.cautions}
    assert placed["COMMON"].startswith("COMMON is parted from the winding by")
    assert reached(wiring, "24VAC-A").isdisjoint({"COMMON", "RAIL"})
    as_found = project((FLOATS, 'grounded = "yes"')).netlist
    assert {"COMMON", "RAIL"} <= reached(as_found, "24VAC-A")


def test_a_divider_on_the_reservoir_joins_the_sides_of_a_module_again(project: Projects) -> None:
    changed = project((FLOATS, 'grounded = "yes"\nisolation = "module"'))
    assert "COMMON" in reached(changed.netlist, "24VAC-A")
    assert "supply.isolation-joined" in {one.rule for one in changed.supply.errors}


def reached(wiring: Netlist, start: str) -> set[str]:
    """Nets that a current from one of them can reach, through every part but couplers, relays and what isolates."""
    isolating = {
        PartKind.COUPLER, PartKind.AC_INPUT_COUPLER, PartKind.RELAY, PartKind.OPTO_TRIAC, PartKind.DC_RELAY,
        PartKind.SECOND_TRANSFORMER, PartKind.ISOLATING_MODULE, PartKind.SOCKET, PartKind.PLUG, PartKind.BOARD,
    }  # fmt: skip
    found, new = {start}, [start]
    while new:
        net = new.pop()
        on_net = next(one for one in wiring.nets if one.name == net).terminals
        for part in {wiring.part(terminal.ref) for terminal in on_net}:
            if part.kind in isolating or part.place == "feeder":
                continue
            names = {wiring.net_of(Terminal(part.ref, name)).name for name in part.terminals} - found
            found |= names
            new += names
    return found
