"""The attack on model and compiled core: hypothesis moves everything that a workshop can move, at any time.

Both boards see the same contacts and readings in the same passes, and must switch alike, phase and fault included;
beside that, what must always be true is asked of the pins alone. A step is one rule: one thing that is done to the
panel, and the passes up to the next. The model goes ahead; the core plays the same from switching on to the end, or to
the next reset, in one call.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from tests.conftest import ROOT
from tests.support.attack.always import CONTACTOR, Always, Moment
from tests.support.attack.model_board import ModelBoard
from tests.support.attack.panel import COUNTS, Feeder, Panel, as_script
from tests.support.attack.record import Disagreement, edges_of_bytes, write_disagreement
from tests.support.host_core import PASS, QUESTION
from timing.protocol.commands import COMMANDS
from timing.sequence.core.script import Change
from timing.sequence.core.table import Fault, Phase, Table

OUT = ROOT / "out" / "attack"
WRAP = 1 << 32
SETTLED_US = 700_000
"""Past hold-off: 500 ms for the supply, and twice the longest filter for open contacts."""
SHORT_REST_US = 60_000
MOST_PASSES = 9
"""Passes of one step beside those in which something moves."""
PREFLOW_STEPS = 6
"""So many short rests outlast a preflow."""
LONGEST_BOUNCE_US = 20_000
SHORTEST_GAP_US = 200
LONGEST_CHATTER = 10
ASKING_PASSES = 400
"""Passes that a question surely takes, sent behind any garbage of a step."""
GARBAGE = [*(command.header for command in COMMANDS), "BENC:CONT 1", "BENC:CONT 2047", "BENC:ANAL 0,0", "*RST;*CLS"]

indices = st.integers(0, 63)
shares = st.integers(0, 999)


class Attack(RuleBasedStateMachine):
    """One board from power-up on. Made for one design by `attack_on`."""

    feeder: ClassVar[Feeder]
    table: ClassVar[Table]
    title: ClassVar[str]
    folder: ClassVar[Path]
    steps: ClassVar[int]
    phases: ClassVar[set[int]]
    faults: ClassVar[set[int]]
    # Two short waits for each of the others: what is interesting happens around filters and short times.
    waits_us: ClassVar[Sequence[int]] = (3_000, 60_000, 3_000, 60_000, 400_000, 3_000_000, 400_000_000)
    noise_us: ClassVar[int] = 1_500
    trouble_us: ClassVar[int] = 0
    dial_travel: ClassVar[float] = 1.0
    """Share of its travel over which a dial is turned."""

    def __init__(self) -> None:
        super().__init__()
        self.panel = Panel(self.feeder)
        self.now_us = 0
        self.offset_us = 0
        self.changes: list[Change] = []
        self.wanted: list[tuple[int, int]] = []
        self.got: list[tuple[int, int]] = []
        self.outputs = 0
        """What the model switched in the latest pass."""
        self._forget()

    def _forget(self) -> None:
        """Begin a list of what the compiled core has to play, on a board that is just switched on."""
        self.deeds: list[tuple[int, int, int]] = []
        self.questions: list[str] = []
        self.passes: list[tuple[int, int]] = []
        """Instant, and outputs of the model, of each pass."""
        self.answers: list[tuple[int, str]] = []
        """Instant, and the answer wanted, of each question."""

    # ---- Beginnings ----

    @initialize(settled=st.booleans(), wraps_ms=st.integers(0, 5_000))
    def power_up(self, settled: bool, wraps_ms: int) -> None:
        """Switch both boards on; the clock wraps some seconds later."""
        self.offset_us = WRAP - 1_000 * wraps_ms
        self._switch_on()
        if settled:
            self._play([], SETTLED_US)

    def _switch_on(self) -> None:
        self._play_core()
        self.model = ModelBoard(self.feeder, self.table, self._clock_us())
        self.started_us = self._clock_us()
        self.always = Always(self.feeder, self.now_us)
        self.deeds += [
            (index, self.panel.counts[channel], self.started_us) for index, channel in enumerate(self.feeder.channels)
        ]

    def _play_core(self) -> None:
        """Let the compiled core play what the model has played since both were switched on; compare the two."""
        if not self.passes:
            self._forget()
            return
        deeds, questions, passes, answers = self.deeds, self.questions, self.passes, self.answers
        self._forget()
        core = self.feeder.core.board(bench_link=False, now_us=self.started_us)
        try:
            outputs, said = core.play(deeds, questions)
        finally:
            core.close()  # thousands of boards would be more than the system lets a process map
        for (at_us, wanted), got in zip(passes, outputs, strict=True):
            self._note_outputs(at_us, wanted, got)
            if wanted != got:
                self._fail(f"outputs {got:03b}, expected {wanted:03b}", at_us)
        for (at_us, wanted_answer), answer in zip(answers, said, strict=True):
            got_answer = answer.rstrip("\n").rpartition("\n")[2]
            if got_answer != wanted_answer:
                self._fail(f"phase and fault {got_answer!r}, expected {wanted_answer!r}", at_us)

    def teardown(self) -> None:
        """Let the core play what it has not played yet."""
        self._play_core()

    def _clock_us(self) -> int:
        return self.offset_us + self.now_us

    # ---- What a workshop does to a board ----

    @rule(contact=indices, wait=indices, share=shares)
    def move_contact(self, contact: int, wait: int, share: int) -> None:
        """Close or open any contact: trigger, buttons, arc sensor, mode, switches; the trigger most of all."""
        what = self._any_contact(contact)
        self._step([Change(0, what, not self.panel.closed[what])], self._wait_us(wait, share))

    @rule(contact=indices, gaps_us=st.lists(st.integers(SHORTEST_GAP_US, 4_000), max_size=LONGEST_CHATTER))
    def bounce(self, contact: int, gaps_us: list[int]) -> None:
        """Close or open a contact that bounces for up to 20 ms."""
        what = self._any_contact(contact)
        to = not self.panel.closed[what]
        instants = [0]
        for gap_us in gaps_us:
            if instants[-1] + gap_us <= LONGEST_BOUNCE_US:
                instants.append(instants[-1] + gap_us)
        # It ends as it was meant to.
        instants = instants if len(instants) % 2 else instants[:-1]
        changes = [Change(at_us, what, to if index % 2 == 0 else not to) for index, at_us in enumerate(instants)]
        self._step(changes, instants[-1] + 2_000)

    @rule(
        line_hz=st.sampled_from([50, 60]), ac_input=st.booleans(), pulses=st.integers(1, 8), missing=st.integers(0, 255)
    )
    def chop_trigger(self, line_hz: int, ac_input: bool, pulses: int, missing: int) -> None:
        """Let the trigger's circuit carry ac: pulses at once or twice the line frequency, some of them missing."""
        period_us = 1_000_000 // (2 * line_hz if ac_input else line_hz)
        changes = []
        for pulse in range(pulses):
            if not missing >> pulse & 1:
                changes.append(Change(pulse * period_us, "trigger", 1))
                changes.append(Change(pulse * period_us + period_us * 2 // 5, "trigger", 0))
        self._step(changes, pulses * period_us)

    @rule(wait=indices, share=shares)
    def wait(self, wait: int, share: int) -> None:
        """Leave everything as it is, for up to longer than any limit."""
        self._step([], self._wait_us(wait, share))

    @rule(dial=indices, share=shares)
    @precondition(lambda self: self.feeder.target.scales)
    def turn_dial(self, dial: int, share: int) -> None:
        """Turn a dial to anywhere."""
        self._step([self._dial_change(dial, share, 0)], 5_000)

    @rule(dial=indices, shares=st.lists(shares, min_size=2, max_size=5))
    @precondition(lambda self: self.feeder.target.scales)
    def dial_noise(self, dial: int, shares: list[int]) -> None:
        """Let a worn dial jump about."""
        self._step([self._dial_change(dial, share, i * self.noise_us) for i, share in enumerate(shares)])

    @rule(dial=indices, up=st.booleans())
    @precondition(lambda self: self.feeder.target.scales)
    def sweep_dial(self, dial: int, up: bool) -> None:
        """Turn a dial from one end to the other."""
        sweep = range(0, 1_000, 111) if up else range(999, -1, -111)
        self._step([self._dial_change(dial, share, i * self.noise_us) for i, share in enumerate(sweep)])

    @rule(dial=indices, shorted=st.booleans(), wait=indices, share=shares, stays=st.booleans())
    @precondition(lambda self: self.feeder.target.scales)
    def break_dial(self, dial: int, shorted: bool, wait: int, share: int, stays: bool) -> None:
        """Break or short a dial's wire, for a while or until the next rest."""
        scales = self.feeder.target.scales
        name = list(scales)[dial % len(scales)]
        rail = self.feeder.target.full_scale_counts if shorted else 0
        self._trouble(f"{COUNTS}{name}", rail, wait, share, stays)

    @rule(by=st.integers(0, 40), below_low=st.booleans(), wait=indices, share=shares, stays=st.booleans())
    @precondition(lambda self: self.feeder.supply)
    def sag(self, by: int, below_low: bool, wait: int, share: int, stays: bool) -> None:
        """Let the supply sag below either threshold, by little or by much, for a while or until the next rest."""
        limits = self.feeder.supply
        assert limits is not None
        threshold = limits.low_counts if below_low else limits.good_counts
        self._trouble(f"{COUNTS}supply", threshold - 1 - by, wait, share, stays)

    @rule(wait=indices, share=shares)
    @precondition(lambda self: "arc" in self.feeder.contacts)
    def arc_follows(self, wait: int, share: int) -> None:
        """Let the arc burn with the contactor on, and go out with it off."""
        self._let_the_arc_follow(self._wait_us(wait % 4, share))

    @rule(wait=indices, share=shares)
    @precondition(lambda self: "arc" in self.feeder.contacts)
    def strike(self, wait: int, share: int) -> None:
        """Pull the trigger, strike an arc once the contactor is on, and weld on."""
        self._let_the_arc_follow(SHORT_REST_US)
        self._step([Change(0, "trigger", 1)], SHORT_REST_US)
        for _ in range(PREFLOW_STEPS):
            if not self._contactor_on():
                self._step([], SHORT_REST_US)
        self._let_the_arc_follow(self._wait_us(wait, share))

    def _contactor_on(self) -> bool:
        return bool(self.outputs & CONTACTOR)

    def _let_the_arc_follow(self, lasts_us: int) -> None:
        burns = self._contactor_on()
        changes = [Change(0, "arc", int(burns))] if self.panel.closed["arc"] != burns else []
        self._step(changes, lasts_us)

    @rule(wait=indices, share=shares, stays=st.booleans())
    @precondition(lambda self: "interlock" in self.feeder.contacts)
    def open_interlock(self, wait: int, share: int, stays: bool) -> None:
        """Open the interlock, for a while or until the next rest."""
        self._trouble("interlock", 0, wait, share, stays)

    def _trouble(self, what: str, value: int, wait: int, share: int, stays: bool) -> None:
        lasts_us = self._wait_us(wait % 2, share) + self.trouble_us
        at_rest = Panel(self.feeder).stands(what)
        self._step([Change(0, what, value), *([] if stays else [Change(lasts_us, what, at_rest)])], lasts_us + 3_000)

    @rule()
    def rest(self) -> None:
        """Put everything right and wait until the board is ready, but leave switches and dials where they are."""
        quiet = Panel(self.feeder)
        moved = [role for role in quiet.closed if role in ("trigger", "purge", "inch", "interlock", "arc")]
        moved += [f"{COUNTS}{name}" for name in self.feeder.channels if self._out_of_range(name)]
        changes = [
            Change(0, what, quiet.stands(what)) for what in moved if quiet.stands(what) != self.panel.stands(what)
        ]
        ready = self.model.state.phase == Phase.IDLE and not changes
        self._step(changes, SHORT_REST_US if ready else SETTLED_US)

    def _out_of_range(self, channel: str) -> bool:
        counts = self.panel.counts[channel]
        return channel == "supply" or self.feeder.target.scales[channel].is_fault(counts)

    @rule(share=shares, wait=indices, stays=st.booleans())
    def pull_trigger(self, share: int, wait: int, stays: bool) -> None:
        """Pull the trigger cleanly for longer than its filter."""
        pull_us = self.feeder.target.rig.filters_us["trigger"][0] + self._wait_us(wait % 2, share)
        opens = [] if stays else [Change(pull_us, "trigger", 0)]
        self._step([Change(0, "trigger", 1), *opens], pull_us + self._wait_us(wait, share))

    @rule(settled=st.booleans())
    def reset(self, settled: bool) -> None:
        """Reset the board, whatever it does; the panel stays as it is."""
        self._count()
        self._note(Change(self.now_us, "reset", 1))
        self._switch_on()
        self.outputs = 0
        self._note_outputs(self.now_us, 0, 0)
        self._play([], self.now_us + (SETTLED_US if settled else 20_000))

    # ---- How it is done ----

    def _any_contact(self, index: int) -> str:
        others = [role for role in self.feeder.contacts if role != "interlock"]
        return (["trigger"] * len(others) + others)[index % (2 * len(others))]

    def _wait_us(self, wait: int, share: int) -> int:
        return 1_000 + self.waits_us[wait % len(self.waits_us)] * share // 999

    def _dial_change(self, dial: int, share: int, after_us: int) -> Change:
        scales = self.feeder.target.scales
        name = list(scales)[dial % len(scales)]
        scale = scales[name]
        travel = round((scale.high_counts - scale.low_counts + 10) * self.dial_travel)
        counts = scale.low_counts - 5 + travel * share // 999
        return Change(after_us, f"{COUNTS}{name}", counts)

    def _count(self) -> None:
        type(self).steps += 1

    def _step(self, changes: Iterable[Change], lasts_us: int | None = None) -> None:
        """Carry out changes, timed from now, and run passes up to the next step."""
        self._count()
        changes = list(changes)
        if lasts_us is None:
            lasts_us = changes[-1].at_us + self.noise_us
        moved = [Change(self.now_us + change.at_us, change.what, int(change.value)) for change in changes]
        self._play(moved, self.now_us + max(lasts_us, 1))
        self._ask()

    def _play(self, changes: Sequence[Change], end_us: int) -> None:
        grain_us = max((end_us - self.now_us) // MOST_PASSES, 48)
        due: dict[int, list[Change]] = {at_us: [] for at_us in (*range(self.now_us, end_us, grain_us), end_us)}
        for change in changes:
            due.setdefault(change.at_us, []).append(change)
        for at_us in sorted(due):
            for change in due[at_us]:
                self._note(change)
                self._move(change)
            self.now_us = at_us
            self._pass()

    def _note(self, change: Change) -> None:
        self.changes.append(change)

    def _move(self, change: Change) -> None:
        self.panel.move(change.what, change.value)
        if change.what.startswith(COUNTS):
            channel = self.feeder.channels.index(change.what.removeprefix(COUNTS))
            self.deeds.append((channel, change.value, 0))

    def _pass(self) -> None:
        """Let the converter finish a round of its channels, since passes are far apart here, and run a pass."""
        now_us, model = self._clock_us(), self.model
        for channel, counts in self.panel.counts.items():
            model.reading(channel, counts, now_us)
        if self.feeder.supply is not None:
            self.always.after_reading(self.panel.counts["supply"], self.now_us)
        self.outputs = model.run_pass(self.panel.closed, now_us)
        self.deeds.append((PASS, self.panel.bits, now_us))
        self.passes.append((self.now_us, self.outputs))
        state = model.state
        self.phases.add(state.phase)
        self.faults.add(state.fault)
        completes = state.spot and self.feeder.target.rig.settings.completes
        try:
            self.always.after_pass(
                Moment(self.panel.closed, self.outputs, state.phase, state.four_step, completes, self.now_us)
            )
        except AssertionError as error:
            self._play_core()
            self._fail(str(error), self.now_us)

    def _note_outputs(self, at_us: int, wanted: int, got: int) -> None:
        for noted, outputs in ((self.wanted, wanted), (self.got, got)):
            if (noted[-1][1] if noted else 0) != outputs:
                noted.append((at_us, outputs))

    def _ask(self) -> None:
        """Send garbage and commands that must be refused, then ask for phase and fault; no time passes meanwhile."""
        rng = random.Random(self.now_us)
        garbage = rng.choice(GARBAGE) if rng.random() < 0.7 else "".join(chr(rng.randrange(1, 256)) for _ in range(20))
        self.questions.append(f"{garbage}\nSEQ:STAT?\n")
        self.deeds.append((QUESTION, ASKING_PASSES, self._clock_us()))
        self.model.run_pass(self.panel.closed, self._clock_us())
        self.answers.append((self.now_us, f"{int(self.model.state.phase)},{int(self.model.state.fault)}"))

    def _fail(self, says: str, at_us: int) -> None:
        found = Disagreement(
            self.title,
            says,
            as_script(self.feeder, [one for one in self.changes if one.at_us <= at_us], at_us + 50_000),
            edges_of_bytes(self.wanted),
            edges_of_bytes(self.got),
        )
        write_disagreement(found, self.folder)
        raise AssertionError(f"{says} after {at_us} us; script and picture: {self.folder / self.title}.txt, .svg")


def attack_on(
    feeder: Feeder, base: type[Attack] = Attack, folder: Path = OUT, table: Table | None = None
) -> type[Attack]:
    """Return the machine that attacks one design. table: another one for the model, with something wrong in it."""
    members: dict[str, Any] = {
        "feeder": feeder,
        "table": table or feeder.target.rig.table,
        "title": f"{feeder.design.name}_{base.__name__.lower()}",
        "folder": folder,
        "steps": 0,
        "phases": set[Phase](),
        "faults": set[Fault](),
    }
    return type(f"{base.__name__}On{feeder.design.name}", (base,), members)
