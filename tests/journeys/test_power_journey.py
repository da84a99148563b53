"""Power and wiring in a browser: switch the battery, read who browns out; phones and paper too."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import pytest
from playwright.sync_api import BrowserContext, Page

from models.services import create_link

Profile = Callable[..., BrowserContext]


def test_a_switched_battery_is_named_with_its_brownouts_on_the_overview(
    page: Page, server: Any
) -> None:
    page.goto(server.study)
    assert "practice battery" not in page.locator("main").inner_text().split("Side by side")[0]
    page.get_by_role("link", name="Power", exact=True).click()
    before = page.locator(".lead").inner_text()
    page.get_by_label("Battery in use").select_option("practice battery")
    page.get_by_role("button", name="Use it for all figures").click()
    assert "Saved as revision 2" in page.locator("p.save-state").inner_text()
    after = page.locator(".lead").inner_text()
    assert after != before
    assert "On “practice battery”" in after and "browns out" in after
    page.get_by_role("link", name="Overview", exact=True).click()
    page.get_by_text("in the sprint on “practice battery”").first.wait_for()
    page.get_by_role("link", name="Revision").click()
    page.get_by_text("practice battery").first.wait_for()


def test_a_battery_is_looked_at_and_another_match_picked(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/power")
    page.get_by_role("link", name="match battery").click()
    assert "You look at “match battery”" in page.locator(".note").first.inner_text()
    picture = page.locator(".sag-match .sag-plot")
    before = picture.get_attribute("aria-label")
    page.get_by_role("navigation", name="Whose match").get_by_role("link").first.click()
    assert picture.get_attribute("aria-label") != before
    assert "battery=match" in page.url
    page.get_by_label("Look at").select_option("tired battery")
    page.get_by_role("button", name="Show these").click()
    page.get_by_role("heading", name="On “tired battery”").wait_for()
    page.get_by_role("link", name="Back to that").click()
    assert page.locator(".note").filter(has_text="You look at").count() == 0


def test_the_wiring_tells_currents_of_the_picked_candidate(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/wiring")
    before = page.locator(".cable-table").inner_text()
    page.get_by_role("navigation", name="Whose currents").get_by_role("link").first.click()
    assert page.locator(".cable-table").inner_text() != before
    page.get_by_text("How it was worked out").click()
    page.get_by_text("a power channel and a controller for each drive motor").wait_for()
    page.get_by_role("link", name="Change the breakers").click()
    assert page.url.endswith("/givens#fold-breakers")


@pytest.mark.parametrize("name", ["power", "wiring", "shared"])
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
    address = f"{server.study}/{name}"
    if name == "shared":
        token = create_link(
            server.app.state.store, server.study_id, kind="live", label="Pit", author="Ines"
        )[1]
        address = f"{server.address}/shared/{token}/power"
    page = profile(viewport={"width": width, "height": 800}).new_page()
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    for scheme in schemes:
        page.emulate_media(color_scheme=scheme)
        assert axe(page) == []
    for size in page.locator(".plot-drawing text, .sag-picture text").evaluate_all(
        "all => all.map(one => parseFloat(getComputedStyle(one).fontSize)"
        " * one.ownerSVGElement.getScreenCTM().a)"
    ):
        assert size >= 12.5
    page.emulate_media(media="print")
    assert not page.get_by_role("button", name="Show these").is_visible()
    assert page.locator(".sag-plot, .plot-drawing").first.is_visible()
