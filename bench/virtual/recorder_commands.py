"""What each command of the virtual recorder does and answers, by its name in the command table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bench.virtual.commands import CLOCK_MASK, COMMON_HANDLERS, Handler, OutOfRangeError, Reply, within
from timing.protocol.recorder import LINES_ALL, LONGEST_BRIDGE_US, PRESS_ALL, RECORDER_INPUTS

if TYPE_CHECKING:
    from bench.virtual.recorder import VirtualRecorder

INPUTS_ALL = sum(one.bit for one in RECORDER_INPUTS)
"""Bits of the lines that are inputs (derived)."""


def _place(number: int) -> int:
    """Return the place of an input, from 0, by its number on the link. Raises OutOfRangeError."""
    if not 1 <= number <= len(RECORDER_INPUTS):
        raise OutOfRangeError
    return number - 1


def _lines(recorder: VirtualRecorder) -> Reply:
    lines = recorder.looks.lines
    return ((lines ^ INPUTS_ALL if recorder.faults.lies else lines) & LINES_ALL,)


def _set_bridge(recorder: VirtualRecorder, number: int, bridge_us: int) -> Reply:
    place = _place(number)
    recorder.looks.set_bridge(place, within(bridge_us, LONGEST_BRIDGE_US))
    return None


def _disc(recorder: VirtualRecorder) -> Reply:
    disc = recorder.looks.disc
    return disc.slots, disc.first_us & CLOCK_MASK, disc.latest_us & CLOCK_MASK


def _recorded(recorder: VirtualRecorder) -> Reply:
    trace = recorder.looks.trace
    if not trace:
        return 0, 0, 0
    count, record = len(trace), trace.pop(0)
    return count, record.time_us & CLOCK_MASK, record.lines


RECORDER_HANDLERS: dict[str, Handler] = COMMON_HANDLERS | {
    "reset": lambda recorder: recorder.reset(),
    "self_test": lambda _: (0,),
    "trace_lost": lambda recorder: (recorder.looks.lost,),
    "trace_clear": lambda recorder: recorder.looks.clear(),
    "recorder_clock": lambda recorder: (recorder.now_us() & CLOCK_MASK,),
    "lines": _lines,
    "set_bridge": _set_bridge,
    "bridge": lambda recorder, number: (recorder.looks.bridges_us[_place(number)],),
    "gap": lambda recorder, number: (recorder.looks.take_gap_us(_place(number)),),
    "disc": _disc,
    "disc_clear": lambda recorder: recorder.clear_disc(),
    "recorded": _recorded,
    "press": lambda recorder, presses: recorder.press(within(presses, PRESS_ALL)),
    "pressed": lambda recorder: (recorder.pressed,),
    "press_jumper": lambda recorder: (int(recorder.has_jumper),),
}
"""By the names of the recorder's command table; a test holds the two together."""
