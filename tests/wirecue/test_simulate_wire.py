"""`wirecue simulate` shows what the wire's end does, or says why it cannot."""

from __future__ import annotations

from tests.support.running import run, shop


def test_the_terminal_shows_extension_arc_length_and_what_is_left(example):
    result = run("simulate", example)
    assert "\n         extension " in result.output
    assert "\n        arc length " in result.output
    assert "mm extension left: good" in result.output


def test_where_no_arc_can_burn_it_says_so_and_shows_the_rest(tmp_path):
    result = run("simulate", shop(tmp_path, 'open_circuit_voltage = "23 V"', 'open_circuit_voltage = "14 V"'))
    assert result.exit_code == 0
    assert "no traces of the wire's end: no arc is possible" in result.stderr
    assert "contactor actual" in result.stdout
    assert "extension" not in result.stdout
