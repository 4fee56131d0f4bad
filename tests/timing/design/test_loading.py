"""Design files: what is accepted, and that a bad one is told line, key, found, allowed and a likely meaning."""

from __future__ import annotations

import re
import tomllib
from contextlib import suppress

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import EXAMPLES, ROOT
from timing.design.design import Design
from timing.design.feeder import Actuator, Coil, WireDrive
from timing.design.loading import LARGEST_DESIGN_BYTES, load_design, parse_design
from timing.design.supply import Supply, SupplySense
from timing.design.text_file import DesignFileError

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()


def complaint_of(text: str) -> str:
    with pytest.raises(DesignFileError) as caught:
        parse_design(text, "my.toml")
    assert caught.value.exit_code == 2
    return str(caught.value)


def line_of(fragment: str, text: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), 1) if fragment in line)


def test_examples_load(example):
    assert load_design(example).name == example.stem


def changed(old: str, new: str) -> str:
    assert old in SHOP
    return SHOP.replace(old, new, 1)


@pytest.mark.parametrize(
    ("old", "new", "key", "found", "allowed", "hint"),
    [
        (
            'filter = "25 ms"',
            'filter = "25 s"',
            "trigger.filter",
            "'25 s'",
            '0 ms to 100 ms, for example "25 ms"',
            "was '25 ms' meant?",
        ),
        (
            'filter = "25 ms"',
            "filter = 25",
            "trigger.filter",
            "25",
            '0 ms to 100 ms, for example "25 ms"',
            'a number needs its unit and quotes, for example "25 ms"',
        ),
        (
            'mode = "two-step"',
            'mode = "two step"',
            "trigger.mode",
            "'two step'",
            "two-step or four-step or switch",
            "was 'two-step' meant?",
        ),
        (
            'rating = "100 VA"',
            'ratting = "100 VA"',
            "supply.ratting",
            "a key that is not known here",
            None,
            "was 'rating' meant?",
        ),
        (
            'inrush = "0.8 A"',
            'inrush = "0.1 A"',
            "feeder.gas_valve.coil",
            "inrush of 0.1 A below hold of 0.33 A",
            "an inrush of the holding current or more",
            "a coil takes most while it pulls in; leave inrush out where it was not measured",
        ),
        ("purge = true", 'purge = "yes"', "buttons.purge", "'yes'", "true or false, without quotes", None),
        ("purge = true", "purge = 1", "buttons.purge", "1", "true or false, without quotes", None),
        (
            "[times]",
            '[times]\nspot = "600 ms"',
            "times.spot",
            "a key that is not known here",
            None,
            "spot is a table of its own: [spot]",
        ),
        ('name = "shop_two_step"', 'name = "Shop 2"', "name", "'Shop 2'", None, "perhaps 'shop'"),
        ('name = "shop_two_step"', 'name = "con"', "name", "'con'", "a name that every system takes as a folder", None),
        (
            'gas = "M21"',
            'gas = "none"',
            "process",
            "gas_flow with gas = 'none'",
            "a gas with its flow, or neither",
            None,
        ),
        (
            'from = "20 ms", to = "300 ms"',
            'from = "400 ms", to = "300 ms"',
            "times.burnback",
            "a dial that does not rise, from 400 ms to 300 ms",
            "`from` below `to`",
            None,
        ),
    ],
)
def test_bad_values_are_told_apart(old, new, key, found, allowed, hint):
    text = changed(old, new)
    shown = complaint_of(text)
    block = next(block for block in re.split(r"(?m)^(?=my\.toml)", shown) if f": {key}\n" in block)
    assert f"  found    {found}\n" in block
    if allowed is not None:
        assert f"  allowed  {allowed}" in block
    if hint is not None:
        assert f"  hint     {hint}" in block


def test_the_line_is_that_of_the_key():
    text = changed('filter = "25 ms"', 'filter = "25 s"')
    assert complaint_of(text).startswith(f"my.toml, line {line_of('25 s', text)}: trigger.filter\n")


def test_the_line_inside_an_inline_table():
    text = changed('to = "300 ms"', 'to = "300 min"')
    assert complaint_of(text).startswith(f"my.toml, line {line_of('300 min', text)}: times.burnback.to\n")


def test_a_missing_key_is_described_at_its_table():
    text = changed('rating = "100 VA"\n', "")
    shown = complaint_of(text)
    assert shown.startswith(f"my.toml, line {line_of('[supply]', text)}: supply.rating\n")
    assert "this key must be there: Rating of the transformer." in shown


def test_syntax_errors_name_the_line():
    text = changed('filter = "25 ms"', "filter = 25 ms")
    assert complaint_of(text).startswith(f"my.toml, line {line_of('filter = 25 ms', text)}\n")


def test_many_complaints_stay_on_one_screen():
    text = re.sub(r'"[0-9.]+ ms"', "1", SHOP)
    shown = complaint_of(text)
    assert len(shown.splitlines()) <= 40
    assert "more of the kind" in shown


@pytest.mark.parametrize("content", [b"\xff\xfe", b"#" * (LARGEST_DESIGN_BYTES + 1), b"a = " + b"[" * 5000])
def test_files_that_are_no_design(tmp_path, content):
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    with pytest.raises(DesignFileError):
        load_design(path)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(DesignFileError, match="no such file or directory"):
        load_design(tmp_path / "gone.toml")
    with pytest.raises(DesignFileError, match="found    a folder"):
        load_design(tmp_path)


@given(st.data())
def test_any_value_in_any_place_is_accepted_or_told(data):
    document = tomllib.loads(SHOP)
    table = document
    while True:
        key = data.draw(st.sampled_from(sorted(table)))
        if not isinstance(table[key], dict) or data.draw(st.booleans()):
            break
        table = table[key]
    table[key] = data.draw(
        st.one_of(st.text(max_size=8), st.integers(), st.floats(), st.booleans(), st.just({}), st.just([]))
    )
    # Anything but a Design or this one error would be a traceback to the user.
    with suppress(DesignFileError):
        assert isinstance(parse_design(tomlkit.dumps(document)), Design)


def test_the_digest_stands_for_content_not_layout():
    design = parse_design(SHOP)
    assert parse_design("# a remark\n" + SHOP.replace(" = ", "=")).digest() == design.digest()
    assert parse_design(SHOP.replace('"25 ms"', '"0.025 s"')).digest() == design.digest()
    assert parse_design(changed('filter = "25 ms"', 'filter = "26 ms"')).digest() != design.digest()


def test_the_schema_accepts_the_examples_and_describes_every_key():
    import jsonschema

    schema = Design.model_json_schema()
    for path in EXAMPLES:
        jsonschema.validate(tomllib.loads(path.read_text()), schema)

    def undescribed(part: dict[str, object], name: str) -> list[str]:
        properties = part.get("properties", {})
        return [
            f"{name}.{key}" for key, field in properties.items() if "description" not in field and "$ref" not in field
        ]

    parts = [("design", schema), *schema["$defs"].items()]
    assert [key for name, part in parts for key in undescribed(part, name)] == []


@pytest.mark.parametrize("model", [Supply, SupplySense, Coil, Actuator, WireDrive])
def test_no_two_fields_share_a_key_of_the_design_file(model: type[Supply]) -> None:
    keys = [field.alias for field in model.model_fields.values()]
    assert len(keys) == len(set(keys))
