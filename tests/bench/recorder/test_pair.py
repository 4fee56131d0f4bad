"""Two ports: each of them has the board that it should have, or it is said what is there."""

from __future__ import annotations

import pytest

from bench.errors import NoAnswerError
from bench.feeder_model.machines import lamps
from bench.recorder.errors import NotARecorderError, SamePortError, SwappedPortsError, TwoRecordersError
from bench.recorder.pair import LinkedPair, connected_pair, require_pair, require_two_ports
from bench.recorder.session import run_witnessed
from bench.virtual.looks import RecorderFaults
from bench.virtual.pair import VirtualPair, virtual_pair
from tests.bench.recorder.conftest import linked_pair
from timing.protocol.target_of_design import target_of


@pytest.fixture
def pair(project_named):
    return linked_pair(VirtualPair(target_of(project_named("shop_two_step")), lamps()))


def test_the_right_boards_are_taken(pair):
    require_pair(pair)


def test_swapped_ports_are_told_with_the_line_that_puts_them_right(pair):
    crossed = LinkedPair(pair.recorder_link, pair.recorder_identity, pair.link, pair.identity)
    with pytest.raises(SwappedPortsError, match=r"two ports are swapped.*--port ttyA --recorder ttyB"):
        require_pair(crossed)


def test_two_recorders_and_none_are_told(pair):
    with pytest.raises(TwoRecordersError, match="A recorder answers on both ports, ttyB and ttyB"):
        require_pair(LinkedPair(pair.recorder_link, pair.recorder_identity, pair.recorder_link, pair.recorder_identity))
    with pytest.raises(NotARecorderError, match="on ttyA is no recorder: it carries shop_two_step"):
        require_pair(LinkedPair(pair.link, pair.identity, pair.link, pair.identity))


def test_one_port_is_not_taken_for_both(tmp_path):
    port, other = tmp_path / "ttyACM0", tmp_path / "by-id"
    port.touch()
    other.symlink_to(port)
    for name in (str(port), str(other)):
        with pytest.raises(SamePortError, match="was named for the add-on and for the recorder"):
            require_two_ports(str(port), name)
    with pytest.raises(SamePortError):
        require_two_ports("COM4", "com4")
    require_two_ports("COM4", "COM5")


def test_over_real_ports_a_mute_recorder_is_told_with_its_port(project_named):
    target = target_of(project_named("shop_two_step"))
    silent = VirtualPair(target, lamps(), recorder_faults=RecorderFaults(mute=True))
    with (
        virtual_pair(silent) as (port, recorder_port),
        pytest.raises(NoAnswerError, match=recorder_port),
        connected_pair(port, recorder_port, 0.3, follows_host=False),
    ):
        raise AssertionError


def test_over_real_ports_a_pair_is_tested(project_named, lags_of):
    target = target_of(project_named("spot_stitch"))
    with (
        virtual_pair(VirtualPair(target, lamps())) as (port, recorder_port),
        connected_pair(port, recorder_port, follows_host=False) as both,
    ):
        report = run_witnessed(both, target, [], lags_of("spot_stitch"), real=False)
    assert report.passed
    assert report.wiring.presses == ("trigger", "purge")
