"""The feeder's two ladders, followed as circuits: as found the trigger works everything, cut it works nothing, and as
changed each load obeys its own contact of the add-on and no other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from itertools import chain, combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES
from tests.support.drawn_designs import DESIGNS, INTERPOSED, project_of
from timing.circuit.drives import elsewhere, short_name
from timing.circuit.feeder_ladder import feeder_wiring
from timing.circuit.ladder import FeederWiring, Ladder, Symbol
from timing.circuit.parts import Group, Netlist, Part, PartKind, Terminal
from timing.project import Project

MACHINES = st.one_of(DESIGNS, INTERPOSED)
LOADS = (Symbol.COIL, Symbol.VALVE, Symbol.MOTOR)
AS_FOUND = st.builds(
    '\n[feeder.as_found]\ntrigger = "{}"\nsupply_from = "{}"\none_relay = {}\ngrounded_side = "{}"\n'.format,
    st.sampled_from(["coils", "relay", "electronics"]),
    st.sampled_from(["transformer", "cable"]),
    st.sampled_from(["true", "false"]),
    st.sampled_from(["switched", "common"]),
)


Node = frozenset[str]
Circuit = tuple[set[Node], set[tuple[str, frozenset[Node]]]]
"""What the ways and rails are joined to, and each thing in the feeder by the two nodes that it lies between."""


def circuit(joined: Iterable[Collection[str]], things: Iterable[tuple[str, str, str]]) -> Circuit:
    nodes: list[set[str]] = []
    for group in [*joined, *({first} for _, first, _ in things), *({second} for _, _, second in things)]:
        touched = [node for node in nodes if node & set(group)]
        nodes = [*(node for node in nodes if node not in touched), set(group).union(*touched)]

    def told(name: str) -> Node:
        return frozenset(one for one in next(node for node in nodes if name in node) if not one.startswith("?"))

    lies = {(thing, frozenset((told(first), told(second)))) for thing, first, second in things}
    return {frozenset(one for one in node if not one.startswith("?")) for node in nodes} - {frozenset()}, lies


def circuit_of_ladders(ladders: tuple[Ladder, ...]) -> Circuit:
    joined: list[set[str]] = []
    things: list[tuple[str, str, str]] = []
    for ladder in ladders:
        for number, rung in enumerate(ladder.rungs):
            rails = rails_of(ladder)
            node = f"?{ladder.title} {number} start" if rung.start == "open" else rails[rung.start]
            for place, step in enumerate(rung.steps):
                after = f"?{ladder.title} {number} {place}"
                if step.symbol is Symbol.TERMINAL:
                    joined.append({node, step.label, after})
                elif step.symbol not in (Symbol.OURS, Symbol.GAP, Symbol.WINDING):
                    things.append((step.label.partition(" T ")[0], node, after))
                node = after
            if rung.end != "open":
                joined.append({node, rails[rung.end]})
    return circuit(joined, things)


def rails_of(ladder: Ladder) -> dict[str, str]:
    """Names of the rails: of the control circuit its own, else those of the load or trigger that is on the ladder."""
    if ladder.title.startswith("Control circuit"):
        return {"left": ladder.left, "right": ladder.right}
    ways = [step.label.partition(".")[2] for step in steps((ladder,)) if step.symbol is Symbol.TERMINAL]
    word = ways[0].partition("-")[0] + (" coil" if "coil of" in ladder.title else "")
    return {"left": f"{word} left", "right": f"{word} right"}


def circuit_of_netlist(project: Project) -> Circuit:
    """The same, from the netlist: a load's and a trigger's own supply are the rails of its ladder."""
    net, feeder = project.netlist, project.design.feeder
    assert feeder.as_found is not None
    sockets = {mate.fixed for mate in net.mates}
    joined = [
        {f"?{one.name}", *(str(end) for end in one.terminals if end.ref in sockets and end.name != "SCREEN")}
        for one in net.nets
        if any(net.part(end.ref).place == "feeder" for end in one.terminals)
    ]

    def on(ref: str, name: str) -> str:
        return f"?{net.net_of(Terminal(ref, name)).name}"

    winding = net.the(Group.FEEDER, PartKind.TRANSFORMER).ref
    joined += [{f"24VAC-{side}", on(winding, side)} for side in "AB"]
    switched = project.design.supply.grounded == "yes" and feeder.as_found.grounded_side == "switched"
    left, right = ("24VAC-B", "24VAC-A") if switched else ("24VAC-A", "24VAC-B")
    things: list[tuple[str, str, str]] = []
    for one in project.drives:
        word, label = short_name(one), LABELS.get(one.role) or motor_or_relay(project)
        coil, behind = f"?FEEDER-{word}-COIL", one.actuator.interposed
        of = word if behind is None else f"{word} coil"
        rails = (f"{of} left", f"{of} right") if elsewhere(one) else (left, right)
        if behind is None:
            load = next(part for part in net.parts if coil[1:] == net_name(net, part, "COIL"))
            joined += [{rails[0], on(load.ref, "FEED")}, {rails[1], on(load.ref, "RETURN")}]
            things.append((label, coil, rails[1]))
            continue
        contactor = next(part for part in net.parts if coil[1:] == net_name(net, part, "A1"))
        load = next(part for part in net.parts if f"{word}-LOAD-COIL" == net_name(net, part, "COIL"))
        supply = next(part for part in net.parts if f"FEEDER-{word}-RETURN" == net_name(net, part, "RETURN"))
        joined += [{rails[0], on(supply.ref, "FEED")}, {rails[1], on(supply.ref, "RETURN")}]
        joined += [{f"{word} left", on(load.ref, "FEED")}]
        things += [
            (f"coil {contactor.ref}", coil, on(contactor.ref, "A2")),
            (contactor.ref, on(contactor.ref, "L1"), on(contactor.ref, "T1")),
            (label, on(load.ref, "COIL"), f"{word} right"),
        ]
    things += [
        (part.ref, *(on(part.ref, name) for name in part.terminals))
        for part in net.parts
        if part.place == "feeder" and part.kind in (PartKind.FUSE, PartKind.FEEDER_CONTACT)
    ]
    gun = net.the(Group.FEEDER, PartKind.FEEDER_TRIGGER)
    apart = ("TRIG left", "TRIG right") if project.design.trigger.sense == "dc" else (left, right)
    if "LIVE" in gun.terminals:
        joined.append({apart[1], on(gun.ref, "RETURN")})
        things.append(("trigger", apart[0], on(gun.ref, "LIVE")))
    else:
        things.append(("trigger", on(gun.ref, "1"), on(gun.ref, "2")))
    worked = net.first_of(Group.FEEDER, PartKind.FEEDER_RELAY, PartKind.FEEDER_CONTROL)
    if worked is not None:
        ends = {name: on(worked.ref, name) for name in worked.terminals}
        loads = [net for name, net in ends.items() if not name.startswith("TRIG")]
        if worked.kind is PartKind.FEEDER_RELAY:
            things.append(("relay of the trigger", ends["TRIG"], apart[1]))
            joined.append(set(loads))
            things += [("its contact", left, loads[0])] if loads else []
        elif "TRIG1" in ends:
            joined += [{"TRIG left", ends["TRIG1"]}, {"TRIG right", ends["TRIG2"]}]
            things += [("output", left, one) for one in loads]
        else:
            joined.append(set(ends.values()))
    return circuit([one for one in joined if one], things)


LABELS = {"gas_valve": "gas valve", "contactor": "contactor"}


def motor_or_relay(project: Project) -> str:
    return "drive relay" if project.design.feeder.wire_drive.switched == "relay-coil" else "wire feed motor"


def net_name(net: Netlist, part: Part, name: str) -> str:
    return net.net_of(Terminal(part.ref, name)).name if name in part.terminals else ""


def same_circuit(project: Project) -> None:
    wiring = feeder_wiring(project)
    assert wiring is not None
    (drawn_nodes, drawn_things), (nodes, things) = circuit_of_ladders(wiring.changed), circuit_of_netlist(project)
    assert drawn_things == things
    assert drawn_nodes == nodes


def test_ladder_and_netlist_of_the_examples_are_one_circuit(example: Path) -> None:
    text = example.read_text()
    same_circuit(project_of(text))
    build = ("board", "modules") if 'build = "board"' in text else ("modules", "board")
    same_circuit(project_of(text.replace(f'build = "{build[0]}"', f'build = "{build[1]}"')))


@settings(max_examples=40)
@given(MACHINES, AS_FOUND)
def test_ladder_and_netlist_of_any_machine_are_one_circuit(text: str, as_found: str) -> None:
    same_circuit(project_of(text + as_found))


def wired(text: str) -> tuple[Project, FeederWiring]:
    project = project_of(text)
    wiring = feeder_wiring(project)
    assert wiring is not None
    return project, wiring


def follow(
    ladders: Iterable[Ladder], shut: Collection[str], cut: Collection[str] = (), links: Collection[tuple[str, str]] = ()
) -> set[str]:
    """The loads with both rails of their supply at them, and the ladders whose rails are joined.

    What is named in `shut` conducts; `links` join terminals of the connector.
    """
    joined: dict[str, str] = {}

    def root(node: str) -> str:
        while joined.get(node, node) != node:
            node = joined[node]
        return node

    loads: list[tuple[str, str, str, str]] = []
    listed = list(ladders)
    for ladder in listed:
        for number, rung in enumerate(ladder.rungs):
            start, end = (
                f"{ladder.title} {number} {side}" if side == "open" else f"{ladder.title} {side}"
                for side in (rung.start, rung.end)
            )
            node = start
            for place, step in enumerate(rung.steps):
                after = f"{ladder.title} {number}.{place}"
                if step.symbol in LOADS:
                    loads.append((ladder.title, step.label, node, after))
                elif step.symbol is Symbol.TERMINAL:
                    joined[root(node)] = root(step.label)
                    joined[root(after)] = root(step.label)
                elif (step.symbol is Symbol.CUT and step.label not in cut) or (
                    step.symbol is Symbol.FUSE or step.label in shut
                ):
                    joined[root(after)] = root(node)
                node = after
            joined[root(node)] = root(f"{end} end" if rung.end == "open" else end)
    for first, second in links:
        joined[root(first)] = root(second)
    shorted = {one.title for one in listed if root(f"{one.title} left") == root(f"{one.title} right")}
    return shorted | {
        label
        for title, label, first, second in loads
        if title not in shorted and {root(first), root(second)} == {root(f"{title} left"), root(f"{title} right")}
    }


def contacts(ladders: tuple[Ladder, ...]) -> set[str]:
    """What the machine itself may close: not the contacts of contactors that the add-on works."""
    worked = {step.label.removeprefix("coil ") for step in steps(ladders) if step.label.startswith("coil ")}
    return {step.label for step in steps(ladders) if step.symbol in (Symbol.CONTACT, Symbol.ELECTRONICS)} - worked


def worked(ladders: tuple[Ladder, ...], shut: Collection[str], links: Collection[tuple[str, str]] = ()) -> set[str]:
    """What is fed once every interposing contactor has followed its coil; the coils of these left out."""
    closed = set(shut)
    while True:
        seen = follow(ladders, closed, links=links)
        pulled = {label.removeprefix("coil ") for label in seen if label.startswith("coil ")}
        if pulled <= closed:
            return {label for label in seen if not label.startswith("coil ")}
        closed |= pulled


def steps(ladders: tuple[Ladder, ...]) -> Iterator:
    return (step for ladder in ladders for rung in ladder.rungs for step in rung.steps)


@settings(max_examples=60)
@given(MACHINES, AS_FOUND)
def test_found_cut_and_changed_are_one_circuit(text: str, as_found: str) -> None:
    project, wiring = wired(text + as_found)
    machine = {step.label for step in steps(wiring.found) if step.symbol in LOADS}
    everything = contacts(wiring.found)
    boards = {one.title for one in wiring.found if "control circuit board" in one.title}
    assert follow(wiring.found, everything) == machine | boards
    marks = [step.label for step in steps(wiring.found) if step.symbol is Symbol.CUT]
    assert sorted(marks, key=int) == [str(cut.number) for cut in wiring.cuts]
    # Cut, nothing that the machine itself can close feeds anything that the add-on takes over.
    assert follow(wiring.found, everything, marks) & taken(project) == set()


def taken(project: Project) -> set[str]:
    words = {"gas_valve": "gas valve", "contactor": "contactor"}
    switched = project.design.feeder.wire_drive.switched
    words["wire_drive"] = "drive relay" if switched == "relay-coil" else "wire feed motor"
    return {words[one.role] for one in project.drives}


@settings(max_examples=60)
@given(MACHINES, AS_FOUND)
def test_changed_each_load_obeys_its_own_contact(text: str, as_found: str) -> None:
    project, wiring = wired(text + as_found)
    # The machine's own contacts, trigger and all, work none of the loads any more.
    assert follow(wiring.changed, contacts(wiring.changed)) & taken(project) == set()
    for ladder in wiring.changed:
        for rung in ladder.rungs:
            ours = [step for step in rung.steps if step.symbol is Symbol.OURS]
            loads = {step.label for step in rung.steps if step.symbol in LOADS}
            if ours and loads:
                assert follow([ladder], {ours[0].label}) >= loads
                assert len(ours) == 1


@settings(max_examples=40)
@given(MACHINES, AS_FOUND)
def test_every_way_of_the_connector_is_drawn_once(text: str, as_found: str) -> None:
    project, wiring = wired(text + as_found)
    drawn = Counter(step.label for step in steps(wiring.changed) if step.symbol is Symbol.TERMINAL)
    sockets = project.netlist.parts_of(Group.FEEDER, PartKind.SOCKET)
    assert drawn == {f"{part.ref}.{way}": 1 for part in sockets for way in part.terminals if way != "SCREEN"}
    named = " ".join(goes for cut in wiring.cuts for _, goes in cut.ends)
    behind = {f"{short_name(one)}-COIL" for one in project.drives if one.actuator.interposed is not None}
    for label in drawn:
        if label.partition(".")[2] in behind:
            continue
        if label.endswith(("-COIL", "TRIG-FEED", "TRIG-LIVE", "-FOUND", "-FOUND1", "-FOUND2")):
            assert label in named, "the end of some cut goes there"


@settings(max_examples=40)
@given(MACHINES, AS_FOUND)
def test_the_bypass_plug_makes_the_feeder_as_found(text: str, as_found: str) -> None:
    """Whatever the machine's own contacts do, plug and feeder as changed do what the feeder as found did."""
    project, wiring = wired(text + as_found)
    links = links_of(project)
    own = sorted(contacts(wiring.found))
    for shut in chain.from_iterable(combinations(own, count) for count in range(len(own) + 1)):
        as_was = follow(wiring.found, shut)
        # The motor behind a relay is not drawn again where nothing of it changes.
        assert worked(wiring.changed, shut, links) == as_was & (drawn(wiring.changed) | titles(wiring.changed))
    assert worked(wiring.changed, own) & taken(project) == set(), "and without it nothing works"


def links_of(project: Project) -> list[tuple[str, str]]:
    ends = ((link.connector, link.from_way, link.to_way) for link in project.netlist.bypass)
    return [(f"{socket}.{first}", f"{socket}.{second}") for socket, first, second in ends]


def drawn(ladders: tuple[Ladder, ...]) -> set[str]:
    return {step.label for step in steps(ladders) if step.symbol in LOADS}


def titles(ladders: tuple[Ladder, ...]) -> set[str]:
    return {ladder.title for ladder in ladders}


@pytest.mark.parametrize("trigger", ["coils", "relay", "electronics"])
def test_a_bypass_plug_without_one_of_its_links_is_found_out(trigger: str) -> None:
    text = next(path for path in EXAMPLES if path.stem == "shop_two_step").read_text()
    project, wiring = wired(text.replace('trigger = "coils"', f'trigger = "{trigger}"'))
    links = links_of(project)
    shut = contacts(wiring.found)
    for left_out in links:
        kept = [link for link in links if link != left_out]
        assert follow(wiring.changed, shut, links=kept) != follow(wiring.found, shut), left_out


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
