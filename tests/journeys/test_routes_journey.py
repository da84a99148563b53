"""Somebody moves points of a route by mouse, finger, keys and buttons; all times follow."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, Route, expect

from models.services import list_revisions, load_study

Profile = Callable[..., BrowserContext]
CYCLE = "quay to beacon and back"
NUMBER = 1
"""The cycle's place among the example's routes."""
POINT = f"routes.{NUMBER}.legs.2.to_m"


@pytest.fixture
def routes(page: Page, server: Any) -> Page:
    """The page of the routes with the cycle shown."""
    page.goto(f"{server.study}/routes?route={CYCLE.replace(' ', '+')}")
    return page


def handle(page: Page, place: str = POINT) -> Locator:
    return page.locator(f'.route-handle[data-place="{place}"]')


def box(page: Page, axis: int, place: str = POINT) -> Locator:
    return page.locator(f'input[name="{place}.{axis}"]')


def totals(page: Page) -> list[str]:
    texts = page.locator(f"#route-{NUMBER} .bar-total").all_inner_texts()
    return [text.splitlines()[0] for text in texts]


def drag(page: Page, right: float, down: float) -> None:
    point = handle(page)
    point.scroll_into_view_if_needed()
    at = point.bounding_box()
    assert at
    x, y = at["x"] + at["width"] / 2, at["y"] + at["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + right, y + down, steps=8)
    page.mouse.up()


def test_a_dragged_point_changes_the_time_of_every_candidate_and_is_saved(
    routes: Page, server: Any, axe: Callable[[Page], list[str]]
) -> None:
    routes.evaluate("window.stayed = true")
    before = totals(routes)
    was = float(box(routes, 0).input_value())
    drag(routes, -120, 60)
    assert float(box(routes, 0).input_value()) < was - 0.5
    expect(routes.locator("#save-state")).to_have_text("Changed, not saved yet.")
    expect(routes.locator(f"#route-{NUMBER} .route-seconds")).to_contain_text("Until it is saved")
    assert all(old != new for old, new in zip(before, totals(routes), strict=True))
    typed = [float(box(routes, axis).input_value()) for axis in (0, 1)]
    routes.wait_for_function(
        "([place, typed]) => document.querySelector(`[data-place='${place}']`).dataset.metres"
        ".split(' ').every((text, axis) => Number(text) === typed[axis])",
        arg=[POINT, typed],
    )
    assert routes.evaluate("window.stayed")
    assert len(list_revisions(server.app.state.store, server.study_id)) == 1
    assert axe(routes) == []
    now = totals(routes)
    routes.get_by_role("button", name="Save", exact=True).click()
    expect(routes.locator("#save-state")).to_contain_text("Saved as revision 2")
    document = load_study(server.app.state.store, server.study_id).document
    assert document["routes"][NUMBER]["legs"][2]["to_m"] == typed
    assert totals(routes) == now


def test_arrow_keys_and_buttons_move_a_point_and_keep_the_focus(routes: Page) -> None:
    x, y = (float(box(routes, axis).input_value()) for axis in (0, 1))
    before = totals(routes)
    point = handle(routes)
    point.focus()
    for _ in range(3):
        routes.keyboard.press("ArrowLeft")
    routes.keyboard.press("Shift+ArrowDown")
    expect(box(routes, 0)).to_have_value(f"{x - 0.3:g}")
    expect(box(routes, 1)).to_have_value(f"{y - 0.01:g}")
    expect(routes.locator(f"#route-{NUMBER} [data-status]")).to_contain_text(f"{x - 0.3:g}")
    expect(routes.locator(f"#route-{NUMBER} .bar-total").first).not_to_contain_text(before[0])
    expect(point).to_be_focused()
    routes.get_by_role("button", name="right", exact=True).click()
    expect(box(routes, 0)).to_have_value(f"{x - 0.2:g}")


def test_a_typed_place_moves_the_point_and_the_limits_follow(routes: Page) -> None:
    before = totals(routes)
    at = handle(routes).get_attribute("data-metres")
    box(routes, 1).fill("5")
    expect(handle(routes)).not_to_have_attribute("data-metres", at or "")
    assert totals(routes) != before
    margin = routes.get_by_label("Kept below the tip limit")
    limits = routes.locator("#live-poses").inner_text()
    margin.fill("50 %")
    routes.wait_for_function(
        "(before) => document.getElementById('live-poses').innerText !== before", arg=limits
    )
    expect(routes.locator("#caption-limits")).to_contain_text("50 %")


def test_an_answer_that_comes_too_late_is_dropped(routes: Page) -> None:
    held: list[Route] = []

    def hold_the_first(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)

    routes.route("**/routes/live", hold_the_first)
    routes.evaluate(
        "document.addEventListener('htmx:config:request',"
        " (event) => { event.detail.ctx.request.signal = undefined; })"
    )
    with routes.expect_request("**/routes/live"):
        box(routes, 0).fill("9")
    with routes.expect_response("**/routes/live"):
        box(routes, 0).fill("11")
    expect(handle(routes)).to_have_attribute("data-metres", re.compile("^11.0 "))
    newest = totals(routes)
    held[0].continue_()
    routes.wait_for_timeout(800)
    assert totals(routes) == newest


def test_a_finger_chooses_first_and_drags_then(server: Any, profile: Profile) -> None:
    page = profile(viewport={"width": 390, "height": 800}, has_touch=True).new_page()
    page.goto(f"{server.study}/routes?route={CYCLE.replace(' ', '+')}")
    point = handle(page)
    point.scroll_into_view_if_needed()
    at = point.bounding_box()
    assert at
    assert min(at["width"], at["height"]) >= 24
    x, y = at["x"] + at["width"] / 2, at["y"] + at["height"] / 2
    was = box(page, 0).input_value()
    touch = page.context.new_cdp_session(page)

    def swipe() -> None:
        for kind, left in (("touchStart", 0), ("touchMove", 20), ("touchMove", 40)):
            points = [{"x": x - left, "y": y}]
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    page.touchscreen.tap(x, y)
    expect(point).to_have_attribute("aria-pressed", "true")
    assert box(page, 0).input_value() == was
    swipe()
    expect(box(page, 0)).not_to_have_value(was)


def test_routes_are_looked_at_in_turn_with_nothing_typed_lost(routes: Page) -> None:
    box(routes, 0).fill("11.5")
    routes.get_by_role("button", name=re.compile("^three floats")).click()
    expect(routes.locator("#route-0")).to_be_visible()
    expect(routes.locator(f"#route-{NUMBER}")).to_be_hidden()
    routes.locator("#route-0").get_by_role("button", name="Add a leg").click()
    expect(routes.locator('input[name="routes.0.legs.7.to_m.0"]')).to_be_focused()
    expect(handle(routes, "routes.0.legs.7.to_m")).to_be_visible()
    routes.get_by_role("button", name=CYCLE).click()
    expect(box(routes, 0)).to_have_value("11.5")


def test_everything_is_possible_with_scripts_off(server: Any, profile: Profile) -> None:
    page = profile(java_script_enabled=False).new_page()
    page.goto(f"{server.study}/routes")
    page.get_by_role("button", name=CYCLE).click()
    expect(page.locator(f"#route-{NUMBER}")).to_be_visible()
    shown = page.locator(f"#route-{NUMBER}")
    shown.get_by_role("button", name=f"up {CYCLE}, leg 3").click()
    moved = page.locator(f'input[name="routes.{NUMBER}.legs.1.to_m.0"]')
    expect(moved).to_have_value("12.6")
    moved.fill("12")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).to_contain_text("Saved as revision 2")
    legs = load_study(server.app.state.store, server.study_id).document["routes"][NUMBER]["legs"]
    assert legs[1]["to_m"][0] == 12
