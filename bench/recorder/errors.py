"""What can go wrong with a recorder, each with a sentence that says what to do."""

from __future__ import annotations

from bench.errors import BenchError


class SamePortError(BenchError):
    """One port was named for both boards."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return (
            f"{self.port} was named for the add-on and for the recorder. They are two boards, each with a cable of its "
            "own: name the port of each."
        )


class SwappedPortsError(BenchError):
    """The recorder hangs on the port that was named for the add-on, and the add-on on the recorder's."""

    def __init__(self, port: str, recorder_port: str) -> None:
        super().__init__(port, recorder_port)
        self.port = port
        self.recorder_port = recorder_port

    def __str__(self) -> str:
        return (
            f"The two ports are swapped: the recorder is on {self.port}, the add-on on {self.recorder_port}. Name them "
            f"the other way round: --port {self.recorder_port} --recorder {self.port}."
        )


class TwoRecordersError(BenchError):
    """A recorder answers on both ports."""

    def __init__(self, port: str, recorder_port: str) -> None:
        super().__init__(port, recorder_port)
        self.port = port
        self.recorder_port = recorder_port

    def __str__(self) -> str:
        return (
            f"A recorder answers on both ports, {self.port} and {self.recorder_port}. The add-on's board carries the "
            "recorder's sketch: flash it with its own design, or plug in the board that has it."
        )


class NotARecorderError(BenchError):
    """The board behind a port is of ours, but no recorder."""

    def __init__(self, port: str, found: str) -> None:
        super().__init__(port, found)
        self.port = port
        self.found = found

    def __str__(self) -> str:
        return (
            f"The board on {self.port} is no recorder: it carries {self.found}. Flash the second board with the "
            "recorder's sketch, or name the port that it is on."
        )


class PressJumperError(BenchError):
    """The press jumper was not fitted when the recorder started, so that it presses nothing."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return (
            f"The press jumper of the recorder on {self.port} is not fitted. Unplug the recorder, put the jumper from "
            "its press jumper pin to recorder common (see its sheet), plug it in again: it is read at power-up only. "
            "Take it out when the test is over."
        )


class RestlessLinesError(BenchError):
    """A line of the recorder changes all the time, so that its trace never empties."""

    def __init__(self, port: str, line: str) -> None:
        super().__init__(port, line)
        self.port = port
        self.line = line

    def __str__(self) -> str:
        return (
            f"The lines of the recorder on {self.port} do not come to rest: {self.line.replace('_', ' ')} changes all "
            "the time. Ac on an input, a contact that chatters, or an adapter that is half plugged in? Take off what "
            "is not needed, and start again."
        )
