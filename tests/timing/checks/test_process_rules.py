"""The rules on wire end, gas and spot: silent where a welder would nod, loud and with a remedy where not."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES
from timing.checks import gas, process
from timing.checks.finding import Finding, Severity
from timing.checks.process import RULE_DRAWS
from timing.checks.registry import check
from timing.checks.remedies import applied
from timing.design.loading import parse_design
from timing.process.burnback import FUSED, QUICK_STEP_S, run_burnback
from timing.process.case import burnback_case, scatter
from timing.project import Project
from wirecue.projects import load_board

TEXTS = {path.stem: path.read_text() for path in EXAMPLES}
SHOP, SPOT, FIELD = "shop_two_step", "spot_stitch", "gasless_four_step"
ERROR, WARNING, INFO = Severity.ERROR, Severity.WARNING, Severity.INFO
GOOD_END = "burnback-leaves-a-good-end"
SPEEDS = "burnback-serves-all-speeds"
PREFLOW = "preflow-clears-the-air"
POSTFLOW = "postflow-outlasts-the-crater"
START = "spot-outlasts-the-start"


def changed(example: str, **values: str) -> str:
    """The example with `key = value` lines replaced; an empty value takes the line out."""
    text = TEXTS[example]
    for key, value in values.items():
        text, count = re.subn(rf"(?m)^{key} = .*\n", f"{key} = {value}\n" if value else "", text)
        assert count, key
    return text


def of(rule: str, text: str) -> list[Finding]:
    design = parse_design(text)
    return [finding for finding in check(Project(design, load_board(design.board.type))) if finding.rule == rule]


def graver(rule: str, text: str) -> list[Finding]:
    return [finding for finding in of(rule, text) if finding.severity > INFO]


@pytest.mark.parametrize(
    ("example", "values", "rule", "severity", "says"),
    [
        (
            SHOP,
            {"burnback": '{ from = "20 ms", to = "300 ms", setting = "40 ms" }'},
            GOOD_END,
            WARNING,
            "freeze there in",
        ),
        (SHOP, {"burnback": '"0 ms"'}, GOOD_END, ERROR, "lets the wire run into the puddle and freeze there in"),
        (SHOP, {"burnback": '"130 ms"'}, GOOD_END, INFO, "leaves 8 mm of solid wire"),
        (SHOP, {"burnback": '"300 ms"', "open_circuit_voltage": '"26 V"'}, GOOD_END, WARNING, "short"),
        (SHOP, {"burnback": '{ from = "20 ms", to = "70 ms", setting = "70 ms" }'}, SPEEDS, WARNING, "140 in/min"),
        (SHOP, {"burnback": '"160 ms"'}, SPEEDS, WARNING, "at 8.1 m/min (320 in/min) a fixed burnback"),
        (SHOP, {"preflow": '"0 ms"'}, PREFLOW, WARNING, "preflow is 0 ms; valve and nozzle alone need"),
        (SHOP, {"preflow": '"150 ms"'}, PREFLOW, INFO, "after a pause the gun fills with air"),
        (SHOP, {"preflow": '"150 ms"', "purge": "false"}, PREFLOW, WARNING, "after a pause the gun fills with air"),
        (SHOP, {"postflow": '"500 ms"'}, POSTFLOW, WARNING, "postflow is 500 ms; the crater takes some"),
        (SPOT, {"postflow": '"0 ms"'}, POSTFLOW, WARNING, "postflow is 0 ms"),
        (SPOT, {"time": '{ from = "20 ms", to = "2 s", setting = "600 ms" }'}, START, WARNING, "30 ms to burn once"),
        (SPOT, {"time": '{ from = "40 ms", to = "2 s", setting = "600 ms" }'}, START, INFO, None),
    ],
)
def test_a_time_that_does_not_serve_is_found(example, values, rule, severity, says):
    found = of(rule, changed(example, **values))
    if says is None:
        assert all(finding.severity is severity for finding in found)
        return
    assert [(finding.severity, says in finding.text) for finding in found] == [(severity, True)], found
    assert found[0].reason
    assert found[0].remedy or severity is INFO


NO_SENSOR = {r"\[arc_sensor\]\nfilter = .*\n": "", r"arc_start = .*\n": ""}


@pytest.mark.parametrize(
    ("setting", "severity", "says"),
    [
        # The contactor takes up to 40 ms and the arc 30 ms more; below 40 ms there is no arc at all.
        ("35 ms", ERROR, "the arc takes up to 70 ms to burn"),
        ("60 ms", WARNING, "the shortest spot is 60 ms"),
        ("80 ms", INFO, "scatters by"),
    ],
)
def test_without_an_arc_sensor_the_spot_must_outlast_pull_in_and_arc_start(setting, severity, says):
    text = changed(SPOT, time=f'"{setting}"')
    for pattern, meant in NO_SENSOR.items():
        text = re.sub(pattern, meant, text)
    found = of(START, text)
    assert [(finding.severity, says in finding.text) for finding in found] == [(severity, True)], found


def test_the_remedy_of_each_rule_fixes_it():
    text = changed(SHOP, burnback='{ from = "20 ms", to = "300 ms", setting = "40 ms" }')
    remedy = of(GOOD_END, text)[0].remedy
    setting = re.search(r"a burnback of (\d+) ms", remedy)
    assert setting is not None
    mended = text.replace('setting = "40 ms"', f'setting = "{setting[1]} ms"')
    assert graver(GOOD_END, mended) == []

    narrow = changed(SHOP, burnback='{ from = "20 ms", to = "70 ms", setting = "70 ms" }')
    wide = applied(narrow, of(SPEEDS, narrow)[0].remedies[0].changes)
    assert 'to = "70 ms"' not in wide
    assert graver(SPEEDS, wide) == []

    for key, rule, short in (("preflow", PREFLOW, "0 ms"), ("postflow", POSTFLOW, "200 ms")):
        broken = changed(SHOP, **{key: f'"{short}"'})
        least = re.search(r"of ([\d.]+ m?s)", of(rule, broken)[0].remedy)
        assert least is not None
        assert of(rule, broken.replace(f'{key} = "{short}"', f'{key} = "{least[1]}"')) == []


def test_gasless_wire_is_asked_for_no_gas():
    assert of(PREFLOW, TEXTS[FIELD]) == of(POSTFLOW, TEXTS[FIELD]) == []


def test_where_no_arc_can_burn_one_sentence_says_so():
    text = changed(SHOP, open_circuit_voltage='"14 V"')
    found = of("arc-can-burn", text)
    assert [finding.severity for finding in found] == [WARNING]
    assert "no arc is possible" in found[0].text
    assert found[0].remedy
    assert of(GOOD_END, text) == of(SPEEDS, text) == of(POSTFLOW, text) == []


def test_the_step_of_the_rules_is_fine_enough():
    case = burnback_case(parse_design(TEXTS[SHOP]))
    drawn, settings = scatter(case, RULE_DRAWS), [0.02, 0.09, 0.13, 0.3]
    quick, usual = (
        run_burnback(drawn.plant, drawn.point, drawn.release, case.end, settings, step) for step in (QUICK_STEP_S, 2e-3)
    )
    # Where a wire fuses at a long step it may be a little beyond the contact tip.
    free = usual.outcome != FUSED
    assert abs(quick.extension_mm - usual.extension_mm)[free].max() < 0.15


@settings(max_examples=40)
@given(
    example=st.sampled_from(sorted(TEXTS)),
    volts=st.integers(12, 60),
    distance_mm=st.integers(4, 40),
    speed_mm_s=st.integers(10, 500),
    diameter_mm=st.sampled_from([0.5, 0.6, 0.8, 1.2, 1.6, 2.4]),
    burnback_ms=st.sampled_from([0, 1, 60, 400, 2_000]),
)
def test_no_design_that_loads_brings_the_rules_down(example, volts, distance_mm, speed_mm_s, diameter_mm, burnback_ms):
    text = changed(
        example,
        # Readings of one weld do not go with the volts of another.
        **dict.fromkeys([key for key in ("load_voltage", "load_current") if key in TEXTS[example]], ""),
        open_circuit_voltage=f'"{volts} V"',
        contact_tip_to_work=f'"{distance_mm} mm"',
        wire_feed_speed=f'"{speed_mm_s} mm/s"',
        wire_feed_speed_low="",
        wire_feed_speed_high="",
        wire_diameter=f'"{diameter_mm} mm"',
        burnback=f'"{burnback_ms} ms"',
    )
    project = Project(parse_design(text), load_board("uno"))
    for rule in (process.arc_can_burn, process.burnback_leaves_a_good_end, gas.postflow_outlasts_the_crater):
        for finding in rule(project):
            assert "nan" not in finding.text
            assert "inf " not in finding.text
