"""Somebody asks whether it can be ready: a lead time changed, a change tried, a sheet printed."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from models.services import list_revisions, load_study

Profile = Callable[..., BrowserContext]
KEY = "steered-fast"
TIGHT, PLAIN = "\N{NO-BREAK SPACE}", " "


@pytest.fixture
def tasks(page: Page, server: Any) -> Page:
    """The page of a candidate's tasks."""
    page.goto(f"{server.study}/schedule/tasks?candidate={KEY}")
    return page


def chance_on(page: Page) -> int:
    """The chance in the line above the tables."""
    words = page.locator("#figures .plan-chance").inner_text().replace(TIGHT, PLAIN)
    found = re.search(r"(\d+) %", words)
    assert found, words
    return int(found[1])


def lead_row(page: Page, server: Any) -> int:
    """The row of the modules among the purchases."""
    state = load_study(server.app.state.store, server.study_id)
    names = [one.name for one in state.study.candidate(KEY).purchases]
    return names.index("modules")


def test_a_longer_lead_time_moves_the_chance_while_typing_and_once_saved(
    tasks: Page, server: Any, axe: Callable[[Page], list[str]]
) -> None:
    row = lead_row(tasks, server)
    before = chance_on(tasks)
    for place, days in enumerate(("5", "6", "10")):
        tasks.locator(f"input[name='purchases.{row}.lead_days.{place}']").fill(days)
    expect(tasks.locator("#figures")).to_contain_text("more of 100 runs")
    typed = chance_on(tasks)
    assert typed > before + 10
    assert axe(tasks) == []
    tasks.get_by_role("button", name="Save", exact=True).click()
    expect(tasks.locator("#save-state")).to_contain_text("Saved as revision 2")
    assert chance_on(tasks) == typed
    tasks.get_by_role("link", name="Back to the schedule").click()
    expect(tasks.locator("#plan-" + KEY)).to_be_visible()
    expect(tasks.locator(".candidate-plan")).to_contain_text(f"{typed}{TIGHT}%")


def test_one_change_is_tried_in_one_line_and_not_saved(
    page: Page, server: Any, axe: Callable[[Page], list[str]]
) -> None:
    page.goto(f"{server.study}/schedule?candidate={KEY}")
    page.evaluate("window.stayed = true")
    page.get_by_label("Weekday").select_option("sun")
    page.get_by_label("Lasts, hours").fill("5")
    page.get_by_role("button", name="Try it").click()
    answer = page.locator("#try-answer")
    expect(answer).to_contain_text("One more meeting every Sunday")
    expect(answer).to_contain_text("→")
    page.get_by_label("Task", exact=True).select_option("routines")
    expect(page.get_by_role("radio", name="Leave out")).to_be_checked()
    page.get_by_role("button", name="Try it").click()
    expect(answer).to_contain_text("Autonomous routines again")
    page.locator("#what-helps").scroll_into_view_if_needed()
    expect(page.locator("#what-helps")).to_contain_text("Express for modules")
    assert page.evaluate("window.stayed")
    assert axe(page) == []
    assert len(list_revisions(server.app.state.store, server.study_id)) == 1


def test_what_if_works_with_scripts_off(server: Any, profile: Profile) -> None:
    page = profile(java_script_enabled=False).new_page()
    page.goto(f"{server.study}/schedule?candidate={KEY}")
    page.get_by_role("radio", name="One more person").check()
    page.get_by_label("Crew", exact=True).select_option("workshop")
    page.get_by_role("button", name="Try it").click()
    expect(page.locator("#try-answer")).to_contain_text("One more person in workshop")
    page.get_by_role("link", name="What would help most?").click()
    expect(page.locator("#what-helps")).to_contain_text("Express for modules")


def test_enter_goes_down_a_column_and_adds_a_task_at_the_end(tasks: Page) -> None:
    hours = "tasks.0.hours.1"
    tasks.locator(f"input[name='{hours}']").press("Enter")
    expect(tasks.locator("input[name='tasks.1.hours.1']")).to_be_focused()
    rows = tasks.locator(".task-table tbody")
    count = rows.count()
    tasks.locator(f"input[name='tasks.{count - 1}.hours.1']").press("Enter")
    expect(rows).to_have_count(count + 1)
    expect(tasks.locator(f"input[name='tasks.{count}.name']")).to_be_focused()
    expect(tasks.locator("#save-state")).to_contain_text("not saved")
    tasks.locator("#figures .plan-chance").wait_for()


def test_a_task_moves_and_waits_with_scripts_off(server: Any, profile: Profile) -> None:
    page = profile(java_script_enabled=False).new_page()
    page.goto(f"{server.study}/schedule/tasks?candidate={KEY}")
    first = page.locator("input[name='tasks.0.name']").input_value()
    page.get_by_role("button", name=f"down {first}").click()
    expect(page.locator("input[name='tasks.1.name']")).to_have_value(first)
    page.get_by_role("button", name="Add a task").click()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save-state")).to_contain_text("Saved as revision 2")
    expect(page.locator("input[name='tasks.1.name']")).to_have_value(first)


def test_a_list_of_tasks_makes_a_plan_of_another_use(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/schedule")
    page.get_by_role("button", name="Add another use of the hours").click()
    expect(page.get_by_text("Keeps the base of")).to_be_visible()
    page.get_by_role("button", name="Add these 12 tasks").click()
    expect(page.locator("#save-state")).to_contain_text("Saved as revision 3")
    page.get_by_role("link", name="Back to the schedule").click()
    expect(page.locator(".bar-plan")).to_contain_text("Weigh it and go through")


def test_the_sheet_reads_on_paper(page: Page, server: Any) -> None:
    page.set_viewport_size({"width": 718, "height": 1000})  # A4 less margins
    page.goto(f"{server.study}/schedule?candidate={KEY}")
    page.emulate_media(media="print")
    for gone in ("#what-if", ".plan-tabs", "button"):
        assert not page.locator(gone).first.is_visible()
    for kept in (".bar-plan", ".chance-picture", ".load-picture", ".plan-parts", ".print-only"):
        assert page.locator(kept).first.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 718
    cut = page.evaluate(
        "() => [...document.querySelectorAll('.table-box, .plan-sheet')]"
        ".filter((box) => box.scrollWidth > box.clientWidth + 1).map((box) => box.className)"
    )
    assert cut == []


@pytest.mark.parametrize("width", [360, 1280])
def test_no_words_of_the_pictures_are_cut_or_lie_on_each_other(
    page: Page, server: Any, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(f"{server.study}/schedule?candidate={KEY}")
    outside, overlapping = page.evaluate(
        """() => {
          const outside = [], overlapping = [];
          for (const picture of document.querySelectorAll(".plan-ruler, .chance-plot")) {
            const frame = picture.getBoundingClientRect();
            const words = [...picture.querySelectorAll("text:not(.curve-letter)")].map(
              (one) => [one.textContent, one.getBoundingClientRect()]);
            for (const [text, box] of words) {
              if (box.left < frame.left - 1 || box.right > frame.right + 1) outside.push(text);
            }
            words.forEach(([text, a], i) => words.slice(i + 1).forEach(([other, b]) => {
              const across = a.left < b.right && b.left < a.right;
              if (across && a.top + 3 < b.bottom && b.top + 3 < a.bottom)
                overlapping.push([text, other]);
            }));
          }
          return [outside, overlapping];
        }"""
    )
    assert outside == []
    assert overlapping == []
