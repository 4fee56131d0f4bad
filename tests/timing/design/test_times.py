"""Times that run with nobody holding the trigger are bounded in the file, at the dial's end as well."""

from __future__ import annotations

import pytest

from tests.conftest import ROOT
from timing.design.loading import parse_design
from timing.design.text_file import DesignFileError

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
SPOT = (ROOT / "examples" / "spot_stitch.toml").read_text()
BURNBACK = 'burnback = { from = "20 ms", to = "300 ms", setting = "130 ms" }'
SPOT_TIME = 'time = { from = "200 ms", to = "2 s", setting = "450 ms", taper = "audio", off_switch = true }'


def with_(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def refusal(text: str) -> str:
    with pytest.raises(DesignFileError) as caught:
        parse_design(text, "my.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("burnback", "key", "found"),
    [
        ('"60 s"', "times.burnback", "60 s"),
        ('"2.001 s"', "times.burnback", "2.001 s"),
        ('{ from = "20 ms", to = "2.001 s", setting = "130 ms" }', "times.burnback.to", "2.001 s"),
    ],
)
def test_a_burnback_of_more_than_two_seconds_is_refused_with_its_reason(burnback, key, found):
    says = refusal(with_(SHOP, (BURNBACK, f"burnback = {burnback}")))
    assert key in says
    assert found in says
    assert "0 ms to 2 s" in says
    assert "no pull of the trigger shortens a burnback" in says


@pytest.mark.parametrize("burnback", ['"2 s"', '{ from = "20 ms", to = "2 s", setting = "130 ms" }'])
def test_two_seconds_of_burnback_are_allowed(burnback):
    assert parse_design(with_(SHOP, (BURNBACK, f"burnback = {burnback}"))).times.burnback.high_us == 2_000_000


def test_other_times_may_be_longer():
    assert parse_design(with_(SHOP, ('to = "4 s"', 'to = "60 s"'))).times.postflow.high_us == 60_000_000


COMPLETE = ('on_release = "end"', 'on_release = "complete"')


@pytest.mark.parametrize("time", ['"60 s"', '{ from = "200 ms", to = "10.001 s", setting = "600 ms" }'])
def test_a_completing_spot_of_more_than_ten_seconds_is_refused_with_its_reason(time):
    says = refusal(with_(SPOT, COMPLETE, (SPOT_TIME, f"time = {time}")))
    assert "[spot]" in says or "spot" in says
    assert "10 s at most" in says
    assert "nobody holding the trigger" in says


def test_ten_seconds_complete_and_longer_spots_end_when_released():
    ten = with_(SPOT, COMPLETE, (SPOT_TIME, 'time = "10 s"'))
    sixty = with_(SPOT, (SPOT_TIME, 'time = "60 s"'))
    assert parse_design(ten).spot.time.high_us == 10_000_000
    assert parse_design(sixty).spot.time.high_us == 60_000_000
