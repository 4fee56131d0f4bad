"""A stranger with nothing but the page: from the survey to a virtual bench that passed, in a real browser."""

from __future__ import annotations

import io
import zipfile

import pytest

from tests.conftest import SOAK
from tests.wirecue.page.conftest import SCREENSHOTS, Browsing, open_card
from timing.design.loading import load_design
from timing.survey.topics import topics
from wirecue.projects import board_names, load_board

pytestmark = pytest.mark.debian("chromium")

ANSWERS = {
    "survey.feeder_power": "24vac",
    "survey.drive_and_contactor": "apart",
    "survey.contactor_place": "115v",
    "feeder.wire_drive.braked": "yes",
    "supply.measured_open": "27.4 V",
    "supply.measured_loaded": "25.2 V",
    "supply.measured_load": "2.1 A",
    "supply.grounded": "no",
    "feeder.as_found.trigger": "relay",
    "trigger.sense": "ac",
    "trigger.snubber_capacitor": "100 nF",
    "trigger.leak": "2 Mohm",
    "process.wire": "ER70S-6",
    "process.gas_hose_length": "3 m",
    "process.gas_hose_pressure": "2 bar",
    "process.wire_feed_speed_low": "150 in/min",
    "process.wire_feed_speed_high": "280 in/min",
    "process.plate_thickness": "1.5 mm",
    "process.plate_thickness_low": "1 mm",
    "process.plate_thickness_high": "3 mm",
    "process.open_circuit_voltage": "24 V",
    "process.load_voltage": "18.5 V",
    "process.load_current": "120 A",
    "process.source_phases": "three",
    "process.source_capacitance": "47 mF",
    "feeder.gas_valve.coil.hold": "330 mA",
    "feeder.gas_valve.coil.inrush": "0.6 A",
    "feeder.wire_drive.coil.hold": "0.25 A",
    "feeder.wire_drive.coil.inrush": "0.4 A",
    "feeder.wire_drive.coast": "45 ms",
    "feeder.contactor.coil.voltage": "115 V",
    "feeder.contactor.coil.hold": "0.2 A",
    "feeder.contactor.coil.inrush": "0.8 A",
    "feeder.gas_valve.protection.rating": "2 A",
    "feeder.wire_drive.protection.rating": "2 A",
    "feeder.contactor.protection.rating": "2 A",
    "board.type": "nano",
}
"""What this feeder says; for everything else that is asked the usual answer is typed in."""


def expect(locator):
    from playwright.sync_api import expect as wait_until

    return wait_until(locator)


def fill_topic(page, usual: dict[str, str]) -> list[str]:
    """Fill every field of the topic in view, those too that come up by an answer; return the questions."""
    filled: list[str] = []
    while True:
        boxes = page.locator("fieldset.question:not([disabled])")
        keys = [box.get_attribute("data-key") for box in boxes.all()]
        key = next((one for one in keys if one not in filled), None)
        if key is None:
            return filled
        box, answer = page.locator(f"[data-key='{key}']"), ANSWERS.get(key) or usual[key]
        if box.locator("input[type=radio]").count():
            box.locator(f"input[type=radio][value='{answer}']").check()
        else:
            box.locator("input.plain").fill(answer)
            box.locator("input.plain").press("Tab")
        filled.append(key)


def test_from_the_survey_to_a_passed_virtual_bench(browsing: Browsing):
    page, folder = browsing.page, browsing.served.folder
    questions = [one for topic in topics(tuple(map(load_board, board_names()))) for one in topic.questions]
    usual = {one.key: one.usual or "" for one in questions}
    page.goto(f"{browsing.served.address}/start")
    page.locator("[data-testid=name-survey]").fill("my_feeder")
    page.get_by_test_id("begin-survey").click()
    title, asked = page.get_by_test_id("survey-title"), []
    expect(title).to_be_visible()
    while (topic := title.inner_text()) != "The design":
        asked += fill_topic(page, usual)
        page.get_by_test_id("survey-next").click()
        expect(title).not_to_have_text(topic)
    assert len(asked) > 40
    page.get_by_test_id("survey-write").click()
    page.get_by_test_id("survey-open").click()
    expect(page.get_by_test_id("file")).to_have_text("my_feeder.toml - saved")

    # The times, and why they are what they are.
    expect(page.locator("input[data-testid=burnback-number]")).not_to_have_value("")
    advice = open_card(page, "advise")
    expect(advice.get_by_test_id("advice").locator("h3").first).to_be_visible()

    # The check.
    open_card(page, "findings")
    expect(page.get_by_test_id("verdict")).to_contain_text("0 errors")
    expect(page.get_by_test_id("verdict")).to_contain_text("this may be built")

    # The build.
    open_card(page, "build")
    with page.expect_download() as waiting:
        page.get_by_test_id("build-here").click()
    names = set(zipfile.ZipFile(io.BytesIO(waiting.value.path().read_bytes())).namelist())
    assert {"my_feeder_build/my_feeder/my_feeder.ino", "my_feeder_build/sheet.pdf"} <= names

    # The virtual bench: all of it in a soak, its first cases here.
    open_card(page, "bench").get_by_test_id("bench-start").click()
    results, state = page.get_by_test_id("bench-results").get_by_role("button"), page.get_by_test_id("bench-state")
    if SOAK:
        expect(state).to_contain_text("Board: virtual board", timeout=600_000)
        expect(state).to_contain_text(" cases pass.")
    else:
        expect(results.nth(2)).to_contain_text("pass")
        page.get_by_role("button", name="Stop").click()
        expect(state).to_contain_text("ended early: Stopped.")
    assert all("FAIL" not in one for one in results.all_inner_texts())
    page.screenshot(path=SCREENSHOTS / "stranger_bench.png")
    assert load_design(folder / "my_feeder.toml").times.burnback.setting_us > 0
    assert browsing.troubles == []
