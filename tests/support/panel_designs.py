"""Designs with every panel: dials that reach this far and that, switches, buttons, trigger modes, limits, sensors."""

from __future__ import annotations

from types import SimpleNamespace

from hypothesis import strategies as st

from timing.design.loading import parse_design
from timing.design.units import format_duration
from timing.project import Project
from wirecue.projects import load_board

BOARD = load_board("mega")
BUDGETS = {}
"""Of the supplies drawn so far."""

_HEAD = """format = 1
name = "drawn"

[process]
wire = "mild-steel"
wire_diameter = "0.9 mm"
{gas}
wire_feed_speed = "200 in/min"
contact_tip_to_work = "12 mm"
open_circuit_voltage = "23 V"

{valve}
[feeder.wire_drive]
on_delay = {{ min = "10 ms", typical = "15 ms", max = "25 ms" }}
off_delay = {{ min = "5 ms", typical = "8 ms", max = "15 ms" }}
coil = {{ kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A" }}
coast = "50 ms"

[feeder.contactor]
on_delay = {{ min = "20 ms", typical = "30 ms", max = "45 ms" }}
off_delay = {{ min = "12 ms", typical = "20 ms", max = "30 ms" }}
coil = {{ hold = "0.6 A", inrush = "3.5 A" }}
"""
_VALVE = """[feeder.gas_valve]
on_delay = { min = "15 ms", typical = "22 ms", max = "35 ms" }
off_delay = { min = "15 ms", typical = "25 ms", max = "45 ms" }
coil = { hold = "0.33 A", inrush = "0.8 A" }
"""
_TAIL = """
[supply]
rating = "100 VA"
line_frequency = "60 Hz"
grounded = "%s"
measured_open = "27.4 V"
measured_loaded = "25.2 V"
measured_load = "2.1 A"
measured_with = "resistive"
reservoir = "1000 uF"
regulator_input_max = "60 V"
%s

[board]
type = "mega"
"""
_SENSE = 'sense = { divider_top = "56 kohm", divider_bottom = "4.7 kohm", low = "18 V", good = "22 V" }'


@st.composite
def _time(draw: st.DrawFn, low_us: int, high_us: int, switch: bool = True) -> str:
    """One time: fixed or on a dial, by steps of 10 ms; small, great, or anywhere between."""
    steps = st.integers(low_us // 10_000, high_us // 10_000)
    ends = sorted({draw(st.one_of(st.just(low_us // 10_000), steps)), draw(steps)})
    off_switch = ", off_switch = true" if switch and draw(st.booleans()) else ""
    one, *other = (format_duration(end * 10_000) for end in ends)
    if not other:
        return f'{{ setting = "{one}"{off_switch} }}'
    setting = format_duration(draw(st.integers(*ends)) * 10_000)
    taper = draw(st.sampled_from(["linear", "audio"]))
    return f'{{ from = "{one}", to = "{other[0]}", setting = "{setting}", taper = "{taper}"{off_switch} }}'


@st.composite
def panel_designs(draw: st.DrawFn) -> str:
    """Return the text of a design file."""
    flag = st.booleans()
    gas, sensor, spot = draw(flag), draw(flag), draw(st.sampled_from([None, "end", "complete"]))
    text = _HEAD.format(
        gas='gas = "M21"\ngas_flow = "14 L/min"' if gas else 'gas = "none"', valve=_VALVE if gas else ""
    )
    mode = draw(st.sampled_from(["two-step", "four-step", "switch"]))
    text += f'\n[trigger]\nmode = "{mode}"\nsense = "dc"\nfilter = "{draw(st.sampled_from([5, 25, 80]))} ms"\n'
    text += "\n[buttons]\n" + "".join(f"{name} = {str(draw(flag)).lower()}\n" for name in ("purge", "inch"))
    text += f"\n[interlock]\nfitted = {str(draw(flag)).lower()}\n"
    if sensor:
        text += '\n[arc_sensor]\nfilter = "4 ms"\n'
    text += "\n[times]\n"
    text += f"preflow = {draw(_time(0, 2_000_000))}\nburnback = {draw(_time(0, 2_000_000))}\n"
    text += f"postflow = {draw(_time(0, 5_000_000))}\n"
    if spot is not None:
        text += f'\n[spot]\ntime = {draw(_time(20_000, 9_000_000))}\non_release = "{spot}"\n'
        if draw(flag):
            text += f"\n[stitch]\npause = {draw(_time(50_000, 3_000_000))}\n"
            if text.count("off_switch", text.index("[spot]")) == 2 and draw(flag):
                text += '\n[panel]\nselector = "three-position"\n'
    text += "\n[limits]\n"
    text += f'purge = "{draw(st.sampled_from([1, 30, 300]))} s"\ninch = "{draw(st.sampled_from([1, 10, 300]))} s"\n'
    if mode != "two-step" or draw(flag):
        text += f'weld = "{draw(st.sampled_from([20, 240, 60, 2, 0.1]))} s"\n'
    if sensor:
        text += f'arc_start = "{draw(st.sampled_from([2, 3, 30, 0.05]))} s"\n'
    grounded = draw(st.sampled_from(["no", "yes", "unknown"]))
    return text + _TAIL % (grounded, _SENSE if draw(flag) else "")


def drawn_project(text: str, advised_us: int | None) -> Project:
    """A project whose burnback advice is given, wherever that is: computing it is tested elsewhere."""
    project = Project(parse_design(text), BOARD)
    supply = project.design.supply
    kept = (project.design.process.gasless, supply.grounded, supply.sense is None)
    # The drawn supplies are alike but for these; to compute each anew would take most of the time.
    if kept not in BUDGETS:
        BUDGETS[kept] = project.budget
    project.__dict__["budget"] = BUDGETS[kept]
    advice = None
    if advised_us is not None:
        burnback = SimpleNamespace(setting_us=advised_us, low_us=advised_us // 2, high_us=2 * advised_us)
        times = tuple(SimpleNamespace(name=name, setting_us=advised_us) for name in project.features.times)
        advice = SimpleNamespace(burnback=SimpleNamespace(time=burnback), times=times)
    project.__dict__["advice"] = advice
    return project
