"""The schedule: what it says, what it draws, what if, and the ways into a plan."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.seed import task_templates
from models.services import create_study, load_study
from models.services.planning import plan_of_state


@pytest.fixture
def address(study_id: str) -> str:
    return f"/studies/{study_id}/schedule"


@pytest.fixture
def stored(app: FastAPI, study_id: str) -> Any:
    """Reads the newest state."""
    return lambda: load_study(app.state.store, study_id)


def words_of(text: str) -> str:
    """The text of a page without tags, on one line, with plain blanks."""
    bare = re.sub(r"<[^>]+>", " ", text).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(bare.split())


def test_the_answer_stands_first_and_says_the_chance_of_the_runs(
    app: FastAPI, client: TestClient, stored: Any, address: str
) -> None:
    plan = {one["key"]: one for one in plan_of_state(app.state.store, stored())["candidates"]}
    page = words_of(client.get(address).text)
    chance = round(100 * plan["swerve"]["ready_probability"])
    assert f"B {chance} %" in page
    assert page.index("by Wed 25 Mar") < page.index("Side by side")
    assert "no tasks yet" in page


@pytest.mark.parametrize("key", ["swerve", "swerve-tall", "mecanum", "tank", "all", "nobody"])
def test_every_candidate_can_be_shown_in_detail(client: TestClient, address: str, key: str) -> None:
    answer = client.get(address, params={"candidate": key})
    assert answer.status_code == 200
    shown = answer.text.count('<article class="candidate-plan"')
    assert shown == (4 if key == "all" else 1)
    bars = answer.text.count('class="bar-plan ')
    assert bars == {"all": 2, "mecanum": 0, "tank": 0}.get(key, 1)


def test_each_task_has_a_bar_inside_the_picture_and_its_whole_name(
    client: TestClient, stored: Any, address: str
) -> None:
    text = client.get(address, params={"candidate": "swerve"}).text
    plan = text[text.index('class="bar-plan ') : text.index("What sets the date")]
    for task in stored().study.candidate("swerve").tasks:
        assert f"<span>{task.name}</span>" in plan
    rectangles = re.findall(r'<rect class="bar-\w+" x="([\d.]+)%" y="\d+" width="([\d.]+)%"', plan)
    assert len(rectangles) >= 16
    assert all(0 <= float(x) <= 100 and float(width) > 0 for x, width in rectangles)


def test_meetings_days_off_and_deadlines_are_marked(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    document["schedule"] |= {
        "give_up_base_on": "2026-03-14",
        "gates": [{"name": "drives on blocks", "on": "2026-03-12", "tasks": ["wire"]}],
    }
    state = create_study(app.state.store, document, author="", note="")
    text = client.get(f"/studies/{state.study_id}/schedule?candidate=swerve").text
    assert text.count('class="ruler-meeting"') >= 2 * 10
    assert text.count('class="ground-off"') == 2
    page = words_of(text)
    for words in ("ready by 25 Mar", "no way back after 14 Mar", "gate 1, 12 Mar"):
        assert words in page
    assert "Gate 1, Thu 12 Mar: drives on blocks. Done by then: Wire" in page
    assert "After Sat 14 Mar there is no way back" in page


def test_the_wait_for_a_part_is_blamed_in_words(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    for purchase in document["candidates"][1]["purchases"]:
        if purchase["name"] == "modules":
            purchase["lead_days"] = [20, 21, 22]
    state = create_study(app.state.store, document, author="", note="")
    page = words_of(client.get(f"/studies/{state.study_id}/schedule?candidate=swerve").text)
    assert "all runs the wait for modules sets the date" in page


def test_money_is_held_against_the_budget_and_missing_costs_are_told(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    document["schedule"] |= {"budget": 1500, "currency": "€"}
    state = create_study(app.state.store, document, author="", note="")
    address = f"/studies/{state.study_id}/schedule?candidate=swerve"
    page = words_of(client.get(address).text)
    assert "1,680 € (180 € over the budget)" in page
    document["name"] = "Without costs"
    for purchase in document["candidates"][1]["purchases"]:
        purchase.pop("unit_cost")
    state = create_study(app.state.store, document, author="", note="")
    page = words_of(client.get(f"/studies/{state.study_id}/schedule?candidate=swerve").text)
    assert "no purchase has a cost yet" in page


def test_a_study_without_a_calendar_says_what_to_do(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    document.pop("schedule")
    document.pop("decision", None)
    state = create_study(app.state.store, document, author="", note="")
    address = f"/studies/{state.study_id}/schedule"
    assert "Fill in the calendar" in client.get(address).text
    tasks = client.get(f"{address}/tasks?candidate=swerve")
    assert tasks.status_code == 200
    assert "There is no calendar yet" in tasks.text
    assert client.get(f"{address}/calendar").status_code == 200


TRIES = [
    ({"try": "meeting", "weekday": "sun", "start": "13:00", "hours": "4"}, "One more meeting"),
    ({"try": "person", "crew": "wiring"}, "One more person in wiring"),
    ({"try": "express", "purchase": "modules", "days": "1"}, "Express for modules"),
    ({"try": "drop", "task": "practice"}, "Driver practice"),
]


@pytest.mark.parametrize(("asked", "words"), TRIES)
def test_what_if_answers_in_one_line_and_saves_nothing(
    *, client: TestClient, stored: Any, address: str, asked: dict[str, str], words: str
) -> None:
    before = stored().revision.number
    whole = client.get(address, params={"candidate": "swerve", **asked})
    part = client.get(f"{address}/what-if", params={"candidate": "swerve", **asked})
    line = words_of(part.text)
    assert words in line
    assert re.search(r"\d+ % → (over )?\d+ % ready by Wed 25 Mar", line)
    assert line in words_of(whole.text)
    assert stored().revision.number == before


def test_one_more_meeting_never_lowers_the_chance(client: TestClient, address: str) -> None:
    asked = {"candidate": "swerve", **TRIES[0][0]}
    line = words_of(client.get(f"{address}/what-if", params=asked).text)
    found = re.search(r"(\d+) % → (\d+) %", line)
    assert found
    assert int(found[1]) < int(found[2])


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"try": "meeting", "start": "25:00"}, "no time of day"),
        ({"try": "meeting", "hours": "many"}, "many"),
        ({"try": "meeting", "hours": "30"}, "0.1 to 24"),
        ({"try": "meeting", "weekday": "someday"}, "Choose a weekday"),
        ({"try": "person", "crew": "cooks"}, "Choose a crew"),
        ({"try": "express", "purchase": "tube"}, "still has to come"),
        ({"try": "express", "purchase": "modules"}, "in how many days"),
        ({"try": "express", "purchase": "modules", "days": "-1"}, "out of range"),
        ({"try": "drop", "task": "sleep"}, "Choose a task"),
    ],
)
def test_what_cannot_be_tried_says_what_to_type(
    client: TestClient, address: str, asked: dict[str, str], words: str
) -> None:
    answer = client.get(f"{address}/what-if", params={"candidate": "swerve", **asked})
    assert answer.status_code == 200
    assert words in words_of(answer.text)
    assert "→" not in answer.text


def test_the_changes_that_help_most_are_ranked(client: TestClient, address: str) -> None:
    text = client.get(f"{address}/helps", params={"candidate": "swerve"}).text
    first_list = text.split("</ol>")[0]
    after = [int(found) for found in re.findall(r"→ <b>(?:over )?(\d+)\xa0%", first_list)]
    assert after
    assert after == sorted(after, reverse=True)
    whole = client.get(address, params={"candidate": "swerve", "helps": "yes"}).text
    assert words_of(text) in words_of(whole)


@pytest.mark.parametrize("page", ["what-if", "helps", "tasks"])
def test_an_unknown_candidate_is_not_found(client: TestClient, address: str, page: str) -> None:
    assert client.get(f"{address}/{page}", params={"candidate": "nobody"}).status_code == 404


def test_a_list_of_tasks_is_one_click_away_and_brings_its_crews(
    client: TestClient, forms: Any, stored: Any, address: str
) -> None:
    template = task_templates()["rollers"]
    sent = forms.send(f"{address}/template?candidate=mecanum", {"template": "rollers"})
    assert sent.status_code == 303
    state = stored()
    candidate = state.study.candidate("mecanum")
    assert [task.name for task in candidate.tasks] == [one["name"] for one in template["tasks"]]
    assert len(candidate.purchases) == len(template["purchases"])
    assert state.study.schedule.crews["design"] == 1
    assert candidate.tasks[0].hours[0].source == "practice"
    page = client.get(sent.headers["location"]).text
    assert "common practice, not yours yet" in page
    assert "Saved as revision 2" in page


def test_a_second_list_is_put_behind_the_first(forms: Any, stored: Any, address: str) -> None:
    for _ in range(2):
        forms.send(f"{address}/template?candidate=swerve", {"template": "gearing"})
    tasks = stored().study.candidate("swerve").tasks
    keys = [task.key for task in tasks]
    assert len(keys) == len(set(keys)) == 8 + 2 * 12
    last = tasks[-1]
    assert last.key == "practice-3"
    assert set(last.after) == {"tune-3", "inspection-2"}


def test_two_clicks_add_one_list_and_one_candidate(
    client: TestClient, forms: Any, stored: Any, address: str
) -> None:
    page = client.get(f"{address}/tasks?candidate=mecanum").text
    once = re.findall(r'name="once" value="([^"]+-rollers)"', page)[0]
    sent = {"template": "rollers", "once": once}
    answers = [forms.send(f"{address}/template?candidate=mecanum", sent) for _ in range(2)]
    assert answers[0].headers["location"] == answers[1].headers["location"]
    assert len(stored().study.candidate("mecanum").tasks) == 14
    found = re.search(r'name="once" value="([^"]+)"', client.get(address).text)
    assert found
    answers = [forms.send(f"{address}/alternative", {"once": found[1]}) for _ in range(2)]
    assert answers[0].headers["location"] == answers[1].headers["location"]
    assert len(stored().study.candidates) == 5


def test_an_unknown_list_is_refused(forms: Any, stored: Any, address: str) -> None:
    sent = forms.send(f"{address}/template?candidate=swerve", {"template": "nothing"})
    assert sent.status_code == 404
    assert stored().revision.number == 1


def test_another_use_of_the_hours_keeps_todays_base(
    *, client: TestClient, forms: Any, sheets: Any, stored: Any, address: str
) -> None:
    sent = forms.send(f"{address}/alternative")
    assert sent.status_code == 303
    state = stored()
    added = state.study.candidates[-1]
    assert added.same_base_as == state.study.baseline.key
    assert added.layout == state.study.baseline.layout
    page = words_of(client.get(sent.headers["location"]).text)
    assert f"Keeps the base of {state.study.baseline.name}" in page
    page_address = sent.headers["location"].partition("&")[0]
    fields = sheets.open(page_address)
    renamed = sheets.post(page_address, fields, {"name": "Practise with what we have"})
    assert renamed.status_code == 303
    assert stored().study.candidates[-1].name == "Practise with what we have"
    again = forms.send(f"{address}/alternative")
    assert again.status_code == 303
    names = [one.name for one in stored().study.candidates]
    assert len(names) == len(set(names)) == 6


def test_a_viewer_sees_the_plan_and_nothing_to_change(client: TestClient, link_to: Any) -> None:
    address = f"/shared/{link_to()}/schedule"
    for query in ("", "?candidate=swerve", "?candidate=all"):
        answer = client.get(address + query)
        assert answer.status_code == 200
        text = answer.text
        assert "/studies/" not in text
        assert 'id="what-if"' not in text
        assert "<form" not in text.split("<main")[1]
    assert 'class="bar-plan ' in client.get(f"{address}?candidate=swerve").text


def test_names_are_shown_as_text(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    evil = "<b onclick=x>Wire</b>"
    document["candidates"][1]["tasks"][0]["name"] = evil
    document["candidates"][1]["purchases"][1]["name"] = evil
    document["candidates"][1]["tasks"][2]["needs"] = [evil]
    gate = {"name": evil, "on": "2026-03-12", "tasks": ["strip"]}
    document["schedule"]["gates"] = [gate]
    state = create_study(app.state.store, document, author="", note="")
    for page in ("", "/tasks", "/calendar"):
        text = client.get(f"/studies/{state.study_id}/schedule{page}?candidate=swerve").text
        assert evil not in text
        assert "&lt;b onclick=x&gt;" in text


def test_a_date_of_another_year_says_so_and_does_not_squeeze_the_picture(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    document["candidates"][1]["tasks"][1]["hours"] = [900, 950, 1000]
    state = create_study(app.state.store, document, author="", note="")
    text = client.get(f"/studies/{state.study_id}/schedule?candidate=swerve").text
    assert re.search(r"\w+ \d+ \w+ 2027", words_of(text))
    ruled = re.findall(r'<text class="ruler-date"[^>]*>([^<]+)</text>', text)
    assert not [label for label in ruled if "2027" in label]
    places = [float(x) for x in re.findall(r'x[12]?="([\d.]+)%"', text)]
    assert max(places) <= 100


def test_today_is_not_ranked_against_what_has_to_be_built(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    practice = {"key": "practice", "name": "Practice", "crew": "drivers", "hours": [1, 2, 3]}
    document["candidates"][0]["tasks"] = [practice]
    state = create_study(app.state.store, document, author="", note="")
    lead = client.get(f"/studies/{state.study_id}/schedule").text.split("Side by side")[0]
    assert "A 100" not in words_of(lead)
