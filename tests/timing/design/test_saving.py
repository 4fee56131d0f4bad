"""Values go into a design file's text: these and no others, comments and layout as they were."""

from __future__ import annotations

import difflib
import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES
from timing.design.loading import parse_design
from timing.design.origin import COMPUTED, OWN, PROPOSED, USUAL, from_welds, with_origin
from timing.design.saving import Setting, with_values
from timing.design.text_file import DesignFileError

TEXTS = {path.stem: path.read_text() for path in EXAMPLES}
SHOP = TEXTS["shop_two_step"]


def changed_lines(old: str, new: str) -> list[str]:
    return [line for line in difflib.ndiff(old.splitlines(), new.splitlines()) if line[0] in "+-"]


def test_a_value_changes_on_its_line_and_nothing_else_does():
    text = SHOP.replace('coast = "50 ms"', 'coast = "50 ms"  # by ear')
    new, changes = with_values(text, {"feeder.wire_drive.coast": "62 ms"})
    assert changed_lines(text, new) == ['- coast = "50 ms"  # by ear', '+ coast = "62 ms"  # by ear']
    assert changes == (Setting("feeder.wire_drive.coast", "50 ms", "62 ms"),)


def test_a_table_changes_key_by_key_where_it_stands():
    spread = {"min": "14 ms", "typical": "22 ms", "max": "32 ms"}
    new, changes = with_values(SHOP, {"feeder.contactor.off_delay": spread})
    assert changed_lines(SHOP, new) == [
        '- off_delay = { min = "12 ms", typical = "20 ms", max = "30 ms" }',
        '+ off_delay = { min = "14 ms", typical = "22 ms", max = "32 ms" }',
    ]
    assert [change.key.rpartition(".")[2] for change in changes] == ["min", "typical", "max"]


def test_a_new_key_joins_its_table():
    new, changes = with_values(SHOP, {"feeder.wire_drive.coast_measured": True, "interlock.fitted": True})
    assert '\ncoast = "50 ms"\ncoast_measured = true\n\n[feeder.contactor]\n' in new
    assert tomllib.loads(new)["interlock"] == {"fitted": True}
    assert [change.old for change in changes] == [None, None]


@pytest.mark.parametrize("burnback", ['"130 ms"', '{ from = "20 ms", to = "300 ms", setting = "130 ms" }'])
def test_a_time_is_set_with_a_dial_or_without(burnback):
    text = SHOP.replace('{ from = "20 ms", to = "300 ms", setting = "130 ms" }', burnback)
    new, _ = with_values(text, {"times.burnback.setting": "110 ms"})
    assert new == text.replace('"130 ms"', '"110 ms"')


TABLE = re.search(r"\[feeder\.wire_drive\]\n(.*?)\n\n", SHOP, re.DOTALL)
ENTRIES = TABLE[1].splitlines() if TABLE else []
WRITTEN = {
    "dotted keys": "[feeder]\n" + "\n".join(f"wire_drive.{entry}" for entry in ENTRIES),
    "inline table": "[feeder]\nwire_drive = { " + ", ".join(ENTRIES) + " }",
}


@pytest.mark.parametrize("written", WRITTEN)
def test_every_way_of_writing_a_table_is_kept(written):
    assert TABLE is not None
    text = SHOP.replace(TABLE[0], "").replace("[feeder.gas_valve]", f"{WRITTEN[written]}\n\n[feeder.gas_valve]")
    new, _ = with_values(text, {"feeder.wire_drive.coast": "62 ms", "feeder.wire_drive.coast_measured": True})
    drive = parse_design(new).feeder.wire_drive
    assert (drive.coast_us, drive.coast_measured) == (62_000, True)
    assert "[feeder.wire_drive]" not in new
    assert len(changed_lines(text, new)) in (2, 3)


def test_a_file_with_line_ends_of_its_own_keeps_them():
    new, _ = with_values(SHOP.replace("\n", "\r\n"), {"feeder.wire_drive.coast_measured": True})
    assert new.count("\n") == new.count("\r\n") == SHOP.count("\n") + 1


def test_what_stands_there_already_is_no_change():
    new, changes = with_values(SHOP, {"feeder.wire_drive.coast": "50 ms"})
    assert (new, changes) == (SHOP, ())


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"feeder.wire_drive.coast": "50 s"}, "was '50 ms' meant?"),
        ({"feeder.wire_drive.cost": "50 ms"}, "was 'coast' meant?"),
        ({"times.burnback.setting": "900 ms"}, "a setting outside its dial"),
        ({"name.first": "x"}, "a table"),
    ],
)
def test_what_would_be_no_design_is_refused(values, words):
    with pytest.raises(DesignFileError, match=words.replace("?", r"\?")):
        with_values(SHOP, values)


def test_a_text_that_is_no_design_is_refused():
    with pytest.raises(DesignFileError, match=r"mine\.toml"):
        with_values("format = 1", {"feeder.wire_drive.coast": "50 ms"}, "mine.toml")


@settings(max_examples=30)
@given(st.sampled_from(sorted(TEXTS)), st.integers(0, 1000), st.booleans())
def test_the_design_differs_in_these_keys_only(example, coast_ms, measured):
    text = TEXTS[example]
    values = {"feeder.wire_drive.coast": f"{coast_ms} ms", "feeder.wire_drive.coast_measured": measured}
    new, _ = with_values(text, values)
    drive = parse_design(new).feeder.wire_drive
    assert (drive.coast_us, drive.coast_measured) == (coast_ms * 1000, measured)
    before, after = tomllib.loads(text), tomllib.loads(new)
    for content in (before, after):
        content["feeder"]["wire_drive"].pop("coast")
        content["feeder"]["wire_drive"].pop("coast_measured", None)
    assert before == after
    assert [line for line in new.splitlines() if "#" in line] == [line for line in text.splitlines() if "#" in line]


FROM_WELDS = from_welds(["2026-11-29", "2026-11-27", "2026-11-29"])


@pytest.mark.parametrize(
    ("remark", "origin", "then"),
    [
        (f"  # Coast. [{OWN}]", FROM_WELDS, "  # Coast. [from 3 test welds of 2026-11-27 to 2026-11-29]"),
        ("", FROM_WELDS, "  # [from 3 test welds of 2026-11-27 to 2026-11-29]"),
        ("  # by ear, see [1]", COMPUTED, f"  # by ear, see [1] [{COMPUTED}]"),
        (f" # [{FROM_WELDS}]", from_welds(["2027-01-02"] * 4), " # [from 4 test welds of 2027-01-02]"),
        (f"  # Coast. [{USUAL}]", "", "  # Coast."),
        (f"  # [{FROM_WELDS}]", "", ""),
        (f"  # [{from_welds(['2026-11-29'])}]", OWN, f"  # [{OWN}]"),
        ("    #by ear", "", "    #by ear"),
        ("", "", ""),
    ],
)
def test_a_value_that_changes_says_where_it_comes_from_now(remark, origin, then):
    text = SHOP.replace('coast = "50 ms"', f'coast = "50 ms"{remark}')
    new, _ = with_values(text, {"feeder.wire_drive.coast": "62 ms"}, origin=origin)
    assert changed_lines(text, new) == [f'- coast = "50 ms"{remark}', f'+ coast = "62 ms"{then}']


def test_a_value_that_stays_keeps_its_origin():
    text = SHOP.replace('coast = "50 ms"', f'coast = "50 ms"  # [{OWN}]')
    assert with_values(text, {"feeder.wire_drive.coast": "50 ms"}, origin=FROM_WELDS)[0] == text


def test_the_origin_of_what_stands_in_an_inline_table_stands_behind_its_line():
    new, _ = with_values(SHOP, {"times.burnback.setting": "110 ms"}, origin=COMPUTED)
    (line,) = [line for line in new.splitlines() if line.startswith("burnback")]
    assert line == f'burnback = {{ from = "20 ms", to = "300 ms", setting = "110 ms" }}  # [{COMPUTED}]'


@pytest.mark.parametrize("written", WRITTEN)
def test_an_origin_has_its_place_however_the_table_is_written(written):
    assert TABLE is not None
    text = SHOP.replace(TABLE[0], "").replace("[feeder.gas_valve]", f"{WRITTEN[written]}\n\n[feeder.gas_valve]")
    new, _ = with_values(text, {"feeder.wire_drive.coast": "62 ms"}, origin=FROM_WELDS)
    assert parse_design(new).feeder.wire_drive.coast_us == 62_000
    assert new.count(f"# [{FROM_WELDS}]\n") == 1


@given(st.text(), st.sampled_from([COMPUTED, FROM_WELDS, OWN]), st.sampled_from(["", PROPOSED, USUAL]))
def test_an_origin_replaces_one_that_stands_there_and_no_word_of_the_user(remark, first, second):
    told = with_origin(with_origin(remark, first), second)
    assert told == with_origin(remark, second)
    assert remark.strip() in told or "[" in remark
