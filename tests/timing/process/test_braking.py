from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.conftest import EXAMPLES, SOAK
from timing.checks.finding import Severity
from timing.design.loading import parse_design
from timing.process.advice import burnback_advice
from timing.process.braking import brake_first
from timing.process.burnback_curve import burnback_curve
from timing.process.case import BurnbackCase
from timing.process.coast import LONG_COAST_S
from wirecue.cli import main
from wirecue.projects import parse_project

SHOP = next(path for path in EXAMPLES if path.stem == "shop_two_step").read_text()
BURNBACK_RULES = {"wire-stops-soon", "burnback-leaves-a-good-end", "burnback-serves-all-speeds"}


def coasting(coast: str) -> str:
    assert 'coast = "50 ms"' in SHOP
    return SHOP.replace('coast = "50 ms"', coast)


@pytest.mark.parametrize("coast_ms", [400, 700, 1000] if SOAK else [400])
def test_a_long_coast_has_one_answer_everywhere(coast_ms: int, tmp_path: Path) -> None:
    text = coasting(f'coast = "{coast_ms} ms"')
    told = [one for one in parse_project(text, "long").findings if one.rule in BURNBACK_RULES]
    assert [one.rule for one in told] == ["wire-stops-soon"]
    assert told[0].severity is Severity.ERROR
    assert "brake the drive" in told[0].remedy
    assert not told[0].remedies[0].changes

    advice = burnback_advice(parse_design(text), 250)
    assert advice.time is None
    assert advice.brake is not None

    (tmp_path / "long.toml").write_text(text)
    for command in ("advise", "burnback"):
        said = " ".join(CliRunner().invoke(main, [command, str(tmp_path / "long.toml")]).output.split())
        assert "shorts the armature" in said
        assert "start with" not in said.lower()


def test_a_brake_ends_it(case: BurnbackCase) -> None:
    slow = replace(case, coast_s=0.6)
    assert brake_first(burnback_curve(slow, draws=250)) is not None
    assert brake_first(burnback_curve(replace(slow, coast_s=0.025, braked=True), draws=250)) is None


def test_a_brake_that_does_not_bite_is_mended(case: BurnbackCase) -> None:
    worn = brake_first(burnback_curve(replace(case, coast_s=0.6, braked=True), draws=250))
    assert worn is not None
    assert "mend the brake" in worn.remedy


def test_where_a_brake_would_not_help_none_is_asked_for(case: BurnbackCase) -> None:
    """A short coast, and a machine whose volts are too low for any burnback: the motor is not to blame."""
    assert brake_first(burnback_curve(replace(case, coast_s=LONG_COAST_S / 2), draws=250)) is None
    assert brake_first(burnback_curve(replace(case, coast_s=0.11), draws=250)) is None
