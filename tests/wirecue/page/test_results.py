"""Slow results: kept under what they depend on, computed for the latest only, shown while they hold."""

from __future__ import annotations

import asyncio
import re
import threading

import pytest
from click.testing import CliRunner

from codegen.charts.timeline import usual_timeline_svg
from tests.conftest import EXAMPLES
from wirecue.cli import main
from wirecue.page.document import Document
from wirecue.page.shared import (
    Slow,
    burnback_key,
    curve_of,
    findings_key,
    supply_key,
    supply_picture,
)

TEXTS = {path.stem: path.read_text() for path in EXAMPLES}


def project_with(example: str = "shop_two_step", **values: str):
    document = Document(TEXTS[example])
    document.set_values({key.replace("__", "."): value for key, value in values.items()})
    return document.project


@pytest.mark.parametrize(
    ("values", "supply_changes", "wire_end_changes"),
    [
        ({"times__burnback__setting": "90 ms"}, False, False),
        ({"times__burnback__to": "400 ms"}, True, True),
        ({"process__wire_feed_speed": "210 in/min"}, False, True),
        ({"supply__reservoir": "470 uF"}, True, False),
        ({"feeder__contactor__coil__hold": "0.7 A"}, True, True),
        ({"title": "Another title"}, False, False),
    ],
)
def test_what_is_computed_anew_when_a_value_changes(values, supply_changes, wire_end_changes):
    before, after = project_with(), project_with(**values)
    assert (supply_key(before) != supply_key(after)) is supply_changes
    assert (burnback_key(before) != burnback_key(after)) is wire_end_changes
    assert findings_key(before) != findings_key(after)


def test_what_has_the_same_key_has_the_same_supply():
    before = project_with()
    after = project_with(times__preflow__setting="700 ms", process__wire_feed_speed="210 in/min")
    assert supply_key(before) == supply_key(after)
    assert supply_picture(before) == supply_picture(after)


def test_a_fixed_burnback_spans_its_own_curve():
    text = TEXTS["shop_two_step"].replace('{ from = "20 ms", to = "300 ms", setting = "130 ms" }', '"130 ms"')
    document = Document(text)
    before = burnback_key(document.project)
    document.set_values({"times.burnback.setting": "900 ms"})
    assert burnback_key(document.project) != before


def test_where_no_curve_is_possible_a_sentence_says_why():
    found = curve_of(project_with(process__contact_tip_to_work="4 mm"))
    assert isinstance(found, str)
    assert "contact-tip-to-work distance" in found


def test_the_timeline_is_the_one_that_the_files_have(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "shop.toml").write_text(TEXTS["shop_two_step"])
    assert CliRunner().invoke(main, ["simulate", "shop.toml", "--svg", "shop.svg"]).exit_code == 0
    picture, made = usual_timeline_svg(project_with()), (tmp_path / "shop.svg").read_text()
    assert made.startswith(picture)
    # Behind it stands the line by which an earlier output is known, and nothing else.
    assert re.fullmatch(r"\n?<!-- [^\n]* -->\n", made.removeprefix(picture))


class Bench:
    """A slow result whose work waits until it is told to go on."""

    def __init__(self) -> None:
        self.go, self.worked, self.shown = threading.Event(), [], []
        self.slow = Slow(findings_key, self._work, lambda _, result: self.shown.append(result))

    def _work(self, project):
        assert self.go.wait(30)
        self.worked.append(project.design.times.burnback.setting_us)
        return self.worked[-1]


def test_of_many_wishes_only_the_latest_is_computed():
    async def run():
        bench = Bench()
        first = project_with()
        bench.slow.want(first)
        await asyncio.sleep(0)
        for setting_ms in (50, 60, 70):
            bench.slow.want(project_with(times__burnback__setting=f"{setting_ms} ms"))
        assert bench.slow.busy
        bench.go.set()
        await bench.slow.settled()
        return bench, first

    bench, first = asyncio.run(run())
    assert bench.worked in ([130_000, 70_000], [70_000])
    assert bench.shown == [70_000]
    assert not bench.slow.is_fresh(first)


def test_what_is_known_is_shown_without_work():
    async def run():
        bench = Bench()
        bench.go.set()
        one, other = project_with(), project_with(times__burnback__setting="50 ms")
        bench.slow.show_known(one)
        assert bench.shown == []
        for wanted in (one, other, one):
            bench.slow.want(wanted)
            await bench.slow.settled()
        bench.slow.show_known(other)
        assert bench.slow.is_fresh(other)
        return bench

    bench = asyncio.run(run())
    assert bench.worked == [130_000, 50_000]
    assert bench.shown == [130_000, 50_000, 130_000, 50_000]


def test_a_fault_in_the_work_is_logged_and_the_next_wish_is_met(caplog):
    async def run():
        shown = []

        def work(wanted):
            if wanted.design.times.burnback.setting_us == 130_000:
                raise ZeroDivisionError
            return "fine"

        slow = Slow(findings_key, work, lambda _, result: shown.append(result))
        slow.want(project_with())
        await slow.settled()
        slow.want(project_with(times__burnback__setting="50 ms"))
        await slow.settled()
        return shown

    assert asyncio.run(run()) == ["fine"]
    assert "a result could not be computed" in caplog.text


def test_what_changes_beside_the_design_while_it_is_worked_out_is_worked_out_again():
    async def run():
        beside, shown, go = ["old"], [], threading.Event()

        def work(_):
            found = beside[0]
            assert go.wait(30)
            return found

        slow = Slow(lambda project: findings_key(project) + beside[0], work, lambda _, result: shown.append(result))
        project = project_with()
        slow.want(project)
        await asyncio.sleep(0)
        beside[0] = "new"
        slow.want(project)
        go.set()
        await slow.settled()
        return shown

    assert asyncio.run(run()) == ["new"]
