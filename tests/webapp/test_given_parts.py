"""Batteries, loads, breakers, cables, slots, obstacles, ratios on offer and kept bases in forms."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.errors import StudyRefusedError
from models.seed import example_document
from models.services import create_study, evaluation_of, load_study, preview, remove_candidate


@pytest.fixture
def example_id(app: FastAPI, client: TestClient) -> str:
    return create_study(app.state.store, example_document(), author="Ines", note="").study_id


@pytest.fixture
def stored(app: FastAPI, example_id: str) -> Any:
    """Reads the newest document."""
    return lambda: load_study(app.state.store, example_id).document


@pytest.fixture
def givens(example_id: str) -> str:
    return f"/studies/{example_id}/givens"


PAGES = ("givens", "robot", "candidates/tank", "candidates/steered", "candidates/tank-mast")


@pytest.mark.parametrize("units", ["si", "inch-pound"])
@pytest.mark.parametrize("page", PAGES)
def test_a_form_sent_as_it_was_opened_changes_nothing(
    *, client: TestClient, sheets: Any, stored: Any, example_id: str, page: str, units: str
) -> None:
    client.cookies.set("units", units)
    address = f"/studies/{example_id}/{page}"
    answer = sheets.post(address, sheets.open(address))
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].endswith("saved=nothing")
    assert stored() == example_document()


def test_the_battery_in_use_is_one_select_and_a_save(
    *, app: FastAPI, client: TestClient, sheets: Any, stored: Any, givens: str, example_id: str
) -> None:
    fields = sheets.open(givens)
    assert dict(fields)["power.battery"] == ""
    answer = sheets.post(givens, fields, {"power.battery": "practice battery"})
    assert answer.status_code == 303, answer.text
    assert stored()["power"]["battery"] == "practice battery"
    page = client.get(f"/studies/{example_id}/candidates/tank").text
    assert "Battery in use: <b>practice battery</b>" in page
    sheets.post(givens, sheets.open(givens), {"power.battery": ""})
    assert "battery" not in stored()["power"]


NEW_TEXTS = {
    "power.batteries.0.internal_resistance_ohm": "14",
    "power.batteries.0.charge": "95 %",
    "power.batteries.2.temperature_c": "8",
    "power.loads.2.during": "legs",
    "power.loads.2.duty": "0.5",
    "power.main_breaker_curve.5.0": "7",
    "power.main_breaker_curve.5.1": "0.9",
    "power.branch_breaker_a": "45",
    "power.cables.0.gauge_awg": "4",
    "power.cables.1.area_mm2": "25",
    "power.cables.1.length_m": "30 cm",
    "power.encoders": "14",
    "power.day.matches": "12",
    "power.day.minutes_between": "40",
    "power.warning_v": "9",
    "yardsticks.tip_margin": "25 %",
    "yardsticks.opponent.mass_kg": "66",
    "yardsticks.opponent.push_force_n": "600",
    "field.length_m": "46 ft",
    "field.obstacles.1.outline_m:corners": "6, 0; 7, 0; 7, 1",
    "motors.brushed-64.winding_heat_j_per_k": "110",
    "motors.brushed-64.winding_limit_c": "140",
}


def test_every_new_field_comes_back_as_it_was_typed(sheets: Any, stored: Any, givens: str) -> None:
    answer = sheets.post(givens, sheets.open(givens), NEW_TEXTS)
    assert answer.status_code == 303, answer.text
    shown = dict(sheets.open(givens))
    assert {name: shown[name] for name in NEW_TEXTS} == NEW_TEXTS
    power = stored()["power"]
    assert power["batteries"][0]["internal_resistance_ohm"]["low"] == 0.0125
    assert power["main_breaker_curve"][5] == [7, 0.9]
    assert stored()["field"]["obstacles"][1]["outline_m"] == [[6, 0], [7, 0], [7, 1]]


@pytest.mark.parametrize(
    ("rows", "first", "fold"),
    [
        ("power.batteries", ".name", "batteries"),
        ("power.loads", ".name", "loads"),
        ("power.main_breaker_curve", ".0", "breakers"),
        ("power.cables", ".name", "cables"),
        ("field.obstacles", ".name", "obstacles"),
    ],
)
def test_rows_are_added_without_scripts_and_left_out_again_where_blank(
    *, sheets: Any, stored: Any, givens: str, rows: str, first: str, fold: str
) -> None:
    before = stored()
    count = len(example_document()[rows.partition(".")[0]][rows.rpartition(".")[2]])
    added = sheets.post(givens, sheets.open(givens), row=f"add:{rows}")
    assert added.status_code == 200
    fields = sheets.read(added.text)
    assert dict(fields)[f"{rows}.{count}{first}"] == ""
    assert re.search(rf'<details class="fold" id="fold-{fold}" open>', added.text)
    assert re.search(rf'name="{rows}\.{count}{first}"[^>]* autofocus', added.text)
    assert sheets.post(givens, fields).headers["location"].endswith("saved=nothing")
    assert stored() == before


def test_rows_are_taken_out(sheets: Any, stored: Any, givens: str) -> None:
    for rows in ("power.cables.1", "power.main_breaker_curve.0", "field.obstacles.0"):
        removed = sheets.post(givens, sheets.open(givens), row=f"remove:{rows}")
        assert sheets.post(givens, sheets.read(removed.text)).status_code == 303
    assert [one["name"] for one in stored()["power"]["cables"]][1] == "motor leads, side gearboxes"
    assert stored()["power"]["main_breaker_curve"][0] == [1.5, 100]
    assert [one["name"] for one in stored()["field"]["obstacles"]] == ["beacon foot"]


def test_a_new_name_is_followed_by_what_names_it(
    *, sheets: Any, stored: Any, givens: str, example_id: str
) -> None:
    sheets.post(givens, sheets.open(givens), {"power.battery": "tired battery"})
    names = {"power.batteries.1.name": "last year's", "power.loads.0.name": "winch"}
    answer = sheets.post(givens, sheets.open(givens), names)
    assert answer.status_code == 303, answer.text
    assert stored()["power"]["battery"] == "last year's"
    assert stored()["routes"][1]["legs"][2]["loads"] == ["winch"]
    robot = f"/studies/{example_id}/robot"
    answer = sheets.post(robot, sheets.open(robot), {"robot.poses.2.name": "high"})
    assert answer.status_code == 303, answer.text
    assert stored()["routes"][1]["legs"][2]["pose"] == "high"
    assert stored()["routes"][1]["legs"][0]["pose"] == "collecting"


def test_groups_emptied_go_away(sheets: Any, stored: Any, givens: str, example_id: str) -> None:
    fields = sheets.open(givens)
    emptied = {name: "" for name, _ in fields if name.startswith(
        ("power.day.", "yardsticks.opponent.", "field.length_m", "field.width_m"))}  # fmt: skip
    kept = [(name, text) for name, text in fields if not name.startswith("field.obstacles.")]
    answer = sheets.post(givens, kept, emptied)
    assert answer.status_code == 303, answer.text
    assert "day" not in stored()["power"]
    assert "opponent" not in stored()["yardsticks"]
    assert "field" not in stored()
    robot = f"/studies/{example_id}/robot"
    fields = sheets.open(robot)
    emptied = {name: "" for name, _ in fields if name.startswith("robot.uses.")}
    assert sheets.post(robot, fields, emptied).status_code == 303
    assert "uses" not in stored()["robot"]


@pytest.mark.parametrize(
    ("name", "text", "words", "fold"),
    [
        ("power.batteries.0.charge", "85", "Battery 1: ", "batteries"),
        ("power.main_breaker_curve.1.0", "1", "Main breaker, point 2: ", "breakers"),
        ("power.main_breaker_curve.1.1", "500", "has to trip sooner", "breakers"),
        ("power.cables.0.area_mm2", "16", "both are given", "cables"),
        ("power.loads.0.name", "", "Load 1: ", "loads"),
        ("power.controllers", "2.5", "not a whole number", "slots"),
        ("power.day.matches", "", "Matches is missing", "day"),
        ("yardsticks.opponent.grip", "", "has no value", "opponent"),
        ("field.obstacles.0.outline_m:corners", "1, 1; 2, 2", "an area needs 3", "obstacles"),
    ],
)
def test_a_fault_opens_the_fold_that_it_stands_in(
    *, sheets: Any, stored: Any, givens: str, name: str, text: str, words: str, fold: str
) -> None:
    answer = sheets.post(givens, sheets.open(givens), {name: text})
    assert answer.status_code == 422
    assert words in answer.text
    assert f'<details class="fold" id="fold-{fold}" open>' in answer.text
    assert dict(sheets.read(answer.text))[name] == text
    assert stored() == example_document()


def test_a_remark_opens_its_fold_and_its_fix_is_taken(
    sheets: Any, stored: Any, givens: str
) -> None:
    sheets.post(givens, sheets.open(givens), {"power.cables.0.length_m": "24"})
    page = sheets.client.get(givens).text
    assert '<details class="fold" id="fold-cables" open>' in page
    assert "Inches or centimetres?" in page
    assert '<details class="fold" id="fold-loads">' in page


def test_ratios_on_offer_are_added_and_shown_as_what_they_come_to(
    *, client: TestClient, sheets: Any, stored: Any, example_id: str
) -> None:
    address = f"/studies/{example_id}/candidates/tank"
    assert "9.868, 8.772, 7.519, 6.316" in client.get(address).text
    added = sheets.post(address, sheets.open(address), row="add:drive.ratios_on_offer")
    assert re.search(r'name="drive\.ratios_on_offer\.4"[^>]* autofocus', added.text)
    answer = sheets.post(address, sheets.read(added.text), {"drive.ratios_on_offer.4": "5.95"})
    assert answer.status_code == 303, answer.text
    assert stored()["candidates"][0]["drive"]["ratios_on_offer"][-1] == 5.95
    robot = f"/studies/{example_id}/robot"
    changes = {"module_types.module-100.ratios_on_offer.0": "7.3"}
    assert sheets.post(robot, sheets.open(robot), changes).status_code == 303
    assert stored()["module_types"]["module-100"]["ratios_on_offer"][0] == 7.3


def test_connections_of_a_candidate(sheets: Any, stored: Any, example_id: str) -> None:
    address = f"/studies/{example_id}/candidates/tank"
    assert "worked out from layout and motors" in sheets.client.get(address).text
    sheets.post(address, sheets.open(address), {"uses.controllers": "4"})
    assert stored()["candidates"][0]["uses"] == {"controllers": 4}
    sheets.post(address, sheets.open(address), {"uses.controllers": ""})
    assert "uses" not in stored()["candidates"][0]


def test_a_kept_base_is_a_sentence_with_a_link(client: TestClient, example_id: str) -> None:
    page = client.get(f"/studies/{example_id}/candidates/tank-mast").text
    assert re.search(
        rf'It keeps the base of <a href="/studies/{example_id}/candidates/tank">A Six-wheel', page
    )
    assert 'name="drive.ratio"' not in page
    assert "Make it today" not in page
    assert "first remove what keeps its base" in client.get(
        f"/studies/{example_id}/candidates/tank"
    ).text  # fmt: skip


def test_a_base_that_another_keeps_is_not_removed(app: FastAPI, example_id: str) -> None:
    with pytest.raises(StudyRefusedError, match="keeps the base of this candidate"):
        remove_candidate(app.state.store, example_id, "tank", base_revision=1, author="")
    remove_candidate(app.state.store, example_id, "tank-mast", base_revision=1, author="")
    left = load_study(app.state.store, example_id).study.candidates
    assert [one.key for one in left][-1] == "mecanum"


def test_who_keeps_a_base_follows_it_while_one_types(app: FastAPI, example_id: str) -> None:
    state = load_study(app.state.store, example_id)
    tank = {**example_document()["candidates"][0]}
    tank["drive"] = {**tank["drive"], "ratio": 7.5}
    study, payload = preview(app.state.store, state, {"candidates/tank": tank})
    assert study.candidate("tank-mast").drive is study.candidate("tank").drive
    by_key = {one["key"]: one["metrics"] for one in payload["candidates"]}
    speeds = [by_key[key]["top_speed_mps"] for key in ("tank", "tank-mast")]
    saved = evaluation_of(app.state.store, state)["candidates"][0]["metrics"]["top_speed_mps"]
    assert speeds[0] == speeds[1] > saved


def test_a_module_of_a_kept_base_moves_on_that_base(
    *, app: FastAPI, client: TestClient, forms: Any, stored: Any, example_id: str
) -> None:
    from webapp.pages.fit.moves import apply_moves

    document = example_document()
    document["candidates"][5] = {"key": "tank-mast", "name": "Same", "same_base_as": "steered"}
    from models.study import parse_study

    moved = apply_moves(
        {"corner.front_left": (-10.0, 0.0)}, document, parse_study(document), "tank-mast"
    )
    assert list(moved.edits) == ["candidates/steered"]
