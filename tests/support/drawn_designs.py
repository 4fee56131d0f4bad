"""Designs with every kind of circuit in every combination, for the drawings."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from hypothesis import strategies as st

from timing.project import Project
from wirecue.projects import parse_project

FULL = Path(__file__).with_name("full.toml").read_text()
"""A panel with everything on it: all dials, all switches, all contacts."""

OUTPUTS = ("gas_valve", "wire_drive", "contactor")


@cache
def project_of(text: str) -> Project:
    """Return the project of a text; what follows from equal texts is computed once a session."""
    return parse_project(text, "design")


def _load(
    role: str, drive: str, suppression: str, kind: str, fed_from: str, volts: str, snubber: bool, level: str
) -> tuple[str, str]:
    """The output's table and its level."""
    lines = [f'drive = "{drive}"', f'suppression = "{suppression}"']
    if snubber:
        lines.append('snubber_capacitor = "47 nF"')
    table = [
        f"[feeder.{role}]",
        'on_delay = { min = "15 ms", typical = "22 ms", max = "35 ms" }',
        'off_delay = { min = "15 ms", typical = "25 ms", max = "45 ms" }',
        f'coil = {{ kind = "{kind}", fed_from = "{fed_from}", voltage = "{volts}", hold = "0.4 A" }}',
        *(['coast = "50 ms"'] if role == "wire_drive" else []),
        *lines,
    ]
    return "\n".join(table), f'{role} = "{level}"'


_OUTPUT = st.tuples(
    st.sampled_from(["relay", "opto-triac", "mosfet"]), st.sampled_from(["zener", "varistor", "diode"]),
    st.sampled_from(["ac", "dc"]), st.sampled_from(["control", "elsewhere"]), st.sampled_from(["24 V", "115 V"]),
    st.booleans(),
    st.sampled_from(["high", "low"]),
)  # fmt: skip


APART = 'build = "modules"\nrelay_inputs = "apart"'


LAG = '{ min = "10 ms", typical = "15 ms", max = "25 ms" }'
BEHIND = (
    'kind = "dc", voltage = "90 V", hold = "3 A", inrush = "9 A", '
    'contact_dc = { voltage = "110 V", current = "12 A", category = "DC-13" }',
    'kind = "dc", voltage = "24 V", hold = "8 A", '
    'contact_dc = { voltage = "30 V", current = "30 A", category = "DC-13" }',
    'kind = "ac", voltage = "24 V", hold = "12 A", inrush = "60 A"',
    'kind = "ac", voltage = "230 V", hold = "80 A"',
    'kind = "ac", voltage = "600 V", hold = "20 A"',
)
"""Loads that are too much for a small relay, at mains level and below."""


@st.composite
def designs(draw: st.DrawFn, interposed: bool = False) -> str:
    loads = [_load(role, *draw(_OUTPUT)) for role in OUTPUTS]
    if interposed:
        behind = draw(st.lists(st.sampled_from(["", *BEHIND]), min_size=3, max_size=3).filter(any))
        tables = [f"\ninterposed = {{ {one}, on_delay = {LAG}, off_delay = {LAG} }}" if one else "" for one in behind]
        loads = [(load + table, level) for (load, level), table in zip(loads, tables, strict=True)]
    trigger = draw(
        st.sampled_from(
            ['sense = "ac"\noptocoupler = "ac-input"', 'sense = "ac"\noptocoupler = "single"', 'sense = "dc"']
        )
    )
    supply = [
        draw(st.sampled_from(['rectifier = "bridge"', 'rectifier = "half-wave"'])),
        draw(st.sampled_from(['isolation = "none"', 'isolation = "module"', 'isolation = "transformer"'])),
        draw(st.sampled_from(["", 'series_resistor = "4.7 ohm"'])),
        draw(st.sampled_from(['regulator = "switching"', 'regulator = "linear"'])),
    ]
    text = FULL.replace("#LOADS", "\n\n".join(load for load, _ in loads))
    text = text.replace("#LEVELS", f"on_level = {{ {', '.join(level for _, level in loads)} }}")
    text = text.replace("#TRIGGER", trigger).replace("#SUPPLY", "\n".join(supply))
    text = text.replace("#PANEL", draw(st.sampled_from(["toggles", "three-position"])))
    text = text.replace('build = "board"', draw(st.sampled_from(['build = "board"', 'build = "modules"', APART])))
    return text.replace("#BUTTONS", "purge = true\ninch = true" if draw(st.booleans()) else "purge = true")


DESIGNS = designs()
INTERPOSED = designs(interposed=True)
"""The same, with interposing contactors."""
