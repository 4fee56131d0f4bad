"""The registry: every rule stands in it once, can speak, and says no more than its row allows."""

from __future__ import annotations

import json
import re
from functools import cache
from importlib import resources

import jsonschema
import pytest
from click.testing import CliRunner

from codegen.reference import RULE_GROUPS, rules_page
from tests.conftest import EXAMPLES, ROOT
from tests.timing.conftest import SHOP as SURVEYED
from timing.checks import registry
from timing.checks.finding import Finding, Severity, info
from timing.checks.registry import RULES, Rule
from timing.checks.remedies import applied
from timing.design.loading import parse_design
from timing.marks import MARK_MEANINGS
from timing.project import Footprint, Project
from wirecue.cli import main
from wirecue.projects import load_board

TEXTS = {path.stem: path.read_text() for path in EXAMPLES} | {
    "surveyed": SURVEYED,
    "pico": SURVEYED.replace('"uno"', '"pico"'),
}
LOW = 'on_level = { gas_valve = "low", wire_drive = "low", contactor = "low" }'
TEXTS["modules"] = f"{SURVEYED}{LOW}\n".replace('build = "board"', 'build = "modules"')
TEXTS["pico_modules"] = TEXTS["modules"].replace('"uno"', '"pico"')
TEXTS["grounded"] = TEXTS["spot_stitch"].replace('grounded = "no"', 'grounded = "yes"')
MEASURED_BAND = """
[extension_left]
found_from = "3 test welds of 2026-03-01"
settings = "20, 60, 110, 300 ms"
low = "9, 8.5, 7.5, 6 mm"
middle = "12, 10, 9, 8.5 mm"
high = "15, 12, 10.5, 10 mm"
good = "10, 80, 99, 98 %"
frozen = "90, 20, 1, 0 %"
short = "0, 0, 0, 2 %"
fused = "0, 0, 0, 0 %"
ball = "1.2 mm"
wire = "mild-steel"
wire_diameter = "0.90 mm"
gas = "M21"
contact_tip_to_work = "12 mm"
wire_feed_speed = "200 in/min"
"""
TEXTS["measured"] = TEXTS["shop_two_step"] + MEASURED_BAND
TEXTS["made"] = f"{TEXTS['shop_two_step']}\n[panel]\nmade = true\n"
MADE = "made"
SHOP, SPOT, FIELD, SURVEY, PICO = "shop_two_step", "spot_stitch", "gasless_four_step", "surveyed", "pico"
GROUNDED, MODULES, PICO_MODULES = "grounded", "modules", "pico_modules"
BUILD = 'build = "modules"'
LAG = '{ min = "10 ms", typical = "15 ms", max = "25 ms" }'
BEHIND = f'kind = "dc", voltage = "90 V", hold = "3 A", on_delay = {LAG}, off_delay = {LAG}'
UNO, NANO = 'type = "uno"', 'type = "nano"'
BURNBACK = 'burnback = { from = "20 ms", to = "300 ms"'
CAPACITOR = 'reservoir = "1000 uF"'
MOTOR = 'coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A", inrush = "8 A" }'
CONTACTOR = 'coil = { hold = "0.6 A", inrush = "3.5 A" }'
VALVE = 'coil = { hold = "0.33 A", inrush = "0.8 A" }'
DIVIDER = 'divider_top = "56 kohm", divider_bottom = "4.7 kohm"'
RATING = 'contact_dc = { voltage = "30 V", current = "10 A", category = "DC-13" }'


def more(line: str, added: str) -> tuple[str, str]:
    return line, f"{line}\n{added}"


# What makes each rule speak: a design, and what is changed in it.
CASES: dict[str, tuple[str, tuple[str, str] | None]] = {
    "every-role-has-a-pin": (SHOP, more(UNO, 'pins = { trigger = "D99" }')),
    "one-role-a-pin": (SHOP, more(UNO, 'pins = { trigger = "D3", purge = "D3" }')),
    "pins-can-do-their-job": (SHOP, more(UNO, 'pins = { burnback_dial = "D3" }')),
    "pins-are-free-at-boot": (SHOP, more(UNO, 'pins = { trigger = "D0" }')),
    "outputs-are-pulled-off": (SHOP, None),
    "no-idle-pins": (SHOP, more(UNO, 'pins = { spot_dial = "A4" }')),
    "board-was-tested": (SHOP, (UNO, 'type = "pico"')),
    "gates-open-at-logic-level": (SHOP, (UNO, 'type = "pico"')),
    "signals-keep-to-logic-level": (SHOP, (UNO, 'type = "pico"')),
    "filter-bridges-the-gaps": (SHOP, ('filter = "25 ms"', 'filter = "9 ms"')),
    "filter-outlasts-bounce": (SPOT, ('filter = "12 ms"', 'filter = "3 ms"')),
    "release-delay": (SHOP, None),
    "gas-suits-wire": (SHOP, ('gas = "M21"', 'gas = "I1"')),
    "gas-flow-shields": (SHOP, ('gas_flow = "', 'gas_flow = "80 ft3/h" # "')),
    "gas-times-without-gas": (FIELD, ('preflow = "0 ms"', 'preflow = "300 ms"')),
    "source-readings-agree": (SHOP, ('open_circuit_voltage = "', 'open_circuit_voltage = "31 V" # "')),
    "arc-can-burn": (SHOP, ('open_circuit_voltage = "', 'open_circuit_voltage = "14 V" # "')),
    "preflow-clears-the-air": (SHOP, ("preflow = {", 'preflow = "0 ms" # {')),
    "spot-dial-range": (SPOT, ('from = "200 ms", to = "2 s"', 'from = "200 ms", to = "3 s"')),
    "spot-outlasts-the-start": (SPOT, ('from = "200 ms", to = "2 s"', 'from = "20 ms", to = "2 s"')),
    "spot-fuses-the-back-sheet": (SPOT, more('spot_diameter = "4 mm"', 'back_sheet = "12 mm"')),
    "spot-burns-through": (SPOT, None),
    "burnback-is-short": (SHOP, (BURNBACK, BURNBACK.replace("300", "500"))),
    "wire-stops-soon": (SHOP, ('coast = "50 ms"', 'coast = "600 ms"')),
    "burnback-leaves-a-good-end": (SHOP, None),
    "extension-left-holds": ("measured", ('wire_diameter = "0.90 mm"', 'wire_diameter = "0.8 mm"')),
    "ball-is-clipped": (SHOP, ('setting = "130 ms" }', 'setting = "300 ms" }')),
    "burnback-serves-all-speeds": (SHOP, ("burnback = {", 'burnback = "160 ms" # {')),
    "postflow-outlasts-the-crater": (SHOP, ("postflow = {", 'postflow = "0 ms" # {')),
    "pause-parts-the-stitches": (SPOT, ('pause = { from = "200 ms"', 'pause = { from = "29 ms"')),
    "dial-step": (SHOP, None),
    "plate-has-room": (MADE, ('setting = "130 ms" }', 'setting = "295 ms" }')),
    "plate-covers-the-advice": (MADE, ('to = "1.5 s", setting = "300 ms"', 'to = "100 ms", setting = "50 ms"')),
    "supply.readings": (SURVEY, ('measured_loaded = "25.2 V"', 'measured_loaded = "30 V"')),
    "supply.collapse": (
        SURVEY, (CAPACITOR, 'reservoir = "47 uF"\nregulator = "linear"\nrectifier = "half-wave"')
    ),
    "supply.input-voltage": (SURVEY, None),
    "supply.board-voltage": (SURVEY, more(CAPACITOR, 'regulator_output = "24 V"')),
    "supply.dropout": (
        SURVEY, ('open = "27.4 V"\nmeasured_loaded = "25.2 V"', 'open = "12.6 V"\nmeasured_loaded = "11.1 V"')
    ),
    "supply.capacitor-voltage": (SURVEY, more(CAPACITOR, 'reservoir_rating = "35 V"')),
    "supply.capacitor-ripple": (SURVEY, more(CAPACITOR, 'reservoir_ripple = "0.1 A"')),
    "supply.volt-amperes": (SURVEY, ('rating = "100 VA"', 'rating = "23.5 VA"')),
    "supply.pull-in": (SURVEY, ('measured_loaded = "25.2 V"', 'measured_loaded = "21.0 V"')),
    "supply.fuse-current": (SURVEY, more(CAPACITOR, 'fuse = "0.1 A"')),
    "supply.fuse-inrush": (SURVEY, more(CAPACITOR, 'fuse = "0.5 A"')),
    "supply.fuse-short": (SURVEY, more(CAPACITOR, 'fuse = "10 A"')),
    "supply.fuse": (SURVEY, None),
    "supply.fuse-set-by-surge": (SURVEY, None),
    "supply.heat": (SURVEY, more(CAPACITOR, 'regulator = "linear"\nregulator_input_max = "60 V"')),
    "supply.regulator-current": (SURVEY, more(CAPACITOR, 'regulator_output_max = "0.15 A"')),
    "supply.crowbar": (SURVEY, more(CAPACITOR, 'fuse = "4 A"\nseries_resistor = "10 ohm"')),
    "supply.no-sense": (SURVEY, ("sense = {", "# sense = {")),
    "supply.threshold-low": (SURVEY, ('low = "15 V"', 'low = "8 V"')),
    "supply.threshold-high": (SURVEY, ('good = "18 V"', 'good = "33 V"')),
    "supply.hold-up": (SURVEY, ('low = "15 V", good = "18 V"', 'low = "12 V", good = "18 V"')),
    "supply.half-wave": (SURVEY, more('rating = "100 VA"', 'rectifier = "half-wave"')),
    "supply.common-to-chassis": (SURVEY, None),
    "supply.isolation-joined": (SURVEY, more(CAPACITOR, 'isolation = "module"')),
    "supply.isolation-rating": (SURVEY, more(CAPACITOR, 'isolation = "transformer"\nisolation_rating = "2 VA"')),
    "supply.not-measured": (
        SURVEY, ('measured_open = "27.4 V"\nmeasured_loaded = "25.2 V"\nmeasured_load = "2.1 A"\n', "")
    ),
    "supply.measured-with-coils": (SURVEY, ('measured_with = "resistive"\n', "")),
    "supply.limited-power": (SURVEY, None),
    "circuits.trigger-current": (SURVEY, more(CAPACITOR, 'trigger_resistor = "22 kohm"')),
    "circuits.trigger-leak": (SURVEY, ('circuit_voltage = "24 VAC"', 'snubber_capacitor = "1 uF"')),
    "circuits.trigger-off": (
        SURVEY, more(CAPACITOR, 'trigger_resistor = "1.5 kohm"\ntrigger_bleed = "240 ohm"')
    ),
    "circuits.trigger-sag": (SURVEY, ('measured_loaded = "25.2 V"', 'measured_loaded = "18.0 V"')),
    "circuits.trigger-led": (SURVEY, more(CAPACITOR, 'trigger_resistor = "1 kohm"')),
    "circuits.trigger": (SURVEY, None),
    "circuits.contacts": (SHOP, None),
    "circuits.triac-on-dc": (SURVEY, more('coast = "50 ms"', 'drive = "opto-triac"')),
    "circuits.mosfet-on-ac": (SURVEY, (CONTACTOR, f'drive = "mosfet"\n{CONTACTOR}')),
    "circuits.triac-small-coil": (SURVEY, (VALVE, 'drive = "opto-triac"\ncoil = { hold = "30 mA" }')),
    "circuits.pin-current": (PICO, (VALVE, f'drive = "opto-triac"\n{VALVE}')),
    "circuits.leak-holds": (SURVEY, (VALVE, 'drive = "opto-triac"\ncoil = { hold = "8 mA" }')),
    "circuits.snubber-closing": (
        SURVEY, (VALVE, f'snubber_capacitor = "47 nF"\nsnubber_resistor = "1 ohm"\n{VALVE}')
    ),
    "circuits.release": (SURVEY, (CONTACTOR, f'suppression = "diode"\n{CONTACTOR}')),
    "circuits.module-level": (MODULES, more(BUILD, 'relay_active = "high"')),
    "circuits.module-inputs": (PICO_MODULES, None),
    "circuits.module-coils": (MODULES, more(CAPACITOR, 'regulator_output = "9 V"')),
    "circuits.module-spacing": (
        MODULES, (CONTACTOR, 'coil = { fed_from = "elsewhere", voltage = "115 V", hold = "0.2 A" }')
    ),
    "circuits.module-load": (MODULES, None),
    "circuits.module-input-trap": (MODULES, None),
    "circuits.sense-voltage": (SURVEY, ('divider_top = "56 kohm"', 'divider_top = "22 kohm"')),
    "circuits.sense-source": (SURVEY, (DIVIDER, 'divider_top = "560 kohm", divider_bottom = "47 kohm"')),
    "circuits.sense-resolution": (SURVEY, ('good = "18 V"', 'good = "15.1 V"')),
    "circuits.dial-bends": (SURVEY, ('setting = "90 ms" }', 'setting = "90 ms", resistance = "100 kohm" }')),
    "circuits.dial-pick-up": (
        SURVEY, ('build = "board"', 'build = "modules"'),
        ('setting = "90 ms" }', 'setting = "90 ms", resistance = "100 kohm" }'),
    ),
    "circuits.dry-contact": (FIELD, None),
    "circuits.dc-contact": (SURVEY, (RATING, "")),
    "circuits.dc-contact-stated": (SURVEY, None),
    "circuits.dc-clamp": (SURVEY, (MOTOR, f'drive = "mosfet"\n{MOTOR}')),
    "circuits.fed-from": (SURVEY, (CONTACTOR, 'coil = { voltage = "115 V", hold = "0.2 A" }')),
    "circuits.above-extra-low": (
        SURVEY, (CONTACTOR, 'coil = { fed_from = "elsewhere", voltage = "115 V", hold = "0.2 A" }')
    ),
    "circuits.ac-contact": (SURVEY, (CONTACTOR, 'coil = { fed_from = "elsewhere", voltage = "230 V", hold = "4 A" }')),
    "circuits.interposed-contact": (SURVEY, (CONTACTOR, f"{CONTACTOR}\ninterposed = {{ {BEHIND} }}")),
    "circuits.interposed": (SURVEY, (CONTACTOR, f"{CONTACTOR}\ninterposed = {{ {BEHIND.replace('dc', 'ac')} }}")),
    "circuits.mosfet-on-winding": (
        SURVEY, (VALVE, 'drive = "mosfet"\ncoil = { kind = "dc", hold = "0.33 A" }')
    ),
    "circuits.rectifier-surge": (
        SURVEY, (
            'measured_loaded = "25.2 V"\nmeasured_load = "2.1 A"\nmeasured_with = "resistive"\nreservoir = "1000 uF"',
            'measured_loaded = "27.2 V"\nmeasured_load = "40 A"\nmeasured_with = "resistive"\nreservoir = "100 mF"',
        )
    ),
    "circuits.load-unprotected": (SURVEY, (VALVE, f'protection = {{ by = "limited" }}\n{VALVE}')),
    "circuits.load-fuse": (SURVEY, None),
    "circuits.protective-conductor": (
        SURVEY, (CONTACTOR, 'coil = { fed_from = "elsewhere", voltage = "115 V", hold = "0.2 A" }')
    ),
    "feeder.brake-contact": (SURVEY, more('coast = "50 ms"', "braked = true")),
    "feeder.trigger-supply": (FIELD, ('sense = "ac"\noptocoupler = "single"', 'sense = "dc"')),
    "feeder.trigger-works": (SPOT, ('trigger = "relay"', 'trigger = "coils"')),
    "feeder.grounded-trigger": (GROUNDED, ('trigger = "relay"', 'trigger = "relay"\ngrounded_side = "switched"')),
    "feeder.as-found": (SURVEY, None),
    "weld-limit": (FIELD, ('weld = "4 min"', "")),
    "stitch-without-spot": (SPOT, None),
    "four-step-rests": (SPOT, ('mode = "two-step"', 'mode = "switch"')),
    "arc-start-limit": (SPOT, ('arc_start = "2 s"', 'arc_start = "100 ms"')),
    "relay-operations": (SPOT, None),
    "duty-cycle": (SPOT, None),
    "memory-fit": (SHOP, None),
}  # fmt: skip
ERROR, WARNING, INFO = Severity.ERROR, Severity.WARNING, Severity.INFO
SPOT_TIME = 'time = { from = "200 ms", to = "2 s", setting = "450 ms", taper = "audio", off_switch = true }'
PAUSE = 'pause = { from = "200 ms", to = "1.5 s", setting = "800 ms", off_switch = true }'
WINDING = 'measured_open = "27.4 V"\nmeasured_loaded = "25.2 V"'
NO_SENSOR = (('[arc_sensor]\nfilter = "4 ms"\n', ""), ('arc_start = "2 s"', ""))
# And what makes a rule speak more gravely, or more mildly, than it does in its case above.
MORE_CASES: dict[tuple[str, Severity], tuple[str, *tuple[tuple[str, str], ...]]] = {
    ("pins-can-do-their-job", WARNING): (SHOP, more(UNO, 'pins = { trigger = "D4" }')),
    ("filter-bridges-the-gaps", WARNING): (SHOP, ('filter = "25 ms"', 'filter = "15 ms"')),
    ("release-delay", WARNING): (FIELD, ('filter = "45 ms"', 'filter = "80 ms"')),
    ("preflow-clears-the-air", INFO): (SHOP, ("preflow = {", 'preflow = "150 ms" # {')),
    ("spot-outlasts-the-start", ERROR): (SPOT, *NO_SENSOR, (SPOT_TIME, 'time = "30 ms"')),
    ("spot-outlasts-the-start", INFO): (SPOT, *NO_SENSOR, (SPOT_TIME, 'time = "80 ms"')),
    ("wire-stops-soon", WARNING): (SHOP, ('coast = "50 ms"', 'coast = "200 ms"')),
    ("spot-fuses-the-back-sheet", WARNING): (
        SPOT, ('from = "200 ms", to = "2 s", setting = "450 ms"', 'from = "60 ms", to = "2 s", setting = "80 ms"')
    ),
    ("spot-burns-through", WARNING): (SPOT, ('to = "2 s", setting = "450 ms"', 'to = "2 s", setting = "1.9 s"')),
    ("spot-burns-through", ERROR): (
        SPOT, ('from = "200 ms", to = "2 s", setting = "450 ms"', 'from = "1.8 s", to = "2 s", setting = "1.9 s"')
    ),
    ("burnback-leaves-a-good-end", ERROR): (SHOP, ("burnback = {", 'burnback = "0 ms" # {')),
    ("burnback-leaves-a-good-end", WARNING): (SHOP, ('setting = "130 ms" }', 'setting = "40 ms" }')),
    ("extension-left-holds", INFO): ("measured", ("20, 60, 110, 300 ms", "20, 60, 110, 250 ms")),
    ("ball-is-clipped", INFO): (SHOP, ('setting = "130 ms" }', 'setting = "140 ms" }')),
    ("burnback-serves-all-speeds", WARNING): (
        SHOP, (BURNBACK, BURNBACK.replace("300", "70")), ('setting = "130 ms" }', 'setting = "70 ms" }')
    ),
    ("pause-parts-the-stitches", WARNING): (SPOT, *NO_SENSOR, (PAUSE, 'pause = "20 ms"')),
    ("dial-step", WARNING): (SHOP, (BURNBACK, BURNBACK.replace("20 ms", "2 ms"))),
    ("weld-limit", WARNING): (SHOP, ('weld = "5 min"', "")),
    ("four-step-rests", WARNING): (SPOT, ('mode = "two-step"', 'mode = "switch"'), (", off_switch = true", "")),
    ("relay-operations", WARNING): (
        SPOT, (SPOT_TIME, 'time = "80 ms"'), (PAUSE, 'pause = { from = "60 ms", to = "1 s", setting = "75 ms" }')
    ),
    ("duty-cycle", WARNING): (SPOT, more('gas = "M21"', 'duty_cycle = "5 %"\nduty_cycle_current = "100 A"')),
    ("supply.regulator-current", WARNING): (SURVEY, more(CAPACITOR, 'regulator_output_max = "0.25 A"')),
    ("circuits.dial-pick-up", INFO): (SURVEY, ('build = "board"', 'build = "modules"')),
    ("supply.crowbar", INFO): (SURVEY,),
    ("supply.input-voltage", WARNING): (SURVEY, more(CAPACITOR, 'regulator_input_max = "42 V"')),
    ("supply.dropout", WARNING): (SURVEY, (WINDING, 'measured_open = "13.2 V"\nmeasured_loaded = "11.8 V"')),
    ("supply.capacitor-voltage", WARNING): (SURVEY, more(CAPACITOR, 'reservoir_rating = "42 V"')),
    ("supply.volt-amperes", WARNING): (SURVEY, ('rating = "100 VA"', 'rating = "20 VA"')),
    ("supply.heat", WARNING): (
        SURVEY, more(CAPACITOR, 'regulator = "linear"\nregulator_input_max = "60 V"\nregulator_cooling = "12 K/W"')
    ),
    ("supply.half-wave", WARNING): (SURVEY, ('rating = "100 VA"', 'rating = "24 VA"\nrectifier = "half-wave"')),
    ("supply.common-to-chassis", WARNING): (SURVEY, ('grounded = "no"', 'grounded = "yes"')),
    ("circuits.trigger-current", WARNING): (SURVEY, more(CAPACITOR, 'trigger_resistor = "2.7 kohm"')),
    ("circuits.release", INFO): (
        SURVEY, (VALVE, 'drive = "mosfet"\nsuppression = "varistor"\ncoil = { kind = "dc", hold = "0.3 A" }')
    ),
    ("memory-fit", ERROR): (SHOP,),
}  # fmt: skip
ROWS = {rule.name: rule for rule in RULES}
NAMES = (*CASES, *MORE_CASES)
Name = str | tuple[str, Severity]


def broken(name: Name) -> str:
    base, *changes = CASES[name] if isinstance(name, str) else MORE_CASES[name]
    text = TEXTS[base]
    for change in filter(None, changes):
        assert change[0] in text, change[0]
        text = text.replace(*change)
    return text


def project_of(text: str, name: Name = "") -> Project:
    design = parse_design(text)
    board = load_board(design.board.type)
    if name == ("pins-can-do-their-job", WARNING):
        pins = [pin.model_copy(update={"pull_up": False}) if pin.name == "D4" else pin for pin in board.pins]
        board = board.model_copy(update={"pins": tuple(pins)})
    taken = 40_000 if name == ("memory-fit", ERROR) else 9_000
    return Project(design, board, Footprint(taken, 500, measured=False))


@cache
def spoken(name: Name) -> tuple[Finding, ...]:
    return tuple(row_of(name).function(project_of(broken(name), name)))


def row_of(name: Name) -> Rule:
    return ROWS[name if isinstance(name, str) else name[0]]


def title_of(name: Name) -> str:
    return name if isinstance(name, str) else f"{name[0]}-{name[1].word}"


def test_the_cases_and_the_page_have_every_rule_and_no_other():
    names = [rule.name for rule in RULES]
    assert list(CASES) == names
    assert len(set(names)) == len(names)
    page = (ROOT / "docs" / "rules.md").read_text(encoding="utf-8")
    assert page == rules_page(), "`make docs` writes it anew"
    assert [line.split("`")[1] for line in page.splitlines() if line.startswith("| `")] == [
        rule.name for module in RULE_GROUPS for rule in RULES if rule.function.__module__ == f"timing.checks.{module}"
    ]
    assert page.count("\n| `") == len(RULES)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_speaks_where_it_should_and_only_as_its_row_says(rule: Rule):
    findings = spoken(rule.name)
    assert rule.name in {finding.rule for finding in findings}
    for finding in findings:
        row = ROWS[finding.rule]
        assert row.function is rule.function
        assert finding.severity in row.severities
        assert finding.reason
        assert finding.remedies or finding.severity is Severity.INFO
        texts = (finding.text, finding.reason, *(remedy.text for remedy in finding.remedies))
        assert not [text for text in texts if text.endswith(".")], "a finding's texts end without a full stop"
        assert not [text for text in texts if re.search(r"\b(\w+ \w+) \1\b", text)], "the same words twice"
    assert rule.source.partition(":")[0] in MARK_MEANINGS
    assert (rule.remedy != "") or rule.severities == (Severity.INFO,)
    assert list(rule.severities) == sorted(rule.severities, reverse=True)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_severity_that_a_row_lists_occurs(rule: Rule):
    named = [case for case in MORE_CASES if case[0] == rule.name]
    for name in named:
        assert name[1] in {finding.severity for finding in spoken(name) if finding.rule == rule.name}, name
    said = {finding.severity for name in (rule.name, *named) for finding in spoken(name) if finding.rule == rule.name}
    assert said == set(rule.severities)


PLAIN = {
    f"timing.checks.{name}"
    for name in ("board", "controls", "feeder", "gas", "plates", "power_source", "process", "times")
}
QUANTITY = re.compile(r"\d (?:ms|s|min|mm|V|A|ohm|bytes|%|times)(?!\w)")


@pytest.mark.parametrize("name", NAMES, ids=title_of)
def test_a_fact_with_a_quantity_in_it_has_it_as_a_figure(name: Name):
    title = project_of(broken(name), name).board.title
    for finding in spoken(name):
        # What the arc's model says of an arc that cannot burn is a sentence of its own.
        plain = row_of(name).function.__module__ in PLAIN and finding.rule != "arc-can-burn"
        if plain and QUANTITY.search(finding.text.replace(title, "")):
            assert finding.figures, finding.text
        assert all(figure.name and figure.unit for figure in finding.figures)


@pytest.mark.parametrize("name", NAMES, ids=title_of)
def test_each_change_that_is_offered_removes_its_finding_or_leaves_a_milder_one(name: Name):
    for finding in spoken(name):
        for remedy in finding.remedies:
            if not remedy.changes or finding.severity is Severity.INFO:
                continue
            mended = project_of(applied(broken(name), remedy.changes), name)
            left = [
                one for one in ROWS[finding.rule].function(mended) if (one.rule, one.key) == (finding.rule, finding.key)
            ]
            assert all(_milder(one, finding) for one in left), (finding, remedy, left)


def _milder(one: Finding, before: Finding) -> bool:
    return one.severity < before.severity or [figure.value for figure in one.figures] != [
        figure.value for figure in before.figures
    ]


def test_the_json_keeps_to_its_schema(tmp_path):
    schema = json.loads((resources.files("timing.checks") / "finding_schema.json").read_text(encoding="utf-8"))
    printed = CliRunner().invoke(main, ["schema", "--findings"])
    assert {key: value for key, value in json.loads(printed.stdout).items() if key != "made_by"} == schema
    design = tmp_path / "broken.toml"
    design.write_text(broken("supply.fuse-short"), encoding="utf-8")
    checked = CliRunner().invoke(main, ["check", str(design), "--json"])
    refused = CliRunner().invoke(main, ["build", str(design), "--json", "-o", str(tmp_path / "out")])
    supply = CliRunner().invoke(main, ["supply", str(design), "--json"])
    assert (checked.exit_code, refused.exit_code, supply.exit_code) == (1, 1, 1)
    record = json.loads(checked.stdout)
    jsonschema.validate(record, schema)
    assert json.loads(refused.stdout) == record
    assert not (tmp_path / "out").exists()
    of_supply = json.loads(supply.stdout)
    assert of_supply["format"] == record["format"]
    assert of_supply["findings"]
    assert all(finding in record["findings"] for finding in of_supply["findings"])
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**record, "findings": [{"says": "old"}]}, schema)


def test_a_rule_that_is_added_is_in_check_and_on_the_page(monkeypatch):
    def no_short_name(project: Project):
        yield info("no-short-name", "name", f"the name is {project.design.name}", "names are read on labels")

    no_short_name.__module__ = "timing.checks.board"
    row = Rule("no-short-name", no_short_name, (Severity.INFO,), "The name.", "names are read", "", "choice")
    monkeypatch.setattr(registry, "RULES", (*RULES, row))
    monkeypatch.setattr("codegen.reference.RULES", registry.RULES)
    assert "the name is shop_two_step" in [one.text for one in project_of(TEXTS[SHOP]).findings]
    assert "| `no-short-name` | The name. | info | names are read | nothing | choice |" in rules_page()


def test_a_function_runs_once_for_a_project_and_memory_again_when_it_was_measured():
    project = project_of(TEXTS[SHOP])
    supply = project.supply.findings
    assert all(any(one is kept for kept in project.findings) for one in supply)
    measured = project.with_footprint(Footprint(40_000, 500, measured=True))
    assert [one.rule for one in measured.findings if one.severity is Severity.ERROR] == ["memory-fit"]
