"""Somebody types: figures follow, the box is left alone, late answers are dropped."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

Profile = Callable[..., BrowserContext]
RATIO = "#f-drive-ratio"
EFFECT = "#f-drive-ratio-effect"


@pytest.fixture
def sheet(page: Page, server: Any) -> Page:
    """The page of a steered candidate."""
    page.goto(f"{server.study}/candidates/steered")
    return page


def test_the_box_that_is_typed_in_stays_and_keeps_focus_and_cursor(sheet: Page) -> None:
    before = sheet.locator(EFFECT).inner_text()
    sheet.evaluate(f"window.box = document.querySelector('{RATIO}')")
    sheet.locator(RATIO).fill("7")
    sheet.locator(RATIO).press_sequentially(".25", delay=40)
    expect(sheet.locator(EFFECT)).not_to_have_text(before)
    assert sheet.evaluate(f"window.box === document.querySelector('{RATIO}')")
    assert sheet.evaluate("document.activeElement === window.box")
    assert sheet.evaluate("window.box.selectionStart") == 4
    assert sheet.locator(RATIO).input_value() == "7.25"


def test_an_answer_that_comes_too_late_is_dropped(sheet: Page) -> None:
    held: list[Route] = []

    def hold_the_first(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)

    sheet.route("**/live", hold_the_first)
    sheet.evaluate(
        "document.addEventListener('htmx:config:request',"
        " (event) => { event.detail.ctx.request.signal = undefined; })"
    )
    with sheet.expect_request("**/live"):
        sheet.locator(RATIO).fill("12")
    with sheet.expect_response("**/live"):
        sheet.locator(RATIO).fill("6")
    expect(sheet.locator(EFFECT)).to_have_text(re.compile("m/s free speed"))
    newest = sheet.locator(EFFECT).inner_text()
    held[0].continue_()
    sheet.wait_for_timeout(800)
    assert sheet.locator(EFFECT).inner_text() == newest


def test_a_fix_is_one_tap(sheet: Page) -> None:
    box = sheet.locator("#f-wheels-diameter_m")
    for part in ("low", "high"):
        sheet.evaluate(f"document.getElementById('f-wheels-diameter_m--{part}').value = ''")
    box.fill("50.8")
    remark = sheet.locator("#f-wheels-diameter_m-remarks")
    expect(remark).to_contain_text("half of the usual")
    remark.get_by_role("button", name="Use 101.6 mm").click()
    expect(box).to_have_value("101.6")
    expect(remark).not_to_contain_text("half of the usual")
    expect(box).to_be_focused()


def test_a_server_that_fails_leaves_everything_typed(sheet: Page) -> None:
    sheet.route("**/live", lambda route: route.abort())
    sheet.locator(RATIO).fill("8.5")
    expect(sheet.locator("#page-status")).to_contain_text("did not answer")
    assert sheet.locator(RATIO).input_value() == "8.5"
    sheet.unroute("**/live")
    sheet.locator(RATIO).fill("8.6")
    expect(sheet.locator("#page-status")).to_have_text("")


def test_a_row_comes_without_a_reload_and_typing_goes_on_in_it(sheet: Page) -> None:
    sheet.evaluate("window.stayed = true")
    sheet.locator(RATIO).fill("7.7")
    rows = sheet.locator("#rows-parts tbody")
    before = rows.count()
    sheet.get_by_role("button", name="Add a part").click()
    expect(rows).to_have_count(before + 1)
    expect(sheet.locator(f"#f-parts-{before}-name")).to_be_focused()
    assert sheet.evaluate("window.stayed")
    assert sheet.locator(RATIO).input_value() == "7.7"
    rows.last.get_by_role("button", name="remove").click()
    expect(rows).to_have_count(before)


def test_unsaved_text_is_not_left_behind_without_a_word(sheet: Page, server: Any) -> None:
    asked: list[str] = []
    sheet.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    sheet.locator(RATIO).click()
    sheet.locator(RATIO).press_sequentially("1")
    sheet.goto(server.study)
    assert asked == ["beforeunload"]
    sheet.goto(f"{server.study}/candidates/steered")
    sheet.locator(RATIO).fill("7.1")
    sheet.get_by_role("button", name="Save", exact=True).click()
    expect(sheet.locator("#save-state")).to_contain_text("Saved as revision 2")
    assert asked == ["beforeunload"]


def test_another_layout_brings_its_inputs_and_keeps_the_rest(sheet: Page) -> None:
    sheet.locator(RATIO).fill("7.7")
    sheet.locator("#f-layout").select_option("tank")
    expect(sheet.locator("#f-wheels-centre_drop_m")).to_be_visible()
    expect(sheet.locator(RATIO)).to_have_value("7.7")
    expect(sheet.locator("#save-state")).to_contain_text("not saved")


def test_enter_in_a_box_saves(sheet: Page) -> None:
    sheet.locator(RATIO).fill("7.3")
    sheet.locator(RATIO).press("Enter")
    expect(sheet.locator("#save-state")).to_contain_text("Saved as revision 2")


def test_a_fault_takes_the_focus_and_leads_to_its_field(
    sheet: Page, axe: Callable[[Page], list[str]]
) -> None:
    sheet.locator("#f-wheels-grip").fill("sticky")
    sheet.get_by_role("button", name="Save", exact=True).click()
    summary = sheet.locator("#fault-summary")
    expect(summary).to_be_focused()
    assert sheet.title().startswith("Error: ")
    assert axe(sheet) == []
    summary.get_by_role("link").first.click()
    expect(sheet.locator("#f-wheels-grip")).to_be_focused()
    expect(sheet.locator("#f-wheels-grip")).to_have_value("sticky")


def test_two_people_meet_in_one_candidate(
    sheet: Page, server: Any, profile: Profile, axe: Callable[[Page], list[str]]
) -> None:
    other = profile().new_page()
    other.goto(f"{server.study}/candidates/steered")
    other.locator(RATIO).fill("7.1")
    other.get_by_role("button", name="Save", exact=True).click()
    expect(other.locator("#save-state")).to_contain_text("Saved as revision 2")
    sheet.locator(RATIO).fill("6.2")
    sheet.get_by_role("button", name="Save", exact=True).click()
    expect(sheet.get_by_role("alert")).to_contain_text("saved the same section meanwhile")
    expect(sheet.locator(RATIO)).to_have_value("6.2")
    assert axe(sheet) == []
    sheet.get_by_role("button", name="Use mine").click()
    expect(sheet.locator("#save-state")).to_contain_text("Saved as revision 3")
    expect(sheet.locator(RATIO)).to_have_value("6.2")


@pytest.mark.parametrize(
    ("page_name", "table"),
    [("robot", "#rows-parts"), ("givens", "#rows-partners"), ("candidates/steered", "#rows-parts")],
)
def test_rows_come_and_go_with_scripts_off(
    server: Any, profile: Profile, page_name: str, table: str
) -> None:
    page = profile(java_script_enabled=False).new_page()
    page.goto(f"{server.study}/{page_name}")
    rows = page.locator(table)
    removes = rows.get_by_role("button", name=re.compile("^remove"))
    before = removes.count()
    rows.get_by_role("button", name=re.compile("^Add a part(ner)?$")).click()
    assert removes.count() > before
    expect(page.locator("#save-state")).to_contain_text("not saved yet")
    removes.last.click()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).not_to_contain_text("not saved yet")


def test_the_drawing_of_the_robot_follows(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/robot")
    drawing = page.locator("#figures svg").first
    before = drawing.inner_html()
    page.locator("input[name='robot.keepouts.0.outline_m:front']").fill("90")
    expect(page.locator("#save-state")).to_contain_text("not saved")
    page.wait_for_function(
        "(before) => document.querySelector('#figures svg').innerHTML !== before", arg=before
    )
