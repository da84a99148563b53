"""Somebody moves things on the drawing: keys, mouse and buttons; figures follow; it is saved."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, Route, expect

from models.services import list_revisions, load_study

Profile = Callable[..., BrowserContext]
TRAY = 3
"""The battery tray's place among the example's keep-outs."""


@pytest.fixture
def fit(page: Page, server: Any) -> Page:
    """The fit page of a steered candidate of the example."""
    page.goto(f"{server.study}/fit?candidate=steered")
    return page


def handle(page: Page, item: str) -> Locator:
    return page.locator(f'.move-handle[data-item="{item}"]')


def gap(page: Page, body: str, keepout: str) -> Locator:
    row = page.locator(f'tr.gap[data-body="{body}"][data-keepout="{keepout}"]')
    return row.locator("td").first


def test_arrow_keys_move_a_keep_out_and_the_move_is_saved(
    fit: Page, server: Any, axe: Callable[[Page], list[str]]
) -> None:
    fit.evaluate("window.stayed = true")
    changed = gap(fit, "rear-right base plate", "battery tray")
    before = changed.text_content() or ""
    tray = handle(fit, f"keepout.{TRAY}")
    tray.focus()
    for _ in range(3):
        fit.keyboard.press("ArrowUp")
    fit.keyboard.press("Shift+ArrowRight")
    expect(tray).to_have_attribute("transform", re.compile("translate"))
    expect(fit.locator("#move-status")).to_contain_text(
        "battery tray: 15 mm forward and 1 mm right"
    )
    expect(changed).not_to_have_text(before)
    expect(tray).to_be_focused()
    expect(tray).not_to_have_attribute("transform", re.compile("."))
    assert fit.evaluate("window.stayed")
    assert len(list_revisions(server.app.state.store, server.study_id)) == 1
    assert axe(fit) == []
    fit.get_by_role("button", name="Save as a revision").click()
    expect(fit.locator("#move-status")).to_contain_text("Saved as revision 2")
    outline = load_study(server.app.state.store, server.study_id).document["robot"]["keepouts"][
        TRAY
    ]["outline_m"]
    assert outline[0] == [-0.325, -0.101]
    fit.goto(f"{server.study}/history")
    expect(fit.locator("main")).to_contain_text(
        "Moved on the drawing: battery tray 15 mm forward and 1 mm right"
    )


def test_a_dragged_module_takes_its_partner_along_and_goes_back(fit: Page) -> None:
    module = handle(fit, "corner.front_left")
    module.scroll_into_view_if_needed()
    box = module.bounding_box()
    assert box
    x, y = box["x"] + 12, box["y"] + 12
    fit.mouse.move(x, y)
    fit.mouse.down()
    fit.mouse.move(x, y + 10, steps=5)
    fit.mouse.up()
    lines = fit.locator("#move-list li")
    expect(lines).to_have_count(2)
    expect(lines.nth(0)).to_contain_text(re.compile(r"front left module: \d+ mm back"))
    expect(lines.nth(1)).to_contain_text(re.compile(r"front right module: \d+ mm back"))
    fit.get_by_role("link", name="Put everything back").click()
    expect(lines).to_have_count(0)
    expect(fit.get_by_role("button", name="Save as a revision")).to_be_hidden()


def test_buttons_do_what_a_drag_does_and_nothing_goes_past_the_corner(fit: Page) -> None:
    fit.get_by_label("What", exact=True).select_option("corner.rear_right")
    fit.get_by_label("both sides free").check()
    fit.get_by_role("button", name="back", exact=True).click()
    expect(fit.locator("#move-status")).to_have_text("rear right module: no further that way.")
    fit.get_by_role("button", name="forward", exact=True).click()
    expect(fit.locator("#move-list li")).to_have_count(1)
    expect(fit.locator("#move-list")).to_contain_text("rear right module: 5 mm forward")


def test_an_answer_that_comes_too_late_is_dropped(fit: Page) -> None:
    held: list[Route] = []

    def hold_the_first(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)

    fit.route("**/fit/live", hold_the_first)
    tray = handle(fit, f"keepout.{TRAY}")
    tray.focus()
    with fit.expect_request("**/fit/live"):
        fit.keyboard.press("ArrowUp")
    fit.keyboard.press("ArrowUp")
    expect(fit.locator("#move-status")).to_contain_text("battery tray: 10 mm forward")
    held[0].continue_()
    fit.wait_for_timeout(800)
    expect(fit.locator("#move-list")).to_contain_text("10 mm forward")


def test_everything_is_possible_with_scripts_off(server: Any, profile: Profile) -> None:
    page = profile(java_script_enabled=False).new_page()
    page.goto(f"{server.study}/fit?candidate=steered")
    page.get_by_label("What", exact=True).select_option(f"keepout.{TRAY}")
    page.get_by_label("Forward, mm").fill("12")
    page.get_by_role("button", name="Try it").click()
    expect(page.locator("#move-list")).to_contain_text("battery tray: 12 mm forward")
    page.get_by_role("button", name="Save as a revision").click()
    expect(page.locator("#move-status")).to_contain_text("Saved as revision 2")
