"""A recorder that answers what a test puts into it, right or wrong: what a board of ours would never say, too."""

from __future__ import annotations

from dataclasses import dataclass, field

from bench.message import path_of
from timing.protocol.recorder import RECORDER


@dataclass
class ScriptedRecorder:
    """A transport. Its clock advances with every line."""

    step_us: int = 1_000
    clock_us: int = 0
    jumper: int = 1
    trace: list[tuple[int, int]] = field(default_factory=list)
    """Records not yet asked for: instant and lines."""
    lines: int = 0
    says: dict[str, str] = field(default_factory=dict)
    """Answers in place of its own, by query as it goes over the link."""
    heard: list[str] = field(default_factory=list)
    presses: int = 0
    keeps_trace: bool = False
    """A clear does not empty the trace."""
    _answers: bytearray = field(default_factory=bytearray)

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read."""
        return len(self._answers)

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes."""
        taken = bytes(self._answers[:size])
        del self._answers[:size]
        return taken

    def write(self, data: bytes, /) -> int:
        """Hear lines."""
        for line in data.decode().splitlines():
            self.clock_us += self.step_us
            self.heard.append(line)
            path, answers = "", []
            for text in line.split(";"):
                whole = text if text.startswith("*") else text[1:] if text.startswith(":") else path + text
                path = path if text.startswith("*") else path_of(whole)
                if (answer := self.says.get(whole, None) or self._answer(whole)) is not None:
                    answers.append(answer)
            if answers:
                self._answers += (";".join(answers) + "\n").encode()
        return len(data)

    def close(self) -> None:
        """Nothing to let go of."""

    def _answer(self, whole: str) -> str | None:
        match whole.split(" "):
            case ["*IDN?"]:
                return f"wirecue,{RECORDER},0123456789abcdef,1"
            case ["SYST:VERS?"]:
                return "1999.0"
            case ["SYST:ERR?"]:
                return '0,"No error"'
            case ["INP:CLOC?"]:
                return str(self.clock_us % (1 << 32))
            case ["INP:LIN?"]:
                return str(self.lines)
            case ["TRAC:CLE"]:
                if not self.keeps_trace:
                    self.trace.clear()
            case ["TRAC:LOST?"]:
                return "0"
            case ["TRAC:DATA?"]:
                return self._oldest()
            case ["OUTP:JUMP?"]:
                return str(self.jumper)
            case ["OUTP:PRES", bits]:
                self._press(int(bits))
        return None

    def _oldest(self) -> str:
        if not self.trace:
            return "0,0,0"
        at_us, lines = self.trace.pop(0)
        return f"{len(self.trace) + 1},{at_us % (1 << 32)},{lines}"

    def _press(self, bits: int) -> None:
        self.presses = bits
        if self.lines >> 8 != bits:
            self.lines = self.lines & 0xFF | bits << 8
            self.trace.append((self.clock_us, self.lines))
