"""A dc load that a relay may not break is never built for."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.conftest import ROOT
from wirecue.cli import main

MOTOR = 'coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A", inrush = "8 A" }'
RATING = 'contact_dc = { voltage = "30 V", current = "10 A", category = "DC-13" }\n'


@pytest.mark.parametrize(("volts", "amps"), [("90 V", "3 A"), ("115 V", "0.4 A"), ("250 V", "0.1 A")])
def test_check_and_build_refuse_a_dc_load_without_a_stated_rating(volts: str, amps: str, tmp_path: Path) -> None:
    text = (ROOT / "examples" / "shop_two_step.toml").read_text()
    assert MOTOR in text
    assert RATING in text
    coil = f'coil = {{ kind = "dc", fed_from = "elsewhere", voltage = "{volts}", hold = "{amps}" }}'
    design = tmp_path / "motor.toml"
    design.write_text(text.replace(MOTOR, coil).replace(RATING, ""))
    for arguments in (["check", str(design)], ["build", str(design), "-o", str(tmp_path / "built")]):
        result = CliRunner().invoke(main, arguments)
        assert result.exit_code == 1, result.output
        told = " ".join(result.output.split())
        assert f"The wire drive runs on {volts} dc and takes {amps}; no dc rating is stated" in told
    assert [path.name for path in tmp_path.iterdir()] == ["motor.toml"]
