"""Channels to roles: told, guessed by name, or refused with what is there."""

from __future__ import annotations

import pytest

from bench.capture.capture import Capture, CaptureError, Channel
from bench.capture.mapping import SIGNALS, assign, parse_map
from timing.sequence.core.script import Switch

FITTED = frozenset({"gas_valve", "wire_drive", "contactor", "trigger", "purge", "arc", "interlock", "spot_switch"})
ON = {"gas_valve": "high", "wire_drive": "low", "contactor": "high"}


def captured(**begins):
    channels = {name: Channel(name, level, ((1_000, 1 - level),)) for name, level in begins.items()}
    return Capture("weld.vcd", channels, 2_000, 1.0, "as made")


def roles(capture, *maps):
    return {each.role: each.channel.name for each in assign(capture, parse_map(maps, "--map"), FITTED, ON)}


def test_names_of_roles_and_words_of_the_trade_are_guessed():
    names = {"Gas": 0, "wire-drive": 0, "WELD": 0, "Torch trigger": 1, "purge": 1, "gas_valve_actual": 0, "D7": 0}
    assert roles(captured(**names)) == {
        "gas_valve": "Gas",
        "wire_drive": "wire-drive",
        "contactor": "WELD",
        "trigger": "Torch trigger",
        "purge": "purge",
    }


def test_what_is_told_goes_before_what_is_guessed():
    capture = captured(gas=0, D1=0, D2=0)
    assert roles(capture, "gas_valve=D1") == {"gas_valve": "D1"}
    assert roles(capture, "gas_valve=D1,contactor=D2:low", "trigger = gas") == {
        "gas_valve": "D1",
        "contactor": "D2",
        "trigger": "gas",
    }


def test_two_channels_alike_are_not_guessed():
    assert roles(captured(gas_one=0, gas_two=0, trigger=1)) == {"trigger": "trigger"}


def test_levels_come_from_the_design_from_rest_or_from_the_user():
    capture = captured(gas_valve=0, wire_drive=0, trigger=1, purge=0, interlock=0, spot_switch=1)
    found = {each.role: each for each in assign(capture, parse_map(["purge=purge:high"], ""), FITTED, ON)}
    assert {role: each.on_level for role, each in found.items()} == {
        "gas_valve": "high",
        "wire_drive": "low",
        "trigger": "low",
        "purge": "high",
        "interlock": "low",
        "spot_switch": "low",
    }
    assert [(change.at_us, change.what, change.value) for change in found["trigger"].script_changes()] == [
        (1, "trigger", 1)
    ]
    assert [(change.at_us, change.what, change.value) for change in found["spot_switch"].script_changes()] == [
        (0, Switch("spot"), 0),
        (1, Switch("spot"), 1),
    ]
    assert found["wire_drive"].begins_on


@pytest.mark.parametrize(
    ("maps", "says"),
    [
        (
            ["gas_valve"],
            "--map: 'gas_valve' for a mapping; allowed: ROLE=CHANNEL, such as gas_valve=CH1 or ",
        ),
        (["gas_valve="], "'gas_valve=' for a mapping"),
        (["gas-vlave=D0"], "'gas_vlave' for a role; allowed: gas_valve, .*; was 'gas_valve' meant"),
        (["trigger=D0,trigger=D1"], "two channels for the trigger; allowed: one channel a role"),
        (["trigger=D9"], "weld.vcd: no channel 'D9'; allowed: 'D0', 'D1'."),
        (["inch=D0"], "weld.vcd: a channel for the inch, which the design has not; allowed: gas_valve, "),
        (["trigger=D0", "purge=D0"], "channel 'D0' for trigger and purge; allowed: one role a channel"),
    ],
)
def test_a_wrong_mapping_gets_one_sentence(maps, says):
    with pytest.raises(CaptureError, match=says):
        assign(captured(D0=0, D1=0), parse_map(maps, "--map"), FITTED, ON)


def test_a_channel_that_loses_its_level_is_refused_only_where_it_counts():
    lost = Channel("trigger", 0, (), unknown_ns=3_000_000)
    capture = Capture("weld.vcd", {"trigger": lost, "gas": Channel("gas", 0, ())}, 9, 1.0, "as made")
    with pytest.raises(CaptureError, match="channel 'trigger' has no level at 3 ms"):
        assign(capture, {}, FITTED, ON)
    assert [each.role for each in assign(capture, {}, FITTED - {"trigger"}, ON)] == ["gas_valve"]


def test_every_role_has_one_way_to_be_written():
    assert len(set(SIGNALS)) == len(SIGNALS)
    assert set(parse_map([f"{role}=D0" for role in SIGNALS], "")) == set(SIGNALS)
