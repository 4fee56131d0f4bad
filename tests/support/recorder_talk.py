"""What a recorder answers, step by step: one table for the virtual one, the firmware's C and the firmware in its chip.

A step asks and says what must be answered (' = ' parts them), moves an input ('on gas_valve'), waits ('wait 5 ms'), or
looks at what is pressed ('press trigger'). In an answer, `t2` stands for the instant of the third move or order to
press, `g1` for the time from the second of them to the third, `*` for anything.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from tests.support.recorder_rigs import RecorderRig
from timing.protocol.recorder import LINE_BIT, PRESS_LAPSE_US, RECORDER_RECORDS

GAS, WIRE, CONTACTOR, DISC, SUPPLY = (
    LINE_BIT[key] for key in ("gas_valve", "wire_drive", "contactor", "disc", "supply")
)
TRIGGER, PURGE = LINE_BIT["press_trigger"], LINE_BIT["press_purge"]
SLACK_US = 400
"""How far a stamp may be from what it stamps: a look and a pass, and as much for the clocks of both."""

CONVERSATIONS = {
    "who": ["*IDN? = wirecue,recorder,*,*", "SYST:VERS? = 1999.0", "*TST? = 0", "*OPC? = 1"],
    "at rest": ["INP:LIN? = 0", "TRAC:DATA? = 0,0,0", "TRAC:LOST? = 0", "INP:DISC? = 0,0,0", "OUTP:PRES? = 0"],
    "an edge": [
        "on gas_valve",
        "wait 5 ms",
        f"INP:LIN? = {GAS}",
        "off gas_valve",
        "wait 5 ms",
        f"TRAC:DATA? = 2,t0,{GAS}",
        "TRAC:DATA? = 1,t1,0",
        "TRAC:DATA? = 0,0,0",
    ],
    "several at once are one record each": [
        "on wire_drive",
        "on contactor",
        "wait 3 ms",
        "off wire_drive",
        "wait 3 ms",
        f"TRAC:DATA?;DATA?;DATA? = *;*;{'*'}",
        f"INP:LIN? = {CONTACTOR}",
    ],
    "bridged openings leave no record": [
        "INP:BRID 1,12000;BRID? 1 = 12000",
        "on gas_valve",
        "wait 8 ms",
        "off gas_valve",
        "wait 6 ms",
        f"INP:LIN? = {GAS}",
        "on gas_valve",
        "wait 8 ms",
        f"TRAC:DATA? = 1,t0,{GAS}",
        "INP:GAP? 1 = g1",
        "INP:GAP? 1 = 0",
    ],
    "an opening that lasts is stamped with its beginning": [
        "INP:BRID 1,12000",
        "on gas_valve",
        "wait 8 ms",
        "off gas_valve",
        "wait 4 ms",
        "on contactor",
        "wait 4 ms",
        f"INP:LIN? = {GAS | CONTACTOR}",
        "wait 8 ms",
        f"TRAC:DATA? = 3,t0,{GAS}",
        f"TRAC:DATA? = 2,t2,{GAS | CONTACTOR}",
        f"TRAC:DATA? = 1,t1,{CONTACTOR}",
        "INP:GAP? 1 = 0",
    ],
    "each input has a bridge of its own": [
        "INP:BRID 1,12000",
        "INP:BRID 8,65535",
        "INP:BRID? 1;BRID? 2;BRID? 8 = 12000;0;65535",
        "INP:BRID 8,0",
        "INP:BRID? 8 = 0",
    ],
    "a bridge taken away ends the opening that it held": [
        "INP:BRID 1,60000",
        "on gas_valve",
        "wait 3 ms",
        "off gas_valve",
        "wait 3 ms",
        "INP:BRID 1,0",
        "wait 3 ms",
        "INP:LIN? = 0",
        f"TRAC:DATA? = 2,t0,{GAS}",
        "TRAC:DATA? = 1,t1,0",
    ],
    "slots of the disc are counted": [
        *["on disc", "wait 3 ms", "off disc", "wait 3 ms"] * 4,
        "INP:DISC? = 4,t0,t6",
        "INP:DISC:CLE",
        "INP:DISC? = 0,0,0",
        "on disc",
        "wait 2 ms",
        "INP:DISC? = 1,t8,t8",
    ],
    "slots are counted though their openings are bridged": [
        "INP:BRID 7,60000",
        *["on disc", "wait 3 ms", "off disc", "wait 3 ms"] * 3,
        "INP:DISC? = 3,t0,t4",
        f"TRAC:DATA? = 1,t0,{DISC}",
    ],
    "the trace keeps the oldest and counts the rest": [
        *["on supply", "wait 2 ms", "off supply", "wait 2 ms"] * (RECORDER_RECORDS // 2 + 3),
        f"TRAC:DATA? = {RECORDER_RECORDS},t0,{SUPPLY}",
        "TRAC:LOST? = 6",
        "TRAC:CLE",
        "TRAC:DATA?;LOST? = 0,0,0;0",
    ],
    "a cleared trace forgets records, not the lines": [
        "on gas_valve",
        "wait 2 ms",
        "TRAC:CLE",
        f"INP:LIN? = {GAS}",
        "off gas_valve",
        "wait 2 ms",
        "TRAC:DATA? = 1,t1,0",
    ],
    "a press": [
        "OUTP:JUMP? = 1",
        "OUTP:PRES 1",
        "wait 2 ms",
        "press trigger",
        f"OUTP:PRES?;:INP:LIN? = 1;{TRIGGER}",
        "OUTP:PRES 3",
        "wait 2 ms",
        "press trigger purge",
        "OUTP:PRES 2",
        "wait 2 ms",
        "press purge",
        "OUTP:PRES 0",
        "wait 2 ms",
        "press",
        f"TRAC:DATA? = 4,t0,{TRIGGER}",
        f"TRAC:DATA? = 3,t1,{TRIGGER | PURGE}",
        f"TRAC:DATA? = 2,t2,{PURGE}",
        "TRAC:DATA? = 1,t3,0",
    ],
    "a press lapses without lines": [
        "OUTP:PRES 1",
        "wait 900 ms",
        "press trigger",
        "OUTP:PRES? = 1",
        f"wait {PRESS_LAPSE_US // 1000 - 100} ms",
        "press trigger",
        "wait 200 ms",
        "press",
        "OUTP:PRES?;:INP:LIN? = 0;0",
    ],
    "a press is a forced state": [
        "STAT:OPER:COND? = 0",
        "OUTP:PRES 1",
        "wait 2 ms",
        "STAT:OPER:COND?;EVEN?;EVEN? = 1024;1024;0",
        "OUTP:PRES 0",
        "wait 2 ms",
        "STAT:OPER:COND?;EVEN? = 0;0",
    ],
    "a reset lets go and bridges nothing": [
        "INP:BRID 3,700",
        "OUTP:PRES 2",
        "wait 2 ms",
        "*RST",
        "wait 2 ms",
        "press",
        "INP:BRID? 3 = 0",
    ],
    "errors": [
        "INP:BRID 9,1",
        'SYST:ERR? = -222,"Data out of range"',
        "INP:BRID 0,1",
        'SYST:ERR? = -222,"Data out of range"',
        "INP:BRID 1,65536",
        "SYST:ERR? = *",
        "INP:GAP? 9",
        'SYST:ERR? = -222,"Data out of range"',
        "OUTP:PRES 4",
        'SYST:ERR? = -222,"Data out of range"',
        "OUTP:PRES",
        'SYST:ERR? = -109,"Missing parameter"',
        "INP:BRID 1",
        'SYST:ERR? = -109,"Missing parameter"',
        "INP:LIN",
        'SYST:ERR? = -113,"Undefined header"',
        "SEQ:STAT?",
        'SYST:ERR? = -113,"Undefined header"',
        "BENC:CONT 1",
        'SYST:ERR? = -113,"Undefined header"',
        'SYST:ERR? = 0,"No error"',
        "press",
    ],
}

WITHOUT_JUMPER = [
    "OUTP:JUMP? = 0",
    "OUTP:PRES 1",
    "wait 5 ms",
    "press",
    'SYST:ERR? = -203,"Command protected"',
    "OUTP:PRES? = 0",
    "INP:BRID 1,9000",
    "*RST",
    "INP:BRID? 1 = 9000",
]


@dataclass
class Conversation:
    """A conversation with one recorder, and when what it shall have stamped happened."""

    rig: RecorderRig
    happened: list[tuple[int, int]] = field(default_factory=list)
    """Of each move of an input and each order to press: the recorder's clock before and after."""

    def follow(self, steps: Sequence[str]) -> None:
        """Go through the steps."""
        for step in steps:
            word, _, rest = step.partition(" ")
            if word in ("on", "off"):
                self._does(lambda word=word, rest=rest: self.rig.move(rest, word == "on"))
            elif word == "wait":
                self.rig.wait(int(rest.removesuffix(" ms")) * 1_000)
            elif word == "press":
                assert self.rig.pressed() == set(rest.split()), step
            elif word == "OUTP:PRES":
                self._does(lambda step=step: self._asks(step))
            else:
                self._asks(step)

    def _does(self, deed: Callable[[], None]) -> None:
        before_us = self.rig.now_us()
        deed()
        self.happened.append((before_us, self.rig.now_us()))

    def _asks(self, step: str) -> None:
        line, _, expected = step.partition(" = ")
        answer = self.rig.ask(line)
        assert self._agrees(expected, answer), f"{step}: answered {answer}; happened {self.happened}"

    def _agrees(self, expected: str, answer: str) -> bool:
        pattern, within_us = "", []
        for part in re.split(r"([,;])", expected):
            if re.fullmatch(r"[tg]\d+", part):
                pattern += r"(\d+)"
                within_us.append(self._within_us(part[0], int(part[1:])))
            else:
                pattern += ".*" if part == "*" else re.escape(part)
        found = re.fullmatch(pattern, answer)
        return found is not None and all(
            first_us - SLACK_US <= int(told) <= last_us + SLACK_US
            for told, (first_us, last_us) in zip(found.groups(), within_us, strict=True)
        )

    def _within_us(self, what: str, number: int) -> tuple[int, int]:
        """Return between what an instant, or the time to the next one, must lie."""
        before_us, after_us = self.happened[number]
        if what == "t":
            return before_us, after_us
        next_before_us, next_after_us = self.happened[number + 1]
        return next_before_us - after_us, next_after_us - before_us


def converse(rig: RecorderRig, steps: Sequence[str]) -> None:
    """Go through a conversation with a recorder that was just switched on."""
    Conversation(rig).follow(steps)
