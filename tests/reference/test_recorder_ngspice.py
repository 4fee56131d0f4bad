"""An adapter of the recorder across an ac coil, in an independent circuit simulator: dark time and LED current."""

from __future__ import annotations

import math

import pytest

from tests.support.ngspice import simulated
from tests.support.recorders import built
from timing.circuit.spice import LED_NEW_V, LED_OLD_V, LED_SLOPE_V
from timing.circuit.trigger_input import CTR_AT_A, LED_MAX_A
from timing.recorder.fitting import RecorderWish, recorder_circuits
from wirecue.projects import load_board

NETLIST = """* adapter across an ac coil
V1 a 0 SIN(0 {peak!r} {hz!r})
R1 a b {ohm!r}
D1 b 0 led
D2 0 b led
.model led D(IS={saturation!r} N={emission!r})
Bled x 0 V = abs(V(a) - V(b)) / {ohm!r}
.tran 2u {stop!r} {start!r} 2u
.control
run
meas tran dark TRIG v(x) VAL={lit!r} FALL=1 TARG v(x) VAL={lit!r} RISE=2
meas tran most MAX v(x)
quit
.endc
.end
"""


def run(folder, adapter, volts, stray, led_v):
    """Dark time in us and most LED current, with every part as given."""
    hz = adapter.circuit.frequency_hz
    file = folder / "adapter.cir"
    file.write_text(
        NETLIST.format(
            peak=volts * math.sqrt(2.0), hz=hz, ohm=sum(adapter.series_ohm) * (1.0 + stray), lit=adapter.coupler.lit_a,
            saturation=CTR_AT_A * math.exp(-led_v / LED_SLOPE_V), emission=LED_SLOPE_V / 0.025865, start=1.0 / hz,
            stop=2.0 / hz,
        )
    )  # fmt: skip
    found = simulated(file, {"dark", "most"})
    return 1e6 * found["dark"], found["most"]


@pytest.mark.debian("ngspice")
@pytest.mark.parametrize("name", ["shop_two_step", "spot_stitch"])
def test_dark_time_and_led_current_are_those_of_the_simulator_or_a_little_worse(name, tmp_path):
    circuits = recorder_circuits(built(name, "board"), load_board("nano"), RecorderWish())
    adapter = circuits.adapters["gas_valve"]
    dark_us, _ = run(tmp_path, adapter, adapter.circuit.low_v, 0.05, LED_OLD_V)
    assert 0.93 * adapter.dark_us < dark_us <= adapter.dark_us
    _, most_a = run(tmp_path, adapter, adapter.circuit.high_v, -0.05, LED_NEW_V)
    assert 0.95 * adapter.high_a < most_a <= adapter.high_a <= LED_MAX_A
