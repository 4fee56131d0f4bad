"""The feeder's two ladders, followed as circuits: as found the trigger works everything, cut it works nothing, and as
changed each load obeys its own contact of the add-on and no other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES
from tests.support.drawn_designs import DESIGNS, project_of
from timing.circuit.feeder_ladder import FeederWiring, Ladder, Symbol, feeder_wiring
from timing.circuit.parts import Group, PartKind
from timing.project import Project

LOADS = (Symbol.COIL, Symbol.VALVE, Symbol.MOTOR)
AS_FOUND = st.builds(
    '\n[feeder.as_found]\ntrigger = "{}"\nsupply_from = "{}"\none_relay = {}\ngrounded_side = "{}"\n'.format,
    st.sampled_from(["coils", "relay", "electronics"]),
    st.sampled_from(["transformer", "cable"]),
    st.sampled_from(["true", "false"]),
    st.sampled_from(["switched", "common"]),
)


def wired(text: str) -> tuple[Project, FeederWiring]:
    project = project_of(text)
    wiring = feeder_wiring(project)
    assert wiring is not None
    return project, wiring


def fed(ladder: Ladder, shut: Collection[str], cut: Collection[str] = ()) -> set[str]:
    """The loads of a ladder with both rails at them, where the things named in `shut` conduct."""
    joined: dict[str, str] = {}

    def root(node: str) -> str:
        while joined.get(node, node) != node:
            node = joined[node]
        return node

    loads: list[tuple[str, str, str]] = []
    for number, rung in enumerate(ladder.rungs):
        node: str = rung.start if rung.start != rung.end else f"{number} parked"
        for place, step in enumerate(rung.steps):
            after = f"{number}.{place}"
            if step.symbol in LOADS:
                loads.append((step.label, node, after))
            elif step.symbol is Symbol.CUT:
                if step.label not in cut:
                    joined[root(after)] = root(node)
            elif step.symbol in (Symbol.TERMINAL, Symbol.FUSE) or step.label in shut:
                joined[root(after)] = root(node)
            node = after
        if rung.start != rung.end:
            joined[root(node)] = root(rung.end)
    return {
        label
        for label, first, second in loads
        if {root(first), root(second)} == {root("left"), root("right")} and root("left") != root("right")
    }


def contacts(ladders: tuple[Ladder, ...]) -> set[str]:
    return {step.label for step in steps(ladders) if step.symbol in (Symbol.CONTACT, Symbol.ELECTRONICS)}


def steps(ladders: tuple[Ladder, ...]) -> Iterator:
    return (step for ladder in ladders for rung in ladder.rungs for step in rung.steps)


def all_fed(ladders: tuple[Ladder, ...], shut: Collection[str], cut: Collection[str] = ()) -> set[str]:
    return {load for ladder in ladders for load in fed(ladder, shut, cut)}


@settings(max_examples=60)
@given(DESIGNS, AS_FOUND)
def test_found_cut_and_changed_are_one_circuit(text: str, as_found: str) -> None:
    project, wiring = wired(text + as_found)
    machine = {step.label for step in steps(wiring.found) if step.symbol in LOADS}
    everything = contacts(wiring.found)
    assert all_fed(wiring.found, everything) == machine
    marks = [step.label for step in steps(wiring.found) if step.symbol is Symbol.CUT]
    assert sorted(marks, key=int) == [str(cut.number) for cut in wiring.cuts]
    # Cut, nothing that the machine itself can close feeds anything that the add-on takes over.
    assert all_fed(wiring.found, everything, marks) & taken(project) == set()


def taken(project: Project) -> set[str]:
    words = {"gas_valve": "gas valve", "contactor": "contactor"}
    switched = project.design.feeder.wire_drive.switched
    words["wire_drive"] = "drive relay" if switched == "relay-coil" else "wire feed motor"
    return {words[one.role] for one in project.drives}


@settings(max_examples=60)
@given(DESIGNS, AS_FOUND)
def test_changed_each_load_obeys_its_own_contact(text: str, as_found: str) -> None:
    project, wiring = wired(text + as_found)
    # The machine's own contacts, trigger and all, work none of the loads any more.
    assert all_fed(wiring.changed, contacts(wiring.changed)) & taken(project) == set()
    for ladder in wiring.changed:
        for rung in ladder.rungs:
            ours = [step for step in rung.steps if step.symbol is Symbol.OURS]
            loads = {step.label for step in rung.steps if step.symbol in LOADS}
            if ours and loads:
                assert fed(ladder, {ours[0].label}) >= loads
                assert len(ours) == 1


@settings(max_examples=40)
@given(DESIGNS, AS_FOUND)
def test_every_way_of_the_connector_is_drawn_once(text: str, as_found: str) -> None:
    project, wiring = wired(text + as_found)
    drawn = Counter(step.label for step in steps(wiring.changed) if step.symbol is Symbol.TERMINAL)
    sockets = project.netlist.parts_of(Group.FEEDER, PartKind.SOCKET)
    assert drawn == {f"{part.ref}.{way}": 1 for part in sockets for way in part.terminals if way != "SCREEN"}
    named = " ".join(goes for cut in wiring.cuts for _, goes in cut.ends)
    for label in drawn:
        if label.endswith(("-COIL", "TRIG-LIVE", "-FOUND1", "-FOUND2")):
            assert label in named, "the end of some cut goes there"


@pytest.mark.parametrize("side", ["switched", "common"])
def test_the_fuse_is_in_the_side_that_is_not_grounded(side: str) -> None:
    text = next(path for path in EXAMPLES if path.stem == "shop_two_step").read_text()
    text = text.replace('grounded = "no"', 'grounded = "yes"').replace(
        "[feeder.as_found]", f'[feeder.as_found]\ngrounded_side = "{side}"'
    )
    _, wiring = wired(text)
    ladder = next(one for one in wiring.changed if one.grounded)
    grounded = ladder.left if ladder.grounded == "left" else ladder.right
    assert grounded == "24VAC-B"
    rung = next(one for one in ladder.rungs if any(step.symbol is Symbol.FUSE for step in one.steps))
    at_left = rung.steps[0].symbol is Symbol.FUSE
    assert (ladder.left if at_left else ladder.right) == "24VAC-A"


def test_a_machine_that_was_not_described_is_not_drawn() -> None:
    head, _, rest = EXAMPLES[0].read_text().partition("[feeder.as_found]")
    text = head + rest[rest.index("\n[") + 1 :]
    assert feeder_wiring(project_of(text)) is None
