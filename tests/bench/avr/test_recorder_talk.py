"""The recorder's firmware in its chip answers by the same table as the virtual recorder."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from bench.avr.pair import Pair
from tests.conftest import gate_share
from tests.support.recorder_talk import CONVERSATIONS, WITHOUT_JUMPER, converse
from tests.support.simulated_recorder import Hands, SimulatedRig, booted_recorder

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")


@pytest.fixture(scope="module")
def booted() -> Iterator[Pair]:
    with booted_recorder("nano", jumper=True) as pair:
        yield pair


def rig_of(pair: Pair) -> SimulatedRig:
    assert isinstance(pair.machine, Hands)
    return SimulatedRig(pair, pair.machine)


@pytest.mark.parametrize("name", gate_share(list(CONVERSATIONS), 3, 1))
def test_the_firmware_with_its_jumper(name, booted):
    with booted.copied() as one:
        converse(rig_of(one), CONVERSATIONS[name])


def test_the_firmware_without_its_jumper():
    with booted_recorder("nano", jumper=False) as pair:
        converse(rig_of(pair), WITHOUT_JUMPER)
