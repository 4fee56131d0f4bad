"""Sketches that do what they should not, as a wrong edit, a wrong wire or a wrong board might make them: text changes.

Some tell of it in their own trace, some do not know, some tell what the design wants.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

_SWITCH = """    drive(GAS_VALVE_PIN, ((outputs & OUTPUT_GAS) != 0) == GAS_VALVE_ON_HIGH);
    drive(WIRE_DRIVE_PIN, ((outputs & OUTPUT_WIRE) != 0) == WIRE_DRIVE_ON_HIGH);
"""
_CROSSED = """    drive(GAS_VALVE_PIN, ((outputs & OUTPUT_WIRE) != 0) == GAS_VALVE_ON_HIGH);
    drive(WIRE_DRIVE_PIN, ((outputs & OUTPUT_GAS) != 0) == WIRE_DRIVE_ON_HIGH);
"""
_LATE = """static uint8_t asked, standing;
static uint32_t asked_us;
void board_switch(uint8_t outputs) {
    if (outputs != asked) {
        asked = outputs;
        asked_us = micros();
    }
    if ((uint32_t)(micros() - asked_us) >= 2000u) {
        standing = asked;
    }
    outputs = standing;
"""
_GLITCH = """    static bool turned;
    const bool turns = (outputs & OUTPUT_WIRE) != 0;
    if (turns && !turned) {
        drive(WIRE_DRIVE_PIN, WIRE_DRIVE_ON_HIGH);
        delayMicroseconds(100);
        drive(WIRE_DRIVE_PIN, !WIRE_DRIVE_ON_HIGH);
        delayMicroseconds(300);
    }
    turned = turns;
"""


@dataclass(frozen=True)
class Mutation:
    """One way to be wrong. Each text to be replaced stands exactly once in its file."""

    name: str
    changes: tuple[tuple[str, str, str], ...]
    """File, text, and what stands there instead."""

    def changed(self, sketch: Mapping[str, str]) -> dict[str, str]:
        """Return the sketch with the change. Raises ValueError where a text does not stand there exactly once."""
        texts = dict(sketch)
        for name, old, new in self.changes:
            if texts[name].count(old) != 1:
                raise ValueError(f"{self.name}: {old!r} stands {texts[name].count(old)} times in {name}")
            texts[name] = texts[name].replace(old, new)
        return texts


MUTATIONS = (
    Mutation(
        "the pins late by 2 ms, the trace as it should be",
        (
            ("board.cpp", "void board_switch(uint8_t outputs) {\n", _LATE),
            ("board.cpp", "uint8_t board_outputs(void) {\n", "uint8_t board_outputs(void) {\n    return asked;\n"),
        ),
    ),
    Mutation(
        "burnback late by 2 ms",
        (("sequence.c", "duration_us = inputs->burnback_us;", "duration_us = inputs->burnback_us + 2000u;"),),
    ),
    Mutation(
        "preflow early by 2 ms",
        (("sequence.c", "duration_us = inputs->preflow_us;", "duration_us = inputs->preflow_us - 2000u;"),),
    ),
    Mutation(
        "the wire drive never comes on",
        (("board.cpp", "((outputs & OUTPUT_WIRE) != 0) == WIRE_DRIVE_ON_HIGH);", "!WIRE_DRIVE_ON_HIGH);"),),
    ),
    Mutation(
        "gas valve and wire drive swapped, pins and trace",
        (
            ("board.cpp", _SWITCH, _CROSSED),
            ("board.cpp", "outputs |= OUTPUT_GAS;", "outputs |= OUTPUT_WIRE ;"),
            ("board.cpp", "outputs |= OUTPUT_WIRE;", "outputs |= OUTPUT_GAS;"),
        ),
    ),
    Mutation(
        "the contactor always on",
        (
            (
                "board.cpp",
                "((outputs & OUTPUT_CONTACTOR) != 0) == CONTACTOR_ON_HIGH);",
                "CONTACTOR_ON_HIGH | (outputs & 0u));",
            ),
        ),
    ),
    Mutation(
        "a clock that is 3 % slow",
        (
            (
                "board.cpp",
                "    return micros();",
                "    const uint32_t real_us = micros();\n    return real_us - real_us / 32u;",
            ),
        ),
    ),
    Mutation(
        "the trigger's filter skipped",
        (
            (
                "control.c",
                "closed(contacts, CONTACT_TRIGGER), TRIGGER_FILTER_US,",
                "closed(contacts, CONTACT_TRIGGER), 0u,",
            ),
        ),
    ),
    Mutation(
        "the wire drive opens for 300 us as it starts",
        (("board.cpp", "void board_switch(uint8_t outputs) {\n", f"void board_switch(uint8_t outputs) {{\n{_GLITCH}"),),
    ),
    Mutation(
        "burnback by the wire in place of the contactor",
        (("sequence.c", "return OUTPUT_GAS | OUTPUT_CONTACTOR;", "return OUTPUT_GAS | OUTPUT_WIRE;"),),
    ),
)
"""For the two-step shop feeder."""
