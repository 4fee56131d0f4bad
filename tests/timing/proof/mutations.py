"""Phase tables with one thing wrong, each breaking a rule."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from tests.conftest import ROOT
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.sequence.core.columns import Action, Time
from timing.sequence.core.table import (
    ARC_ESTABLISHED,
    ARC_LIMIT_OVER,
    ARC_SEEN_OPEN,
    ARC_STAYS,
    CLOSED,
    COMPLETES,
    DIAL_FAULT,
    FOUR_STEP,
    INCH_CLOSED,
    INTERLOCK_OPEN,
    LET_GO,
    LIMITED,
    PRESS,
    PURGE_CLOSED,
    SEEN_OPEN,
    SETTLED,
    SPOT,
    SUPPLY_LOW,
    SUPPLY_POOR,
    TABLE,
    TIME_OVER,
    WELD_LIMIT_OVER,
    Fault,
    Guard,
    Note,
    Output,
    Phase,
    Row,
    Table,
    Transition,
)

Mutate = Callable[[Table], Table]
G, W, K = Output.GAS, Output.WIRE, Output.CONTACTOR


def outputs(phase: Phase, *on: Output) -> Mutate:
    return lambda table: {**table, phase: replace(table[phase], outputs=frozenset(on))}


def exits(phase: Phase, change: Callable[[Transition], Iterable[Transition]]) -> Mutate:
    """Put what `change` makes of each exit in its place; it must make a difference."""

    def mutate(table: Table) -> Table:
        row = table[phase]
        changed = tuple(way for before in row.transitions for way in change(before))
        assert changed != row.transitions
        return {**table, phase: replace(row, transitions=changed)}

    return mutate


def without(phase: Phase, *questions: Guard, to: Phase | None = None) -> Mutate:
    """Drop the exits that ask all of `questions`."""
    return exits(phase, lambda way: () if set(questions) <= set(way.when) and to in (None, way.to) else (way,))


def unasked(phase: Phase, question: Guard, to: Phase) -> Mutate:
    """Let the exits to `to` no longer ask `question`."""

    def change(way: Transition) -> tuple[Transition, ...]:
        when = tuple(asked for asked in way.when if asked != question)
        return (replace(way, when=when) if way.to == to else way,)

    return exits(phase, change)


def doing(phase: Phase, question: Guard, *do: Action) -> Mutate:
    """Let the exits that ask `question` do `do` instead of what they did."""
    return exits(phase, lambda way: (replace(way, do=do) if question in way.when else way,))


def notes(phase: Phase, change: Callable[[tuple[Note, ...]], tuple[Note, ...]]) -> Mutate:
    def mutate(table: Table) -> Table:
        row = table[phase]
        return {**table, phase: replace(row, notes=change(row.notes))}

    return mutate


def first_exit(phase: Phase, way: Transition) -> Mutate:
    def mutate(table: Table) -> Table:
        row: Row = table[phase]
        return {**table, phase: replace(row, transitions=(way, *row.transitions))}

    return mutate


def asking(phase: Phase, change: Callable[[Guard], Guard | None]) -> Mutate:
    """Let the notes of a phase ask what `change` makes of each of their questions; None: not any more."""

    def asked(note: Note) -> Note:
        return replace(note, when=tuple(new for old in note.when if (new := change(old)) is not None))

    return notes(phase, lambda notes: tuple(asked(note) for note in notes))


def entering(phase: Phase, *do: Action) -> Mutate:
    return lambda table: {**table, phase: replace(table[phase], enter=do)}


def both(*mutates: Mutate) -> Mutate:
    def mutate(table: Table) -> Table:
        for one in mutates:
            table = one(table)
        return table

    return mutate


@dataclass(frozen=True)
class Mutation:
    """One thing wrong with the table, the rule it breaks, and a design on which that shows."""

    rule: str
    what: str
    example: str
    mutate: Mutate

    @property
    def table(self) -> Table:
        return self.mutate(TABLE)

    @property
    def design(self) -> Design:
        return DESIGNS[self.example]


SHOP, SPOT_STITCH, FIELD = "shop_two_step", "spot_stitch", "gasless_four_step"
SPOTS_COMPLETE, FIELD_FLOWING = "spot_stitch, spots complete", "gasless_four_step, with postflow"
SPOT_TO_ZERO, UNSENSED = "spot_stitch, its dial down to 1 ms", "spot_stitch, no arc sensor"


STEADY = {SPOT_STITCH: (('setting = "90 ms"', 'setting = "55 ms"'), ('setting = "450 ms"', 'setting = "600 ms"'))}
"""Times of an example that scripts are judged by: whatever is advised of late, what a script shows stays the same."""


def _example(name: str, *changes: tuple[str, str]) -> Design:
    text = (ROOT / "examples" / f"{name}.toml").read_text()
    for old, new in (*STEADY.get(name, ()), *changes):
        assert old in text
        text = text.replace(old, new, 1)
    return parse_design(text)


DESIGNS = {
    **{name: _example(name) for name in (SHOP, SPOT_STITCH, FIELD)},
    SPOTS_COMPLETE: _example(SPOT_STITCH, ('on_release = "end"', 'on_release = "complete"')),
    FIELD_FLOWING: _example(FIELD, ('postflow = "0 ms"', 'postflow = "1 s"')),
    SPOT_TO_ZERO: _example(SPOT_STITCH, ('time = { from = "200 ms"', 'time = { from = "1 ms"')),
    UNSENSED: _example(SPOT_STITCH, ('[arc_sensor]\nfilter = "4 ms"\n', ""), ('arc_start = "2 s"\n', "")),
}


def without_arc_note(table: Table) -> Table:
    """Let hold-off know nothing of an arc that stays."""
    dropped = notes(Phase.HOLD_OFF, lambda all_notes: tuple(note for note in all_notes if ARC_STAYS not in note.when))
    return asking(Phase.HOLD_OFF, lambda question: None if question == ~ARC_STAYS else question)(dropped(table))


MUTATIONS = [
    Mutation("contactor-with-gas", "weld without gas", SHOP, outputs(Phase.WELD, W, K)),
    Mutation("contactor-with-gas", "burnback without gas", FIELD, outputs(Phase.BURNBACK, K)),
    Mutation("wire-and-contactor-together", "contactor on in postflow", SHOP, outputs(Phase.POSTFLOW, G, K)),
    Mutation("wire-and-contactor-together", "wire runs ahead in preflow", SPOT_STITCH, outputs(Phase.PREFLOW, G, W)),
    Mutation("off-at-once", "low supply overlooked in a weld", SHOP, without(Phase.WELD, SUPPLY_LOW)),
    Mutation("off-at-once", "interlock overlooked in burnback", FIELD, without(Phase.BURNBACK, INTERLOCK_OPEN)),
    Mutation("no-impossible-state", "idle goes round and round", SHOP, first_exit(
        Phase.AWAIT_RELEASE, Transition((CLOSED,), Phase.AWAIT_RELEASE)
    )),
    Mutation("seen-open-first", "hold-off ends with a button pressed", SHOP, unasked(
        Phase.HOLD_OFF, SEEN_OPEN, Phase.IDLE
    )),
    Mutation("seen-open-first", "hold-off overlooks the inch button", SHOP, notes(
        Phase.HOLD_OFF,
        lambda notes: tuple(
            replace(note, when=tuple(asked for asked in note.when if asked != ~INCH_CLOSED))
            for note in notes
            if note.when != (INCH_CLOSED,)
        ),
    )),
    Mutation("hold-off-waits", "open only for a moment", SHOP, notes(
        Phase.HOLD_OFF,
        lambda notes: tuple(
            replace(note, do=(Action.SEE_OPEN,)) if Action.SEE_OPEN in note.do else note for note in notes
        ),
    )),
    Mutation("hold-off-waits", "a second dip does not count", SHOP, notes(
        Phase.HOLD_OFF, lambda notes: tuple(note for note in notes if SUPPLY_POOR not in note.when)
    )),
    Mutation("hold-off-waits", "a supply between low and good is good enough", SHOP, asking(
        Phase.HOLD_OFF, lambda asked: Guard(SUPPLY_LOW.condition, asked.wanted) if asked in (
            SUPPLY_POOR, ~SUPPLY_POOR
        ) else asked
    )),
    Mutation("hold-off-waits", "hold-off ends while an arc stays", SPOT_STITCH, without_arc_note),
    Mutation("hold-off-waits", "open counts before the supply has settled", FIELD, notes(
        Phase.HOLD_OFF,
        lambda notes: tuple(
            replace(note, when=tuple(asked for asked in note.when if asked != SETTLED))
            for note in notes
        ),
    )),
    Mutation("fresh-press", "a held trigger welds again after postflow", SPOT_STITCH, exits(
        Phase.POSTFLOW, lambda way: (replace(way, to=Phase.WELD) if way.to is Phase.AWAIT_RELEASE else way,)
    )),
    Mutation("fresh-press", "a release does not take the press back", SHOP, notes(
        Phase.BURNBACK, lambda notes: notes[:1]
    )),
    Mutation("fresh-press", "preflow runs on without the trigger", SHOP, without(Phase.PREFLOW, ~CLOSED)),
    Mutation("fresh-press", "a stitch after the release", SPOT_STITCH, without(Phase.PAUSE, ~CLOSED)),
    Mutation("fresh-press", "stitches go on after the press that stopped a spot", SPOTS_COMPLETE, unasked(
        Phase.BURNBACK, ~LET_GO, Phase.PAUSE
    )),
    Mutation("dials-sound", "a press in postflow, a dial broken", SHOP, unasked(
        Phase.POSTFLOW, ~DIAL_FAULT, Phase.WELD
    )),
    Mutation("dials-sound", "stitches go on with a broken dial", SPOT_STITCH, without(Phase.PAUSE, DIAL_FAULT)),
    Mutation("no-phase-outlives-its-time", "purge without limit", SHOP, without(Phase.PURGE, TIME_OVER)),
    Mutation("no-phase-outlives-its-time", "stitches without weld limit", UNSENSED, without(
        Phase.PAUSE, WELD_LIMIT_OVER
    )),
    Mutation("no-phase-outlives-its-time", "no arc-start limit", SPOT_STITCH, without(Phase.WELD, ARC_LIMIT_OVER)),
    Mutation("times-stand", "a press lengthens burnback", SHOP, notes(
        Phase.BURNBACK, lambda notes: (replace(notes[0], do=(*notes[0].do, Action.RESTART)), *notes[1:])
    )),
    Mutation("times-stand", "each stitch starts the weld limit anew", SPOT_STITCH, doing(
        Phase.PAUSE, TIME_OVER, Action.BEGIN_WELD
    )),
    Mutation("times-stand", "the spot dial counts again when the arc comes", SPOT_TO_ZERO, notes(
        Phase.WELD,
        lambda notes: tuple(
            replace(note, do=(Action.ESTABLISH_ARC, Action.RESTART)) if Action.COUNT in note.do else note
            for note in notes
        ),
    )),
    Mutation("modes-stand", "an inch latches the mode", FIELD, both(
        entering(Phase.PREFLOW),
        exits(Phase.IDLE, lambda way: (replace(way, do=(Action.LATCH,)) if way.fault is Fault.NONE else way,)),
    )),
    Mutation("modes-stand", "a press in postflow latches nothing", FIELD_FLOWING, doing(
        Phase.POSTFLOW, PRESS, Action.BEGIN_WELD
    )),
    Mutation("modes-stand", "the mode switch counts in preflow", FIELD, exits(
        Phase.WELD, lambda way: (replace(way, do=(Action.LATCH,)) if PRESS in way.when else way,)
    )),
    Mutation("modes-stand", "stitch is latched in the middle", SPOT_STITCH, doing(
        Phase.PAUSE, TIME_OVER, Action.LATCH
    )),
    Mutation("release-ends-the-weld", "a release is not heard", SHOP, without(Phase.WELD, ~CLOSED)),
    Mutation("release-ends-the-weld", "a release does not end a spot", SPOT_STITCH, without(
        Phase.WELD, ~CLOSED, SPOT
    )),
    Mutation("release-ends-the-weld", "a second press is not heard", FIELD, without(Phase.WELD, FOUR_STEP, PRESS)),
    Mutation("buttons-let-go", "inch runs on", SHOP, without(Phase.INCH, ~INCH_CLOSED)),
    Mutation("buttons-let-go", "purge runs on", SPOT_STITCH, without(Phase.PURGE, ~PURGE_CLOSED)),
    Mutation("arc-sensed-first", "the arc of the weld before counts", SPOT_STITCH, lambda table: {
        **table, Phase.WELD: replace(table[Phase.WELD], enter=())
    }),
    Mutation("arc-sensed-first", "a sensor that is stuck closed counts", SPOT_STITCH, asking(
        Phase.WELD, lambda asked: None if asked == ARC_SEEN_OPEN else asked
    )),
    Mutation("arc-sensed-first", "an open sensor counts from the weld before", SPOT_STITCH, both(
        entering(Phase.POSTFLOW), entering(Phase.PAUSE)
    )),
    Mutation("arc-stays", "an arc that stays is overlooked in idle", SPOT_STITCH, without(Phase.IDLE, ARC_STAYS)),
    Mutation("arc-stays", "an arc that stays is overlooked in a purge", SPOT_STITCH, without(Phase.PURGE, ARC_STAYS)),
    Mutation("arc-stays", "an arc that stays is not shown", SPOT_STITCH, exits(
        Phase.POSTFLOW, lambda way: (replace(way, fault=None) if ARC_STAYS in way.when else way,)
    )),
    Mutation("completing-spots-end", "a press does not end a completing spot", SPOTS_COMPLETE, without(
        Phase.WELD, PRESS, COMPLETES
    )),
    Mutation("completing-spots-end", "a spot completes that was never struck", SPOTS_COMPLETE, without(
        Phase.WELD, COMPLETES, ~ARC_ESTABLISHED
    )),
    Mutation("contactor-off-when-open", "burnback counts from the release", SHOP, notes(
        Phase.BURNBACK, lambda notes: (*notes, Note((~CLOSED,), (Action.COUNT,)))
    )),
    Mutation("contactor-off-when-open", "burnback lasts as long as postflow", SHOP, lambda table: {
        **table, Phase.BURNBACK: replace(table[Phase.BURNBACK], time=Time.POSTFLOW)
    }),
    Mutation("contactor-off-when-open", "a spot completes that should end", SPOT_STITCH, without(
        Phase.WELD, ~CLOSED, SPOT
    )),
    Mutation("no-phase-is-cut-short", "pause comes before its time", SPOT_STITCH, unasked(
        Phase.BURNBACK, TIME_OVER, Phase.PAUSE
    )),
    Mutation("no-phase-is-cut-short", "a spot ends in postflow", SPOT_STITCH, exits(
        Phase.WELD, lambda way: (replace(way, to=Phase.POSTFLOW) if TIME_OVER in way.when else way,)
    )),
    Mutation("no-phase-is-cut-short", "no burnback at all", SHOP, unasked(
        Phase.BURNBACK, TIME_OVER, Phase.POSTFLOW
    )),
    Mutation("no-phase-is-cut-short", "gas stops with the release", SHOP, unasked(
        Phase.POSTFLOW, TIME_OVER, Phase.IDLE
    )),
    Mutation("times-stand", "the weld limit counts from another weld", SHOP, doing(Phase.PREFLOW, TIME_OVER)),
    Mutation("contactor-drops-after-burnback", "burnback never ends", SHOP, without(
        Phase.BURNBACK, TIME_OVER, to=Phase.POSTFLOW
    )),
    Mutation("limits-let-nothing-start", "stitches go on after a limit", SPOT_STITCH, doing(
        Phase.WELD, WELD_LIMIT_OVER
    )),
    Mutation("limits-let-nothing-start", "a press in postflow after a limit", SHOP, unasked(
        Phase.POSTFLOW, ~LIMITED, Phase.WELD
    )),
    Mutation("limits-let-nothing-start", "a limit that is not shown", FIELD, exits(
        Phase.WELD, lambda way: (replace(way, fault=None) if WELD_LIMIT_OVER in way.when else way,)
    )),
    Mutation("all-off-in-the-end", "postflow never ends", SHOP, without(Phase.POSTFLOW, TIME_OVER)),
    Mutation("all-off-in-the-end", "four-step without weld limit", FIELD, without(Phase.WELD, WELD_LIMIT_OVER)),
]  # fmt: skip
