"""The way in, in a real browser: from the start by the survey to a check, without a mouse and without a terminal."""

from __future__ import annotations

import json
import re
from pathlib import Path

import axe_playwright_python
import pytest

from tests.timing.survey.test_filling import GOOD, asked_one_by_one
from tests.wirecue.page.conftest import Browsing, fill, tab_to
from timing.design.loading import load_design

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
"""The checker of the accessibility of web pages, as it lies in its package."""
RUN_AXE = """async (context) => (await axe.run(context, { resultTypes: ['violations'] })).violations
  .flatMap(one => one.nodes.map(node => `${one.id}: ${node.target} ${node.failureSummary}`))"""
OUTSIDE = """() => [...document.querySelectorAll("button, input, a, textarea, summary, h2, h3, label, legend, .note")]
  .filter(one => one.getClientRects().length && !one.closest(".picture, .wide-table, .way, .skip"))
  .filter(one => { const box = one.getBoundingClientRect(); return box.left < 0 || box.right > innerWidth + 0.5; })
  .map(one => one.outerHTML.slice(0, 120))"""
"""What would have to be swiped for; pictures, tables and the way along the cards are swiped by themselves."""
SIZES = ((1280, 800), (400, 800))
pytestmark = pytest.mark.debian("chromium")

LEFT_OPEN = ("trigger.sense", "process.wire", "process.wire_class")


def expect(locator):
    from playwright.sync_api import expect as wait_until

    return wait_until(locator)


@pytest.fixture
def begun(opened: Browsing) -> Browsing:
    """The page at its start, in a folder as it was in the beginning; whatever was in work before."""
    fill(opened.served.folder)
    opened.page.set_viewport_size({"width": 1366, "height": 768})
    start(opened)
    return opened


def start(browsing: Browsing):
    """Go to the start, as it is now."""
    browsing.page.goto(f"{browsing.served.address}/start")
    browsing.page.get_by_test_id("begin-survey").wait_for()
    return browsing.page


def test_from_the_start_by_the_survey_to_a_check_by_keyboard(begun):
    # A survey that was stopped at the gun's trigger.
    kept = {key: text for key, text in asked_one_by_one(GOOD).answers.items() if key not in LEFT_OPEN}
    (begun.served.folder / "mine.survey.json").write_text(json.dumps(kept))
    page, keyboard = start(begun), begun.page.keyboard
    title = page.get_by_test_id("survey-title")
    tab_to(page, "[data-testid=go-on-mine]")
    keyboard.press("Enter")
    expect(title).to_have_text("The gun's trigger")
    # Nothing is chosen yet: Enter says so beside the question and goes there, and an arrow chooses.
    tab_to(page, "[name='trigger.sense']")
    keyboard.press("Enter")
    expect(page.locator("[data-key='trigger.sense']")).to_contain_text("Still to be answered.")
    page.wait_for_function("document.activeElement.name === 'trigger.sense'")
    keyboard.press("ArrowDown")
    expect(page.locator("[data-key='trigger.sense']")).not_to_contain_text("Still to be answered.")
    keyboard.press("Enter")
    expect(title).to_have_text("Wire, gas and settings")
    tab_to(page, "[name='process.wire']")
    keyboard.type("ER70S-6")
    keyboard.press("Tab")
    expect(page.locator("[data-key='process.wire']")).to_contain_text("ER70S-6 (AWS A5.18): solid steel wire")
    for following in ("Gas valve, wire drive and contactor", "What the panel shall offer", "The design"):
        tab_to(page, "[data-testid=survey-next]")
        keyboard.press("Enter")
        expect(title).to_have_text(following)
    tab_to(page, "[data-testid=survey-write]")
    keyboard.press("Enter")
    expect(page.get_by_test_id("survey-open")).to_be_visible()
    tab_to(page, "[data-testid=survey-open]")
    keyboard.press("Enter")
    expect(page.get_by_test_id("file")).to_have_text("mine.toml - saved")
    tab_to(page, "[data-way=findings]")
    keyboard.press("Enter")
    expect(page.get_by_test_id("verdict")).to_contain_text("errors")
    assert load_design(begun.served.folder / "mine.toml").trigger.sense == "ac"
    assert not (begun.served.folder / "mine.survey.json").exists()
    assert begun.troubles == []


def test_an_example_begins_under_a_name_of_ones_own_and_no_other(begun):
    page = begun.page
    name, trouble = page.locator("[data-testid=name-spot_stitch]"), page.get_by_test_id("trouble-spot_stitch")
    for typed, words in (("design", "design.toml is there already"), ("con", "this one is a device on some")):
        name.fill(typed)
        name.press("Enter")
        expect(trouble).to_contain_text(words)
    name.fill("mine")
    page.get_by_test_id("begin-spot_stitch").click()
    expect(page.get_by_test_id("file")).to_have_text("mine.toml - saved")
    assert begun.served.text("mine.toml").count('name = "mine"') == 1


def test_a_file_that_is_no_design_is_told_and_the_start_stays(begun):
    (begun.served.folder / "broken.toml").write_text("format = 2")
    page = start(begun)
    page.locator("[data-file='broken.toml']").click()
    expect(page.get_by_test_id("folder-trouble")).to_contain_text("Allowed:")
    page.locator("[data-file='shop_two_step.toml']").click()
    expect(page.get_by_test_id("file")).to_have_text("shop_two_step.toml - saved")


def test_what_is_wrong_in_the_survey_stands_beside_its_field_and_a_stop_loses_nothing(begun):
    (begun.served.folder / "mine.survey.json").write_text(json.dumps({key: GOOD[key] for key in list(GOOD)[:3]}))
    page = start(begun)
    page.get_by_test_id("go-on-mine").click()
    power = page.locator("[data-key='survey.feeder_power']")
    power.get_by_label("the arc voltage").check()
    expect(power).to_contain_text("The job is ruled out. An across-the-arc")
    page.get_by_test_id("survey-next").click()
    expect(page.get_by_test_id("survey-foot")).to_have_text("The job is ruled out.")
    power.get_by_label("24 VAC through a control cable").check()
    page.get_by_test_id("survey-next").click()
    opened = page.locator("[name='supply.measured_open']")
    opened.fill("27,4 V")
    opened.press("Tab")
    expect(page.locator("[data-key='supply.measured_open']")).to_contain_text("write a decimal point, not a comma")
    opened.fill("27.4")
    page.locator("[data-key='survey.supply_measured']").get_by_label("no").check()
    expect(opened).not_to_be_visible()
    page.get_by_test_id("survey-stop").click()
    page.get_by_test_id("go-on-mine").click()
    page.locator("[data-key='survey.supply_measured']").get_by_label("yes").check()
    expect(opened).to_have_value("27.4")


def found_at_each_size(page, within: str = "body") -> list[str]:
    """Return what the checker finds and what lies outside the window, on a desk and on a phone.

    within: what can be used now, where a dialog lies over the rest.
    """
    found = []
    # One that fades away is checked in no state that lasts.
    page.wait_for_function("!document.querySelector('.q-notification')")
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        if not page.evaluate("!!window.axe"):
            page.evaluate(AXE)
        # The pictures are the same at either size, and full of words to look at.
        known = ["svg"] if width != SIZES[0][0] else []
        found += page.evaluate(RUN_AXE, {"include": [within], "exclude": known}) + page.evaluate(OUTSIDE)
        if page.evaluate("document.scrollingElement.scrollWidth") > width:
            found.append(f"wider than {width}")
    return found


def test_start_and_survey_are_for_everybody_and_fit_a_phone(begun):
    page = begun.page
    page.locator("[data-testid=name-survey]").fill("con")
    page.get_by_test_id("begin-survey").click()
    expect(page.get_by_test_id("trouble-survey")).to_be_visible()
    assert found_at_each_size(page) == []
    page.locator("[data-testid=name-survey]").fill("mine")
    page.get_by_test_id("begin-survey").click()
    page.get_by_test_id("survey-next").click()
    expect(page.get_by_text("Still to be answered.").first).to_be_visible()
    assert found_at_each_size(page) == []
    (begun.served.folder / "other.survey.json").write_text(json.dumps(dict(asked_one_by_one(GOOD).answers)))
    page.goto(f"{begun.served.address}/survey/other")
    expect(page.get_by_test_id("survey-title")).to_have_text("The design")
    for before in ("What the panel shall offer", "Gas valve, wire drive and contactor"):
        page.get_by_test_id("survey-back").click()
        expect(page.get_by_test_id("survey-title")).to_have_text(before)
    assert found_at_each_size(page) == []


def test_the_design_with_every_card_open_is_for_everybody_and_fits_a_phone(browsing):
    page = browsing.page
    page.evaluate("for (const fold of document.querySelectorAll('.card > details')) fold.open = true")
    for group in ("process", "feeder.wire_drive", "panel"):
        page.locator(f"[data-group='{group}']").click()
    page.locator('input[data-key="process.gas_flow"]').fill("14 L")
    page.keyboard.press("Tab")
    expect(page.get_by_test_id("refused")).to_be_visible()
    for name in ("wire-end", "supply"):
        page.get_by_test_id(name).locator("svg").first.wait_for()
    page.wait_for_function("![...document.querySelectorAll('.card')].some(one => one.innerText.includes('computing'))")
    assert found_at_each_size(page) == []
    # With a value refused, no card speaks as if the design were what is shown.
    assert re.search(r"(?<!not )\bsaved\.|- saved|may be built", page.locator("body").inner_text()) is None
    for name in ("build", "build-here", "bench-start"):
        expect(page.get_by_test_id(name)).to_be_disabled()
    page.get_by_test_id("text").click()
    page.get_by_test_id("text-area").wait_for()
    assert found_at_each_size(page, ".q-dialog") == []


def test_two_tabs_on_one_survey_lose_no_answer(begun):
    page = begun.page
    page.goto(f"{begun.served.address}/survey/mine")
    other = begun.context.new_page()
    begun.watch(other)
    other.goto(f"{begun.served.address}/survey/mine")
    for key in list(GOOD)[:3]:
        page.locator(f"[name='{key}'][value='{GOOD[key]}']").check()
    page.get_by_test_id("survey-next").click()
    expect(page.get_by_test_id("survey-title")).to_have_text("The 24 VAC control supply")
    # The other tab still shows the first topic: it goes on where the survey is now.
    other.get_by_test_id("survey-next").click()
    expect(other.get_by_test_id("survey-title")).to_have_text("The 24 VAC control supply")
    for key in ("supply.measured_open", "supply.measured_loaded", "supply.measured_load"):
        page.locator(f"[name='{key}']").fill(GOOD[key])
    page.locator("[name='supply.grounded'][value=no]").check()
    page.locator("[name='supply.measured_with'][value=resistive]").focus()
    expect(page.locator("[data-key='supply.measured_open']")).to_contain_text("taken as 27.4 V")
    expect(page.get_by_test_id("survey-left")).not_to_contain_text("At most 80")
    other.get_by_test_id("survey-next").click()
    expect(other.get_by_test_id("survey-title")).to_have_text("The gun's trigger")
    kept = json.loads((begun.served.folder / "mine.survey.json").read_text())
    wanted = {**{key: GOOD[key] for key in list(GOOD)[:3]}, "supply.measured_open": "27.4 V", "supply.grounded": "no"}
    assert {key: kept[key] for key in wanted} == wanted
    other.close()
