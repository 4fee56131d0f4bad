"""Both boards behind their ports: opened together, each of them the one that it should be; watched together."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, field

from bench.compare import Record
from bench.link import PATIENCE_S, Link, connected
from bench.message import Identity
from bench.monitor import BoardMonitor
from bench.port import one_name
from bench.recorder.clocks import Meeting
from bench.recorder.errors import SamePortError, SwappedPortsError, TwoRecordersError
from bench.recorder.monitor import RecorderMonitor, is_recorder, require_recorder


@dataclass(frozen=True)
class LinkedPair:
    """Two boards that answered, the add-on and the recorder."""

    link: Link
    identity: Identity
    recorder_link: Link
    recorder_identity: Identity


@contextlib.contextmanager
def connected_pair(
    port: str, recorder_port: str, patience_s: float = PATIENCE_S, *, follows_host: bool = True
) -> Iterator[LinkedPair]:
    """Open both ports, wait for the boards behind them and hold both until the end.

    Raises SamePortError, SwappedPortsError, TwoRecordersError, NotARecorderError, BenchError.
    """
    require_two_ports(port, recorder_port)
    with (
        connected(port, patience_s, follows_host=follows_host) as (link, identity),
        connected(recorder_port, patience_s, follows_host=follows_host) as (recorder_link, recorder_identity),
    ):
        pair = LinkedPair(link, identity, recorder_link, recorder_identity)
        require_pair(pair)
        yield pair


def require_two_ports(port: str, recorder_port: str) -> None:
    """Raise SamePortError where both names are of one port."""
    if one_name(port) == one_name(recorder_port):
        raise SamePortError(port)


def require_pair(pair: LinkedPair) -> None:
    """See that the recorder is where it was said to be. Raises as `connected_pair`."""
    port, recorder_port = pair.link.port, pair.recorder_link.port
    if is_recorder(pair.identity):
        both = is_recorder(pair.recorder_identity)
        raise TwoRecordersError(port, recorder_port) if both else SwappedPortsError(port, recorder_port)
    require_recorder(pair.recorder_identity, recorder_port)


@dataclass
class PairMonitor(BoardMonitor):
    """The add-on, and with every look at it a look at the recorder, before it and after."""

    recorder: RecorderMonitor = field(kw_only=True)
    meetings: list[Meeting] = field(init=False, default_factory=list)
    """Instants of the add-on between two of the recorder, since the run began."""
    _between: tuple[int, int] | None = field(init=False, default=None)
    """A time of the recorder and, read after it, one of the add-on."""

    def poll(self) -> int:
        """Take over what either trace holds; return the add-on's clock."""
        recorder_us = self.recorder.poll()
        if self._between is not None:
            before_us, board_us = self._between
            self.meetings.append(Meeting(before_us, recorder_us, board_us, board_us))
        now_us = super().poll()
        self._between = recorder_us, now_us
        return now_us

    def start(self) -> Record:
        """Empty both traces and return how the add-on stands."""
        self.recorder.start()
        self._between = None
        return super().start()
