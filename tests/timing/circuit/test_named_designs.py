"""Machines that a workshop may bring: each closes with its reasons, or is refused with a remedy that works.

A case is the shop feeder with some of its lines changed. `refused` names the errors that it must raise; `mended` are
the changes that a person makes on the advice of the finding. Where they are the finding's own, `mended` is left empty,
and the changes of its first remedy that has any are made.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import pytest

from tests.timing.conftest import SHOP
from timing.checks.finding import DesignEdit, Finding, Severity
from timing.checks.remedies import applied, first_changes, mended
from timing.circuit.feeder_ladder import feeder_wiring
from timing.circuit.lists import parts_list
from timing.circuit.parts import Group, PartKind, Terminal
from timing.design.loading import parse_design
from timing.power.verdict import supply_verdict
from timing.project import Project
from timing.sequence.core.table import Output
from timing.sequence.simulate import actual_edges
from wirecue.projects import load_board

Changes = tuple[tuple[str, str], ...]

CONTACTOR = 'coil = { hold = "0.6 A", inrush = "3.5 A" }'
VALVE = 'coil = { hold = "0.33 A", inrush = "0.8 A" }'
MOTOR = 'coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A", inrush = "8 A" }'
RATING = 'contact_dc = { voltage = "30 V", current = "10 A", category = "DC-13" }'
# 24 VAC with nothing drawn and a high line stands above the usual regulator's 40 V.
REGULATOR: Changes = (('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nregulator_input_max = "60 V"'),)


@dataclass(frozen=True)
class Named:
    """One of them."""

    changes: Changes
    refused: tuple[str, ...] = ()
    """Rules whose errors it must raise, and no others."""
    says: tuple[str, ...] = ()
    """Rules that must speak of the design as it closes."""
    bought: tuple[str, ...] = ()
    """What the parts list must say of the design as it closes."""
    mended: Changes = ()


def mains_coil(volts: str, more: str = "") -> str:
    return f'{more}coil = {{ fed_from = "elsewhere", voltage = "{volts}", hold = "0.2 A", inrush = "1.2 A" }}'


DRIVE_90_V = 'coil = { kind = "dc", fed_from = "elsewhere", voltage = "90 V", hold = "3 A", inrush = "9 A" }'
PREFLOW = ('preflow = { from = "0 ms", to = "1.5 s", setting = "300 ms" }', 'preflow = "300 ms"')
UNO = 'type = "uno"'
BUILD = ('build = "board"', 'build = "modules"')


def of_modules(board: str) -> str:
    levels = '{ gas_valve = "low", wire_drive = "low", contactor = "low" }'
    return f'type = "{board}"\non_level = {levels}'


LAG = '{ min = "10 ms", typical = "15 ms", max = "25 ms" }'
BEHIND = (
    'kind = "dc", voltage = "90 V", hold = "3 A", inrush = "9 A", '
    'contact_dc = { voltage = "110 V", current = "12 A", category = "DC-13" }, '
    f"on_delay = {LAG}, off_delay = {LAG}"
)
INTERPOSED = f'coil = {{ hold = "0.25 A", inrush = "1.5 A" }}\ninterposed = {{ {BEHIND} }}'
NAMED: dict[str, Named] = {
    "a contactor for 115 VAC": Named(
        ((CONTACTOR, mains_coil("115 V")),),
        says=("circuits.above-extra-low", "circuits.load-fuse", "circuits.protective-conductor"),
        bought=("B300 or AC-15 0.2 A at 115 V", "varistor, 150 V RMS", "for mains, unlike the other"),
    ),
    "a gas valve for 24 V dc on the ac winding, with a MOSFET": Named(
        ((VALVE, 'drive = "mosfet"\ncoil = { kind = "dc", hold = "0.33 A", inrush = "0.33 A" }'),),
        refused=("circuits.mosfet-on-winding",),
        says=("circuits.load-fuse",),
        # A contact breaks the ac in front of the coil's own rectifier: the varistor must take either direction.
        bought=("varistor, 35 V RMS",),
    ),
    "a drive of 90 V dc and 3 A": Named(
        ((MOTOR, DRIVE_90_V), (RATING, "")),
        refused=("circuits.dc-contact",),
        says=("circuits.load-fuse",),
        # An interposing contactor of 24 VAC breaks the motor; its coil is the add-on's load.
        mended=((DRIVE_90_V, INTERPOSED),),
        bought=("B300 or AC-15 0.25 A at 24 V", "interposing contactor for the wire drive, coil 24 V ac",
                "stated for 110 V dc, 12 A, DC-13"),
    ),
    "one relay for drive and contactor, parted": Named(
        ((MOTOR, 'switched = "relay-coil"\ncoil = { kind = "dc", fed_from = "elsewhere", hold = "0.15 A" }'),
         (RATING, 'braked = true'),
         ("[feeder.gas_valve]", '[feeder.as_found]\ntrigger = "relay"\none_relay = true\n\n[feeder.gas_valve]')),
        says=("circuits.load-fuse",),
        bought=("30 V dc, 5 A",),
    ),
    "a gas valve for 230 VAC with an opto-triac": Named(
        ((VALVE, mains_coil("230 V", 'drive = "opto-triac"\n')),),
        says=("circuits.above-extra-low", "circuits.protective-conductor"),
        bought=("opto-triac, zero crossing, 800 V, pulse 1 A", "triac, 800 V, 8 A", "470 ohm", "varistor, 320 V RMS"),
    ),
    "a contactor for 230 VAC that is too much for a small relay": Named(
        ((CONTACTOR, 'coil = { fed_from = "elsewhere", voltage = "230 V", hold = "3.5 A", inrush = "30 A" }'),),
        refused=("circuits.ac-contact", "circuits.load-unprotected"),
        mended=(('coil = { fed_from = "elsewhere", voltage = "230 V", hold = "3.5 A", inrush = "30 A" }', CONTACTOR),),
    ),
    "a Pico with active-low modules": Named(
        (PREFLOW, BUILD, (UNO, of_modules("pico"))),
        refused=("circuits.module-inputs",),
        says=("circuits.module-load", "circuits.module-input-trap"),
        bought=("supply of their own for 3.3 V", "coils 5 V dc, 70 mA or less each", "the usual 40 V type does not do"),
    ),
    "a Pico with active-low modules, turned to active-high ones": Named(
        (PREFLOW, BUILD, (UNO, of_modules("pico"))),
        refused=("circuits.module-inputs",),
        mended=(('"low", wire_drive = "low", contactor = "low"', '"high", wire_drive = "high", contactor = "high"'),),
        bought=("active high, off below 0.8 V and on from 3.3 V",),
    ),
    "a board of 5 V with active-low modules": Named(
        (BUILD, (UNO, of_modules("uno"))),
        says=("circuits.module-load", "circuits.release"),
        bought=("active low, 5 mA or less each, off while open",),
    ),
}  # fmt: skip


def changed(text: str, changes: Changes) -> str:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def project_of(text: str) -> Project:
    design = parse_design(text)
    return Project(design, load_board(design.board.type))


def errors_of(project: Project) -> list[Finding]:
    return [one for one in project.supply.findings if one.severity is Severity.ERROR]


@pytest.mark.parametrize("name", NAMED)
def test_a_named_machine_closes_with_reasons_or_is_refused_with_a_remedy_that_works(name: str) -> None:
    case = NAMED[name]
    text = changed(SHOP, (*REGULATOR, *case.changes))
    errors = errors_of(project_of(text))
    assert {one.rule for one in errors} == set(case.refused), [one.text for one in errors]
    assert all(one.remedies for one in errors)
    if errors:
        text = changed(text, case.mended) if case.mended else applied(text, first_changes(errors))
    project = project_of(text)
    assert [one.text for one in errors_of(project)] == []
    told = {one.rule: one for one in project.supply.findings}
    assert set(case.says) <= set(told)
    assert all(told[rule].reason for rule in case.says)
    rows = parts_list(project.netlist)
    described = "\n".join(row.description for row in rows)
    for words in case.bought:
        assert words in described, words
    loads = [
        row for row in rows if set(row.refs) & {part.ref for part in project.netlist.parts if part.place == "feeder"}
    ]
    assert all(row.reasons for row in loads)


def test_a_dry_trigger_is_refused_on_dc_and_closes_on_the_tapped_supply() -> None:
    """Cut off a control circuit board, nothing feeds it but the add-on's own tap."""
    found = ("[feeder.gas_valve]", '[feeder.as_found]\ntrigger = "electronics"\n\n[feeder.gas_valve]')
    text = changed(SHOP, (*REGULATOR, found, ('sense = "ac"\noptocoupler = "ac-input"', 'sense = "dc"')))
    errors = [one for one in project_of(text).findings if one.severity is Severity.ERROR]
    assert [one.rule for one in errors] == ["feeder.trigger-supply"]
    project = project_of(applied(text, first_changes(errors)))
    assert [one.text for one in project.findings if one.severity is Severity.ERROR] == []
    assert next(one for one in project.findings if one.rule == "circuits.trigger").figures
    wiring = feeder_wiring(project)
    assert wiring is not None
    assert [goes.partition(",")[0] for cut in wiring.cuts[:2] for _, goes in cut.ends] == [
        "J1.TRIG-FEED", "J1.TRIG-FOUND1", "J1.TRIG-LIVE", "J1.TRIG-FOUND2",
    ]  # fmt: skip
    # In the add-on: from the tapped supply behind the fuse to the trigger, and from its input back to the other side.
    net = project.netlist
    assert net.net_of(Terminal("P1", "TRIG-FEED")) == net.net_of(Terminal("P1", "24VAC-A"))
    coupler = net.the(Group.TRIGGER, PartKind.COUPLER, PartKind.AC_INPUT_COUPLER)
    assert net.net_of(Terminal(coupler.ref, "K")) == net.net_of(Terminal("P1", "24VAC-B"))
    assert net.the(Group.FEEDER, PartKind.FEEDER_TRIGGER).value == "trigger, dry contact"
    assert "TRIG-RETURN" not in net.part("J1").terminals


def test_a_dry_trigger_said_to_carry_another_voltage_is_refused_and_closes() -> None:
    """The control circuit board's own volts are gone once its wires are off: what counts is the tapped supply."""
    found = ("[feeder.gas_valve]", '[feeder.as_found]\ntrigger = "electronics"\n\n[feeder.gas_valve]')
    text = changed(SHOP, (*REGULATOR, found, ('circuit_voltage = "24 VAC"', 'circuit_voltage = "12 VAC"')))
    finding = next(one for one in project_of(text).findings if one.rule == "feeder.trigger-supply")
    assert "nothing feeds it with 12 V ac" in finding.text
    mended_text = applied(text, first_changes([finding]))
    assert "feeder.trigger-supply" not in {one.rule for one in project_of(mended_text).findings}


# ---- Supplies -------------------------------------------------------------------------------------------------------

READINGS = re.compile(r"(?m)^measured_(open|loaded|load|with) = .*\n")


def found_in(text: str) -> dict[str, Finding]:
    """What the supply's and the circuits' rules say, by rule."""
    return {finding.rule: finding for finding in project_of(text).supply.findings}


def with_winding(rating: str, open_v: str, loaded_v: str, load_a: str, *more: str) -> str:
    """The shop feeder on another winding, measured with a lamp."""
    readings = (f'measured_open = "{open_v}"', f'measured_loaded = "{loaded_v}"', f'measured_load = "{load_a}"')
    lines = "\n".join((*readings, 'measured_with = "resistive"', *more))
    text = READINGS.sub("", SHOP).replace('rating = "100 VA"', f'rating = "{rating}"')
    return text.replace("[supply]\n", f"[supply]\n{lines}\n")


def mended_project(text: str) -> Project:
    """The project after every first remedy."""
    return project_of(mended(text, project_of(text).board))


FORTY_VA = with_winding("40 VA", "27.1 V", "25.4 V", "1 A")


def test_a_40_va_winding_closes_once_what_it_asks_for_is_fitted() -> None:
    """1.7 ohm: it carries feeder and add-on, and says where it is tight, in volts and in percent."""
    closed = mended_project(FORTY_VA.replace('inrush = "3.5 A"', 'inrush = "2 A"'))
    said = supply_verdict(closed.supply)
    assert said.carries, said.text
    assert closed.supply.errors == ()
    assert closed.budget.closes
    assert closed.budget.fuse.works
    assert re.search(r"carries 6\d % of its rating", said.margin)


def test_a_40_va_winding_under_a_large_contactor_is_not_called_carried() -> None:
    """The coil decides: with its power factor stated, as the remedy asks, the verdict is another."""
    closed = mended_project(FORTY_VA.replace('inrush = "3.5 A"', 'inrush = "3 A"'))
    said = supply_verdict(closed.supply)
    assert not said.carries
    assert "the coils may not pull in" in said.answer
    finding = next(one for one in closed.supply.findings if one.rule == "supply.pull-in")
    assert "pull_in_power_factor" in finding.remedies[0].text
    lagging = FORTY_VA.replace('inrush = "3.5 A"', 'inrush = "3 A", pull_in_power_factor = "50 %"')
    assert supply_verdict(mended_project(lagging).supply).carries


def test_a_28_v_winding_lightly_loaded_asks_for_60_v_parts_and_a_filled_fuse() -> None:
    """Stiff and high: over 40 V behind the bridge, and more than 35 A into a short."""
    text = with_winding("100 VA", "28 V", "27.3 V", "2 A")
    trap = found_in(text)["supply.input-voltage"]
    assert trap.severity is Severity.ERROR
    assert trap.remedies[0].changes == (DesignEdit("supply.regulator_input_max", "60 V"),)
    closed = mended_project(text)
    assert supply_verdict(closed.supply).carries
    assert closed.supply.errors == ()
    fuse = closed.budget.fuse
    assert fuse.highest_a > 35.0
    assert fuse.sheet.number == 5
    assert fuse.marking == "T 1 A H"
    assert closed.design.supply.series_resistor_ohm is not None


@pytest.mark.parametrize("kind", ["transformer", "module"])
def test_a_grounded_24_vac_closes_with_what_parts_common_from_it(kind: str) -> None:
    """As it is: a warning with figures. With the remedy applied: parted, no error, and nothing joins the sides."""
    text = mended(SHOP.replace('grounded = "no"', 'grounded = "yes"'), load_board("uno"))
    if kind == "module":
        text = re.sub(r"(?m)^sense = \{.*\n", "", text)
    finding = found_in(text)["supply.common-to-chassis"]
    assert finding.severity is Severity.WARNING
    assert "shorts the winding through one diode" in finding.reason
    assert all(word in finding.reason for word in ("USB cable", "oscilloscope", "metal box"))
    remedy = next(one for one in finding.remedies if DesignEdit("supply.isolation", kind) in one.changes)
    closed = mended_project(applied(text, remedy.changes))
    assert closed.budget.isolation.kind == kind
    assert closed.supply.errors == ()
    assert supply_verdict(closed.supply).carries
    assert found_in(applied(text, remedy.changes))["supply.common-to-chassis"].severity is Severity.INFO


def test_a_grounded_24_vac_with_a_module_and_a_divider_is_refused_and_the_remedy_works() -> None:
    text = SHOP.replace('grounded = "no"', 'grounded = "yes"\nisolation = "module"')
    refused = found_in(text)["supply.isolation-joined"]
    assert refused.severity is Severity.ERROR
    assert "joins the reservoir to the board" in refused.text
    closed = mended_project(text)
    assert closed.budget.isolation.kind == "transformer"
    assert closed.supply.errors == ()


def test_the_lag_of_an_interposing_contactor_counts_in_every_time() -> None:
    plain = changed(SHOP, ((MOTOR, 'coil = { hold = "0.25 A", inrush = "1.5 A" }'), (RATING, "")))
    behind = changed(SHOP, ((MOTOR, INTERPOSED), (RATING, "")))
    direct, late = (project_of(text) for text in (plain, behind))
    one, other = (next(each for each in project.drives if each.role == "wire_drive") for project in (direct, late))
    assert other.off_delay.typical_us - one.off_delay.typical_us == 15_000
    assert other.off_delay.max_us - one.off_delay.max_us == 25_000
    starts = [
        min(edge.at_us for edge in actual_edges(project.design, project.timeline)[Output.WIRE] if edge.on)
        for project in (direct, late)
    ]
    assert starts[1] - starts[0] == 15_000
