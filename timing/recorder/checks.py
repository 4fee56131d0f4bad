"""The rules on the recorder's circuits: what must not be built, and what will not see everything."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from timing.checks.finding import Figure, Finding, error, info, warning
from timing.circuit.trigger_input import LED_MAX_A
from timing.design.board import RECORDER_ROLES, Board
from timing.design.feeder import EXTRA_LOW_AC_V, EXTRA_LOW_DC_V
from timing.formatting import ms
from timing.protocol.recorder import recorder_input
from timing.recorder.adapters import AdapterKind
from timing.recorder.disc import HUB_MM, RollDisc
from timing.recorder.fitting import RecorderCircuits
from timing.recorder.flag import Flag
from timing.recorder.presses import PHOTO_RELAY_CLOSES_A

ABOUT_KEY = {
    "gas_valve": "feeder.gas_valve", "wire_drive": "feeder.wire_drive", "contactor": "feeder.contactor",
    "motor": "--motor", "main_contact": "--main-contact", "sensor": "--sensor", "disc": "--disc", "supply": "supply",
}  # fmt: skip
"""Key of the design file, or option of the command, that an input is about."""
EXTRA_LOW = f"extra-low voltage ({EXTRA_LOW_AC_V:g} V ac, {EXTRA_LOW_DC_V:g} V dc)"


@dataclass(frozen=True)
class RecorderParts:
    """All of a recorder that rules look at."""

    circuits: RecorderCircuits
    disc: RollDisc
    flag: Flag | None


def _named(key: str) -> str:
    seen = recorder_input(key)
    return f"{seen.number}, {seen.sees}"


def has_its_pins(board: Board) -> Iterator[Finding]:
    """Every line of the recorder has a pin of its board; without, there is nothing to draw."""
    missing = [key for key in RECORDER_ROLES if key not in board.recorder_pins]
    if missing:
        yield error(
            "recorder.has-its-pins", "board.type",
            f"No pin of a {board.title} is known for {', '.join(missing)} of the recorder",
            "the sketch would look at nothing there",
            "another board for the recorder: --board; `wirecue boards` lists them",
        )  # fmt: skip


def _not_above_extra_low(parts: RecorderParts) -> Iterator[Finding]:
    for key in sorted(parts.circuits.refused, key=lambda one: recorder_input(one).number):
        yield warning(
            "recorder.above-extra-low", ABOUT_KEY[key],
            f"Input {_named(key)}, has no adapter: {parts.circuits.left_out[key]}",
            f"above {EXTRA_LOW} touching it can kill, and a lead that slips is enough",
            "Leave this input open; what hangs on it is measured by what it moves: disc, arc, gas. At the bench watch "
            "its lamp by eye",
        )  # fmt: skip


def _left_out(parts: RecorderParts) -> Iterator[Finding]:
    for key, why in parts.circuits.left_out.items():
        if key not in parts.circuits.refused:
            yield info(
                "recorder.left-out", ABOUT_KEY[key],
                f"Input {_named(key)}, has no adapter: {why}",
                "its pin stays free, and reads as off",
            )  # fmt: skip


def _within_ratings(parts: RecorderParts) -> Iterator[Finding]:
    for key, one in parts.circuits.adapters.items():
        if not one.within_ratings:
            yield error(
                "recorder.within-ratings", ABOUT_KEY[key],
                f"Input {one.input.number}: at {one.circuit.high_v:.0f} V its LED gets {1e3 * one.high_a:.1f} mA and "
                f"its resistor {one.resistor_v:.0f} V",
                f"an LED is given {1e3 * LED_MAX_A:g} mA at most here, a resistor its working voltage",
                "A contact's adapter in its place: --main-contact contact; or leave this input open",
                figures=(Figure("LED at the highest voltage", 1e3 * one.high_a, "mA"),),
            )  # fmt: skip


def _sees_the_lowest(parts: RecorderParts) -> Iterator[Finding]:
    for key, one in parts.circuits.adapters.items():
        if one.sees_low:
            continue
        lowest = one.circuit.low_v * one.circuit.peak
        remedy = (
            "Measure with the voltage turned up; or a spare contact of the contactor: --main-contact contact"
            if one.kind is AdapterKind.WELDING
            else "Measure at a voltage above that"
        )
        yield warning(
            "recorder.sees-the-lowest", ABOUT_KEY[key],
            f"Input {one.input.number} is surely seen from {one.on_v:.1f} V on; its circuit may stand at "
            f"{lowest:.1f} V",
            "with an aged coupler in a warm box it may then read off, or late",
            remedy,
            figures=(Figure("seen from", one.on_v, "V"), Figure("lowest", lowest, "V")),
        )  # fmt: skip


def _bridges(parts: RecorderParts) -> Iterator[Finding]:
    dark = [one for one in parts.circuits.adapters.values() if one.dark_us]
    if dark:
        told = ", ".join(f"input {one.input.number} {ms(one.dark_us)}" for one in dark)
        yield info(
            "recorder.dark-times", "supply.line_frequency",
            f"Dark round each zero, or between pulses, for up to: {told}",
            "an on comes that much later, an off that much earlier at most; the recorder bridges these gaps",
            figures=tuple(Figure(f"input {one.input.number}, bridge", one.bridge_us / 1000, "ms") for one in dark),
        )  # fmt: skip


def _presses(parts: RecorderParts) -> Iterator[Finding]:
    board = parts.circuits.board
    for key, press in parts.circuits.presses.items():
        if press.above_extra_low or not press.rating_v:
            yield error(
                "recorder.press-rating", "trigger.circuit_voltage",
                f"The {key} press would lie across {press.open_v:.0f} V peak",
                f"above {EXTRA_LOW} its leads can kill, whatever its contact is rated for",
                "Press by hand there, and let the recorder watch",
            )  # fmt: skip
        if not press.by_module and press.led_a < PHOTO_RELAY_CLOSES_A:
            yield error(
                "recorder.press-pin", "board.type",
                f"The {key} press's photo-relay gets {1e3 * press.led_a:.1f} mA, and a pin of this board gives "
                f"{1e3 * board.pin_current_a:g} mA at most",
                f"it may need {1e3 * PHOTO_RELAY_CLOSES_A:g} mA to close",
                'Build with modules: circuits.build = "modules"; or take another board for the recorder: --board',
            )  # fmt: skip


def _disc_fits(parts: RecorderParts) -> Iterator[Finding]:
    disc = parts.disc
    if not disc.fits:
        yield error(
            "recorder.disc-fits", "--disc",
            f"A disc of {disc.outer_mm:g} mm with a bore of {disc.bore_mm:g} mm leaves "
            f"{disc.track_inner_mm - disc.bore_mm / 2:.1f} mm of paper round the bore",
            f"less than {HUB_MM:g} mm tears",
            "A larger disc (--disc) or a smaller bore (--bore)",
        )  # fmt: skip


def _flag_reaches(parts: RecorderParts) -> Iterator[Finding]:
    if parts.flag is not None and not parts.flag.reaches:
        yield warning(
            "recorder.flag-reaches", "process.gas_flow",
            f"The gas swings the flag by some {parts.flag.swing_mm:.1f} mm",
            "too little for the sensor to see it surely",
            "Thinner paper, or more flow while measuring",
            figures=(Figure("swing", parts.flag.swing_mm, "mm"),),
        )  # fmt: skip


RECORDER_RULES: tuple[Callable[[RecorderParts], Iterator[Finding]], ...] = (
    _within_ratings, _presses, _disc_fits, _not_above_extra_low, _sees_the_lowest, _flag_reaches, _bridges, _left_out,
)  # fmt: skip


def recorder_findings(parts: RecorderParts) -> tuple[Finding, ...]:
    """Return what the rules say of a recorder, the gravest first."""
    found = [finding for rule in RECORDER_RULES for finding in rule(parts)]
    return tuple(sorted(found, key=lambda one: -one.severity))
