"""What can go wrong on the way to a board, each with its exit code and a sentence that says what to do."""

from __future__ import annotations

from collections.abc import Sequence

from timing.errors import WirecueError

LONGEST_TEXT = 256
"""Characters of a device's text that are kept."""
LONGEST_QUOTE = 60
"""Characters of it that a sentence quotes."""


def device_text(raw: bytes | str, longest: int = LONGEST_TEXT) -> str:
    """Return what a device said in printable ASCII: anything else as its number, `longest` characters at most.

    What comes back unchanged was fit to be shown as it stood: no line end, no NUL, nothing that a terminal obeys.
    """
    text = raw.decode("latin-1") if isinstance(raw, bytes) else raw
    fit = "".join(letter if " " <= letter <= "~" else f"<{ord(letter):02x}>" for letter in text[: longest + 1])
    return fit if len(fit) <= longest else fit[: longest - 3] + "..."


def quoted(raw: bytes | str) -> str:
    """Return a device's text as a sentence quotes it."""
    return f"'{device_text(raw, LONGEST_QUOTE)}'"


class BenchError(WirecueError):
    """A bench cannot go on. Exit code 2: no board, or not the right one."""


class NotHeededError(BenchError):
    """Nobody has said that the cautions are heeded, so that no port was opened."""

    def __init__(self, *, asked: bool) -> None:
        super().__init__(asked)
        self.asked = asked

    def __str__(self) -> str:
        if self.asked:
            return "No test: the cautions are not heeded. Nothing was opened or switched."
        return "No test: nobody is there to say that the cautions are heeded; --yes says so."


class PortMissingError(BenchError):
    """There is no such port. Keeps its name and the ports that there are."""

    def __init__(self, port: str, present: Sequence[str] = ()) -> None:
        super().__init__(port, present)
        self.port = port
        self.present = tuple(present)

    def __str__(self) -> str:
        listed = f"Plugged in: {', '.join(self.present)}." if self.present else "Nothing is plugged in."
        return f"There is no port {self.port}. {listed} Check cable and name."


class NoPortGivenError(BenchError):
    """No port was named. Keeps a line of text for each port that there is."""

    def __init__(self, present: Sequence[str]) -> None:
        super().__init__(present)
        self.present = tuple(present)

    def __str__(self) -> str:
        if not self.present:
            return (
                "No port was named, and none is plugged in. Plug the board in (feeder plug P1 pulled), or test the "
                "virtual board with --virtual."
            )
        return "No port was named. Name one with --port:\n" + "\n".join(f"  {line}" for line in self.present)


class PortBusyError(BenchError):
    """Another program, or another bench, holds the port."""

    def __init__(self, port: str, holder: str = "another program") -> None:
        super().__init__(port, holder)
        self.port = port
        self.holder = holder

    def __str__(self) -> str:
        return f"{self.port} is in use by {self.holder}. Close it (a serial monitor?) and try again."


class LockFailedError(BenchError):
    """The lock that keeps two benches from one board cannot be taken."""

    def __init__(self, port: str, path: str, why: str) -> None:
        super().__init__(port, path, why)
        self.port = port
        self.path = path
        self.why = why

    def __str__(self) -> str:
        return (
            f"{self.port} cannot be locked against a second bench: {self.path} {self.why}. Remove it, or name another "
            "folder for temporary files in TMPDIR."
        )


class PortDeniedError(BenchError):
    """The operating system does not let this user open the port."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return (
            f"{self.port} may not be opened by this user. On Linux the user must be in the port's group, often "
            "dialout or uucp; log out and in again after joining."
        )


class PortFailedError(BenchError):
    """The port cannot be opened or used for a reason of its own."""

    def __init__(self, port: str, reason: str) -> None:
        super().__init__(port, reason)
        self.port = port
        self.reason = reason

    def __str__(self) -> str:
        return f"{self.port} cannot be used: {self.reason}."


class VanishedError(BenchError):
    """The port went away in the middle."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return f"{self.port} went away: unplugged, or the board restarted. Plug it in and start again."


class NoAnswerError(BenchError):
    """The board does not answer in time."""

    def __init__(self, port: str, asked: str, waited_s: float) -> None:
        super().__init__(port, asked, waited_s)
        self.port = port
        self.asked = asked
        self.waited_s = waited_s

    def __str__(self) -> str:
        return (
            f"No answer on {self.port} to {self.asked} within {self.waited_s:g} s. Is the sketch on the board, is it "
            "this port, and is the cable one that carries data?"
        )


class GarbledError(BenchError):
    """The board answers something that is not an answer to the question."""

    def __init__(self, port: str, asked: str, answer: str) -> None:
        super().__init__(port, asked, answer)
        self.port = port
        self.asked = asked
        self.answer = answer

    def __str__(self) -> str:
        return (
            f"{self.port} answers {quoted(self.answer)} to {self.asked}, which makes no sense. Another device, or a "
            "bad cable?"
        )


class EchoError(BenchError):
    """What is sent comes straight back."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return (
            f"{self.port} gives back what is sent to it: a loopback plug, or a device that echoes. No board answers "
            "there."
        )


class EndlessTraceError(BenchError):
    """The edge trace never comes to an end."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return (
            f"The edge trace of the board on {self.port} never empties: one record follows the other. The sketch on "
            "the board is not the one that was built, or the cable is bad."
        )


class WrongDesignError(BenchError):
    """The board carries another design."""

    def __init__(self, port: str, found: str, wanted: str, wanted_digest: str) -> None:
        super().__init__(port, found, wanted, wanted_digest)
        self.port = port
        self.found = found
        self.wanted = wanted
        self.wanted_digest = wanted_digest

    def __str__(self) -> str:
        return (
            f"The board on {self.port} carries {self.found}; this test is for "
            f"{self.wanted} with digest {self.wanted_digest}. Build and flash it again, or take the design file "
            "that belongs to the board."
        )


class EditedSettingsError(BenchError):
    """The board carries this design, but somebody changed a number of its sketch before it was flashed."""

    def __init__(self, port: str, design: str, digest: str) -> None:
        super().__init__(port, design, digest)
        self.port = port
        self.design = design
        self.digest = digest

    def __str__(self) -> str:
        return (
            f"The board on {self.port} carries {self.design} with digest {self.digest}, but its settings.h was edited "
            "after the build, so that it need not do what the design says: put the changed numbers into the design "
            "file, build and flash it again."
        )


class RecorderFoundError(BenchError):
    """The board behind a port is the recorder, where the add-on's own was meant."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return (
            f"The board on {self.port} is a recorder, the second board, not the add-on's: name the add-on's port. "
            "What the recorder sees is asked by `wirecue bench --recorder PORT` and `wirecue measure --recorder PORT`."
        )


class NotFittedError(BenchError):
    """The bench link is not fitted, so that nothing can be forced."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return (
            f"The bench link of the board on {self.port} is not fitted. Unplug the board, put the jumper from the "
            "bench link pin to board common (see the build sheet), plug it in again: it is read at power-up only. "
            "Take it out before the board goes back to the feeder."
        )


class RefusedError(BenchError):
    """The board put an error in its queue."""

    def __init__(self, port: str, sent: str, number: int, text: str) -> None:
        super().__init__(port, sent, number, text)
        self.port = port
        self.sent = sent
        self.number = number
        self.text = text

    def __str__(self) -> str:
        return f"The board on {self.port} refuses {self.sent}: {self.number} {device_text(self.text, LONGEST_QUOTE)}."


class ClockStandsError(BenchError):
    """The board's clock does not advance."""

    def __init__(self, port: str) -> None:
        super().__init__(port)
        self.port = port

    def __str__(self) -> str:
        return f"The clock of the board on {self.port} stands still, or jumped back: the board hangs or restarted."


class ClockAstrayError(BenchError):
    """The board's clock and the host's went apart. Keeps the seconds that each counted."""

    def __init__(self, port: str, board_s: float, host_s: float) -> None:
        super().__init__(port, board_s, host_s)
        self.port = port
        self.board_s = board_s
        self.host_s = host_s

    def __str__(self) -> str:
        return (
            f"The clock of the board on {self.port} counted {self.board_s:.3f} s while {self.host_s:.3f} s went by on "
            "this computer: the board hangs, restarted or runs at the wrong speed (another oscillator, or a sketch "
            "built for one), or this computer slept."
        )


class LapsingError(BenchError):
    """The forced contacts lapsed at every try."""

    def __init__(self, port: str, tries: int) -> None:
        super().__init__(port, tries)
        self.port = port
        self.tries = tries

    def __str__(self) -> str:
        return (
            f"What was forced on the board on {self.port} lapsed in the middle of a case, {self.tries} times in a row: "
            "its answers take too long, or this computer is too busy. Close other programs and try again."
        )
