"""The planted faults can be planted, and what misses one is told."""

from __future__ import annotations

import pytest

from tests.conftest import ROOT
from tools.mutations.mutation import Mutation, mutations
from tools.mutations.trial import Outcome, copy_of_sources, try_mutation

AREAS = {"sequence", "process", "power", "codegen", "templates", "bench"}
TABLE = mutations()


@pytest.mark.parametrize("mutation", TABLE, ids=lambda mutation: mutation.what)
def test_each_fault_can_still_be_planted(mutation):
    sound = (ROOT / mutation.file).read_text(encoding="utf-8")
    assert mutation.applied(sound) != sound
    for test in mutation.tests:
        assert (ROOT / test).exists(), test


def test_a_fault_that_stands_nowhere_or_twice_is_refused():
    fault = Mutation("process", "none", "a.py", "x", "y", ())
    for text in ("", "x x"):
        with pytest.raises(ValueError, match="must stand there once"):
            fault.applied(text)


def test_a_fault_is_caught_by_tests_that_look_and_survives_tests_that_do_not(tmp_path):
    tree = copy_of_sources(tmp_path / "tree")
    fault = next(mutation for mutation in TABLE if mutation.file == "codegen/plan.py")
    elsewhere = Mutation(
        fault.area, fault.what, fault.file, fault.old, fault.new, ("tests/timing/design/test_units.py",)
    )
    missing = Mutation(fault.area, fault.what, fault.file, fault.old, fault.new, ("tests/nowhere.py",))
    gone = Mutation(fault.area, fault.what, fault.file, "stands nowhere", fault.new, fault.tests)
    found = [try_mutation(tree, mutation)[0] for mutation in (fault, elsewhere, missing, gone)]
    assert found == [Outcome.CAUGHT, Outcome.SURVIVED, Outcome.BROKEN, Outcome.BROKEN]
    assert (tree / fault.file).read_text() == (ROOT / fault.file).read_text()
