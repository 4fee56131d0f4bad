"""A build works out what is slow once: what follows from a design is kept by its project."""

from __future__ import annotations

import inspect
from collections import Counter
from collections.abc import Callable
from types import FunctionType
from typing import Any

import pytest

from codegen.charts.timeline import usual_timeline_svg
from codegen.drawings.schematic import schematic
from codegen.drawings.wiring import bypass_sheet, wiring_sheets
from codegen.sequence_c import sequence_core
from codegen.sketch import sketch_files
from codegen.sketch_facts import sketch_facts
from tests.conftest import ROOT
from tests.wirecue.test_cli import run
from timing.checks.board import memory_fit
from timing.checks.registry import RULES, check
from timing.circuit.dial import dials_of
from timing.circuit.drives import drives
from timing.circuit.lists import parts_list, wire_list
from timing.circuit.netlist import netlist
from timing.design.features import features_of
from timing.design.pinning import pin_names
from timing.power.budget import budget
from timing.process.advice import advise
from timing.proof.prove import prove
from timing.sequence.of_design import settings_of, table_of
from timing.sequence.simulate import rig_of, simulate

ONCE: tuple[Callable[..., Any], ...] = (
    advise,
    budget,
    bypass_sheet,
    dials_of,
    drives,
    features_of,
    netlist,
    parts_list,
    pin_names,
    prove,
    rig_of,
    schematic,
    sequence_core,
    settings_of,
    simulate,
    sketch_facts,
    sketch_files,
    table_of,
    usual_timeline_svg,
    wire_list,
    wiring_sheets,
    *dict.fromkeys(rule.function for rule in RULES if rule.function is not memory_fit),
)
AT_MOST: dict[Callable[..., Any], int] = {check: 2, memory_fit: 2}
"""The rules are run again when the sketch was compiled; only the rule on memory then has something new to say."""


class Counted:
    """Counts the calls of functions, under whatever name they were imported."""

    def __init__(self) -> None:
        self.calls: Counter[str] = Counter()

    def watch(self, monkeypatch: pytest.MonkeyPatch, function: Callable[..., Any]) -> None:
        # What keeps its results stands before the function that works them out.
        function = inspect.unwrap(function)
        assert isinstance(function, FunctionType)
        name = f"_counted_{function.__name__}"
        own = FunctionType(function.__code__, function.__globals__, function.__name__, function.__defaults__)
        own.__kwdefaults__ = function.__kwdefaults__

        def counted(*given: Any, **named: Any) -> Any:
            self.calls[function.__name__] += 1
            return own(*given, **named)

        made: dict[str, Any] = {}
        exec(f"def stand_in(*given, **named): return {name}(*given, **named)", made)
        monkeypatch.setitem(function.__globals__, name, counted)
        # The code, not the name: those who imported the function before have it as well.
        monkeypatch.setattr(function, "__code__", made["stand_in"].__code__)
        monkeypatch.setattr(function, "__defaults__", None)
        monkeypatch.setattr(function, "__kwdefaults__", None)


def test_a_build_works_nothing_out_more_often_than_it_has_to(monkeypatch, tmp_path):
    counted = Counted()
    for function in (*ONCE, *AT_MOST):
        counted.watch(monkeypatch, function)
    result = run("build", ROOT / "examples" / "shop_two_step.toml", "--output", tmp_path / "built")
    assert result.exit_code == 0, result.output
    allowed = {function.__name__: 1 for function in ONCE} | {each.__name__: most for each, most in AT_MOST.items()}
    assert set(counted.calls) == set(allowed)
    assert {name: calls for name, calls in counted.calls.items() if calls > allowed[name]} == {}
