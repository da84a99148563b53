"""The team decides: one opens ballots, others vote on phones, the first closes, records, prints."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from models.services import ballots_of, decision_record, list_ballot_rounds, list_decisions

Profile = Callable[..., BrowserContext]
Axe = Callable[[Page], list[str]]
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True}


def open_ballots(page: Page, server: Any) -> str:
    """Open a round through the page and return its link."""
    page.goto(f"{server.study}/ballots")
    page.get_by_label("Title").fill("Which base do we build?")
    page.get_by_role("button", name="Open the ballots").click()
    return page.get_by_label("Link for the team").input_value(timeout=60_000)


def fill(page: Page, name: str, points: list[str], preference: str, most: int = 0) -> None:
    page.get_by_role("group", name="If only one could go").get_by_role("radio").nth(most).check()
    boxes = page.locator(".swing input[type=text]")
    for place, text in enumerate(points):
        if place != most:
            boxes.nth(place).fill(text)
    page.get_by_role("group", name="All in all").get_by_label(preference).check()
    page.get_by_label("Why?").fill(f"{name} says so.")
    page.get_by_label("Your name").fill(name)
    page.get_by_role("button", name="Cast my ballot").click()


def inside(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"))


def test_ballots_on_phones_a_split_seen_a_decision_on_record_and_in_print(
    profile: Profile, server: Any, axe: Axe, tmp_path: Path
) -> None:
    first = profile().new_page()
    link = open_ballots(first, server)
    assert link.startswith(f"{server.address}/ballots/")
    assert axe(first) == []
    lee = vote_on_phones(profile, link, axe)
    round_id = see_and_close(first, server, axe)
    lee.goto(link)
    expect(lee.get_by_text("These ballots are closed.")).to_be_visible()
    expect(lee.get_by_role("heading", name="Your ballot, Lee")).to_be_visible()
    assert axe(lee) == []
    put_on_record(first, server, axe, round_id)
    info = list_decisions(server.app.state.store, server.study_id)[0]
    assert decision_record(server.app.state.store, server.study_id, info.id).is_intact()
    on_paper(first, info.hash)
    in_a_file(first, profile, tmp_path)
    add_what_came_of_it(first, axe)


def vote_on_phones(profile: Profile, link: str, axe: Axe) -> Page:
    """Mara votes, with a fault first, and changes it on another device; Lee votes on a phone."""
    mara = profile(**PHONE).new_page()
    mara.goto(link)
    assert inside(mara)
    assert axe(mara) == []
    mara.get_by_role("button", name="Cast my ballot").click()
    expect(mara.get_by_role("alert")).to_contain_text("Choose the change that matters most")
    assert axe(mara) == []
    fill(mara, "Mara", ["", "60", "90", "20", "0"], "Steered, one module inverted")
    expect(mara.get_by_role("heading", name="Your ballot counts, Mara")).to_be_visible()
    assert inside(mara)
    assert axe(mara) == []
    code = mara.locator(".change-code").inner_text()
    lee = profile(**PHONE).new_page()
    lee.goto(link)
    fill(lee, "Lee", ["", "70", "10", "30", "5"], "Six-wheel tank")
    expect(lee.get_by_text("Your ballot counts, Lee")).to_be_visible()
    tablet = profile(**PHONE).new_page()
    tablet.goto(link)
    tablet.get_by_label("Your change code").fill(code)
    tablet.get_by_role("button", name="Show my ballot").click()
    tablet.locator("#reason").fill("Mara has timed it.")
    tablet.get_by_role("button", name="Change my ballot").click()
    expect(tablet.get_by_text("Mara has timed it.").first).to_be_visible()
    return lee


def see_and_close(page: Page, server: Any, axe: Axe) -> str:
    """See the spread, then close the round; return its id."""
    page.get_by_role("link", name="See who has voted").click()
    expect(page.get_by_text("2 have voted.")).to_be_visible(timeout=60_000)
    split = "Split, 80 points apart: Mara gives 90, Lee gives 10."
    expect(page.get_by_text(split)).to_be_visible()
    expect(page.get_by_text("Mara has timed it.")).to_be_visible()
    assert axe(page) == []
    page.get_by_role("link", name="Close the ballots").click()
    page.get_by_role("button", name="Close the ballots").click()
    expect(page.get_by_role("link", name="Record a decision on these ballots")).to_be_visible()
    store = server.app.state.store
    found = list_ballot_rounds(store, server.study_id)[0]
    assert found.closed_at is not None
    assert [one.name for one in ballots_of(store, found.id)] == ["Mara", "Lee"]
    return found.id


def put_on_record(page: Page, server: Any, axe: Axe, round_id: str) -> None:
    """Fill in the decision, with a fault first, look it over and confirm it."""
    page.get_by_role("link", name="Record a decision on these ballots").click()
    expect(page.get_by_label("Ballots that count")).to_have_value(round_id)
    page.get_by_role("radio", name="Steered, one module inverted").check()
    page.get_by_label("Why", exact=True).fill("It is quicker and fits.")
    page.get_by_label("Who saw it otherwise").fill("Lee would keep the tank.")
    page.get_by_role("button", name="Look it over").click()
    expect(page.get_by_role("alert")).to_contain_text("Give the day by which")
    assert axe(page) == []
    page.get_by_label("Look at it again by").fill("2199-01-31")
    page.get_by_label("Who looks after it").fill("Ines")
    page.get_by_role("button", name="Look it over").click()
    expect(page.get_by_role("heading", name="Put this on record?")).to_be_visible()
    assert axe(page) == []
    assert list_decisions(server.app.state.store, server.study_id) == []
    page.get_by_role("button", name="Put it on record").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Steered, one module inverted")
    for scheme in ("dark", "light"):
        page.emulate_media(color_scheme=scheme)
        assert axe(page) == []


def add_what_came_of_it(page: Page, axe: Axe) -> None:
    """Say what it really weighed, and see it beside the prediction."""
    page.get_by_label("Figure", exact=True).select_option("legal_mass_kg")
    page.get_by_label("Measured", exact=True).fill("115 lb")
    page.get_by_role("button", name="Add it").click()
    expect(page.get_by_role("heading", name="What came of it", exact=True)).to_be_visible()
    expect(page.get_by_role("cell", name="52.2")).to_be_visible()
    assert axe(page) == []
    page.set_viewport_size({"width": 360, "height": 740})
    assert inside(page)


def on_paper(page: Page, mark: str) -> None:
    """Look at the record as it is printed on A4, margins taken off."""
    page.set_viewport_size({"width": 700, "height": 1000})
    page.emulate_media(media="print")
    for gone in ("button", "form", ".study-nav", "a[download]"):
        assert not page.locator(gone).first.is_visible(), gone
    head = page.locator(".record-head").inner_text()
    for words in ("revision 1", mark[:16], "content has its hash", "Decided"):
        assert words in head
    cut = page.evaluate(
        "() => [...document.querySelectorAll('.table-box')]"
        ".filter((box) => box.scrollWidth > box.clientWidth + 1)"
        ".map((box) => box.getAttribute('aria-labelledby'))"
    )
    assert cut == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 700
    assert page.pdf(format="A4").startswith(b"%PDF")
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1280, "height": 900})


def in_a_file(page: Page, profile: Profile, folder: Path) -> None:
    """Take the record away and open it without the server and without scripts."""
    with page.expect_download() as started:
        page.get_by_role("link", name="One file to keep").click()
    path = folder / "record.html"
    started.value.save_as(path)
    alone = profile(java_script_enabled=False, offline=True).new_page()
    alone.set_content(path.read_text(encoding="utf-8"))
    expect(alone.get_by_role("heading", level=1)).to_contain_text("Steered, one module inverted")
    assert alone.locator(".cand-badge").first.bounding_box() is not None
    assert alone.locator("body").evaluate("(body) => getComputedStyle(body).maxWidth") == "960px"


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_ballot_is_cast_with_and_without_scripts(
    profile: Profile, server: Any, scripts: bool
) -> None:
    link = open_ballots(profile().new_page(), server)
    page = profile(**PHONE, java_script_enabled=scripts).new_page()
    page.goto(link)
    slider = page.locator("input[type=range]").nth(1)
    assert slider.is_visible() is scripts
    if scripts:
        page.locator("input[name=most]").first.check()
        expect(page.locator(".swing input[type=text]").first).to_be_hidden()
        slider.focus()
        slider.press("End")
        expect(page.locator(".swing input[type=text]").nth(1)).to_have_value("100")
        page.locator(".swing input[type=text]").nth(1).fill("35")
        expect(slider).to_have_value("35")
    fill(page, "Ravi", ["", "35", "0", "0", "0"], "Six-wheel tank")
    expect(page.get_by_text("Your ballot counts, Ravi")).to_be_visible()
    found = list_ballot_rounds(server.app.state.store, server.study_id)[0]
    ballot = ballots_of(server.app.state.store, found.id)[0]
    points = [ballot.weights[item["metric"]] for item in found.criteria]
    assert points == [100.0, 35.0, 0.0, 0.0, 0.0]
