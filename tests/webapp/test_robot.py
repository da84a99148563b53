"""The page of the robot: parts, poses told by rows, keep-outs, module types, the drawing."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import load_study, save_sections


@pytest.fixture
def address(study_id: str) -> str:
    return f"/studies/{study_id}/robot"


@pytest.fixture
def stored(app: FastAPI, study_id: str) -> Any:
    """Reads the newest revision: its number and the document."""

    def read() -> tuple[int, dict[str, Any]]:
        state = load_study(app.state.store, study_id)
        return state.revision.number, state.document

    return read


@pytest.mark.parametrize("units", ["si", "inch-pound"])
def test_a_form_sent_as_it_was_opened_changes_nothing(
    *, client: TestClient, sheets: Any, stored: Any, address: str, units: str
) -> None:
    client.cookies.set("units", units)
    before = stored()
    answer = sheets.post(address, sheets.open(address))
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].endswith("saved=nothing")
    assert stored() == before


NEW_TEXTS = {
    "robot.parts.0.name": "lift, rebuilt",
    "robot.parts.0.mass_kg": "9.5",
    "robot.parts.0.mass_kg:source": "measured",
    "robot.parts.0.centre_m.0": "-55",
    "robot.parts.0.size_m.2": "40 in",
    "robot.parts.2.exempt": "yes",
    "robot.keepouts.0.name": "foot of the lift",
    "robot.keepouts.0.outline_m:front": "35",
    "robot.keepouts.0.bottom_m": "25",
    "robot.keepouts.0.top_m": "12 in",
    "robot.keepouts.0.clearance_m": "8",
    "robot.poses.1.name": "all the way up",
    "robot.poses.1.moves.0.by.2": "400",
    "module_types.m100.name": "100 mm module, new",
    "module_types.m100.upright.1.outline_m:left": "-15",
    "module_types.m100.inverted.0.top_m": "125",
}


def test_every_kind_of_field_comes_back_as_it_was_typed(
    sheets: Any, stored: Any, address: str
) -> None:
    answer = sheets.post(address, sheets.open(address), NEW_TEXTS)
    assert answer.status_code == 303, answer.text
    shown = dict(sheets.open(address))
    assert {name: shown[name] for name in NEW_TEXTS} == NEW_TEXTS
    assert stored()[0] == 2


def test_a_part_that_is_renamed_keeps_its_moves(sheets: Any, stored: Any, address: str) -> None:
    sheets.post(address, sheets.open(address), {"robot.parts.0.name": "mast"})
    robot = stored()[1]["robot"]
    assert robot["parts"][0]["name"] == "mast"
    assert robot["poses"][1]["offsets"]["mast"] == [0, 0, 0.35]
    assert "lift" not in robot["poses"][1]["offsets"]


def test_a_part_that_is_taken_out_loses_its_moves(sheets: Any, stored: Any, address: str) -> None:
    again = sheets.post(address, sheets.open(address), row="remove:robot.parts.0")
    shown = dict(sheets.read(again.text))
    assert shown["robot.parts.0.name"] == "arm and gripper"
    assert sheets.post(address, sheets.read(again.text)).status_code == 303
    assert list(stored()[1]["robot"]["poses"][1]["offsets"]) == ["arm and gripper"]


def test_a_pose_and_a_moved_part_are_added_without_scripts(
    sheets: Any, stored: Any, address: str
) -> None:
    first = sheets.post(address, sheets.open(address), row="add:robot.poses")
    named = {"robot.poses.2.name": "reaching"}
    second = sheets.post(address, sheets.read(first.text), named, row="add:robot.poses.2.moves")
    moved = {"robot.poses.2.moves.0.part": "1", "robot.poses.2.moves.0.by.0": "250"}
    answer = sheets.post(address, sheets.read(second.text), moved)
    assert answer.status_code == 303, answer.text
    pose = stored()[1]["robot"]["poses"][2]
    assert pose == {"name": "reaching", "offsets": {"arm and gripper": ["250 mm", 0, 0]}}


def test_a_part_moved_twice_in_a_pose_is_refused(sheets: Any, stored: Any, address: str) -> None:
    fields = sheets.open(address)
    same = dict(fields)["robot.poses.1.moves.0.part"]
    answer = sheets.post(address, fields, {"robot.poses.1.moves.1.part": same})
    assert answer.status_code == 422
    assert "is moved twice in this pose" in answer.text
    assert stored()[0] == 1


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("robot.parts.0.name", "battery", "battery"),
        ("robot.parts.0.mass_kg", "heavy", "heavy"),
        ("robot.parts.1.centre_m.0", "", "Part 2: "),
        ("robot.poses.1.moves.0.by.1", "far", "Pose 2, moved part 1: "),
        ("robot.keepouts.1.outline_m:front", "wide", "wide"),
        ("robot.keepouts.1.top_m", "10", "has to lie above"),
        ("module_types.m100.upright.0.bottom_m", "x", "Upright volume 1: "),
        ("module_types.m100.name", "", "Name is missing"),
    ],
)
def test_rubbish_is_refused_beside_its_field_and_nothing_is_stored(
    *, sheets: Any, stored: Any, address: str, name: str, text: str, words: str
) -> None:
    before = stored()
    answer = sheets.post(address, sheets.open(address), {name: text})
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert words in answer.text
    assert dict(sheets.read(answer.text))[name] == text
    link = re.search(r'<li><a href="#(f-[^"]+)">', answer.text)
    assert link
    assert f'id="{link[1]}"' in answer.text
    assert stored() == before


def test_a_keep_out_of_another_shape_is_typed_by_its_corners(
    sheets: Any, stored: Any, address: str
) -> None:
    added = sheets.post(address, sheets.open(address), row="add:robot.keepouts:corners")
    typed = {
        "robot.keepouts.3.name": "wedge",
        "robot.keepouts.3.outline_m:corners": "0, 0; 100, 0; 0, 100",
        "robot.keepouts.3.bottom_m": "500",
        "robot.keepouts.3.top_m": "600",
    }
    answer = sheets.post(address, sheets.read(added.text), typed)
    assert answer.status_code == 303, answer.text
    assert (
        dict(sheets.open(address))["robot.keepouts.3.outline_m:corners"] == "0, 0; 100, 0; 0, 100"
    )
    crossed = {"robot.keepouts.3.outline_m:corners": "0, 0; 100, 100; 100, 0; 0, 100"}
    assert "crosses" in sheets.post(address, sheets.open(address), crossed).text


def test_a_module_type_is_added_and_one_in_use_cannot_go(
    sheets: Any, stored: Any, address: str
) -> None:
    added = sheets.post(address, sheets.open(address), row="key:module_types")
    typed = {"module_types.module.name": "small module"}
    assert sheets.post(address, sheets.read(added.text), typed).status_code == 303
    assert stored()[1]["module_types"]["module"]["name"] == "small module"
    gone = sheets.post(address, sheets.open(address), row="remove:module_types.m100")
    answer = sheets.post(address, sheets.read(gone.text))
    assert answer.status_code == 422
    assert "m100" in answer.text


def test_the_drawing_follows_what_is_typed(sheets: Any, stored: Any, address: str) -> None:
    fields = sheets.open(address)
    to = f"{address}/live"
    before = sheets.post(address, fields, {"seq": "1"}, to=to)
    after = sheets.post(
        address, fields, {"seq": "2", "robot.keepouts.0.outline_m:front": "90"}, to=to
    )
    assert after.headers["answer-sequence"] == "2"
    assert before.text.count("<svg") >= 2
    assert before.text != after.text
    bad = sheets.post(address, fields, {"robot.keepouts.0.top_m": "no"}, to=to)
    assert "Not drawn yet" in bad.text
    assert stored()[0] == 1


def test_a_pose_is_chosen_by_its_name(client: TestClient, address: str) -> None:
    page = client.get(f"{address}?pose=raised").text
    assert re.search(r'pose=raised" aria-current="true"', page)
    assert client.get(f"{address}?pose=nowhere").status_code == 200


def test_two_people_in_one_table_are_a_conflict_with_both_versions(
    sheets: Any, stored: Any, address: str
) -> None:
    mine = sheets.open(address)
    sheets.post(address, sheets.open(address), {"robot.parts.0.mass_kg": "10"})
    answer = sheets.post(address, mine, {"robot.parts.1.mass_kg": "4"})
    assert answer.status_code == 409
    settled = sheets.post(address, sheets.read(answer.text), settle="2")
    assert settled.status_code == 303
    parts = stored()[1]["robot"]["parts"]
    assert (parts[0]["mass_kg"], parts[1]["mass_kg"]) == (10, 4)


def test_keep_outs_follow_a_pose_that_is_renamed(
    *, app: FastAPI, sheets: Any, stored: Any, address: str, study_id: str
) -> None:
    keepouts = stored()[1]["robot"]["keepouts"]
    keepouts = [{**keepouts[0], "poses": ["raised"]}, *keepouts[1:]]
    save_sections(
        app.state.store,
        study_id,
        base_revision=1,
        edits={"robot.keepouts": keepouts},
        author="Ines",
        note="",
    )
    answer = sheets.post(address, sheets.open(address), {"robot.poses.1.name": "all up"})
    assert answer.status_code == 303, answer.text
    assert stored()[1]["robot"]["keepouts"][0]["poses"] == ["all up"]
