"""From a base that does not fit to an arrangement that does, on the overview."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Page, expect


def test_the_mixed_arrangement_becomes_a_candidate(server: Any, page: Page) -> None:
    page.goto(f"{server.study}/fit?candidate=steered-upright")
    expect(page.locator(".fit-verdict")).to_contain_text("does not fit")
    page.get_by_role("link", name="Find an arrangement that fits").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Find an arrangement that fits")
    page.get_by_label("Best is the").select_option("fewest-inverted")
    page.get_by_role("button", name="Search").click()
    expect(page.locator(".arrange-verdict")).to_contain_text("arrangements fit")

    # The mixed one: only the module under the chute hangs inverted.
    best = page.locator(".arrangement").first
    expect(best.get_by_role("heading")).to_contain_text("rear left inverted")
    expect(best).to_contain_text("Tips sideways")
    best.get_by_role("button", name="Make number 1 a candidate").click()

    page.wait_for_url(re.compile(r"/studies/[^/?]+\?show="))
    expect(page.locator("thead")).to_contain_text("Steered, all upright, arranged")
    page.goto(f"{server.study}/fit?candidate=steered-upright-arranged")
    expect(page.locator(".fit-verdict")).to_contain_text("It fits")


def test_the_search_works_without_scripts(server: Any, profile: Any) -> None:
    page = profile(java_script_enabled=False).new_page()
    page.goto(f"{server.study}/arrange?candidate=steered")
    page.get_by_label(re.compile("^Move modules in by up to")).fill("20")
    page.get_by_role("button", name="Search").click()
    assert "range=20" in page.url
    page.get_by_role("button", name="Make number 2 a candidate").click()
    assert "arranged" in page.content()
