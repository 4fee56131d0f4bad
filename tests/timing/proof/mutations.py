"""Phase tables with one thing wrong, each breaking a rule."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from timing.sequence.table import (
    ARC_LIMIT_OVER,
    CLOSED,
    DIAL_FAULT,
    FOUR_STEP,
    INCH_CLOSED,
    INTERLOCK_OPEN,
    LIMITED,
    PRESS,
    PURGE_CLOSED,
    SEEN_OPEN,
    SETTLED,
    SPOT,
    SUPPLY_LOW,
    TABLE,
    TIME_OVER,
    WELD_LIMIT_OVER,
    Action,
    Exit,
    Is,
    Note,
    Output,
    Phase,
    Row,
    Table,
)

Mutate = Callable[[Table], Table]
G, W, K = Output.GAS, Output.WIRE, Output.CONTACTOR


def outputs(phase: Phase, *on: Output) -> Mutate:
    return lambda table: {**table, phase: replace(table[phase], outputs=frozenset(on))}


def exits(phase: Phase, change: Callable[[Exit], Iterable[Exit]]) -> Mutate:
    """Put what `change` makes of each exit in its place; it must make a difference."""

    def mutate(table: Table) -> Table:
        row = table[phase]
        changed = tuple(way for before in row.exits for way in change(before))
        assert changed != row.exits
        return {**table, phase: replace(row, exits=changed)}

    return mutate


def without(phase: Phase, *questions: Is, to: Phase | None = None) -> Mutate:
    """Drop the exits that ask all of `questions`."""
    return exits(phase, lambda way: () if set(questions) <= set(way.when) and to in (None, way.to) else (way,))


def unasked(phase: Phase, question: Is, to: Phase) -> Mutate:
    """Let the exits to `to` no longer ask `question`."""

    def change(way: Exit) -> tuple[Exit, ...]:
        when = tuple(asked for asked in way.when if asked != question)
        return (replace(way, when=when) if way.to == to else way,)

    return exits(phase, change)


def doing(phase: Phase, question: Is, *do: Action) -> Mutate:
    """Let the exits that ask `question` do `do` instead of what they did."""
    return exits(phase, lambda way: (replace(way, do=do) if question in way.when else way,))


def notes(phase: Phase, change: Callable[[tuple[Note, ...]], tuple[Note, ...]]) -> Mutate:
    def mutate(table: Table) -> Table:
        row = table[phase]
        return {**table, phase: replace(row, notes=change(row.notes))}

    return mutate


def first_exit(phase: Phase, way: Exit) -> Mutate:
    def mutate(table: Table) -> Table:
        row: Row = table[phase]
        return {**table, phase: replace(row, exits=(way, *row.exits))}

    return mutate


@dataclass(frozen=True)
class Mutation:
    """One thing wrong with the table, the rule it breaks, and an example on which that shows."""

    rule: str
    what: str
    example: str
    mutate: Mutate

    @property
    def table(self) -> Table:
        return self.mutate(TABLE)


SHOP, SPOT_STITCH, FIELD = "shop_two_step", "spot_stitch", "gasless_four_step"

MUTATIONS = [
    Mutation("contactor-with-gas", "weld without gas", SHOP, outputs(Phase.WELD, W, K)),
    Mutation("contactor-with-gas", "burnback without gas", FIELD, outputs(Phase.BURNBACK, K)),
    Mutation("wire-and-contactor-together", "contactor on in postflow", SHOP, outputs(Phase.POSTFLOW, G, K)),
    Mutation("wire-and-contactor-together", "wire runs ahead in preflow", SPOT_STITCH, outputs(Phase.PREFLOW, G, W)),
    Mutation("off-at-once", "low supply overlooked in a weld", SHOP, without(Phase.WELD, SUPPLY_LOW)),
    Mutation("off-at-once", "interlock overlooked in burnback", FIELD, without(Phase.BURNBACK, INTERLOCK_OPEN)),
    Mutation("no-impossible-state", "idle goes round and round", SHOP, first_exit(
        Phase.AWAIT_RELEASE, Exit((CLOSED,), Phase.AWAIT_RELEASE)
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
        Phase.HOLD_OFF, lambda notes: tuple(note for note in notes if SUPPLY_LOW not in note.when)
    )),
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
    Mutation("dials-sound", "a press in postflow, a dial broken", SHOP, unasked(
        Phase.POSTFLOW, ~DIAL_FAULT, Phase.WELD
    )),
    Mutation("dials-sound", "stitches go on with a broken dial", SPOT_STITCH, without(Phase.PAUSE, DIAL_FAULT)),
    Mutation("no-phase-outlives-its-time", "purge without limit", SHOP, without(Phase.PURGE, TIME_OVER)),
    Mutation("no-phase-outlives-its-time", "stitches without weld limit", SPOT_STITCH, without(
        Phase.PAUSE, WELD_LIMIT_OVER
    )),
    Mutation("no-phase-outlives-its-time", "no arc-start limit", SPOT_STITCH, without(Phase.WELD, ARC_LIMIT_OVER)),
    Mutation("times-stand", "a press lengthens burnback", SHOP, notes(
        Phase.BURNBACK, lambda notes: (replace(notes[0], do=(*notes[0].do, Action.RESTART)), *notes[1:])
    )),
    Mutation("times-stand", "each stitch starts the weld limit anew", SPOT_STITCH, doing(
        Phase.PAUSE, TIME_OVER, Action.BEGIN_WELD
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
