"""The calendar and the tasks as forms: kept as typed, moved, renamed, refused in place."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import create_study, load_study, save_sections
from models.study.sections import candidate_section


@pytest.fixture
def address(study_id: str) -> str:
    return f"/studies/{study_id}/schedule"


@pytest.fixture
def tasks(address: str) -> str:
    return f"{address}/tasks?candidate=swerve"


@pytest.fixture
def calendar(address: str) -> str:
    return f"{address}/calendar"


@pytest.fixture
def stored(app: FastAPI, study_id: str) -> Any:
    """Reads the newest revision: its number and the document."""

    def read() -> tuple[int, dict[str, Any]]:
        state = load_study(app.state.store, study_id)
        return state.revision.number, state.document

    return read


@pytest.fixture
def candidate(stored: Any) -> Any:
    """Reads the stored candidate with tasks."""
    return lambda: stored()[1]["candidates"][1]


@pytest.mark.parametrize("page", ["/calendar", "/tasks?candidate=swerve", "/tasks?candidate=tank"])
@pytest.mark.parametrize("units", ["si", "inch-pound"])
def test_a_form_sent_as_it_was_opened_changes_nothing(
    *, client: TestClient, sheets: Any, stored: Any, address: str, page: str, units: str
) -> None:
    client.cookies.set("units", units)
    before = stored()
    answer = sheets.post(address + page, sheets.open(address + page))
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].endswith("saved=nothing")
    assert stored() == before


def test_the_example_with_everything_stated_is_kept_too(
    app: FastAPI, client: TestClient, sheets: Any, document: dict[str, Any]
) -> None:
    document["schedule"] |= {
        "give_up_base_on": "2026-03-14",
        "gates": [{"name": "on blocks", "on": "2026-03-12", "tasks": ["wire", "code"]}],
        "wanted_chance": "75 %",
        "practice_hours_wanted": 10,
        "budget": {"value": 1500, "low": 1200, "high": 1600},
        "currency": "€",
    }
    purchase = document["candidates"][1]["purchases"][1]
    purchase |= {
        "spares": 1, "mass_kg": "2 kg", "express": {"lead_days": [1, 2, 4], "extra_cost": 90},
    }  # fmt: skip
    document["candidates"][1]["tasks"][7]["kind"] = "practice"
    state = create_study(app.state.store, document, author="", note="")
    for page in ("/calendar", "/tasks?candidate=swerve"):
        address = f"/studies/{state.study_id}/schedule{page}"
        answer = sheets.post(address, sheets.open(address))
        assert answer.headers["location"].endswith("saved=nothing"), page


CALENDAR_TEXTS = {
    "schedule.start": "2026-03-01",
    "schedule.ready_by": "2026-03-28",
    "schedule.give_up_base_on": "2026-03-15",
    "schedule.wanted_chance": "75 %",
    "schedule.practice_hours_wanted": "12",
    "schedule.budget": "1800",
    "schedule.currency": "€",
    "schedule.meetings.0.weekday": "wed",
    "schedule.meetings.0.start": "17:15",
    "schedule.meetings.2.hours": "6.5",
    "schedule.days_off.0": "2026-03-14",
    "schedule.extra.0.date": "2026-03-29",
    "schedule.crew_rows.0.hands": "3",
}


def test_every_field_of_the_calendar_comes_back_as_typed(
    sheets: Any, stored: Any, calendar: str
) -> None:
    answer = sheets.post(calendar, sheets.open(calendar), CALENDAR_TEXTS)
    assert answer.status_code == 303, answer.text
    shown = dict(sheets.open(calendar))
    assert {name: shown[name] for name in CALENDAR_TEXTS} == CALENDAR_TEXTS
    schedule = stored()[1]["schedule"]
    assert schedule["days_off"] == ["2026-03-14"]
    assert schedule["meetings"][0] == {"weekday": "wed", "start": "17:15", "hours": 3}


TASK_TEXTS = {
    "tasks.0.name": "Strip it",
    "tasks.1.hours.0": "5.5",
    "tasks.1.hours.2": "900 min",
    "tasks.4.crew": "code",
    "tasks.7.kind": "practice",
    "purchases.0.in_stock": "3",
    "purchases.0.lead_days.0": "1",
    "purchases.0.lead_days.1": "2",
    "purchases.0.lead_days.2": "3",
    "purchases.1.unit_cost": "320",
    "purchases.1.spares": "1",
    "purchases.1.mass_kg": "2.1",
    "purchases.1.order_on": "2026-03-03",
    "purchases.1.express.lead_days.0": "1",
    "purchases.1.express.lead_days.1": "2",
    "purchases.1.express.lead_days.2": "4",
    "purchases.1.express.extra_cost": "95",
}


def test_every_field_of_the_tasks_comes_back_as_typed(
    sheets: Any, candidate: Any, tasks: str
) -> None:
    answer = sheets.post(tasks, sheets.open(tasks), TASK_TEXTS)
    assert answer.status_code == 303, answer.text
    shown = dict(sheets.open(tasks))
    assert {name: shown[name] for name in TASK_TEXTS} == TASK_TEXTS
    kept = candidate()
    assert kept["tasks"][0]["key"] == "strip"
    assert "kind" not in kept["tasks"][0]
    assert kept["purchases"][1]["express"] == {"lead_days": [1, 2, 4], "extra_cost": 95}
    cleared = {name: "" for name in TASK_TEXTS if ".express." in name}
    sheets.post(tasks, sheets.open(tasks), cleared)
    assert "express" not in candidate()["purchases"][1]


def test_a_new_task_gets_a_key_from_its_name_and_waits_for_ticked_rows(
    sheets: Any, candidate: Any, tasks: str
) -> None:
    added = sheets.post(tasks, sheets.open(tasks), row="add:tasks")
    assert added.status_code == 200
    fields = sheets.read(added.text)
    typed = {
        "tasks.8.name": "Wire & test the lights",
        "tasks.8.crew": "wiring",
        "tasks.8.hours.0": "1", "tasks.8.hours.1": "2", "tasks.8.hours.2": "4",
    }  # fmt: skip
    fields += [("tasks.8.after_rows", "4"), ("tasks.8.needs_rows", "2")]
    answer = sheets.post(tasks, fields, typed)
    assert answer.status_code == 303, answer.text
    assert candidate()["tasks"][8] == {
        "key": "wire-test-the-lights",
        "name": "Wire & test the lights",
        "crew": "wiring",
        "hours": [1, 2, 4],
        "after": ["wire"],
        "needs": ["controllers"],
    }


def test_a_task_that_moves_takes_along_what_waits_for_it(
    sheets: Any, candidate: Any, tasks: str
) -> None:
    fields = sheets.open(tasks)
    for _ in range(1):
        moved = sheets.post(tasks, fields, row="down:tasks.5")
        assert moved.status_code == 200
        assert 'value="up:tasks.6"' in moved.text
        assert re.search(r'value="down:tasks\.6"[^>]*autofocus', moved.text)
        fields = sheets.read(moved.text)
    before = candidate()["tasks"]
    answer = sheets.post(tasks, fields)
    assert answer.status_code == 422  # “code” now follows “tune” in its crew, which waits for it
    assert "wait for each other in a ring" in answer.text
    up = sheets.post(tasks, sheets.open(tasks), row="up:tasks.5")
    answer = sheets.post(tasks, sheets.read(up.text))
    assert answer.status_code == 303, answer.text
    after = candidate()["tasks"]
    assert [one["key"] for one in after][4:6] == ["code", "wire"]
    assert sorted(after, key=lambda one: one["key"]) == sorted(before, key=lambda one: one["key"])


def test_a_row_at_the_end_does_not_move_out(sheets: Any, tasks: str) -> None:
    fields = sheets.open(tasks)
    answer = sheets.post(tasks, fields, row="up:tasks.0")
    assert [text for name, text in sheets.read(answer.text) if name.endswith(".name")] == [
        text for name, text in fields if name.endswith(".name")
    ]


def test_a_task_or_purchase_taken_out_leaves_nothing_waiting_for_it(
    sheets: Any, candidate: Any, tasks: str
) -> None:
    removed = sheets.post(tasks, sheets.open(tasks), row="remove:tasks.3")
    removed = sheets.post(tasks, sheets.read(removed.text), row="remove:purchases.1")
    answer = sheets.post(tasks, sheets.read(removed.text))
    assert answer.status_code == 303, answer.text
    kept = candidate()
    assert "mount" not in [one["key"] for one in kept["tasks"]]
    assert not next(one for one in kept["tasks"] if one["key"] == "wire").get("after")
    assert next(one for one in kept["tasks"] if one["key"] == "frame")["needs"] == ["tube"]
    assert not next(one for one in kept["tasks"] if one["key"] == "modules").get("needs")


def test_a_purchase_that_is_renamed_is_still_needed(
    sheets: Any, candidate: Any, tasks: str
) -> None:
    sheets.post(tasks, sheets.open(tasks), {"purchases.1.name": "four modules"})
    assert candidate()["tasks"][2]["needs"] == ["four modules"]


def test_a_loop_is_refused_with_its_names_at_its_place(
    sheets: Any, stored: Any, tasks: str
) -> None:
    before = stored()
    fields = [*sheets.open(tasks), ("tasks.3.after_rows", "6")]
    answer = sheets.post(tasks, fields)
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    text = answer.text
    assert "wait for each other in a ring: " in text
    ring = re.search(r"in a ring: ([^.]+)\.", text)
    assert ring
    named = ring[1].replace("&gt;", ">").split(" → ")
    assert {"Mount modules and mechanisms", "Wire", "Tune on the floor"} <= set(named)
    assert named[0] == named[-1]
    link = re.search(r'<li><a href="#(f-tasks-\d-after_rows)">', text)
    assert link
    assert f'id="{link[1]}"' in text
    sent_again = sheets.read(text)
    assert ("tasks.3.after_rows", "6") in sent_again
    assert stored() == before


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("tasks.0.name", "", "Name is missing"),
        ("tasks.1.hours.0", "99", "do not rise"),
        ("tasks.1.hours.1", "", "type a number of hours"),
        ("tasks.1.hours.1", "nine", "nine"),
        ("purchases.1.lead_days.2", "1", "do not rise"),
        ("purchases.1.quantity", "1.5", "whole number"),
        ("purchases.1.order_on", "soon", "soon"),
        ("purchases.1.name", "", "Name is missing"),
    ],
)
def test_rubbish_in_a_task_is_refused_beside_its_field(
    *, sheets: Any, stored: Any, tasks: str, name: str, text: str, words: str
) -> None:
    before = stored()
    answer = sheets.post(tasks, sheets.open(tasks), {name: text})
    assert answer.status_code == 422
    assert words in answer.text
    assert dict(sheets.read(answer.text))[name] == text
    link = re.search(r'<li><a href="#(f-[^"]+)">', answer.text)
    assert link, answer.text
    assert f'id="{link[1]}"' in answer.text
    assert stored() == before


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("schedule.start", "", "missing"),
        ("schedule.ready_by", "2026-02-01", "before the start"),
        ("schedule.meetings.0.start", "half past", "half past"),
        ("schedule.meetings.0.hours", "0", "out of range"),
        ("schedule.days_off.0", "Tuesday", "Tuesday"),
        ("schedule.crew_rows.0.hands", "0", "1 to 100"),
        ("schedule.crew_rows.0.hands", "", "how many tasks"),
        ("schedule.crew_rows.0.name", "wiring", "another crew"),
        ("schedule.wanted_chance", "80", "80 %"),
        ("schedule.budget", "lots", "lots"),
    ],
)
def test_rubbish_in_the_calendar_is_refused_beside_its_field(
    *, sheets: Any, stored: Any, calendar: str, name: str, text: str, words: str
) -> None:
    before = stored()
    answer = sheets.post(calendar, sheets.open(calendar), {name: text})
    assert answer.status_code == 422
    assert words in answer.text
    assert dict(sheets.read(answer.text))[name] == text
    link = re.search(r'<li><a href="#(f-[^"]+)">', answer.text)
    assert link, answer.text
    assert f'id="{link[1]}"' in answer.text
    assert stored() == before


@pytest.mark.parametrize("table", ["meetings", "days_off", "extra", "crew_rows", "gates"])
def test_rows_of_the_calendar_come_and_go(
    sheets: Any, stored: Any, calendar: str, table: str
) -> None:
    before = stored()
    opened = sheets.open(calendar)
    added = sheets.post(calendar, opened, row=f"add:schedule.{table}")
    fields = sheets.read(added.text)
    assert len(fields) > len(opened)
    assert f'value="remove:schedule.{table}.' in added.text
    answer = sheets.post(calendar, fields)  # an empty row is not kept
    assert answer.headers["location"].endswith("saved=nothing"), answer.text
    number = [n for n, _ in fields if n.startswith(f"schedule.{table}.")][-1].split(".")[2]
    row = number.partition(":")[0]
    taken = sheets.post(calendar, fields, row=f"remove:schedule.{table}.{row}")
    assert sheets.post(calendar, sheets.read(taken.text)).status_code == 303
    assert stored() == before


def test_a_gate_is_made_of_ticked_tasks(sheets: Any, stored: Any, calendar: str) -> None:
    added = sheets.post(calendar, sheets.open(calendar), row="add:schedule.gates")
    fields = sheets.read(added.text)
    fields += [("schedule.gates.0.tasks", "wire"), ("schedule.gates.0.tasks", "code")]
    typed = {"schedule.gates.0.name": "on blocks", "schedule.gates.0.on": "2026-03-14"}
    answer = sheets.post(calendar, fields, typed)
    assert answer.status_code == 303, answer.text
    gate = {"name": "on blocks", "on": "2026-03-14", "tasks": ["wire", "code"]}
    assert stored()[1]["schedule"]["gates"] == [gate]
    unticked = [one for one in sheets.open(calendar) if one[0] != "schedule.gates.0.tasks"]
    unticked.append(("schedule.gates.0.tasks", ""))
    answer = sheets.post(calendar, unticked)
    assert answer.status_code == 422
    assert re.search(r'href="#f-schedule-gates-0-tasks"', answer.text)


def test_a_crew_that_is_renamed_takes_its_tasks_along(
    sheets: Any, stored: Any, calendar: str
) -> None:
    fields = sheets.open(calendar)
    row = next(name for name, text in fields if text == "wiring")
    answer = sheets.post(calendar, fields, {row: "electrics"})
    assert answer.status_code == 303, answer.text
    document = stored()[1]
    assert "electrics" in document["schedule"]["crews"]
    crews = {task["crew"] for one in document["candidates"] for task in one.get("tasks") or []}
    assert "electrics" in crews
    assert "wiring" not in crews


def test_a_crew_with_tasks_is_not_taken_out_unasked(
    sheets: Any, stored: Any, calendar: str
) -> None:
    before = stored()
    fields = sheets.open(calendar)
    row = next(name for name, text in fields if text == "wiring").rpartition(".")[0]
    taken = sheets.post(calendar, fields, row=f"remove:{row}")
    answer = sheets.post(calendar, sheets.read(taken.text))
    assert answer.status_code == 422
    assert "“Wire” of Four steered modules is work for “wiring”" in answer.text
    assert stored() == before


def test_a_calendar_can_be_begun_from_nothing(
    app: FastAPI, sheets: Any, document: dict[str, Any]
) -> None:
    document.pop("schedule")
    document.pop("decision", None)
    for one in document["candidates"]:
        one.pop("tasks", None)
    state = create_study(app.state.store, document, author="", note="")
    address = f"/studies/{state.study_id}/schedule/calendar"
    assert sheets.post(address, sheets.open(address)).headers["location"].endswith("saved=nothing")
    fields = sheets.read(
        sheets.post(address, sheets.open(address), row="add:schedule.meetings").text
    )
    typed = {
        "schedule.start": "2026-03-02",
        "schedule.ready_by": "2026-03-25",
        "schedule.meetings.0.weekday": "tue",
        "schedule.meetings.0.start": "18:00",
        "schedule.meetings.0.hours": "3",
    }
    answer = sheets.post(address, fields, typed)
    assert answer.status_code == 303, answer.text
    kept = load_study(app.state.store, state.study_id).document["schedule"]
    assert kept == {
        "start": "2026-03-02",
        "ready_by": "2026-03-25",
        "meetings": [{"weekday": "tue", "start": "18:00", "hours": 3}],
    }


def test_a_changed_hour_is_no_common_practice_any_more(
    forms: Any, sheets: Any, stored: Any, address: str
) -> None:
    forms.send(f"{address}/template?candidate=mecanum", {"template": "gearing"})
    page = f"{address}/tasks?candidate=mecanum"
    sheets.post(page, sheets.open(page), {"tasks.0.hours.1": "2"})
    hours = stored()[1]["candidates"][3]["tasks"][0]["hours"]
    practice = [{"value": value, "source": "practice"} for value in (1, 6)]
    assert hours == [practice[0], 2, practice[1]]


def test_an_hour_of_common_practice_that_is_emptied_is_asked_for(
    forms: Any, sheets: Any, address: str
) -> None:
    forms.send(f"{address}/template?candidate=mecanum", {"template": "gearing"})
    page = f"{address}/tasks?candidate=mecanum"
    emptied = {"tasks.0.hours.1": "", "tasks.0.hours.1:source": "practice"}
    for to in ("", f"{address}/tasks/live?candidate=mecanum"):
        answer = sheets.post(page, sheets.open(page), emptied, to=to)
        assert answer.status_code == (200 if to else 422)


def test_a_changed_lead_time_moves_the_chance_while_it_is_typed(
    client: TestClient, sheets: Any, stored: Any, tasks: str
) -> None:
    before = stored()
    live = tasks.replace("/tasks?", "/tasks/live?")
    slow = {f"purchases.1.lead_days.{place}": str(18 + place) for place in range(3)}
    answer = sheets.post(live, sheets.open(tasks), slow)
    assert answer.status_code == 200
    assert answer.headers["answer-sequence"] == "0"
    assert "fewer of 100 runs" in answer.text
    wrong = sheets.post(live, sheets.open(tasks), {"purchases.1.lead_days.0": "99"})
    assert "Not worked out yet" in wrong.text
    assert stored() == before


def test_two_people_meet_in_one_candidates_tasks(
    app: FastAPI, sheets: Any, study_id: str, tasks: str, stored: Any
) -> None:
    fields = sheets.open(tasks)
    theirs = dict(stored()[1]["candidates"][1], notes="looked at")
    save_sections(
        app.state.store, study_id, base_revision=1,
        edits={candidate_section("swerve"): theirs}, author="Ravi", note="",
    )  # fmt: skip
    answer = sheets.post(tasks, fields, {"tasks.0.name": "Strip it"})
    assert answer.status_code == 409
    assert "Ravi saved the same section meanwhile" in answer.text
    assert dict(sheets.read(answer.text))["tasks.0.name"] == "Strip it"
    settled = sheets.post(tasks, sheets.read(answer.text), settle="2")
    assert settled.status_code == 303
    kept = stored()[1]["candidates"][1]
    assert (kept["notes"], kept["tasks"][0]["name"]) == ("looked at", "Strip it")


@pytest.mark.parametrize(
    "row", ["add:tasks:tube", "remove:tasks", "up:tasks.x", "down:", "add:", "up:candidates.0"]
)
def test_an_odd_button_changes_nothing(sheets: Any, tasks: str, row: str) -> None:
    answer = sheets.post(tasks, sheets.open(tasks), row=row)
    assert answer.status_code == 200


def test_a_meeting_more_moves_every_chance_while_it_is_typed(
    sheets: Any, stored: Any, calendar: str
) -> None:
    before = stored()
    shorter = {"schedule.meetings.2.hours": "2"}
    answer = sheets.post(f"{calendar}/live", sheets.open(calendar), shorter)
    assert answer.status_code == 200
    assert answer.text.count("saved: ") == 2
    wrong = sheets.post(f"{calendar}/live", sheets.open(calendar), {"schedule.start": ""})
    assert "Not worked out yet" in wrong.text
    assert stored() == before


def test_of_very_many_tasks_numbers_are_typed_instead_of_ticks(
    app: FastAPI, client: TestClient, sheets: Any, document: dict[str, Any]
) -> None:
    tasks = [
        {"key": f"t{row}", "name": f"Task {row}", "crew": "code", "hours": [1, 2, 3]}
        for row in range(60)
    ]
    tasks[5]["after"] = ["t1", "t3"]
    document["candidates"][1]["tasks"] = tasks
    state = create_study(app.state.store, document, author="", note="")
    address = f"/studies/{state.study_id}/schedule/tasks?candidate=swerve"
    opened = sheets.open(address)
    assert ("tasks.5.after_rows:numbers", "2, 4") in opened
    assert sheets.post(address, opened).headers["location"].endswith("saved=nothing")
    answer = sheets.post(address, opened, {"tasks.5.after_rows:numbers": "1, 99 and x"})
    assert answer.status_code == 422
    assert "names no row; type numbers of tasks" in answer.text
    assert ("tasks.5.after_rows:numbers", "1, 99 and x") in sheets.read(answer.text)
    link = re.search(r'<li><a href="#(f-[^"]+)">', answer.text)
    assert link
    assert f'id="{link[1]}"' in answer.text
    assert sheets.post(address, opened, {"tasks.5.after_rows:numbers": "5"}).status_code == 303
    kept = load_study(app.state.store, state.study_id).document["candidates"][1]["tasks"]
    assert kept[5]["after"] == ["t4"]
