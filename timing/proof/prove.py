"""The proof of one design: each rule checked against every combination, or the shortest script that breaks it; in words
and as data, too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from timing.design.design import Design
from timing.proof.counterexample import Counterexample, counterexample_to
from timing.proof.exploration import Walk, walk, without_cycle_search
from timing.proof.monitor import (
    Breach,
    Search,
    combinations_without_breach,
    liveness_monitor,
    monitor_of,
    steps_of_walk,
)
from timing.proof.rules import PROOF_RULES, LivenessRule, Never, ProofRule
from timing.proof.state_space import state_space_of
from timing.sequence.core.table import Phase, Table
from timing.sequence.script_text import write_script


@dataclass(frozen=True)
class Verdict:
    """What became of one rule."""

    rule: ProofRule | LivenessRule
    combinations: int
    """Passes that it was checked against, each with all that the rule remembers of the past."""
    holds: bool
    counterexample: Counterexample | None = None
    """Where it does not hold: a script that shows it, if real times can be found for it."""
    phases: tuple[int, ...] = ()
    """Where it does not hold: the phases on the shortest way to the breach."""


@dataclass(frozen=True)
class Proof:
    """What became of every rule."""

    walked: Walk
    verdicts: tuple[Verdict, ...]

    @property
    def situations(self) -> int:
        """Number of situations that a board can be in between two passes."""
        return len(self.walked.groups)

    @property
    def combinations(self) -> int:
        """Number of situations times all that the next pass can meet in each."""
        return self.walked.total

    @property
    def holds(self) -> bool:
        """Tell whether every rule holds."""
        return all(verdict.holds for verdict in self.verdicts)

    @property
    def broken(self) -> tuple[Verdict, ...]:
        """Return the verdicts on rules that do not hold."""
        return tuple(verdict for verdict in self.verdicts if not verdict.holds)


def prove(design: Design, table: Table | None = None, rules: Iterable[ProofRule | LivenessRule] = PROOF_RULES) -> Proof:
    """Check `rules` against every combination that `design` can meet.

    table: another phase table to check against the rules, already specialised for `design`.
    """
    with without_cycle_search():
        walked = walk(state_space_of(design, table))
        return Proof(walked, tuple(_verdict(rule, walked) for rule in rules))


def _verdict(rule: ProofRule | LivenessRule, walked: Walk) -> Verdict:
    if (
        isinstance(rule, ProofRule)
        and isinstance(rule.observe, Never)
        and not any(map(rule.observe.broken, steps_of_walk(walked)))
    ):
        # Nothing is remembered, so that every pass is met once, and all of them are.
        return Verdict(rule, walked.total, True)
    monitor = liveness_monitor(walked) if isinstance(rule, LivenessRule) else monitor_of(rule, walked)
    met = combinations_without_breach(walked, monitor)
    if met is not None:
        return Verdict(rule, met, True)
    search = Search(walked, monitor)
    shortest: Breach | None = None
    for breach in search.breaches():
        shortest = shortest or breach
    assert shortest is not None
    shown = counterexample_to(walked, rule, monitor)
    return Verdict(rule, search.combinations, False, shown, _phases(shortest))


def _phases(breach: Breach) -> tuple[int, ...]:
    path = [phase for edge in breach.edges for phase in edge.step.path]
    return tuple(phase for index, phase in enumerate(path) if index == 0 or phase != path[index - 1])


COVERED = "the phase table: every combination of phase, inputs, timers (each over or not) and flags"
"""What was walked, in one line; for the manifest, the documentation and the summary alike."""
LEFT_OUT = (
    "contact filters",
    "dials and supply sense",
    "control.c, which puts them together",
    "lamp and serial link",
    "board glue and pins",
    "main loop, clock and watchdog",
    "durations that no rule bounds",
)
"""What stands around the phase table and was not walked."""

WALKED = (
    "What is covered: the phase table of this design. From power-up, from idle and from impossible phases, every pass "
    "was taken that the table can take: each phase with each combination of trigger, buttons, arc, interlock, supply, "
    "dial fault, mode and panel switches, with each timer over or not, with each time that can be zero at zero and "
    "not, and with all the flags that the sequence keeps from pass to pass, as long as anything can still ask them. Of "
    "these combinations none was left out.",
    "A timer counts as over or not over, and may run out at any pass. So the result holds for every position of every "
    "dial, and for longer and shorter limits as well.",
    "Each rule watched every one of these passes. Where a rule speaks of the past, it kept its own memory of it and "
    "was checked against every past as well: hence the larger numbers.",
)
NOT_WALKED = (
    "How contacts and voltages become inputs: contact filters, dials and supply sense. Trigger and buttons are what "
    "their filters make of the contacts: a release counts one filter time late.",
    "The code around the table: control.c, lamp, serial link, board glue, main loop, clock and watchdog. Passes follow "
    "each other, the clock runs, and a timer is looked at within 35 minutes of running out. A hung board is the "
    "watchdog's business; it begins again at power-up.",
    "Durations, beyond what a rule itself bounds. Whether the times suit the weld is not for this proof.",
    "The C code. `wirecue build` compares the compiled sequence of the design with the table, on all of these "
    "combinations, where there is a C compiler, and says so in the manifest.",
    "Whether outputs, wiring and contactor follow. That is for the bench test.",
)


def as_data(design: Design, proof: Proof) -> dict[str, Any]:
    """Return the proof as data, the same for the same design."""
    return {
        "design": design.name,
        "digest": design.digest(),
        "holds": proof.holds,
        "situations": proof.situations,
        "combinations": proof.combinations,
        "rules": [_rule_data(verdict) for verdict in proof.verdicts],
        "covers": COVERED,
        "leaves_out": list(LEFT_OUT),
        "walked": list(WALKED),
        "not_walked": list(NOT_WALKED),
    }


def _rule_data(verdict: Verdict) -> dict[str, Any]:
    data: dict[str, Any] = {
        "rule": verdict.rule.name,
        "says": verdict.rule.sentence,
        "holds": verdict.holds,
        "combinations": verdict.combinations,
    }
    if not verdict.holds:
        data["phases"] = phase_words(verdict)
        shown = verdict.counterexample
        data["starts"] = None if shown is None else starts(shown)
        data["script"] = None if shown is None else write_script(shown.script)
    return data


def phase_words(verdict: Verdict) -> list[str]:
    """Return the phases on the shortest way to the breach."""
    known = {int(phase): phase.word for phase in Phase}
    return [known.get(phase, "impossible") for phase in verdict.phases]


def starts(shown: Counterexample) -> str:
    """Return where the script starts."""
    return "in idle" if shown.settled else "at power-up (simulate --power-up)"
