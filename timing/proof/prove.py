"""The proof of one design: each rule checked against every combination, or the shortest script that breaks it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from timing.design.design import Design
from timing.proof.following import Breach, Search, pursuit_of
from timing.proof.in_the_end import pursuit_to_the_end
from timing.proof.rules import RULES, EndRule, Rule
from timing.proof.walk import Walk, walk
from timing.proof.witness import Witness, witness
from timing.proof.world import world_of
from timing.sequence.core.table import Table


@dataclass(frozen=True)
class Verdict:
    """What became of one rule."""

    rule: Rule | EndRule
    combinations: int
    """Passes that it was checked against, each with all that the rule remembers of the past."""
    holds: bool
    witness: Witness | None = None
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
        return len(self.walked.edges)

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


def prove(design: Design, table: Table | None = None, rules: Iterable[Rule | EndRule] = RULES) -> Proof:
    """Check `rules` against every combination that `design` can meet.

    table: another phase table to check against the rules, already specialised for `design`.
    """
    walked = walk(world_of(design, table))
    verdicts = tuple(_verdict(rule, walked) for rule in rules)
    return Proof(walked, verdicts)


def _verdict(rule: Rule | EndRule, walked: Walk) -> Verdict:
    pursuit = pursuit_to_the_end(walked) if isinstance(rule, EndRule) else pursuit_of(rule, walked)
    search = Search(walked, pursuit)
    shortest: Breach | None = None
    for breach in search.breaches():
        shortest = shortest or breach
    if shortest is None:
        return Verdict(rule, search.combinations, True)
    shown = witness(walked, rule, pursuit)
    return Verdict(rule, search.combinations, False, shown, _phases(shortest))


def _phases(breach: Breach) -> tuple[int, ...]:
    path = [phase for edge in breach.edges for phase in edge.step.path]
    return tuple(phase for index, phase in enumerate(path) if index == 0 or phase != path[index - 1])
