"""What a pull of the trigger does, by the phase table; and what is always true."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import EXAMPLES, ROOT
from timing.design.loading import load_design, parse_design
from timing.design.text_file import DesignFileError
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Output
from timing.sequence.script_text import parse_script
from timing.sequence.simulate import simulate, usual_script

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
# Times of its own, so that the sums below can be followed by hand.
SETTINGS = {
    'sense = "ac"\noptocoupler = "ac-input"': 'sense = "dc"',
    'filter = "25 ms"': 'filter = "10 ms"',
    'setting = "130 ms"': 'setting = "90 ms"',
    'setting = "2 s"': 'setting = "1.2 s"',
}
DC = SHOP
for _old, _new in SETTINGS.items():
    assert _old in DC
    DC = DC.replace(_old, _new)
DESIGNS = {path.stem: load_design(path) for path in EXAMPLES}


def phases(script: str, text: str = DC, settled: bool = True) -> list[tuple[float, str]]:
    timeline = simulate(parse_design(text), parse_script(script), settled=settled)
    return [(change.at_us / 1000, change.phase.word) for change in timeline.phases]


def faults(script: str, text: str = DC) -> list[str]:
    timeline = simulate(parse_design(text), parse_script(script))
    return [change.fault.word for change in timeline.phases]


def with_(old: str, new: str, text: str = DC) -> str:
    assert old in text
    return text.replace(old, new, 1)


FOUR_STEP = with_('mode = "two-step"', 'mode = "four-step"')
SPOT = DC + '\n[spot]\ntime = "500 ms"\n'
STITCH = SPOT + '\n[stitch]\npause = "200 ms"\n'
INTERLOCK = DC + "\n[interlock]\nfitted = true\n"
SENSOR = with_('weld = "5 min"', 'weld = "5 min"\narc_start = "1 s"', DC) + '\n[arc_sensor]\nfilter = "0 ms"\n'


START = [(0, "idle"), (10, "preflow"), (310, "weld")]


@pytest.mark.parametrize(
    ("script", "text", "expected"),
    [
        (
            "0 s press; 1 s release",
            DC,
            [*START, (1010, "burnback"), (1100, "postflow"), (2300, "idle")],
        ),
        ("0 s press; 100 ms release", DC, [(0, "idle"), (10, "preflow"), (110, "idle")]),
        ("0 s press; 5 ms release", DC, [(0, "idle")]),
        (
            "0 s press; 1 s release; 1.04 s press; 2 s release",
            DC,
            [
                (0, "idle"),
                (10, "preflow"),
                (310, "weld"),
                (1010, "burnback"),
                (1100, "weld"),
                (2010, "burnback"),
                (2100, "postflow"),
                (3300, "idle"),
            ],
        ),
        (
            "0 s press; 1 s release; 1.02 s press; 1.05 s release",
            DC,
            [*START, (1010, "burnback"), (1100, "postflow"), (2300, "idle")],
        ),
        (
            "0 s press; 1 s release; 1.5 s press; 2 s release",
            DC,
            [
                (0, "idle"),
                (10, "preflow"),
                (310, "weld"),
                (1010, "burnback"),
                (1100, "postflow"),
                (1510, "weld"),
                (2010, "burnback"),
                (2100, "postflow"),
                (3300, "idle"),
            ],
        ),
        (
            "0 s press; 500 ms release; 2 s press; 2.2 s release",
            FOUR_STEP,
            [*START, (2010, "burnback"), (2100, "postflow"), (3300, "idle")],
        ),
        ("0 s press; 100 ms release; 200 ms press", FOUR_STEP, [(0, "idle"), (10, "preflow"), (210, "idle")]),
        (
            "0 s press; 4 s release",
            SPOT,
            [
                (0, "idle"),
                (10, "preflow"),
                (310, "weld"),
                (810, "burnback"),
                (900, "postflow"),
                (2100, "await-release"),
                (4010, "idle"),
            ],
        ),
        (
            "0 s press; 1.2 s release",
            STITCH,
            [
                (0, "idle"),
                (10, "preflow"),
                (310, "weld"),
                (810, "burnback"),
                (900, "pause"),
                (1100, "weld"),
                (1210, "burnback"),
                (1300, "postflow"),
                (2500, "idle"),
            ],
        ),
        (
            "0 s purge press; 1 s press; 1.1 s release; 3 s purge release",
            DC,
            [(0, "idle"), (20, "purge"), (1010, "preflow"), (1110, "idle")],
        ),
        ("0 s inch press; 500 ms inch release", DC, [(0, "idle"), (20, "inch"), (520, "idle")]),
        ("0 s purge press; 40 s purge release", DC, [(0, "idle"), (20, "purge"), (30_020, "idle")]),
        (
            "0 s press; 1 s interlock open; 1.5 s interlock close; 3 s release; 4 s end",
            INTERLOCK,
            [*START, (1000, "hold-off"), (3060, "idle")],
        ),
        (
            "0 s press; 2 s release; 3 s end",
            SENSOR,
            [*START, (1310, "burnback"), (1400, "postflow"), (2600, "idle")],
        ),
    ],
)
def test_the_sequence(script, text, expected):
    assert phases(script, text) == expected


def test_power_up_waits_for_supply_and_open_contacts():
    assert phases("0 s press; 1 s release; 2 s end", settled=False) == [(0, "hold-off"), (1060, "idle")]
    assert phases("0 s press; 50 ms release; 2 s end", settled=False) == [(0, "hold-off"), (550, "idle")]


@pytest.mark.parametrize("script", ["2 s end", "0 s release; 2 s end", "300 ms release; 2 s end", "1 s press; 2 s end"])
def test_hold_off_counts_from_power_up_whenever_something_moves_first(script):
    # 500 ms for the supply, 50 ms for open contacts.
    assert phases(script, settled=False)[:2] == [(0, "hold-off"), (550, "idle")]


def test_a_reset_starts_over_in_hold_off():
    found = phases("0 s press; 1 s reset; 3 s release; 4 s end")
    assert found[3:] == [(1000, "hold-off"), (3060, "idle")]


def test_limits_are_shown_and_let_nothing_start_before_the_release():
    text = with_('weld = "5 min"', 'weld = "1 s"')
    assert faults("0 s press; 5 s release", text)[3:] == ["weld limit"] * 4
    assert phases("0 s press; 5 s release", text)[3:] == [
        (1310, "burnback"),
        (1400, "postflow"),
        (2600, "await-release"),
        (5010, "idle"),
    ]
    assert phases("0 s press; 2 s release; 2.1 s press; 5 s release", text)[4:] == [
        (1400, "postflow"),
        (2600, "await-release"),
        (5010, "idle"),
    ]


def test_a_weld_limit_ends_stitches_across_one_pull():
    text = with_('weld = "5 min"', 'weld = "2 s"', STITCH)
    found = phases("0 s press; 9 s release", text)
    welds = [at for at, phase in found if phase == "weld"]
    assert len(welds) == 3
    assert found[-1] == (9010, "idle")
    assert all(at < 310 + 2000 for at in welds)


def test_a_dial_counts_from_the_start_of_its_phase():
    found = phases("0 s press; 1 s release; 1.05 s dial burnback 200 ms; 2 s dial postflow 3 s; 4 s end")
    assert found[4:] == [(1100, "postflow"), (2300, "idle")]
    found = phases("0 s dial burnback 200 ms; 10 ms press; 1 s release")
    assert found[4] == (1210, "postflow")


def test_zero_times_pass_straight_through():
    text = with_('from = "0 ms", to = "1.5 s", setting = "300 ms"', 'from = "0 ms", to = "1.5 s", setting = "0 ms"')
    assert phases("0 s press; 1 s release", text)[1] == (10, "weld")


def test_a_script_may_only_move_what_the_design_has():
    with pytest.raises(DesignFileError, match="this needs \\[arc_sensor\\] in it"):
        simulate(parse_design(DC), parse_script("0 s arc on"))
    with pytest.raises(DesignFileError, match="this needs a dial for spot in it"):
        simulate(parse_design(SPOT), parse_script("0 s dial spot 1 s"))


@pytest.mark.parametrize("time", ["19 ms", "301 ms"])
def test_a_dial_turns_to_its_ends_and_no_further(time):
    design = DESIGNS["shop_two_step"]
    simulate(design, parse_script("0 s dial burnback 20 ms; 1 s dial burnback 300 ms"))
    with pytest.raises(
        DesignFileError, match=f"'dial burnback {time}' in the script\n  allowed  20 ms to 300 ms on that dial"
    ):
        simulate(design, parse_script(f"0 s dial burnback {time}"))


def test_the_usual_script_shows_a_weld_from_idle_to_idle(example):
    design = load_design(example)
    timeline = simulate(design, usual_script(design))
    words = [change.phase.word for change in timeline.phases]
    assert words[0] == words[-1] == "idle"
    assert "weld" in words
    assert "burnback" in words


def test_the_usual_script_shows_the_same_weld_after_power_up(example):
    design = load_design(example)
    from_idle = simulate(design, usual_script(design))
    from_power_up = simulate(design, usual_script(design, settled=False), settled=False)
    assert from_power_up.phases[0].phase.word == "hold-off"
    assert [change.phase for change in from_power_up.phases[1:]] == [change.phase for change in from_idle.phases]


contacts = st.sampled_from(
    ["trigger", "trigger", "trigger", "purge", "inch", "arc", "interlock", "supply", "four_step"]
)
steps = st.lists(
    st.tuples(st.sampled_from([1_000, 15_000, 60_000, 300_000, 1_200_000]), contacts, st.integers(0, 1)), max_size=25
)
FITTED = {
    "shop_two_step": {"trigger", "purge", "inch", "supply"},
    "spot_stitch": {"trigger", "purge", "arc", "supply"},
    "gasless_four_step": {"trigger", "inch", "interlock", "four_step"},
}


@given(st.sampled_from(sorted(DESIGNS)), steps, st.booleans())
def test_what_is_always_true(name, moves, settled):
    design = DESIGNS[name]
    at_us, changes = 0, []
    for ahead_us, contact, value in moves:
        at_us += ahead_us
        if contact in FITTED[name]:
            changes.append(Change(at_us, contact, value))
    # In the end everything is let go of.
    for contact in sorted(FITTED[name]):
        changes.append(Change(at_us + 1_000, contact, int(contact in ("interlock", "supply"))))
    timeline = simulate(design, Script(tuple(changes)), settled=settled)

    on: set[Output] = set()
    phase_at = {change.at_us: change.phase.word for change in timeline.phases}
    for edge in timeline.edges:
        on = on | {edge.output} if edge.on else on - {edge.output}
        if (
            edge.at_us != max(e.at_us for e in timeline.edges if e.at_us <= edge.at_us)
            or edge is not [e for e in timeline.edges if e.at_us == edge.at_us][-1]
        ):
            continue
        assert Output.CONTACTOR not in on or Output.GAS in on
        if Output.CONTACTOR in on and Output.WIRE not in on:
            assert phase_at[max(at for at in phase_at if at <= edge.at_us)] == "burnback"
        if Output.WIRE in on and Output.CONTACTOR not in on:
            assert phase_at[max(at for at in phase_at if at <= edge.at_us)] == "inch"
    assert not on, "all is off in the end"


def test_a_broken_dial_lets_a_weld_end_and_none_start():
    found = phases("0 s press; 1 s dials broken; 1.5 s release; 2 s press; 2.5 s release; 5 s dials whole; 7 s end")
    assert [phase for _, phase in found[2:]] == ["weld", "burnback", "postflow", "hold-off", "idle"]
    stitching = phases("0 s press; 700 ms dials broken; 3 s release; 5 s dials whole; 7 s end", STITCH)
    assert [phase for _, phase in stitching].count("weld") == 1
