"""The sketch as text: the same every time, nothing in it that the design lacks, nothing let out of a comment."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codegen.rendering import in_comment, short_form
from codegen.sketch import sketch_files
from codegen.sketch_facts import UnplacedRoleError
from tests.conftest import ROOT
from timing.design.board import Board
from timing.design.loading import parse_design
from timing.project import Project
from timing.protocol.commands import COMMANDS
from wirecue.projects import load_board

C_COMMENT = re.compile(r"/\*.*?\*/|//[^\n]*", re.DOTALL)


def code(text: str) -> str:
    """Return C text without its comments."""
    return C_COMMENT.sub(" ", text)


def all_code(files: dict[str, str]) -> str:
    return "\n".join(code(text) for text in files.values())


def test_the_folder_opens_by_its_name_and_has_pins_and_times_in_one_header(design, board, version):
    files = sketch_files(Project(design, board), version)
    assert f"{design.name}.ino" in files
    settings = files["settings.h"]
    pins = re.findall(r"#define (\w+)_PIN ", "\n".join(files.values()))
    assert pins
    assert len(pins) == len(set(pins)) == len(re.findall(r"#define \w+_PIN ", settings))
    assert "UINT32_C(" not in all_code(
        {name: text for name, text in files.items() if name not in ("settings.h", "derived.h", "forced.h")}
    )


def test_the_same_design_gives_the_same_bytes_without_dates_or_paths(design, board, version):
    first, second = (sketch_files(Project(design, board), version) for _ in range(2))
    assert first == second
    together = "\n".join(first.values())
    assert not re.search(r"\b20[0-9]{2}-[0-9]{2}-[0-9]{2}\b|__DATE__|__TIME__|__FILE__|/home|/work|/tmp", together)


def test_name_digest_and_version_stand_in_every_file_and_in_the_identity(design, board, version):
    for name, text in sketch_files(Project(design, board), version).items():
        assert f"{design.name}, design {design.digest()}, made by wirecue {version}." in text[:400], name


def test_a_bare_design_has_nothing_of_what_it_lacks(bare_design, version):
    files = sketch_files(Project(bare_design, load_board("leonardo")), version)
    files_left_out = {"dials.c", "dials.h"} | ({"supply.c", "supply.h"} if bare_design.supply.sense is None else set())
    assert files_left_out.isdisjoint(files)
    words = set(re.findall(r"[A-Za-z_]+", all_code({name: text for name, text in files.items() if name != "trace.h"})))
    absent = {
        "PHASE_PURGE", "PHASE_INCH", "PHASE_PAUSE", "inch", "purge", "arc", "arc_established", "interlock_open", "spot",
        "stitch", "four_step", "dial_fault", "limited", "latch", "weld_since_us", "WELD_LIMIT_US", "GAS_VALVE_PIN",
        "COMMAND_TIME", "dials_start", "pause", "PURGE_LIMIT_US", "ARC_START_LIMIT_US",
    }  # fmt: skip
    assert not absent & words


def test_a_full_design_has_everything(full_design, version):
    files = sketch_files(Project(full_design, load_board("nano")), version)
    words = set(re.findall(r"[A-Za-z_]+", all_code(files)))
    assert {
        "PHASE_PURGE",
        "PHASE_INCH",
        "PHASE_PAUSE",
        "arc_established",
        "interlock_open",
        "stitch",
        "four_step",
    } <= words
    assert {f"COMMAND_{command.name.upper()}" for command in COMMANDS} <= words


def test_no_floats_no_heap_no_text_class_no_waiting(design, board, version):
    words = set(re.findall(r"[A-Za-z_]+", all_code(sketch_files(Project(design, board), version))))
    assert not words & {
        "float",
        "double",
        "malloc",
        "free",
        "new",
        "String",
        "delay",
        "digitalRead",
        "analogRead",
        "while_",
    }


def test_every_function_is_used_and_every_macro_too(design, board, version):
    files = {name: code(text) for name, text in sketch_files(Project(design, board), version).items()}
    together = "\n".join(files.values())
    counted = re.findall(r"\w+", together)
    defined = re.findall(r"^(?!#)[\w *]*?\b(\w+)\([^;{}]*\) \{", together, re.MULTILINE)
    macros = re.findall(r"#define (\w+)", together)
    # Counters and levels are numbered whole; some stand for readers of the trace only.
    spared = {"setup", "loop", "watchdog_stop", "ISR", "main", "if", "for", "while", "switch"}
    for name in defined:
        if name not in spared:
            assert counted.count(name) > 1, f"{name} is defined and not used"
    for name in macros:
        if not name.startswith(("LEVEL_", "EVENT_", "FLASH_", "PORT_NUMBER_")) and not name.endswith("_H"):
            assert counted.count(name) > 1, f"{name} is defined and not used"


@given(st.text(alphabet="*/\\ ?a\t'\"-äΩ", max_size=30))
def test_free_text_neither_ends_a_comment_nor_begins_another(text):
    inside = f" * {in_comment(text)}\n"
    assert "*/" not in inside
    assert "/*" not in inside


def test_hostile_notes_and_titles_stay_in_their_comment(design, board, version):
    hostile = design.model_copy(
        update={
            "title": '*/ #error "out" /*',
            "notes": '*/\n#include "/etc/passwd"\n/* \\\n*\\\n/ ??/\n*/ int x; //\n{{ design }} {% raw %} `rm -rf`',
        }
    )
    plain = sketch_files(Project(design, board), version)
    changed = sketch_files(Project(hostile, board), version)
    for name in plain:
        wanted, got = code(plain[name]), code(changed[name])
        assert got == wanted.replace(design.digest(), hostile.digest()), name


def test_headers_are_matched_by_their_short_and_long_form():
    assert short_form("SYSTem:ERRor?") == "SYST[EM]:ERR[OR]?"
    assert short_form("*IDN?") == "*IDN?"


def test_a_role_without_a_pin_is_named(design, board, version):
    usual = {role: pin for role, pin in board.usual_pins.items() if role != "wire_drive"}
    with pytest.raises(UnplacedRoleError, match=r"the wire drive has no pin: set board\.pins\.wire_drive"):
        sketch_files(Project(design, Board(**(board.model_dump() | {"usual_pins": usual}))), version)


@pytest.mark.parametrize(("sense", "bridged"), [("ac", True), ("dc", False)])
def test_gaps_are_bridged_where_the_trigger_is_seen_through_ac_and_only_there(sense, bridged, version):
    """An ac sense goes dark twice a cycle; bridging a dc trigger would let bounces count towards a press."""
    text = (ROOT / "examples" / "shop_two_step.toml").read_text().replace('sense = "ac"', f'sense = "{sense}"')
    made = sketch_files(Project(parse_design(text), load_board("uno")), version)["derived.h"]
    (bridge,) = re.findall(r"#define TRIGGER_BRIDGE_US (\w+)", made)
    assert bridge == ("TRIGGER_FILTER_US" if bridged else "0u")


@pytest.mark.parametrize("level", ["high", "low"])
def test_each_output_switches_on_with_the_level_that_the_design_says(level, version):
    text = (ROOT / "examples" / "shop_two_step.toml").read_text()
    design = parse_design(re.sub(r"(?m)^\[board\]$", f'[board]\non_level = {{ contactor = "{level}" }}', text))
    made = sketch_files(Project(design, load_board("uno")), version)["settings.h"]
    levels = dict(re.findall(r"#define (\w+)_ON_HIGH (\d)", made))
    assert levels["CONTACTOR"] == {"high": "1", "low": "0"}[level]
    assert levels["WIRE_DRIVE"] == levels["GAS_VALVE"] == "1"
