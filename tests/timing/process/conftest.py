from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from timing.design.design import Design
from timing.design.loading import parse_design
from timing.process.case import BurnbackCase, burnback_case

TEXT = """
format = 1
name = "bench_feeder"
[process]
wire = "mild-steel"
wire_diameter = "0.9 mm"
gas = "M21"
gas_flow = "14 L/min"
wire_feed_speed = "200 in/min"
wire_feed_speed_low = "140 in/min"
wire_feed_speed_high = "320 in/min"
contact_tip_to_work = "12 mm"
open_circuit_voltage = "23 V"
slope = "25 mV/A"
plate_thickness_low = "0.8 mm"
plate_thickness = "1 mm"
plate_thickness_high = "2 mm"
gas_cylinder = "2300 L"
duty_cycle = "35 %"
duty_cycle_current = "100 A"
[feeder.gas_valve]
on_delay = { min = "15 ms", typical = "22 ms", max = "35 ms" }
off_delay = { min = "15 ms", typical = "25 ms", max = "45 ms" }
coil = { hold = "0.33 A" }
[feeder.wire_drive]
on_delay = { min = "10 ms", typical = "15 ms", max = "25 ms" }
off_delay = { min = "5 ms", typical = "8 ms", max = "15 ms" }
coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A" }
coast = "50 ms"
[feeder.contactor]
on_delay = { min = "20 ms", typical = "30 ms", max = "45 ms" }
off_delay = { min = "12 ms", typical = "20 ms", max = "30 ms" }
coil = { hold = "0.6 A" }
[trigger]
sense = "ac"
filter = "25 ms"
[times]
preflow = { from = "0 ms", to = "1.5 s", setting = "300 ms" }
burnback = { from = "20 ms", to = "300 ms", setting = "90 ms" }
postflow = { from = "200 ms", to = "4 s", setting = "1.2 s" }
[spot]
time = { from = "0.25 s", to = "2.5 s", setting = "1 s" }
[stitch]
pause = "1 s"
[circuits]
build = "board"

[supply]
rating = "100 VA"
line_frequency = "60 Hz"
reservoir = "1000 uF"
[board]
type = "uno"
"""

GASLESS = {
    r"\[feeder.gas_valve\].*?(?=\[feeder.wire_drive\])": "",
    r'"mild-steel"': '"self-shielded"',
    r'gas = "M21"\n.*?\n': 'gas = "none"\n',
}


@pytest.fixture
def design_of() -> Callable[..., Design]:
    """Make a design from the text above, with key = value lines replaced, and patterns substituted."""

    def make(changes: dict[str, str] | None = None, patterns: dict[str, str] | None = None) -> Design:
        text = TEXT
        for pattern, meant in (patterns or {}).items():
            text = re.sub(pattern, meant, text, flags=re.S)
        for key, value in (changes or {}).items():
            new, count = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}" if value else "", text)
            text = new if count else text.replace("[feeder.", f"{key} = {value}\n[feeder.", 1)
        return parse_design(text)

    return make


@pytest.fixture
def gasless_design(design_of: Callable[..., Design]) -> Design:
    return design_of(patterns=GASLESS)


@pytest.fixture
def case(design_of: Callable[..., Design]) -> BurnbackCase:
    return burnback_case(design_of())
