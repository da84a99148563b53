"""From the map of ratios to a candidate of one's own, with scripts and without."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs, urlsplit

from playwright.sync_api import Page, expect


def place_on(page: Page, across: float, up: float) -> tuple[float, float]:
    """Where on the screen a share of the plot's width and height lies."""
    found = page.evaluate(
        """([across, up]) => {
          const map = document.querySelector(".gear-map-wide");
          const corner = map.createSVGPoint();
          const { left, right, top, bottom } = map.dataset;
          corner.x = Number(left) + across * (right - left);
          corner.y = Number(bottom) - up * (bottom - top);
          map.scrollIntoView({ block: "center" });
          const at = corner.matrixTransform(map.getScreenCTM());
          return [at.x, at.y];
        }""",
        [across, up],
    )
    return float(found[0]), float(found[1])


def test_a_click_on_the_map_becomes_a_candidate(
    server: Any, page: Page, axe: Callable[[Page], list[str]]
) -> None:
    page.goto(f"{server.study}/gearing?candidate=steered-fast")
    expect(page.locator(".gear-answer")).to_contain_text("is a tie with it, within 5 %")
    expect(page.get_by_role("button", name="Make it a candidate")).to_have_count(0)

    page.mouse.click(*place_on(page, 0.4, 0.5))
    page.wait_for_url(re.compile(r"ratio="))
    asked = parse_qs(urlsplit(page.url).query)
    low, high = (float(part) for part in (page.locator(".gear-map-wide").get_attribute(
        "data-ratios") or "").split())  # fmt: skip
    assert abs(float(asked["ratio"][0]) / (low**0.6 * high**0.4) - 1) < 0.02
    assert float(asked["supply"][0]) > 0
    expect(page.locator(".gear-exchange")).to_contain_text("You ")
    expect(page.locator(".gear-map-wide .mark-picked.gear-ring")).to_be_visible()
    assert axe(page) == []

    # A ratio that can be bought, instead of the one clicked
    page.get_by_role("link", name="5.35:1").click()
    expect(page.get_by_label("Ratio", exact=True)).to_have_value("45:16, 18:26, 44:16")
    page.get_by_role("button", name="Make it a candidate").click()
    page.wait_for_url(re.compile(r"/candidates/steered-fast-geared$"))
    expect(page.locator("h1")).to_contain_text("Steered, faster gearing, geared 5.35")
    page.goto(f"{server.study}/gearing?candidate=steered-fast-geared")
    expect(page.locator(".gear-answer")).to_contain_text("5.35:1 lies in the tie")


def test_at_the_upper_edge_there_is_no_limit(server: Any, page: Page) -> None:
    page.goto(f"{server.study}/gearing?candidate=steered")
    page.mouse.click(*place_on(page, 0.5, 0.995))
    page.wait_for_url(re.compile(r"ratio="))
    expect(page.get_by_label("Supply limit, A")).to_have_value("")


def test_the_limits_are_found_and_looked_at(server: Any, page: Page) -> None:
    page.goto(f"{server.study}/gearing?candidate=steered-fast")
    page.get_by_label("Keep above brownout by, V").fill("1")
    page.get_by_role("button", name="Find limits").click()
    expect(page.locator(".gear-said")).to_contain_text("Quickest that keeps 8.0 V")
    page.get_by_role("link", name="Look at the design with these limits").click()
    expect(page.locator(".gear-said")).to_contain_text("8.0 V is kept")


def test_it_works_without_scripts_on_a_phone(server: Any, profile: Any) -> None:
    page = profile(java_script_enabled=False, viewport={"width": 360, "height": 740}).new_page()
    page.goto(f"{server.study}/gearing?candidate=steered")
    assert page.locator(".gear-map-narrow").is_visible()
    assert not page.locator(".gear-map-wide").is_visible()
    assert not page.get_by_text("Click the map").is_visible()
    page.get_by_label("Ratio", exact=True).fill("7.1")
    page.get_by_role("button", name="Show").click()
    assert page.locator(".gear-map-narrow .mark-picked.gear-ring").is_visible()
    page.get_by_role("button", name="Make it a candidate").click()
    assert page.url.endswith("/candidates/steered-geared")


def test_the_server_answers_others_during_a_sweep(server: Any, page: Page) -> None:
    """Sweeps run on the pool of threads: another page comes meanwhile."""
    page.goto(server.study)
    slowest = page.evaluate(
        """async (study) => {
          const sweeps = ["tank", "steered", "mecanum"].map(
            (key) => fetch(`${study}/gearing?candidate=${key}&tie=4`));
          const begun = performance.now();
          const answer = await fetch("/health");
          const spent = performance.now() - begun;
          const all = await Promise.all(sweeps);
          return answer.ok && all.every((one) => one.ok) ? spent : -1;
        }""",
        server.study,
    )
    assert 0 <= slowest < 5000
