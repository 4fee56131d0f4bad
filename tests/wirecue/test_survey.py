"""The survey: asks what can rule the job out first, takes no nonsense, and writes a design that loads."""

from __future__ import annotations

import html
import json
import os
import re
import signal
import sys
import tomllib
from pathlib import Path

import pexpect
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import ROOT, gate_share
from timing.checks.finding import Severity
from timing.checks.registry import check
from timing.design.loading import load_design, parse_design
from timing.design.pinning import pin_names
from timing.design.text_file import UnreadableFileError
from timing.project import Project
from timing.survey import first_design
from timing.survey.first_design import computed_times
from timing.survey.interview import Interview, resumed
from timing.survey.question import Question, ReplyError, measure_of
from timing.survey.replies import read_reply
from timing.survey.topics import topics
from wirecue.cli import main
from wirecue.page.fields import values_in as page_values
from wirecue.projects import board_names, load_board

BOARDS = tuple(load_board(name) for name in board_names())
TOPICS = topics(BOARDS)
QUESTIONS = [question for topic in TOPICS for question in topic.questions]
ENDINGS = [(one, option) for one in QUESTIONS for option in one.options if option.rules_out]
GOOD = {
    "survey.feeder_power": "24vac",
    "survey.drive_and_contactor": "apart",
    "survey.contactor_place": "115v",
    "feeder.contactor.coil.voltage": "115 V",
    "feeder.wire_drive.braked": "yes",
    "supply.measured_open": "27.4 V",
    "supply.measured_loaded": "25.2 V",
    "supply.measured_load": "2.1 A",
    "supply.grounded": "no",
    "feeder.as_found.trigger": "relay",
    "trigger.sense": "ac",
    "feeder.gas_valve.coil.hold": "330 mA",
    "feeder.wire_drive.coil.hold": "2.5 A",
    "feeder.wire_drive.off_delay": "4 ms, 6 ms, 9 ms",
    "feeder.contactor.coil.hold": "0.2 A",
    "survey.spot": "y",
    "survey.stitch": "y",
    "board.type": "nano",
}


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def design_text(name: str, interview: Interview) -> str:
    return first_design.design_text(name, interview, load_board(interview.answers["board.type"]))


def typed(answers=GOOD, **other):
    """What somebody types who answers like this, and Enter otherwise."""
    interview, lines = Interview(TOPICS, {}), []
    while (question := interview.next_question) is not None and not interview.ruled_out:
        lines.append({**answers, **other}.get(question.key, ""))
        interview = interview.answered(question, lines[-1])
    return lines


def survey(*arguments, lines=()):
    result = CliRunner().invoke(main, ["survey", *arguments], input="".join(f"{line}\n" for line in lines))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


def test_the_answers_become_a_design_that_loads_and_says_where_its_figures_come_from():
    result = survey("mine", lines=typed())
    assert result.exit_code == 0, result.output
    design = load_design(Path("mine.toml"))
    assert design.feeder.wire_drive.braked
    assert design.feeder.wire_drive.off_delay.max_us == 9_000
    assert design.feeder.contactor.coil.fed_from == "elsewhere"
    assert design.feeder.contactor.coil.voltage_v == 115
    assert design.supply.measured_loaded_v == 25.2
    assert design.trigger.filter_us == 25_000
    assert design.stitch is not None
    as_found = design.feeder.as_found
    assert as_found is not None
    assert (as_found.trigger, as_found.supply_from, as_found.one_relay) == ("relay", "cable", False)
    assert design.feeder.wire_drive.switched == "relay-coil"
    text = Path("mine.toml").read_text()
    assert 'hold = "330 mA"  # Current once pulled in. [from the survey]' in text
    assert "[a usual value: measure it, unless you did]" in text
    assert "#   Where is the contactor of the welding current" in text
    assert not Path("mine.survey.json").exists()


def test_fuses_power_factors_and_what_stands_behind_a_contactor_are_asked_and_kept():
    other = {
        "feeder.wire_drive.switched": "motor",
        "feeder.wire_drive.braked": "no",
        "survey.wire_drive_interposed": "y",
        "feeder.wire_drive.interposed.voltage": "90 V",
        "feeder.wire_drive.interposed.hold": "3 A",
        "survey.wire_drive_place": "control",
        "survey.wire_drive_power_factor": "y",
        "feeder.wire_drive.coil.held_power_factor": "30 %",
        "feeder.wire_drive.coil.hold": "0.2 A",
        "feeder.wire_drive.protection.by": "feeder",
        "feeder.wire_drive.protection.rating": "2 A",
        "survey.contactor_interposed": "y",
        "feeder.contactor.interposed.hold": "0.4 A",
    }
    interview = _answered(typed(**other))
    design = parse_design(design_text("mine", interview))
    drive, contactor = design.feeder.wire_drive, design.feeder.contactor
    assert (drive.interposed.kind, drive.interposed.voltage_v, drive.interposed.hold_a) == ("dc", 90, 3)
    assert (drive.coil.held_power_factor_percent, drive.coil.pull_in_power_factor_percent) == (30, None)
    assert (drive.protection.by, drive.protection.rating_a) == ("feeder", 2)
    # The interposing relay's coil, not the contactor's: on the feeder's 24 VAC, whatever the contactor runs on.
    assert (contactor.coil.fed_from, contactor.coil.voltage_v, contactor.interposed.voltage_v) == ("control", 24, 115)
    assert "feeder.contactor.coil.voltage" not in interview.answers
    assert design.circuits.build == "modules"
    assert any("feeder.wire_drive.interposed.contact_dc" in told for told in interview.to_do)
    errors = [one for one in check(Project(design, load_board("nano"))) if one.severity is Severity.ERROR]
    assert [one.rule for one in errors] == ["circuits.interposed-contact"]


@pytest.mark.parametrize(
    "other",
    gate_share(
        [
            {},
            {"survey.spot": "n", "trigger.sense": "dc"},
            {"survey.spot": "n", "process.wire": "self-shielded", "board.type": "uno"},
            {"process.wire": "aluminium", "process.gas": "I1", "process.wire_diameter": "1.2 mm"},
            {"survey.spot": "n", "trigger.mode": "four-step", "board.type": "mega"},
            *({"board.type": board.type} for board in BOARDS),
            {"supply.measured_open": "29 V", "supply.measured_loaded": "24 V", "process.wire_diameter": "1.4 mm"},
        ],
        2,
    ),
    ids=lambda other: "-".join(other.values()) or "as it is",
)
def test_the_checks_have_nothing_against_what_the_survey_fills_in(other):
    answers = _answered(typed(**other))
    design = parse_design(design_text("mine", answers))
    told = [f for f in check(Project(design, load_board(design.board.type))) if f.severity > Severity.INFO]
    filled_in = ("times.", "spot.", "stitch.", "supply.", "trigger.filter", "board.pins")
    assert [finding for finding in told if finding.key.startswith(filled_in)] == []
    assert design.supply.sense is not None
    assert design.times.burnback.dial


def test_a_process_that_cannot_be_computed_still_gets_a_design():
    answers = _answered(typed(**{"process.wire_diameter": "2.4 mm", "process.open_circuit_voltage": "12 V"}))
    text = design_text("mine", answers)
    design = parse_design(text)
    assert next(computed_times(design, load_board("nano")), None) is None
    assert [told.partition(":")[0] for told in first_design.dials_told(text)] == ["No time has a dial yet"]
    assert design.times.burnback.setting_us == 100_000


def test_a_board_with_few_channels_gives_the_knobs_to_what_is_turned_most():
    design = parse_design(design_text("mine", _answered(typed(**{"board.type": "pico"}))))
    names = ("preflow", "spot", "burnback", "postflow", "pause")
    assert [name for name in names if design.setting(name).dial] == ["spot", "burnback"]
    assert None not in pin_names(design, load_board("pico")).values()


def test_it_says_which_times_have_a_knob_and_which_have_none_for_want_of_pins():
    few = " ".join(survey("few", lines=typed(**{"board.type": "pico"})).output.split())
    assert "Dials on the panel: spot, burnback." in few
    assert "the pico has no more of them" in few
    design = load_design(Path("few.toml"))
    assert f"Fixed in the program: preflow {design.times.preflow.setting_us // 1000} ms" in few
    assert "Fixed in the program" not in survey("many", lines=typed(**{"board.type": "mega"})).output


@pytest.mark.parametrize("answer", ["no", "yes", "unknown", ""])
def test_what_was_measured_of_the_winding_to_chassis_is_kept_in_the_design(answer):
    text = design_text("mine", _answered(typed(**{"supply.grounded": answer})))
    design = parse_design(text)
    assert design.supply.grounded == (answer or "unknown")
    told = [one for one in check(Project(design, load_board("nano"))) if one.rule == "supply.common-to-chassis"]
    assert [one.severity for one in told] == [Severity.INFO if answer == "no" else Severity.WARNING]


@pytest.mark.parametrize(("question", "option"), ENDINGS, ids=[option.word for _, option in ENDINGS])
def test_what_rules_the_job_out_ends_it_with_a_sentence_and_no_file(question, option):
    result = survey("mine", lines=typed(**{question.key: option.word}))
    assert result.exit_code == 1
    assert " ".join(f"The job is ruled out. {option.rules_out}".split()) in " ".join(result.output.split())
    assert list(Path().iterdir()) == []


def test_what_can_rule_the_job_out_is_asked_before_anything_is_measured():
    kinds = [question.kind for question in QUESTIONS]
    last_ending = max(QUESTIONS.index(question) for question, _ in ENDINGS)
    assert last_ending < kinds.index("measure")
    ends = " ".join(option.rules_out for _, option in ENDINGS)
    assert "One relay for both means no burnback" in ends
    assert "across-the-arc" in ends
    assert any("brake contact" in question.ask for question in QUESTIONS[: kinds.index("measure")])


NONSENSE = (
    ("supply.measured_open", "230", "'230 V' (a bare number is taken in V)", ""),
    ("supply.measured_open", "27,4 V", "'27,4 V'", "write a decimal point, not a comma"),
    ("supply.measured_open", "230 V", "'230 V'", ""),
    ("feeder.gas_valve.coil.hold", "", "no answer", ""),
    ("feeder.gas_valve.coil.inrush", "0.2 A", "'0.2 A'", "or go back to the earlier answer, if that one is wrong"),
    ("feeder.gas_valve.coil.hold", "12 V", "'12 V'", "'V' measures something else; write it in mA or A"),
    ("feeder.wire_drive.off_delay", "9 ms, 6 ms, 4 ms", "'9 ms, 6 ms, 4 ms'", ""),
    ("feeder.wire_drive.off_delay", "9 ms, 12 ms", "2 figures", ""),
    ("trigger.sense", "acc", "'acc'", "was 'ac' meant?"),
    ("survey.spot", "perhaps", "'perhaps'", ""),
)


def test_nonsense_is_asked_again_with_the_reason():
    interview, lines = Interview(TOPICS, {}), []
    for line in typed():
        key = interview.next_question.key
        lines += [text for where, text, _, _ in NONSENSE if where == key] + [line]
        interview = interview.answered(interview.next_question, line)
    assert len(lines) == len(typed()) + len(NONSENSE)
    result = survey("mine", lines=lines)
    assert result.exit_code == 0
    for _, _, found, hint in NONSENSE:
        told = f"    found    {found}\n    allowed  "
        assert told in result.output
        assert not hint or f"    hint     {hint}\n" in result.output.split(told, 1)[1]
    assert Path("mine.toml").read_text() == design_text("mine", _answered(typed()))


def test_back_returns_to_the_question_before():
    lines = typed()
    result = survey("mine", lines=["transformer", "back", *lines])
    assert result.exit_code == 0
    assert "powered from? 24vac" in Path("mine.toml").read_text()


def test_back_offers_what_was_said_and_tells_where_there_is_nothing_before():
    lines = typed()
    result = survey("mine", lines=["back", "transformer", "back", "", *lines[1:]])
    assert result.exit_code == 0
    assert "This is the first question." in result.output
    assert "Enter: transformer" in result.output
    assert "powered from? transformer" in Path("mine.toml").read_text()


def test_an_optional_question_gone_back_to_can_be_left_open():
    key = "process.open_circuit_voltage"
    question = next(one for one in QUESTIONS if one.key == key)
    interview = Interview(TOPICS, {key: "21 V"}).back()
    assert interview.answered(question, "").answers[key] == ""


def test_an_answer_that_ends_the_job_is_not_offered_again():
    question = QUESTIONS[0]
    assert Interview(TOPICS, {question.key: "arc"}).back().offered(question) == ""
    assert Interview(TOPICS, {question.key: "24vac"}).back().offered(question) == "24vac"


@pytest.mark.parametrize("shown", ["OL", "O.L", "over range", "overload"])
def test_what_an_ohmmeter_shows_of_an_open_circuit_is_no_leak(shown):
    question = next(one for one in QUESTIONS if one.key == "trigger.leak")
    assert read_reply(question, shown).answer == ""
    current = next(one for one in QUESTIONS if one.key == "feeder.gas_valve.coil.inrush")
    with pytest.raises(ReplyError):
        read_reply(current, shown)


def test_a_winding_does_not_rise_under_load():
    question = next(one for one in QUESTIONS if one.key == "supply.measured_loaded")
    with pytest.raises(ReplyError, match="26 V or less, as answered before"):
        read_reply(question, "27", {"supply.measured_open": "26 V"})


def test_what_must_be_done_first_is_said_and_kept_in_the_design():
    result = survey("mine", lines=typed(**{"survey.drive_and_contactor": "can-be-parted"}))
    assert result.exit_code == 0
    told = "To do first: Before the add-on goes in, give wire drive and contactor each a relay of its own"
    assert told in " ".join(result.output.split())
    assert f"# {told}" in Path("mine.toml").read_text()


def test_a_survey_broken_off_keeps_its_answers_and_goes_on_from_there():
    lines = typed()
    broken = survey("mine", lines=lines[:9])
    assert broken.exit_code == 1
    assert "Stopped, no design written. 9 answers kept in mine.survey.json" in broken.output
    assert not Path("mine.toml").exists()
    result = survey("mine", lines=lines[9:])
    assert result.exit_code == 0
    assert "Going on after 9 answers" in result.output
    assert Path("mine.toml").read_text() == design_text("mine", _answered(lines))


def _answered(lines):
    interview = Interview(TOPICS, {})
    for line in lines:
        interview = interview.answered(interview.next_question, line)
    return interview


def test_kept_answers_that_no_longer_do_are_asked_again():
    kept = Path("mine.survey.json")
    kept.write_text(json.dumps({"survey.feeder_power": "24vac", "survey.drive_and_contactor": "nonsense"}))
    assert dict(resumed(TOPICS, kept).answers) == {"survey.feeder_power": "24vac"}
    for text in ("", "[]", "[" * 50_000, '{"survey.feeder_power": 3}', '{"survey.feeder_power": "arc"}'):
        kept.write_text(text)
        assert resumed(TOPICS, kept).answers == {}


def test_a_pipe_in_the_place_of_kept_answers_is_told():
    os.mkfifo("mine.survey.json")
    result = survey("mine", lines=typed())
    assert result.exit_code == 2
    assert "mine.survey.json\n  found    a file that is not the answers of a survey\n" in result.output
    with pytest.raises(UnreadableFileError, match="a pipe"):
        resumed(TOPICS, Path("mine.survey.json"))


def test_a_design_that_is_there_stays_as_it_is():
    Path("mine.toml").write_text("mine")
    result = survey("mine", lines=typed())
    assert result.exit_code == 2
    assert "mine.toml is there already; --force replaces it" in result.output
    assert Path("mine.toml").read_text() == "mine"
    assert survey("mine", "--force", lines=typed()).exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "a NAME for the design"),
        (("My Feeder",), "perhaps 'my_feeder'"),
        (("con",), "this one is a device on some"),
        (("nowhere/mine",), "there is no folder nowhere"),
        (("--sheet", "nowhere/s.html"), "no such file or directory"),
    ],
)
def test_a_bad_command_is_told_and_leaves_nothing(arguments, told):
    result = survey(*arguments)
    assert result.exit_code == 2
    assert told in result.output
    assert list(Path().iterdir()) == []


def test_the_blank_sheet_asks_the_same_questions():
    assert survey("--sheet", "survey.html").exit_code == 0
    html = Path("survey.html").read_text()
    for question in QUESTIONS:
        assert question.ask.replace("'", "&#39;") in html
        assert all(option.word in html for option in question.options)


def test_every_question_leads_to_a_key_of_the_design_file():
    for question in QUESTIONS:
        if question.kind == "measure":
            assert question.measure.read(question.usual or question.measure.example)
        assert question.usual == "" or read_reply(question, "")
        assert question.allowed


def test_a_key_that_holds_no_quantity_is_refused():
    for key in ("supply", "supply.nonsense", "feeder.gas_valve.coil.kind", "name.more"):
        with pytest.raises(KeyError):
            measure_of(key)


def _answer(data, question: Question) -> str:
    if question.kind == "choice":
        return data.draw(st.sampled_from([option.word for option in question.options if not option.rules_out]))
    if question.kind == "yes-no":
        return data.draw(st.sampled_from(["yes", "no", "y", "N"]))
    if question.kind == "wire":
        return data.draw(st.sampled_from(["ER70S-6", "E71T-1C", "e71t-11", "ER5356", "ER308L", "1", "5", "gasless"]))
    if question.kind == "gas":
        return data.draw(st.sampled_from(["C25", "straight CO2", "argon", "98/2 argon oxygen", "8", "M26"]))
    if question.usual or question.optional:
        return data.draw(st.sampled_from(["", question.measure.example]))
    return question.measure.example


@settings(max_examples=6)
@given(data=st.data())
def test_whatever_is_answered_the_design_loads(data):
    interview = Interview(TOPICS, {})
    while (question := interview.next_question) is not None:
        before = interview.left
        interview = interview.answered(question, _answer(data, question))
        assert interview.answers[question.key] or question.optional
        assert interview.left < before
    text = design_text("mine", interview)
    assert tomllib.loads(text)["board"]["type"] == parse_design(text).board.type


@given(text=st.text(max_size=30))
def test_no_text_does_worse_than_a_reason(text):
    for question in QUESTIONS:
        try:
            read_reply(question, text)
        except ReplyError as error:
            refused = error
        else:
            continue
        assert refused.found
        assert refused.allowed in str(refused)


def at_a_terminal(*arguments):
    code = "from wirecue.cli import main; main(prog_name='wirecue')"
    # PYTHONPATH: the checkout, wherever the test's own folder is.
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "NO_COLOR": "1"}
    return pexpect.spawn(
        sys.executable,
        ["-c", code, *arguments],
        env=environment,
        encoding="utf-8",
        timeout=120,
        dimensions=(200, 120),
        # Tests started in the background inherit that Ctrl-C does nothing.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )


def ended(terminal):
    terminal.expect(pexpect.EOF)
    terminal.close()
    return terminal.exitstatus


def test_at_a_terminal_ctrl_c_leaves_no_design_and_loses_no_answer():
    lines = typed()
    terminal = at_a_terminal("survey", "mine")
    for line in lines[:3]:
        terminal.expect_exact("  > ")
        terminal.sendline(line)
    terminal.expect_exact("  > ")
    stopped = ["Stopped, no design written. 3 answers kept in mine.survey.json", pexpect.TIMEOUT]

    def ctrl_c() -> bool:
        terminal.sendintr()
        return terminal.expect_exact(stopped, timeout=10) == 0

    # One that comes in the instant before Python begins to wait for a line is seen with the next key only.
    assert any(ctrl_c() for _ in range(6))
    assert ended(terminal) == 1
    assert [path.name for path in Path().iterdir()] == ["mine.survey.json"]

    terminal = at_a_terminal("survey", "mine")
    terminal.expect_exact("Going on after 3 answers")
    for line in lines[3:]:
        terminal.expect_exact("  > ")
        terminal.sendline(line)
    terminal.expect_exact("mine.toml: written from your answers")
    assert ended(terminal) == 0
    assert load_design(Path("mine.toml")).feeder.wire_drive.braked


def test_the_winding_is_loaded_with_a_lamp_unless_only_coils_are_at_hand():
    lamp = parse_design(design_text("mine", _answered(typed())))
    assert lamp.supply.measured_with == "resistive"
    coils = parse_design(design_text("mine", _answered(typed(**{"supply.measured_with": "coils"}))))
    assert coils.supply.measured_with == "coils"
    told = {one.rule for one in check(Project(coils, load_board(coils.board.type)))}
    assert "supply.measured-with-coils" in told
    how = next(one.how for one in QUESTIONS if one.key == "supply.measured_with")
    assert "24 V 50 W halogen lamp takes 2 A" in how
    assert "10 s" in how
    assert "hot enough to burn" in how


SHOP_WORDS = {
    "process.wire": "ER70S-6",
    "process.wire_diameter": "0.035 in",
    "process.gas": "75/25",
    "process.gas_flow": "30 ft3/h",
    "process.wire_feed_speed": "220",
    "process.contact_tip_to_work": '1/2"',
    "process.plate_thickness": "1/8 in",
    "feeder.gas_valve.coil.hold": "330 ma",
}


def told(result):
    return " ".join(result.output.split())


def test_what_was_typed_is_what_is_shown_again_in_file_answers_sheet_and_page():
    result = survey("mine", lines=typed(**SHOP_WORDS))
    assert result.exit_code == 0, result.output
    shown = {**SHOP_WORDS, "process.wire_feed_speed": "220 in/min"}
    data = tomllib.loads(Path("mine.toml").read_text())["process"]
    assert data["wire_class"] == "ER70S-6"
    assert data["gas_mixture"] == "75/25"
    assert (data["wire"], data["gas"]) == ("mild-steel", "M21")
    for key in ("wire_diameter", "gas_flow", "wire_feed_speed", "contact_tip_to_work", "plate_thickness"):
        assert data[key] == shown[f"process.{key}"]
        assert page_values(Path("mine.toml").read_text())[f"process.{key}"] == shown[f"process.{key}"]
    build = CliRunner().invoke(main, ["sheet", "mine.toml", "--build", "sheet.html"])
    assert build.exit_code == 0, build.output
    facts = "".join(html.unescape(Path("sheet.html").read_text()).split("<td>"))
    for words in (
        "ER70S-6 (mild-steel), 0.035 in",
        "75/25 (M21), 30 ft3/h",
        '1/2"',
        "220 in/min (5.6 m/min)",
        "330 ma held",
    ):
        assert words in facts
    said = told(CliRunner().invoke(main, ["burnback", "mine.toml"]))
    assert '0.035 in wire at 220 in/min (5.6 m/min), contact tip 1/2" from the work' in said
    assert "at 30 ft3/h, likely" in told(CliRunner().invoke(main, ["advise", "mine.toml"]))


def test_a_bare_number_is_said_back_with_its_unit_and_a_class_with_what_it_stands_for():
    said = told(survey("mine", lines=typed(**SHOP_WORDS)))
    assert "taken as 220 in/min" in said
    assert "ER70S-6 (AWS A5.18): solid steel wire" in said
    assert "75 % argon, 25 % CO2: M21 of ISO 14175" in said


def lines_with(key, *said, **other):
    """What somebody types who answers like the others, and says these lines when `key` is asked."""
    interview, lines = Interview(TOPICS, {}), []
    while (question := interview.next_question) is not None:
        if question.key == key:
            lines += said
        lines.append({**GOOD, **other}.get(question.key, "") if question.key != key else "")
        given = {**GOOD, **other}.get(question.key, "")
        interview = interview.answered(question, given)
        if question.key == key:
            lines.pop()
    return lines


@pytest.mark.parametrize(
    ("said", "mixture"),
    [
        (("98/2", "2"), "98/2 argon oxygen"),
        (("98/2", "1"), "98/2 argon CO2"),
        (("98/2", "both", "C25"), "C25"),
        (("98/2", "", "98/2", "2"), "98/2 argon oxygen"),
    ],
)
def test_which_of_two_gases_is_meant_is_asked(said, mixture):
    result = survey("mine", lines=lines_with("process.gas", *said))
    assert result.exit_code == 0, result.output
    assert "'98/2' is sold in more than one way. Which is it?" in result.output
    assert load_design(Path("mine.toml")).process.gas_mixture == mixture


def test_an_answer_that_rules_the_job_out_by_a_slip_is_taken_back():
    result = survey("mine", lines=["arc", "back", *typed()])
    assert result.exit_code == 0, result.output
    assert "`back` returns to the question." in result.output
    assert Path("mine.toml").exists()


@pytest.mark.parametrize("word", ["stop", " Exit "])
def test_a_word_stops_as_well_as_ctrl_c_and_what_was_gone_back_on_is_not_lost(word):
    lines = typed()
    stopped = survey("mine", lines=[*lines[:9], "back", "back", word])
    assert stopped.exit_code == 1
    assert "no design written" in stopped.output
    resumed_there = survey("mine", lines=lines[9:])
    assert "Going on after 9 answers" in resumed_there.output
    assert resumed_there.exit_code == 0
    assert Path("mine.toml").read_text() == design_text("mine", _answered(lines))


def test_a_class_and_a_mixture_are_kept_over_a_stop():
    lines = typed(**SHOP_WORDS)
    at = [question.key for question in _asked(lines)].index("process.gas_flow")
    assert survey("mine", lines=lines[:at]).exit_code == 1
    kept = json.loads(Path("mine.survey.json").read_text())
    assert (kept["process.gas_mixture"], kept["process.wire_class"]) == ("75/25", "ER70S-6")
    assert survey("mine", lines=lines[at:]).exit_code == 0
    assert Path("mine.toml").read_text() == design_text("mine", _answered(lines))


def _asked(lines):
    interview = Interview(TOPICS, {})
    for line in lines:
        yield interview.next_question
        interview = interview.answered(interview.next_question, line)


def test_it_ends_with_the_next_step_of_the_walk_through():
    assert "Next: `wirecue advise mine.toml`" in survey("mine", lines=typed()).output


def test_a_question_that_is_asked_again_is_not_told_again():
    said = survey("mine", lines=lines_with("process.contact_tip_to_work", "far off", "12")).output
    assert said.count("Contact-tip-to-work distance?") == 1
    assert "hint     in figures, with the unit, such as '12 mm'" in said


def test_the_sheet_asks_in_the_units_that_the_command_takes_bare_numbers_in():
    assert survey("--sheet", "survey.html").exit_code == 0
    printed = html.unescape(Path("survey.html").read_text())
    for question in QUESTIONS:
        if question.unit:
            after = printed[printed.index(question.ask) :]
            blank = re.search(r'<p class="line"><span></span> ([^<]*)</p>', after)
            assert blank is not None
            assert blank[1].split()[0].rstrip(",") == question.unit, question.key
            assert all(unit in blank[1] for unit in question.other_units)


@pytest.mark.parametrize(
    ("answers", "ends"),
    [
        ({"": "5 m/min"}, ("3 m/min", "7.5 m/min")),
        ({"": "200"}, ("120 in/min", "300 in/min")),
        ({"": "200", "_low": "150", "_high": "250"}, (None, None)),
        ({"": "200", "_high": "250"}, ("120 in/min", None)),
        ({"": "15 mm/s"}, (None, "22 mm/s")),
        ({"": "1100 in/min"}, ("660 in/min", None)),
    ],
)
def test_where_no_range_is_given_the_dials_get_a_usual_one_round_the_speed(answers, ends):
    interview = _answered(typed(**{f"process.wire_feed_speed{end}": speed for end, speed in answers.items()}))
    found = dict(first_design.usual_range(interview.answers))
    assert tuple(found.get(f"process.wire_feed_speed_{end}") for end in ("low", "high")) == ends


def test_volts_and_amperes_while_welding_are_written_as_they_were_read():
    read = {"process.load_voltage": "19", "process.load_current": "120 A", "process.open_circuit_voltage": ""}
    process = parse_design(design_text("mine", _answered(typed(**read)))).process
    assert (process.open_circuit_voltage_v, process.load_voltage_v, process.load_current_a) == (None, 19, 120)
    assert process.slope_v_per_a is None


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_each_dial_gets_its_off_switch_where_it_is_wanted(answer):
    names = ("preflow", "burnback", "postflow", "spot", "pause")
    wanted = {f"survey.{name}_off_switch": answer for name in names}
    design = parse_design(design_text("mine", _answered(typed(**wanted, **{"board.type": "mega"}))))
    assert {design.setting(name).off_switch for name in names} == {answer == "yes"}


def test_one_switch_of_three_positions_takes_the_place_of_two():
    lines = typed(**{"panel.selector": "three-position"})
    assert "survey.pause_off_switch" not in [question.key for question in _asked(lines)]
    design = parse_design(design_text("mine", _answered(lines)))
    assert design.panel.selector == "three-position"
    assert (design.setting("spot").off_switch, design.setting("pause").off_switch) == (True, True)
