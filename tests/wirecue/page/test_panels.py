"""What the cards of the page say: the words of the commands, escaped, and worked out only while somebody looks."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from bench.virtual.board import VirtualBoard
from bench.virtual.serving import behind_port
from codegen.drawings.files import parts_csv
from tests.conftest import EXAMPLES
from timing.checks.finding import Severity
from timing.circuit.proposals import proposals
from timing.design.loading import parse_design
from timing.logbook.text import read_logbook_text
from timing.protocol.target_of_design import target_of
from wirecue.firmware import why_not_simulated
from wirecue.flash_errors import FlashError
from wirecue.flashing import FLASH_CAUTIONS, FlashPlan
from wirecue.page.document import Document
from wirecue.page.files import Folder
from wirecue.page.flash_job import FlashJob
from wirecue.page.panels.advise import advised, moves_html
from wirecue.page.panels.findings import SHAPES
from wirecue.page.panels.flash import job_html, plan_html
from wirecue.page.panels.logbook import log_html, note_trouble
from wirecue.page.panels.parts import parts_listed
from wirecue.page.panels.spot import spot_picture
from wirecue.page.panels.supply import figures_html, verdict_html
from wirecue.page.panels.way import state_of
from wirecue.page.panels.welds import welds_shown
from wirecue.page.shared import Shared, findings_key
from wirecue.page.watched import watched
from wirecue.page.words import folded, told_html, told_table
from wirecue.panel_moves import with_advice
from wirecue.projects import load_board, parse_project

TEXTS = {path.stem: path.read_text() for path in EXAMPLES}


def project_of(example: str, *changes: tuple[str, str]):
    text = TEXTS[example]
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return parse_project(text, example)


def test_advice_says_what_the_command_says_and_how_to_read_it():
    project = project_of("shop_two_step")
    told = advised(project)
    for time in project.advice.times:
        assert all(told_html(reason) in told for reason in time.reasons)
    assert told_html(project.advice.burnback.worth.sentences[0]) in told
    assert all(told_html(sentence) in told for sentence in project.advice.footing)
    assert "leave preflow and postflow at 0 s" not in told


def test_advice_for_what_cannot_burn_is_a_sentence():
    told = advised(project_of("shop_two_step", ('contact_tip_to_work = "12 mm"', 'contact_tip_to_work = "4 mm"')))
    assert "contact-tip-to-work distance" in told
    assert "<h3>" not in told


def test_once_plates_are_made_advice_moves_settings_and_tells_which_dials_are_short():
    text = TEXTS["shop_two_step"].replace('from = "20 ms", to = "300 ms"', 'from = "120 ms", to = "150 ms"')
    found = with_advice(f"{text}\n[panel]\nmade = true\n", "shop.toml")
    told = moves_html(Path("shop.toml"), found)
    assert found.short
    assert "These dials no longer serve, and their plates are made:" in told
    assert '<a class="to-card" href="#at-advise">Where to start</a>' in told
    assert parse_design(found.text).times.burnback.high_us == 150_000


def test_a_command_leads_to_the_card_that_does_the_same_and_everything_is_escaped():
    assert told_html("see `wirecue fit`") == (
        'see <a class="to-card" href="#at-welds">Test welds</a> (<code>wirecue fit</code>)'
    )
    assert told_html("`wirecue schema` <b>") == "<code>wirecue schema</code> &lt;b&gt;"
    assert ">&lt;i&gt;</td>" in told_table(("a",), [("<i>",)])
    assert folded("nothing", "") == ""


def test_the_supply_says_whether_it_carries_the_add_on_and_by_phase():
    report = project_of("spot_stitch", ('reservoir = "1000 uF"', 'reservoir = "47 uF"')).supply
    asking = sum(one.severity is not Severity.INFO for one in report.findings)
    verdict, figures = verdict_html(report), figures_html(report)
    assert "does not carry the add-on as it stands" in verdict
    assert f'href="#at-findings">{asking} finding' in verdict
    assert all(phase.load.phase.word in figures for phase in report.budget.phases)


def test_parts_are_those_of_the_lists_that_can_be_downloaded():
    project = project_of("gasless_four_step")
    found = parts_listed(project)
    assert found.files["parts.csv"] == parts_csv(project)
    assert found.offered == tuple(proposals(project))
    assert all(told_html(one.change.line) in found.html for one in found.offered)


@pytest.mark.parametrize(
    ("example", "words"),
    [("spot_stitch", "width fused by spot time"), ("shop_two_step", "The design makes no spots.")],
)
def test_a_spot_has_its_curve_where_there_is_one(example, words):
    assert words in spot_picture(project_of(example))


def test_the_way_counts_the_gravest_findings():
    findings = project_of("spot_stitch", ('reservoir = "1000 uF"', 'reservoir = "47 uF"')).findings
    errors = sum(one.severity is Severity.ERROR for one in findings)
    assert state_of(findings) == (f"{SHAPES[Severity.ERROR]}{errors}", f"{errors} errors")
    assert state_of([]) == ("✓", "nothing found")


LOG = """# wirecue logbook: design. An entry a line, newest last: add lines, change none.
2026-01-02T10:00:00+00:00 note { text = "<b>first</b>" }
torn
2026-01-03T10:00:00+00:00 setting { text = "burnback dial to mark 6" }
"""


def test_the_logbook_is_told_newest_first_and_a_torn_line_is_told_too():
    told = log_html(read_logbook_text(LOG), "design.log")
    assert told.index("burnback dial to mark 6") < told.index("&lt;b&gt;first&lt;/b&gt;")
    assert "design.log, line 3, is no entry and is kept as it is" in told
    assert "design.log begins with the first entry" in log_html(read_logbook_text(""), "design.log")
    assert (note_trouble("new liner"), note_trouble("")) == ("", "0 characters; 1 to 2000 say something")


def welds(tmp_path, *texts):
    path = tmp_path / "spot_stitch.toml"
    path.write_text(TEXTS["spot_stitch"])
    entry = (
        '2026-01-02T10:00:00+00:00 weld {{ burnback = "{}", outcome = "free", extension = "{}", distance = "10 mm" }}'
    )
    head = LOG.splitlines()[0]
    (tmp_path / "spot_stitch.log").write_text("\n".join([head, *(entry.format(*text) for text in texts)]) + "\n")
    return welds_shown(path, project_of("spot_stitch"), path.read_text())


def test_welds_of_the_logbook_narrow_the_band_and_can_be_put_in(tmp_path):
    shown = welds(tmp_path, ("65 ms", "9.5 mm"), ("100 ms", "8.6 mm"), ("120 ms", "8.4 mm"))
    assert [row[:2] for row in shown.rows] == [("1", "65 ms: 9.5 mm"), ("2", "100 ms: 8.6 mm"), ("3", "120 ms: 8.4 mm")]
    assert shown.fit.may_write
    assert parse_design(shown.fit.text).extension_left is not None
    assert "on this machine, by its test welds" in shown.html


def test_welds_that_contradict_each_other_are_not_put_in(tmp_path):
    shown = welds(tmp_path, ("65 ms", "9.5 mm"), ("66 ms", "3 mm"))
    assert not shown.fit.may_write
    assert "do not agree with each other" in shown.html


def test_a_logbook_that_is_none_is_told_in_place_of_a_fit(tmp_path):
    (tmp_path / "spot_stitch.log").write_text("my diary")
    shown = welds_shown(tmp_path / "spot_stitch.toml", project_of("spot_stitch"), TEXTS["spot_stitch"])
    assert shown.fit is None
    assert "a file that begins" in shown.html


class Way:
    """A way onto a board, as far as it is shown."""

    port, steps, notes, commands = "/dev/ttyACM0", ("Compile <it>",), (), ("avrdude -P /dev/ttyACM0",)

    def carry(self, tell):
        tell("asking the bootloader")
        raise FlashError("the port is gone")


def test_the_question_before_a_flash_names_board_and_port_with_every_caution():
    plan = FlashPlan(Path("spot.toml"), project_of("spot_stitch"), Way())
    asked = plan_html(plan)
    assert f"<strong>{plan.project.board.title}</strong> on <strong>/dev/ttyACM0</strong>" in asked
    assert all(told_html(caution) in asked for caution in FLASH_CAUTIONS)
    assert "Compile &lt;it&gt;." in asked


def test_a_flash_that_fails_says_how_far_it_came_and_why():
    job = FlashJob(FlashPlan(Path("spot.toml"), project_of("spot_stitch"), Way()))
    assert job_html(job) == "<p>beginning ...</p>"
    job.start()
    job.wait(30)
    assert (job.active, job.lines) == (False, ["asking the bootloader"])
    assert "It did not go well." in job_html(job)
    assert "the port is gone" in job_html(job)


def test_a_board_without_a_simulator_says_why():
    assert "has no simulator here; the virtual board tests the model" in why_not_simulated(load_board("pico"))


def test_what_nobody_looks_at_is_not_worked_out(tmp_path):
    worked = []

    def work(project):
        worked.append(project.design.times.burnback.setting_us)
        return worked[-1]

    async def run():
        shared = Shared(Document(TEXTS["shop_two_step"], "shop.toml"), Folder(tmp_path))
        result = watched(shared, work, findings_key)
        assert watched(shared, work, findings_key) is result
        shared.settled.tell()
        assert (worked, result.is_fresh) == ([], False)
        end = result.watch()
        await result.settled()
        assert (result.found, result.is_fresh) == (130_000, True)
        shared.document.set_values({"times.burnback.setting": "90 ms"})
        assert not result.is_fresh
        end()
        shared.settled.tell()
        await result.settled()
        return worked

    assert asyncio.run(run()) == [130_000]


def test_a_flash_that_went_well_ends_with_the_board_s_own_digest():
    project = project_of("shop_two_step")
    target = target_of(project)
    with behind_port(VirtualBoard(target, "1.0")) as address:

        class Carried(Way):
            def carry(self, tell):
                return None, address

        job = FlashJob(FlashPlan(Path("shop.toml"), project, Carried()))
        job.start()
        job.wait(30)
    told = job_html(job)
    assert job.trouble == ""
    assert job.result.identity.digest == target.digest
    assert target.digest in told
    assert "Its outputs read back as off" in told
