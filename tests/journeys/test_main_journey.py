"""A team's first hour: change a candidate, see the figures move, save, share, go on."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from webapp.shared.links import StudyLinks
from webapp.shared.navigation import study_pages

Profile = Callable[..., BrowserContext]
FIGURE = "#now-sprint_stop_time_s"


def steered_candidate(page: Page, study: str) -> str:
    """Return the address of a candidate that is not today's base."""
    page.goto(study)
    page.get_by_role("navigation", name="Study").get_by_role("link", name="Candidates").click()
    tabs = page.get_by_role("navigation", name="Candidates").get_by_role("link")
    other = tabs.filter(has_not_text="today").first
    address = other.get_attribute("href")
    assert address
    return address


def table_texts(page: Page) -> list[str]:
    return page.locator("main td").all_inner_texts()


def make_link(page: Page, study: str, kind: str) -> str:
    page.goto(f"{study}/share")
    page.get_by_label(re.compile(f"^{kind}", re.IGNORECASE)).check()
    page.get_by_label("Label").fill("For the mentors")
    page.get_by_role("button", name="Make the link").click()
    return page.get_by_label(f"Address of the {kind} link").input_value()


def test_from_the_example_to_a_frozen_link_that_stays(
    server: Any, page: Page, profile: Profile
) -> None:
    page.goto("/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Studies")
    page.get_by_role("row").filter(has=page.get_by_role("link")).first.get_by_role("link").click()
    expect(page.get_by_text("Is it quicker?").first).to_be_visible()

    # Change the ratio: a figure changes on the same page, without a reload.
    page.goto(steered_candidate(page, server.study))
    page.evaluate("window.stayed = true")
    ratio = page.locator("input[name='drive.ratio']")
    before = page.locator(FIGURE).inner_text()
    ratio.fill("12.5")
    expect(page.locator(FIGURE)).not_to_have_text(before)
    after = page.locator(FIGURE).inner_text()
    assert page.evaluate("window.stayed")
    assert ratio.input_value() == "12.5"
    expect(page.locator("#save-state")).to_contain_text("not saved")

    # Save, and see the revision with what changed.
    page.get_by_label(re.compile("^Why")).fill("A lower gear for the ramp")
    if page.get_by_label("Your name", exact=True).count():
        page.get_by_label("Your name", exact=True).last.fill("Ines")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).not_to_contain_text("not saved")
    expect(page.locator(FIGURE)).to_have_text(after)
    page.goto(f"{server.study}/history")
    expect(page.locator("table.revisions")).to_contain_text("A lower gear for the ramp")
    expect(page.locator("main")).to_contain_text(re.compile(r"ratio: .* → 12\.5", re.IGNORECASE))

    # A frozen link, opened in a fresh profile, keeps its figures while the study goes on.
    address = make_link(page, server.study, "frozen")
    viewer = profile().new_page()
    viewer.goto(address)
    frozen = table_texts(viewer)
    assert len(frozen) > 50
    page.goto(steered_candidate(page, server.study))
    page.locator("input[name='drive.ratio']").fill("4.2")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).not_to_contain_text("not saved")
    page.goto(server.study)
    assert table_texts(page) != frozen
    viewer.reload()
    assert table_texts(viewer) == frozen
    expect(viewer.locator("main")).to_contain_text("Frozen view")


def test_a_viewer_finds_no_control_that_edits(server: Any, page: Page, profile: Profile) -> None:
    address = make_link(page, server.study, "live")
    viewer = profile().new_page()
    viewer.goto(address)
    links = viewer.get_by_role("navigation", name="Study").get_by_role("link")
    groups = study_pages(StudyLinks.for_viewer("any"))
    pages = [one.words for group in groups for one in group.pages]
    assert links.all_inner_texts() == pages
    for path in [str(link.get_attribute("href")) for link in links.all()]:
        viewer.goto(path)
        forms = viewer.locator("form[method='post']")
        assert {one.get_attribute("action") for one in forms.all()} == {
            "/units",
            "/ranges",
        }
        assert viewer.locator("a[href*='/studies/']").count() == 0


def test_units_change_at_one_click_and_stay(server: Any, page: Page) -> None:
    page.goto(server.study)
    expect(page.locator("main")).to_contain_text("kg")
    page.get_by_role("button", name="inch-pound").click()
    expect(page).to_have_url(server.study)
    expect(page.locator("main")).to_contain_text("lb")
    page.goto(f"{server.study}/fit")
    expect(page.get_by_role("button", name="inch-pound")).to_have_attribute("aria-pressed", "true")


def test_a_link_is_copied_by_its_button(server: Any, page: Page) -> None:
    address = make_link(page, server.study, "frozen")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy the link").click()
    expect(page.get_by_role("status").filter(has_text="Copied.")).to_be_visible()
    assert page.evaluate("navigator.clipboard.readText()") == address


def test_a_link_can_be_copied_where_the_clipboard_is_out_of_reach(server: Any, page: Page) -> None:
    page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false})")
    address = make_link(page, server.study, "frozen")
    page.get_by_role("button", name="Copy the link").click()
    assert page.evaluate("window.getSelection().toString()") in ("", address)
    expect(page.get_by_role("status").filter(has_text=re.compile("[Cc]op"))).to_be_visible()


def test_without_scripts_everything_can_be_done(server: Any, profile: Profile) -> None:
    page = profile(java_script_enabled=False).new_page()
    page.goto("/")
    page.get_by_role("button", name="New from the example").click()
    study = page.url
    assert study != server.study
    page.goto(steered_candidate(page, study))
    page.locator("input[name='drive.ratio']").fill("12.5")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("input[name='drive.ratio']")).to_have_value("12.5")
    page.goto(f"{study}/history")
    expect(page.locator("main")).to_contain_text(re.compile(r"ratio: .* → 12\.5", re.IGNORECASE))
    page.get_by_role("link", name="Restore revision 1").click()
    page.get_by_role("button", name="Restore revision 1").click()
    expect(page.locator("table.revisions tbody tr")).to_have_count(3)
    address = make_link(page, study, "frozen")
    page.goto(address)
    expect(page.locator("main")).to_contain_text("Frozen view")
    page.goto(f"{study}/charts")
    assert page.locator("main table").count() > 0
    page.goto(f"{study}/share")
    page.get_by_role("button", name="Revoke").click()
    expect(page.locator("table.shared-links")).to_contain_text("revoked")
    assert page.goto(address).status == 410  # type: ignore[union-attr]


def test_two_people_who_edit_at_once_lose_nothing(
    server: Any, page: Page, profile: Profile
) -> None:
    candidate = steered_candidate(page, server.study)
    other = profile().new_page()
    page.goto(candidate)
    other.goto(candidate)
    page.locator("input[name='drive.ratio']").fill("7.25")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).not_to_contain_text("not saved")
    other.locator("input[name='drive.ratio']").fill("8.75")
    other.get_by_role("button", name="Save", exact=True).click()
    expect(other.locator("main")).to_contain_text("7.25")
    expect(other.locator("input[name='drive.ratio']")).to_have_value("8.75")
    assert other.locator("table.revisions").count() == 0
    page.goto(f"{server.study}/history")
    expect(page.locator("table.revisions tbody tr")).to_have_count(2)


@pytest.mark.parametrize("typed", ["3,5", "fast", "-2", "0", "9" * 60])
def test_rubbish_is_kept_and_explained(server: Any, page: Page, typed: str) -> None:
    page.goto(steered_candidate(page, server.study))
    page.locator("input[name='drive.ratio']").fill(typed)
    expect(page.locator("#figures")).to_contain_text("Not worked out yet")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page).to_have_title(re.compile("^Error: "))
    expect(page.locator("main")).to_contain_text("There is a problem")
    expect(page.locator("input[name='drive.ratio']")).to_have_value(typed)
    page.goto(f"{server.study}/history")
    expect(page.locator("table.revisions tbody tr")).to_have_count(1)
