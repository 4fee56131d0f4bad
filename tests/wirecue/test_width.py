"""What is printed keeps to the terminal's width: every command, every list, every complaint; or cannot be broken."""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path
from unittest import mock

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import EXAMPLES, ROOT, gate_share
from wirecue.cli import COMMAND_HELP, main
from wirecue.terminal import WIDEST_COLUMNS, paragraph, table, within_width

NARROW = 80
SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
# Of each kind of trouble a file.
BAD = {
    "unknown_key": SHOP.replace('sense = "ac"', 'sens = "ac"'),
    "unknown_process_key": SHOP.replace("wire_diameter =", "wire_dia ="),
    "unknown_supply_key": SHOP.replace("line_frequency", "line_freq"),
    "unknown_table": SHOP.replace("[times]", "[time]"),
    "unknown_word": SHOP.replace('gas = "M21"', 'gas = "M99"'),
    "unknown_board": SHOP.replace('"uno"', '"unno"'),
    "out_of_range": SHOP.replace('filter = "25 ms"', 'filter = "25 s"'),
    "missing": SHOP.replace('circuit_voltage = "24 VAC"\n', "").replace('weld = "5 min"\n', ""),
    "no_toml": SHOP.replace("[times]", "[times"),
    "no_arc": SHOP.replace('open_circuit_voltage = "23 V"', 'open_circuit_voltage = "14 V"'),
    "broken_rules": SHOP.replace('filter = "25 ms"', 'filter = "3 ms"').replace('"1000 uF"', '"1 uF"'),
    "long_word": SHOP.replace('sense = "ac"', f'sense = "{"x" * 300}"'),
    "long_words": SHOP.replace('sense = "ac"', f'sense = "{"a feeder " * 30}"'),
}  # fmt: skip
ON_DESIGNS = (
    "check", "check --all", "advise", "advise --write", "burnback", "supply", "parts", "simulate", "symptom",
    "symptom FILE it sticks", "bench --list-cases", "bench", "bench --virtual --only no-such-case", "status",
    "log", "log --note", "log FILE --plates nothing", "fit FILE --weld", "fit FILE --weld 60ms:10mm --weld 150ms:7.5mm",
    "sheet", "advise --new-ranges", "diff", "diff FILE shop_two_step.toml", "commission",
)  # fmt: skip


def narrow(*words: str, stdin: str = "") -> Result:
    result = CliRunner(env={"COLUMNS": str(NARROW)}).invoke(main, words, input=stdin)
    assert result.exception is None or isinstance(result.exception, SystemExit), (words, result.exc_info)
    return result


def too_long(text: str, width: int = NARROW) -> list[str]:
    """Lines beyond the width that could be broken: with no long word, such as a path, and nothing to copy."""
    to_copy = re.compile(r" *wirecue |[+ -].* = ")
    long = [line for line in text.splitlines() if len(line) > width and not to_copy.match(line)]
    return [line for line in long if max(map(len, line.split())) < width // 2]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for example in EXAMPLES:
        shutil.copy(example, tmp_path)
    for name, text in BAD.items():
        assert text != SHOP
        (tmp_path / f"{name}.toml").write_text(text)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("command", ON_DESIGNS)
def test_a_command_keeps_to_the_width_on_every_design(command: str, here: Path):
    words = command.split()
    # Each command meets another share of the designs.
    for path in gate_share(sorted(here.glob("*.toml")), 2, first=ON_DESIGNS.index(command) % 2):
        given_words = [path.name if word == "FILE" else word for word in words]
        asked = given_words if "FILE" in words else [words[0], path.name, *words[1:]]
        assert too_long(narrow(*asked).output) == [], asked


def test_help_keeps_to_the_width():
    for words in ([], *([name] for name in COMMAND_HELP)):
        assert too_long(narrow(*words, "--help").output) == [], words


@pytest.mark.usefixtures("here")
def test_the_rest_keeps_to_the_width():
    simulated = narrow("simulate", "spot_stitch.toml", "--csv", "weld.csv")
    assert simulated.exit_code == 0
    for words, stdin in (
        (("prove", "gasless_four_step.toml"), ""),
        (("boards",), ""),
        (("trace", "weld.csv", "spot_stitch.toml"), ""),
        (("survey", "mine"), "\n" * 40),
        (("survey", "mine"), "nonsense\n\n?\nback\n"),
        (("new", "mine"), ""),
        (("new", "shop_two_step"), ""),
        (("chek",), ""),
        (("check", f"{'no/' * 40}where.toml"), ""),
        (("build", "broken_rules.toml"), ""),
    ):
        assert too_long(narrow(*words, stdin=stdin).output) == [], words


@pytest.mark.usefixtures("here")
def test_a_build_keeps_to_the_width():
    told = narrow("build", "gasless_four_step.toml")
    assert told.exit_code == 0
    assert too_long(told.output) == []


texts = st.text(st.sampled_from("ab cd-ef 1 ms,;\u2588"), max_size=300)


@given(texts, st.integers(20, 100))
def test_a_broken_text_has_the_same_words_and_no_line_that_could_be_broken_further(text: str, width: int):
    broken = within_width(text, width)
    assert broken.split() == text.split()
    for line in broken.splitlines():
        # A number is not parted from its unit.
        assert len(line) <= width or " " not in re.sub(r"(?<=\d) (?=[A-Za-z%])", "_", line.strip())


@given(st.lists(st.lists(texts.map(str.strip), min_size=3, max_size=3), min_size=1, max_size=5))
def test_a_table_loses_no_word_and_is_no_wider_than_it_must_be(rows: list[list[str]]):
    with mock.patch.dict(os.environ, {"COLUMNS": str(WIDEST_COLUMNS)}):
        lines = table(rows, ("one", "two words", "three")).splitlines()
    assert sorted(" ".join(lines).split()) == sorted(" ".join(sum(rows, ["one two words three"])).split())
    held = [re.sub(r"(?<=\d) (?=[A-Za-z%])", "_", cell).split(" ") for row in rows for cell in row]
    if 3 * max(len(word) for cell in held for word in cell) + 20 < WIDEST_COLUMNS:
        assert max(map(len, lines)) <= WIDEST_COLUMNS


def test_into_a_pipe_whole_lines_go(tmp_path: Path):
    path = tmp_path / "mine.toml"
    path.write_text(BAD["unknown_key"].replace("wire_diameter =", "wire_dia ="))
    # No terminal, and no width said.
    result = CliRunner(env={"COLUMNS": None}).invoke(main, ["check", str(path)])
    assert max(map(len, result.stderr.splitlines())) > WIDEST_COLUMNS
    assert too_long(narrow("check", str(path)).stderr) == []


def test_text_goes_on_beneath_its_column_and_a_command_stays_whole():
    command = f"  wirecue check {'long_' * 20}.toml --all"
    assert within_width(command, 40) == command
    assert within_width("  allowed  one, two, three, four, five, six, seven", 40) == (
        "  allowed  one, two, three, four, five,\n           six, seven"
    )
    assert within_width("wirecue log my_feeder.toml --flash --port    what it carries", 40) == (
        "wirecue log my_feeder.toml --flash --port\n    what it carries"
    )
    assert paragraph("a path-of-words/that-stays/whole-however-long.toml", 20) == (
        "a\npath-of-words/that-stays/whole-however-long.toml"
    )
