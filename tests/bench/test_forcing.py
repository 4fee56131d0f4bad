"""Inputs of a script become forced contacts and readings."""

from __future__ import annotations

import pytest

from bench.forcing import change_as_forced, grouped, quiet_inputs, rig_as_forced
from timing.protocol.target import RAW_BIT
from timing.sequence.core.script import Change, Dial, Switch


def texts(panel):
    return [item.text for item in panel.messages()]


def test_a_quiet_panel_has_all_open_and_all_well(shop, spots):
    assert texts(quiet_inputs(shop))[0] == f"BENC:CONT {quiet_inputs(shop).contacts}"
    assert quiet_inputs(shop).contacts & RAW_BIT["interlock"]
    assert not quiet_inputs(shop).contacts & (RAW_BIT["trigger"] | RAW_BIT["purge"] | RAW_BIT["inch"])
    assert quiet_inputs(spots).contacts & RAW_BIT["spot_switch"]
    # The supply is held good: on the bench the feeder plug is pulled.
    assert texts(quiet_inputs(shop))[-1] == f"BENC:ANAL 5,{shop.supply.good}"


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (Change(0, "trigger", 1), "BENC:CONT {with_trigger}"),
        (Change(0, Switch("spot"), 0), "BENC:CONT {without_spot}"),
        (Change(0, Dial("spot"), 60_000_000), "BENC:ANAL 1,{high}"),
        (Change(0, "dial_fault", 1), "BENC:ANAL 1,0"),
        (Change(0, "supply", 0), "BENC:ANAL 5,{low}"),
        (Change(0, "supply", 1), "BENC:ANAL 5,{good}"),
    ],
)
def test_each_change_has_its_message(spots, change, text):
    quiet = quiet_inputs(spots)
    values = {
        "with_trigger": quiet.contacts | RAW_BIT["trigger"],
        "without_spot": quiet.contacts & ~RAW_BIT["spot_switch"],
        "high": spots.scales["spot"].high_counts,
        "low": spots.supply.low,
        "good": spots.supply.good,
    }
    changed, message = quiet.with_change(change)
    assert message.text == text.format(**values)
    assert message.text in texts(changed)


@pytest.mark.parametrize("what", [Dial("preflow"), "reset", "nonsense"])
def test_what_the_design_lacks_cannot_be_forced(spots, what):
    with pytest.raises(ValueError, match="cannot be forced on this design"):
        quiet_inputs(spots).with_change(Change(0, what, 1))


def test_the_model_is_given_what_the_reading_gives(shop):
    scale = shop.scales["burnback"]
    wanted_us = 123_456
    given_us = change_as_forced(shop, Change(0, Dial("burnback"), wanted_us)).value
    assert given_us == scale.time_us(scale.counts_for(wanted_us))
    assert abs(given_us - wanted_us) <= scale.step_q4_us / 16
    assert rig_as_forced(shop).times_us["burnback"] == shop.dialled_us("burnback", shop.rig.times_us["burnback"])


def test_contacts_of_one_instant_go_out_together_and_readings_alone():
    changes = [
        Change(0, "trigger", 1),
        Change(0, Switch("spot"), 0),
        Change(0, Dial("spot"), 1_000),
        Change(0, "purge", 1),
        Change(5, "inch", 1),
    ]
    assert [len(group) for group in grouped(changes)] == [2, 1, 1, 1]
