"""Poses of keep-outs, loads and the platform, typed in the forms."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI

from models.services import load_study

Document = dict[str, Any]


@pytest.fixture
def stored(app: FastAPI, study_id: str) -> Any:
    return lambda: load_study(app.state.store, study_id).document


def test_ticks_name_the_poses_of_a_keepout_and_none_means_all(
    sheets: Any, stored: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/robot"
    fields = sheets.open(address)
    answer = sheets.post(address, [*fields, ("robot.keepouts.0.in_poses", "1")])
    assert answer.status_code == 303, answer.text
    assert stored()["robot"]["keepouts"][0]["poses"] == ["raised"]
    shown = sheets.open(address)
    assert ("robot.keepouts.0.in_poses", "1") in shown
    unticked = [one for one in shown if one != ("robot.keepouts.0.in_poses", "1")]
    sheets.post(address, unticked)
    assert "poses" not in stored()["robot"]["keepouts"][0]


def test_a_load_is_added_to_a_pose_without_scripts(sheets: Any, stored: Any, study_id: str) -> None:
    address = f"/studies/{study_id}/robot"
    added = sheets.post(address, sheets.open(address), row="add:robot.poses.1.loads")
    load = "robot.poses.1.loads.0"
    typed = {f"{load}.name": "crate", f"{load}.mass_kg": "3", f"{load}.centre_m.2": "900"}
    typed |= {f"{load}.centre_m.0": "0", f"{load}.centre_m.1": "0"}
    answer = sheets.post(address, sheets.read(added.text), typed)
    assert answer.status_code == 303, answer.text
    kept = stored()["robot"]["poses"][1]["loads"][0]
    assert (kept["name"], kept["mass_kg"]) == ("crate", 3)


def test_a_platform_is_typed_and_taken_away(sheets: Any, stored: Any, study_id: str) -> None:
    address = f"/studies/{study_id}/givens"
    sheets.post(address, sheets.open(address), {"platform.length_m": "2400 mm"})
    assert stored()["platform"]["length_m"] == "2400 mm"
    sheets.post(address, sheets.open(address), {"platform.length_m": ""})
    assert "platform" not in stored()
