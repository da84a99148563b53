"""Somebody weighs the candidates: a weight changed, weights by swing, what to measure first."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from playwright.sync_api import BrowserContext, Page, expect

from models.services import list_revisions, load_study

Profile = Callable[..., BrowserContext]
SPRINT = "sprint_stop_time_s"
LEADS = re.compile(r"^\s*A leads under your weights|under your weights: A scores")


def weights(server: Any) -> dict[str, float]:
    """The weights as saved, by figure."""
    study = load_study(server.app.state.store, server.study_id).study
    assert study.decision is not None
    return {one.metric: float(one.weight) for one in study.decision.criteria}


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_weight_that_is_changed_changes_who_leads(
    page: Page, server: Any, axe: Callable[[Page], list[str]]
) -> None:
    page.goto(f"{server.study}/decide")
    lead = page.locator(".choice-answer .lead")
    expect(lead).to_contain_text("under your weights: B scores")
    flip = page.locator(".choice-flips li").filter(has_text="Cost of what must be bought")
    found = re.search(r"B loses to A when .* more than (0\.\d\d) of all", plain(flip.inner_text()))
    assert found
    others = sum(weight for metric, weight in weights(server).items() if metric != "cost")
    beyond = float(found[1]) + 0.03
    row = list(weights(server)).index("cost")
    box = page.locator(f"#f-decision-criteria-{row}-weight")
    box.fill(f"{others * beyond / (1.0 - beyond):.3f}")
    now = page.locator("#figures")
    expect(now).to_contain_text(LEADS)
    now.locator("summary").click()
    expect(now).to_contain_text("A loses to B when “Cost of what must be bought” weighs less than")
    expect(page.locator("#save-state")).to_contain_text("not saved")
    assert axe(page) == []
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).to_contain_text("Saved as revision 2")
    expect(lead).to_contain_text(LEADS)
    assert page.locator(".choice-flips li").first.is_visible()


def test_a_criterion_is_added_with_ends_from_the_candidates(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/decide")
    page.evaluate("window.stayed = true")
    page.get_by_role("button", name="Add a criterion").click()
    row = len(weights(server))
    chosen = page.locator(f"#f-decision-criteria-{row}-metric")
    chosen.select_option("top_speed_mps")
    worst = page.locator(f"#f-decision-criteria-{row}-worst")
    expect(page.locator("#rows-criteria tbody tr").nth(row)).to_contain_text("m/s")
    page.locator("#rows-criteria tbody tr").nth(row).get_by_role("button").first.click()
    expect(worst).not_to_have_value("")
    page.locator(f"#f-decision-criteria-{row}-weight").fill("2")
    expect(page.locator("#figures")).not_to_contain_text("Not worked out yet")
    assert page.evaluate("window.stayed")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).to_contain_text("Saved as revision 2")
    assert weights(server)["top_speed_mps"] == 2.0


def test_weights_are_found_by_swing_on_a_phone_without_scripts(
    profile: Profile, server: Any
) -> None:
    context = profile(viewport={"width": 360, "height": 780}, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{server.study}/decide")
    page.get_by_role("link", name="Find the weights by swing").click()
    page.get_by_label("Pushing force from 250 N to 700 N").check()
    page.get_by_role("button", name="Next: the others against it").click()
    boxes = page.locator("#sheet .input-row input")
    for place in range(boxes.count()):
        boxes.nth(place).fill(str(80 - 20 * place))
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).to_contain_text("Saved as revision 2")
    assert weights(server)["push_force_n"] == 100.0
    assert weights(server)[SPRINT] == 80.0
    newest = list_revisions(server.app.state.store, server.study_id)[0]
    assert newest.note == "Weights by swing, the weightiest: Pushing force"


def test_the_tornado_leads_to_the_input_that_matters(
    page: Page, server: Any, axe: Callable[[Page], list[str]]
) -> None:
    page.goto(f"{server.study}/decide")
    page.get_by_role("link", name="Which input moves the score most").click()
    expect(page.locator(".tornado-row svg").first).to_be_visible()
    page.get_by_label("Figure", exact=True).select_option(SPRINT)
    page.get_by_label("Candidate", exact=True).select_option("steered")
    page.get_by_role("button", name="Show what moves it").click()
    expect(page.locator(".choice-answer .lead")).to_contain_text("measure this first: ")
    assert axe(page) == []
    page.locator(".tornado-name a", has_text="Grip of the carpet").click()
    expect(page).to_have_url(re.compile(r"/candidates/steered#f-wheels-grip$"))
    expect(page.locator("#f-wheels-grip")).to_be_in_viewport()


def test_a_print_keeps_the_result_and_leaves_the_form_out(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/decide")
    page.emulate_media(media="print")
    assert page.locator(".choice-answer .lead").is_visible()
    assert page.locator(".choice-matrix").is_visible()
    assert not page.locator("#sheet").is_visible()
