"""A script played on the engine in continuous time, with a rule looking on."""

from __future__ import annotations

from dataclasses import dataclass, field

from timing.proof.rules import EndRule, Rule
from timing.proof.step import Model, Step, watch
from timing.sequence.core.engine import Engine, Rig
from timing.sequence.core.script import Script


@dataclass
class _WatchedEngine(Engine):
    """An engine that remembers its passes."""

    steps: list[Step] = field(default_factory=list)

    def _pass(self) -> None:
        model = Model(self.rig.table, self.rig.settings)
        self.steps.append(watch(model, self.state.copy(), self._inputs(), self.now_us))
        super()._pass()


def steps_of(rig: Rig, script: Script, *, settled: bool) -> list[Step]:
    """Return every pass of `script` on `rig`, up to the script's end."""
    engine = _WatchedEngine(rig)
    if settled:
        engine.settle()
    else:
        engine.power_up(change for change in script.changes if change.at_us <= 0)
    for change in script.changes:
        engine.apply(change)
    engine.run_until(script.end_us or engine.now_us)
    return engine.steps


def breaks(rule: Rule | EndRule, steps: list[Step], *, settled: bool) -> bool:
    """Tell whether `steps` break `rule`; for what must come about in the end, whether they end without it."""
    if isinstance(rule, EndRule):
        return bool(steps) and steps[-1].seen.all_open and steps[-1].outputs != 0
    memory = rule.at_rest if settled else rule.at_power_up
    for step in steps:
        memory, broken = rule.observe(memory, step)
        if broken:
            return True
    return False
