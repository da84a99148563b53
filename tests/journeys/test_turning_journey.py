"""Turning and shoving in a browser: choose, type, read; accessible, inside the width, on paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import pytest
from playwright.sync_api import BrowserContext, Page

from models.services import create_link

Profile = Callable[..., BrowserContext]


def test_a_turn_of_another_angle_is_drawn_for_the_chosen_candidates(
    page: Page, server: Any
) -> None:
    page.goto(f"{server.study}/shoving")
    page.get_by_role("link", name="Turning", exact=True).click()
    letters = page.locator("#turn-plot-title").locator("xpath=..").locator(".plot-letter")
    assert "A" in " ".join(letters.all_text_contents())
    boxes = page.locator("input[name=show]")
    for index in range(2, boxes.count()):
        boxes.nth(index).uncheck()
    page.get_by_label("Turn by").fill("1/3 turn")
    page.get_by_role("button", name="Show these").click()
    assert page.get_by_label("Turn by").input_value() == "1/3 turn"
    assert page.title().startswith("Error: ")
    page.get_by_label("Turn by").fill("120")
    page.get_by_role("button", name="Show these").click()
    page.get_by_role("rowheader", name="Turn by 120°").wait_for()
    assert page.locator("#turn-table").locator("xpath=..").locator("thead th").count() == 3
    assert page.locator(".plot-drawing .cand-line").count() == 6


def test_a_lighter_opponent_is_moved(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/shoving")
    heavy = page.locator(".lead").inner_text()
    page.get_by_label("The other's mass").fill("60 lb")
    page.get_by_label("Its grip").fill("0.6")
    page.get_by_role("button", name="Show these").click()
    light = page.locator(".lead").inner_text()
    assert heavy != light
    assert "move it back" in light
    assert page.get_by_label("The other's mass").input_value() == "60 lb"
    page.get_by_label("A module stuck at").fill("90")
    page.get_by_role("button", name="Show these").click()
    assert page.get_by_text("at 90°").count() > 0


@pytest.mark.parametrize("name", ["turning", "shoving"])
@pytest.mark.parametrize(
    ("width", "schemes"), [(1280, ["light", "dark"]), (360, ["light"])], ids=["wide", "phone"]
)
def test_the_pages_are_accessible_and_keep_their_width(
    profile: Profile,
    server: Any,
    axe: Callable[[Page], list[str]],
    *,
    name: str,
    width: int,
    schemes: list[Literal["light", "dark"]],
) -> None:
    page = profile(viewport={"width": width, "height": 800}).new_page()
    token = create_link(server.app.state.store, server.study_id, kind="frozen")[1]
    page.goto(f"{server.address}/shared/{token}/{name}")
    assert axe(page) == []
    page.goto(f"{server.study}/{name}")
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    for scheme in schemes:
        page.emulate_media(color_scheme=scheme)
        assert axe(page) == []
    for size in page.locator(".plot-drawing text").evaluate_all(
        "all => all.map(one => parseFloat(getComputedStyle(one).fontSize)"
        " * one.ownerSVGElement.getScreenCTM().a)"
    ):
        assert size >= 12.5
    page.emulate_media(media="print")
    assert not page.get_by_role("button", name="Show these").is_visible()
