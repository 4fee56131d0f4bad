"""First of all: does each adapter lie on the terminals that it should, and does each press reach its contact?

One weld, forced over the link, puts every output on in its own stretch of time; each input must show that of its own
output. Then each press is looked for at the contacts as the add-on's pins show them, with all of them forced quiet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bench.cases import Case
from bench.compare import OUTPUT_NAMES, CaseResult, output_word
from bench.forcing import rig_as_forced
from bench.recorder.lags import PairLags
from bench.recorder.monitor import PRESS_LINE
from bench.recorder.reading import CaseReading, pressed_contacts, wired_outputs
from bench.recorder.witness import WitnessBench
from bench.script_writer import WELD_TIMES, NotOfferedError, ScriptWriter
from timing.protocol.recorder import RECORDER_PRESSES, recorder_input
from timing.protocol.target import RAW_BIT, Target
from timing.sequence.core.engine import Edge, run_script
from timing.sequence.core.table import Output

WIRING = "wiring"
"""Name of this check among the cases."""
WIRING_TITLE = "each output on its input, each press on its contact"
APART_US = 150_000
"""How long an output is on without another, where dials allow it: more than any relay takes (choice)."""
COARSE_US = 50_000
"""So far from its place an edge still tells which output it is; how punctual it is, the cases show (choice: a third of
the time for which outputs are kept apart)."""
PRESS_SHOWS_US = 60_000
"""After so long a press has reached its contact, a relay's lag and bounce over (choice)."""


@dataclass(frozen=True)
class WiringCheck:
    """What the check came to."""

    troubles: tuple[str, ...]
    """What must be put right before anything else is worth a look, a sentence each."""
    notes: tuple[str, ...]
    presses: tuple[str, ...]
    """Contacts that the recorder's outputs reach."""
    took_us: int
    read: CaseReading | None = None

    @property
    def result(self) -> CaseResult:
        """The check as one result of a bench run."""
        compared = len(self.read.edges) if self.read is not None else 0
        return CaseResult(WIRING, WIRING_TITLE, self.troubles, compared, took_us=self.took_us)


def check_wiring(bench: WitnessBench) -> WiringCheck:
    """Check the wiring of both boards. Raises BenchError. Nothing but lamps may hang on the outputs."""
    target = bench.target
    if (trouble := bench.come_to_rest()) is not None:
        return WiringCheck((trouble,), (), (), 0)
    lines = bench.recorder.lines()
    always_on = [_always_on(output) for output in wired_outputs(target) if OUTPUT_NAMES[output] in lines]
    if always_on:
        return WiringCheck(tuple(always_on), (), (), 0)
    reading = bench.weld_forced(wiring_case(target))
    troubles = list(reading.raw.troubles) or list(_outputs(reading, bench.lags))
    pressed, press_troubles, notes = _presses(bench)
    return WiringCheck((*troubles, *press_troubles), tuple(notes), pressed, reading.raw.took_us, reading)


def wiring_case(target: Target) -> Case:
    """Return a weld in which each output is on by itself for a while, as far as the design's dials allow."""
    script = ScriptWriter(target)
    four_step = script.any_way()
    for name in WELD_TIMES:
        try:
            script.need(name, APART_US)
        except NotOfferedError:
            continue  # A fixed time stays as it is.
    script.whole_weld(four_step)
    written = script.written()
    return Case(WIRING, WIRING_TITLE, written, run_script(rig_as_forced(target), written).end_us)


def _input_of(output: Output) -> int:
    return recorder_input(OUTPUT_NAMES[output]).number


def _always_on(output: Output) -> str:
    return (
        f"Always on: the recorder's input {_input_of(output)} ({output_word(output)}) shows voltage with everything at "
        "rest. Is its adapter on the terminals of this output, behind the add-on's contact and not in front of it? If "
        "it is, the output itself does not switch off: its lamp is lit."
    )


def _outputs(reading: CaseReading, lags: PairLags) -> Sequence[str]:
    seen = {output: _course(reading, output, seen=True) for output in lags.outputs}
    wanted = {output: _course(reading, output, seen=False) for output in lags.outputs}
    follows = {
        output: [other for other in lags.outputs if _fits(wanted[other], seen[output])] for output in lags.outputs
    }
    return [
        _trouble(output, seen[output], wanted[output], follows[output], reading)
        for output in lags.outputs
        if output not in follows[output]
    ]


def _course(reading: CaseReading, output: Output, *, seen: bool) -> list[Edge]:
    edges = [one.seen if seen else one.expected for one in reading.edges if one.output is output]
    return [edge for edge in edges if edge is not None]


def _fits(wanted: Sequence[Edge], seen: Sequence[Edge]) -> bool:
    return len(wanted) == len(seen) and all(
        one.on == other.on and abs(other.at_us - one.at_us) <= COARSE_US
        for one, other in zip(wanted, seen, strict=True)
    )


def _trouble(
    output: Output, seen: Sequence[Edge], wanted: Sequence[Edge], follows: Sequence[Output], reading: CaseReading
) -> str:
    word, number = output_word(output), _input_of(output)
    if follows:
        other = follows[0]
        return (
            f"Swapped: the recorder's input {number} ({word}) follows the {output_word(other)}, which belongs on input "
            f"{_input_of(other)}. Are two adapters, or two wires at the add-on's terminals, crossed? If not, the board "
            "drives the wrong pins: flash it again."
        )
    claimed = any(one.claimed is not None for one in reading.edges if one.output is output)
    if not seen:
        return f"Dead: the recorder's input {number} ({word}) saw nothing while the {word} was on. " + (
            "The board says that its pin was: look at the lamp. Lit: the adapter or its wire. Dark: the lamp's "
            "supply, or the drive of this output."
            if claimed
            else "The board's own trace does not show it on either: its pin does not follow."
        )
    return (
        f"Loose: the recorder's input {number} ({word}) changed {len(seen)} times where the {word} was to change "
        f"{len(wanted)} times, or far from when it should: a loose wire, an adapter on something else, or an output "
        "that does not do what the board's sketch should make it."
    )


def _presses(bench: WitnessBench) -> tuple[tuple[str, ...], list[str], list[str]]:
    """Press each contact by itself, all of them forced quiet; return which arrive, what is wrong, and what is said."""
    target, arrives, troubles, notes = bench.target, [], [], []
    for what in pressed_contacts(target):
        place = next(one.place + 1 for one in RECORDER_PRESSES if one.key == what)
        before = _closed(bench)
        if what in before:
            troubles.append(
                f"Always closed: the board sees its {what} contact closed with nothing pressed. A wire across it, a "
                "trigger that is held, or an output of the recorder that does not open?"
            )
            continue
        bench.recorder.press(what)
        bench.keep_for(PRESS_SHOWS_US)
        closed, lines = _closed(bench), bench.recorder.lines()
        bench.recorder.press()
        bench.keep_for(PRESS_SHOWS_US)
        if PRESS_LINE[what] not in lines:
            troubles.append(f"The recorder's own pin does not follow its press of the {what}: its board is at fault.")
        elif what in _closed(bench):
            troubles.append(
                f"The {what} stays closed after the recorder let go: its output {place} does not open, or sits the "
                "wrong way round."
            )
        elif what in closed:
            arrives.append(what)
        elif closed:
            troubles.append(
                f"Swapped: the recorder's output {place} is to press the {what} and presses the {closed[0]}. Change "
                "the two pairs of wires at the add-on's inputs."
            )
        elif what == "trigger":
            troubles.append(
                f"Dead: the recorder presses the trigger (output {place}) and the board does not see it. Does the pair "
                "lie across the trigger's terminals, with the circuit's voltage on them if it carries any, and the "
                "right way round?"
            )
        else:
            notes.append(
                f"The recorder's output {place} does not reach the {what} contact: cases that need it are left out. To "
                f"have them, put that pair across the {what} button's terminals."
            )
    return tuple(arrives), troubles, notes


def _closed(bench: WitnessBench) -> list[str]:
    contacts = bench.link.query("contacts").number("contacts")
    return [what for what in pressed_contacts(bench.target) if contacts & RAW_BIT[what]]
