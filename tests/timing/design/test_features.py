"""What is fitted, said once: the sequence, the pins and the sketch read the same."""

from __future__ import annotations

import pytest

from codegen.sketch_facts import sketch_facts
from tests.conftest import EXAMPLES
from timing.design.features import Features
from timing.design.loading import parse_design
from timing.sequence.simulate import rig_of
from wirecue.projects import load_project

SHOP = next(path for path in EXAMPLES if path.stem == "shop_two_step").read_text()


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_sequence_pins_and_sketch_have_the_same_fitted(example):
    project = load_project(example)
    features, facts, rig = project.features, sketch_facts(project, "1"), rig_of(project.design)
    roles = {role.key for role in features.roles}
    assert [use.role for use in facts.pins] == list(features.roles)
    assert {f"{name}_dial" for name in features.dialled} == {key for key in roles if key.endswith("_dial")}
    assert {use.name for use in facts.times if use.scale is not None} == features.dialled
    assert {use.name for use in facts.times if use.switched} == features.switched
    assert set(rig.times_us) == set(features.times)
    bridged = {use.name: use.bridge_us for use in facts.contacts if use.filter_us is not None}
    assert {name: bridge for name, (_, bridge) in rig.filters_us.items()} == bridged


@pytest.mark.parametrize(("sense", "bridge_us"), [("ac", 25_000), ("dc", 0)])
def test_only_a_trigger_that_carries_ac_is_bridged_and_for_its_filter_time(sense, bridge_us):
    text = SHOP.replace('sense = "ac"', f'sense = "{sense}"')
    features = Features(parse_design(text))
    assert features.filters_us["trigger"] == 25_000
    assert features.bridge_us("trigger") == bridge_us
    assert all(features.bridge_us(contact) == 0 for contact in features.filters_us if contact != "trigger")


def test_a_project_and_what_follows_from_it_read_one_object():
    project = load_project(EXAMPLES[0])
    assert project.features is project.features
    assert project.features.times is project.features.times
