"""Every page, light and dark, wide and narrow: accessible, inside its width, without faults."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import pytest
from playwright.sync_api import BrowserContext, Page

from models.services import (
    call_for_ballots,
    cast_ballot,
    create_link,
    decision_payload,
    load_study,
    record_decision,
)

Profile = Callable[..., BrowserContext]
PAGES = [
    "/",
    "{study}",
    "{study}?only=differences",
    "{study}/robot",
    "{study}/drawings",
    "{study}/givens",
    "{study}/measure",
    "/figures",
    "{study}/candidates/{first}",
    "{study}/candidates/{second}",
    "{study}/fit",
    "{study}/routes",
    "{study}/arrange",
    "{study}/arrange?candidate={first}",
    "{study}/gearing",
    "{study}/gearing?candidate={second}&ratio=6&against=diameter&battery=practice+battery",
    "{study}/gearing?ratio=lots",
    "{study}/charts",
    "{study}/turning",
    "{study}/power",
    "{study}/power?battery=practice+battery&candidate={first}",
    "{study}/wiring",
    "{study}/shoving",
    "{study}/schedule",
    "{study}/schedule?candidate=all",
    "{study}/schedule?candidate={second}&try=person&helps=yes",
    "{study}/schedule/tasks?candidate={second}",
    "{study}/schedule/calendar",
    "{study}/decide",
    "{study}/decide/swing",
    "{study}/decide/swing?first=push_force_n",
    "{study}/matters",
    "{study}/matters?candidate={second}&metric=sprint_stop_time_s",
    "{study}/matters?candidate={first}&metric=cost",
    "{study}/ballots",
    "{study}/ballots/{round}",
    "{study}/ballots/{round}?close=1",
    "/ballots/{ballot}",
    "{study}/decisions",
    "{study}/decisions/{record}",
    "{study}/history",
    "{study}/history?restore=1",
    "{study}/share",
    "{shared}",
    "{shared}/fit",
    "{shared}/routes",
    "{shared}/charts",
    "{shared}/turning",
    "{shared}/power",
    "{shared}/shoving",
    "{shared}/schedule",
    "{shared}/decide",
    "{shared}/matters",
    "/nowhere",
]


WORDS = ("reasons", "weights_why", "dissent", "reconsider", "owner")


def voted_round(store: Any, state: Any) -> tuple[str, str]:
    """A round with two ballots that lie apart: its id and the secret of its link."""
    found, token = call_for_ballots(store, state.study_id, title="Which base?", author="Ines")
    metrics = [item["metric"] for item in found.criteria]
    for name, points in (("Mara", 90.0), ("Lee", 5.0)):
        weights = dict.fromkeys(metrics, points) | {metrics[0]: 100.0}
        cast_ballot(
            store,
            found.id,
            name=name,
            weights=weights,
            preference=state.study.candidates[0].key,
            reason="It is known.",
        )
    return found.id, token


@pytest.fixture
def addresses(server: Any) -> list[str]:
    """The addresses of all pages for the example study, which has two revisions and a link."""
    from models.services import save_sections

    store = server.app.state.store
    state = load_study(store, server.study_id)
    notes = str(state.document.get("notes", "")) + " Looked at again."
    save_sections(
        store, server.study_id, base_revision=1, edits={"notes": notes}, author="Ravi", note=""
    )
    token = create_link(store, server.study_id, kind="live", label="Pit", author="Ines")[1]
    keys = [candidate.key for candidate in state.study.candidates]
    voted, ballot = voted_round(store, state)
    words = {"choice": keys[1], "keeps_baseline": False, **dict.fromkeys(WORDS, "It fits.")}
    words |= {"decided_on": "2027-01-02", "reconsider_by": "2027-02-13"}
    record = record_decision(
        store,
        server.study_id,
        revision=1,
        choice=keys[1],
        payload=decision_payload(store, state, words, voted),
        author="Ines",
    )
    return [
        page.format(
            study=f"/studies/{server.study_id}",
            shared=f"/shared/{token}",
            first=keys[0],
            second=keys[1],
            round=voted,
            ballot=ballot,
            record=record.id,
        )
        for page in PAGES
    ]


def settle(page: Page) -> None:
    """Wait until what the page draws by itself has been drawn."""
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    page.wait_for_load_state("networkidle")
    page.evaluate("window.scrollTo(0, 0)")


def wider_than_window(page: Page) -> list[str]:
    beyond = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return [f"the page is {beyond} px wider than the window"] if beyond > 0 else []


@pytest.mark.parametrize(
    ("width", "schemes"), [(1280, ["light", "dark"]), (360, ["light"])], ids=["wide", "phone"]
)
def test_axe_finds_nothing_and_the_body_does_not_scroll_sideways(
    profile: Profile,
    addresses: list[str],
    axe: Callable[[Page], list[str]],
    width: int,
    schemes: list[Literal["light", "dark"]],
) -> None:
    page = profile(viewport={"width": width, "height": 800}).new_page()
    findings = {}
    for address in addresses:
        page.emulate_media(color_scheme=schemes[0])
        page.goto(address)
        settle(page)
        findings[address] = wider_than_window(page)
        for scheme in schemes:
            page.emulate_media(color_scheme=scheme)
            findings[address] += [f"{scheme}: {found}" for found in axe(page)]
    assert {address: found for address, found in findings.items() if found} == {}


def test_the_first_tab_stop_skips_to_the_content(page: Page, server: Any) -> None:
    page.goto(server.study)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_charts_are_drawn_when_they_come_into_view(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/charts")
    settle(page)
    page.locator("svg.marks, canvas.marks").first.wait_for(state="visible")


def test_a_print_leaves_the_controls_out_and_says_the_revision(page: Page, server: Any) -> None:
    page.goto(server.study)
    page.emulate_media(media="print")
    assert not page.get_by_role("button", name="inch-pound").is_visible()
    assert page.locator(".print-only").first.is_visible()
    assert "revision 1" in page.locator(".print-only").first.inner_text()
