"""The page of a candidate: typed, recomputed, refused, saved, in conflict, with scripts off."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import load_study


@pytest.fixture
def address(study_id: str) -> str:
    return f"/studies/{study_id}/candidates/swerve"


@pytest.fixture
def stored(app: FastAPI, study_id: str) -> Any:
    """Reads the newest revision: its number, and the candidate as it is stored."""

    def read(key: str = "swerve") -> tuple[int, dict[str, Any]]:
        state = load_study(app.state.store, study_id)
        found = [one for one in state.document["candidates"] if one["key"] == key]
        return state.revision.number, found[0] if found else {}

    return read


def test_every_input_says_its_unit_and_what_it_does(client: TestClient, address: str) -> None:
    page = client.get(address).text
    assert 'for="f-wheels-diameter_m">Wheel diameter, <span class="unit">mm</span>' in page
    assert re.search(r'id="f-drive-ratio-effect"[^>]*>\d\.\d+ m/s free speed<', page)
    assert 'type="number"' not in page
    assert "placeholder=" not in page
    assert re.search(r'name="drive.branch_ohm"[^>]*inputmode="decimal"', page)
    assert not re.search(r'name="parts.0.centre_m.0"[^>]*inputmode', page)


@pytest.mark.parametrize("key", ["tank", "swerve", "swerve-tall", "mecanum"])
@pytest.mark.parametrize("units", ["si", "inch-pound"])
def test_a_form_sent_as_it_was_opened_changes_nothing(
    *, client: TestClient, sheets: Any, stored: Any, study_id: str, key: str, units: str
) -> None:
    client.cookies.set("units", units)
    address = f"/studies/{study_id}/candidates/{key}"
    before = stored(key)
    answer = sheets.post(address, sheets.open(address))
    assert answer.status_code == 303
    assert "saved=nothing" in answer.headers["location"]
    assert stored(key) == before


NEW_TEXTS = {
    "name": "Four modules, tried again",
    "notes": "First line\nSecond & last",
    "drive.motor": "br63",
    "drive.motor_count": "8",
    "drive.ratio": "50:14, 17:27, 45:15",
    "drive.efficiency": "0.87",
    "drive.stator_limit_a": "85",
    "drive.supply_limit_a": "45.5",
    "drive.branch_ohm": "7",
    "drive.steer_time_s": "0.2",
    "wheels.diameter_m": "4.1 in",
    "wheels.wheelbase_m": "545",
    "wheels.track_m": "0.505 m",
    "wheels.grip": "1.05",
    "wheels.grip:low": "0.9",
    "wheels.grip:high": "1.3",
    "wheels.grip:source": "assumed",
    "wheels.grip:note": "worn <tread>",
    "wheels.side_grip": "1",
    "wheels.rolling_coefficient": "0.03",
    "wheels.inertia_kgm2": "5",
    "frame.length_m": "705",
    "frame.width_m": "655",
    "modules.corners.rear_left.orientation": "upright",
    "modules.corners.rear_left.inset_m.0": "10",
    "modules.corners.rear_left.inset_m.1": "1/4 in",
    "parts.0.name": "modules, four",
    "parts.0.mass_kg": "3.1",
    "parts.0.mass_kg:low": "2.9",
    "parts.0.quantity": "3",
    "parts.0.centre_m.0": "-5",
    "parts.0.centre_m.2": "0.1 m",
    "parts.0.size_m.1": "22 in",
    "parts.0.exempt": "yes",
}


def test_every_field_comes_back_as_it_was_typed(
    client: TestClient, sheets: Any, stored: Any, address: str
) -> None:
    answer = sheets.post(address, sheets.open(address), NEW_TEXTS)
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].endswith("saved=2")
    shown = dict(sheets.open(address))
    assert {name: shown[name] for name in NEW_TEXTS} == NEW_TEXTS
    assert stored()[0] == 2
    assert sheets.post(address, sheets.open(address)).headers["location"].endswith("nothing")


def test_an_optional_field_that_was_emptied_stays_empty(
    sheets: Any, stored: Any, address: str
) -> None:
    sheets.post(address, sheets.open(address), {"drive.stator_limit_a": "", "drive.branch_ohm": ""})
    assert "stator_limit_a" not in stored()[1]["drive"]
    shown = dict(sheets.open(address))
    assert shown["drive.stator_limit_a"] == ""
    assert shown["drive.branch_ohm"] == ""


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("drive.ratio", "rubbish", "rubbish"),
        ("drive.ratio", "0.148", "A ratio below 1 speeds the wheel up"),
        ("drive.ratio", "", "Ratio is missing"),
        ("drive.efficiency", "0,9", "decimal comma"),
        ("wheels.diameter_m", "4000", "out of range"),
        ("wheels.diameter_m", "<script>", "&lt;script&gt;"),
        ("wheels.grip", "nan", "nan"),
        ("drive.motor_count", "3.5", "not a whole number"),
        ("drive.motor", "nobody", "nobody"),
        ("layout", "hovercraft", "hovercraft"),
        ("parts.0.mass_kg", "3 furlongs", "furlongs"),
        ("parts.0.centre_m.1", "left", "left"),
        ("modules.corners.front_left.orientation", "sideways", "sideways"),
        ("name", "", "Name is missing"),
        ("name", "x" * 500, "120 at most"),
    ],
)
def test_rubbish_is_refused_beside_its_field_and_nothing_is_stored(
    *, sheets: Any, stored: Any, address: str, name: str, text: str, words: str
) -> None:
    before = stored()
    fields = sheets.open(address)
    typed = {"notes": "typed before", name: text}
    answer = sheets.post(address, fields, typed)
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert "There is a problem" in answer.text
    assert words in answer.text
    assert re.search(r'<a href="#f-[^"]+">', answer.text)
    link = re.search(r'<li><a href="#(f-[^"]+)">', answer.text)
    assert link
    assert f'id="{link[1]}"' in answer.text
    shown = dict(sheets.read(answer.text))
    assert shown["notes"] == "typed before"
    assert shown[name] == text
    assert stored() == before


def test_a_fault_in_a_row_says_which_row(sheets: Any, address: str) -> None:
    answer = sheets.post(address, sheets.open(address), {"parts.1.mass_kg": "heavy"})
    assert "Part 2: " in answer.text


def test_a_name_the_form_does_not_have_is_refused_not_stored(
    sheets: Any, stored: Any, address: str
) -> None:
    answer = sheets.post(address, sheets.open(address), {"drive.colour": "red"})
    assert answer.status_code == 422
    assert stored()[0] == 1


def test_a_study_changed_meanwhile_in_another_section_is_merged(
    sheets: Any, stored: Any, address: str, study_id: str
) -> None:
    mine = sheets.open(address)
    other = f"/studies/{study_id}/candidates/tank"
    sheets.post(other, sheets.open(other), {"drive.ratio": "9.1"})
    answer = sheets.post(address, mine, {"drive.ratio": "7.1"})
    assert "saved=3&merged=yes" in answer.headers["location"]
    assert stored("tank")[1]["drive"]["ratio"] == 9.1
    assert stored()[1]["drive"]["ratio"] == 7.1


def conflict(client: TestClient, sheets: Any, address: str) -> Any:
    """Two people open the page; one saves ratio and efficiency, then the other ratio and grip."""
    mine = sheets.open(address)
    client.cookies.set("author", "Ravi")
    sheets.post(address, sheets.open(address), {"drive.ratio": "6.1", "drive.efficiency": "0.88"})
    client.cookies.set("author", "Ines")
    return sheets.post(address, mine, {"drive.ratio": "7.1", "wheels.grip": "1.2"})


def test_a_conflict_shows_both_versions_and_keeps_what_was_typed(
    client: TestClient, sheets: Any, stored: Any, address: str
) -> None:
    answer = conflict(client, sheets, address)
    assert answer.status_code == 409
    assert "Ravi saved the same section meanwhile" in answer.text
    assert "6.50 → 6.10" in answer.text
    assert "6.50 → 7.10" in answer.text
    shown = dict(sheets.read(answer.text))
    assert shown["drive.ratio"] == "7.1"
    assert shown["wheels.grip"] == "1.2"
    assert stored()[0] == 2


def test_use_mine_keeps_theirs_where_i_changed_nothing(
    client: TestClient, sheets: Any, stored: Any, address: str
) -> None:
    answer = conflict(client, sheets, address)
    settled = sheets.post(address, sheets.read(answer.text), settle="2")
    assert settled.status_code == 303, settled.text
    number, candidate = stored()
    assert number == 3
    assert candidate["drive"]["ratio"] == 7.1
    assert candidate["drive"]["efficiency"] == 0.88
    assert candidate["wheels"]["grip"] == 1.2


def test_a_third_save_meanwhile_is_a_conflict_again(
    client: TestClient, sheets: Any, stored: Any, address: str
) -> None:
    answer = conflict(client, sheets, address)
    sheets.post(address, sheets.open(address), {"drive.ratio": "5.5"})
    assert sheets.post(address, sheets.read(answer.text), settle="2").status_code == 409
    assert stored()[1]["drive"]["ratio"] == 5.5


def test_a_button_pressed_twice_saves_once(sheets: Any, stored: Any, address: str) -> None:
    fields = sheets.open(address)
    first = sheets.post(address, fields, {"drive.ratio": "7.1"})
    second = sheets.post(address, fields, {"drive.ratio": "7.1"})
    assert first.status_code == second.status_code == 303
    assert stored()[0] == 2


def test_the_reason_and_the_name_are_saved(
    client: TestClient, sheets: Any, address: str, study_id: str
) -> None:
    typed = {"drive.ratio": "7.1", "revision_note": "for the ramp", "your_name": "Noor"}
    sheets.post(address, sheets.open(address), typed)
    history = client.get(f"/studies/{study_id}/history").text
    assert "for the ramp" in history
    assert "Noor" in history
    assert "your_name" not in client.get(address).text


def test_a_row_is_added_and_taken_out_without_scripts_and_nothing_is_saved(
    sheets: Any, stored: Any, address: str
) -> None:
    typed = {"drive.ratio": "7.7", "parts.0.name": "renamed", "parts.1.mass_kg": "rubbish"}
    added = sheets.post(address, sheets.open(address), typed, row="add:parts")
    assert added.status_code == 200
    shown = dict(sheets.read(added.text))
    assert {name: shown[name] for name in typed} == typed
    assert shown["parts.2.name"] == ""
    assert "not saved yet" in added.text
    removed = sheets.post(address, sheets.read(added.text), row="remove:parts.0")
    shown = dict(sheets.read(removed.text))
    assert shown["parts.0.mass_kg"] == "rubbish"
    assert shown["parts.0:was"] == "1"
    assert shown["parts.1.name"] == ""
    assert stored()[0] == 1


def test_a_tube_is_added_filled_and_weighed(sheets: Any, stored: Any, address: str) -> None:
    added = sheets.post(address, sheets.open(address), row="add:parts:tube")
    tube = {
        "parts.2.name": "rail",
        "parts.2.tube.material": "aluminium",
        "parts.2.tube.width_m": "1 in",
        "parts.2.tube.height_m": "2 in",
        "parts.2.tube.wall_m": "3",
        "parts.2.tube.length_m": "700",
        **{f"parts.2.centre_m.{axis}": "0" for axis in range(3)},
    }
    answer = sheets.post(address, sheets.read(added.text), tube)
    assert answer.status_code == 303, answer.text
    assert stored()[1]["parts"][2]["tube"]["width_m"] == "1 in"
    shown = dict(sheets.open(address))
    assert shown["parts.2.tube.wall_m"] == "3"


def test_a_row_left_blank_is_not_saved(sheets: Any, stored: Any, address: str) -> None:
    added = sheets.post(address, sheets.open(address), row="add:parts")
    answer = sheets.post(address, sheets.read(added.text), {"drive.ratio": "7"})
    assert answer.status_code == 303
    assert len(stored()[1]["parts"]) == 2


@pytest.mark.parametrize(
    "row",
    [
        "add:",
        "add:nowhere.9.x",
        "add:drive.ratio",
        "remove:",
        "remove:parts.99",
        "x",
        "add:parts:x",
    ],
)
def test_a_row_button_nobody_offered_changes_nothing(
    sheets: Any, stored: Any, address: str, row: str
) -> None:
    assert sheets.post(address, sheets.open(address), row=row).status_code == 200
    assert stored()[0] == 1


def test_another_layout_has_other_inputs(sheets: Any, stored: Any, address: str) -> None:
    again = sheets.post(address, sheets.open(address), {"layout": "tank"}, row="refresh")
    names = dict(sheets.read(again.text))
    assert "wheels.centre_drop_m" in names
    assert "modules.type" not in names
    assert sheets.post(address, sheets.read(again.text)).status_code == 303
    assert stored()[1]["layout"] == "tank"
    assert "modules" not in stored()[1]


def live(sheets: Any, address: str, **typed: str) -> Any:
    changes = {name.replace("__", "."): text for name, text in typed.items()}
    return sheets.post(address, sheets.open(address), {**changes, "seq": "7"}, to=f"{address}/live")


def test_the_figures_follow_what_is_typed_and_nothing_is_stored(
    sheets: Any, stored: Any, address: str
) -> None:
    answer = live(sheets, address, drive__ratio="3.25", curves="yes")
    assert answer.status_code == 200
    assert answer.headers["answer-sequence"] == "7"
    assert re.search(r'id="f-drive-ratio-effect"[^>]*>9\.66 m/s free speed<', answer.text)
    assert re.search(r"faster <span[^>]*>than saved", answer.text)
    assert "data-chart-series" in answer.text
    assert "data-chart-series" not in live(sheets, address, drive__ratio="3.25").text
    assert "<input" not in re.sub(r'<input type="hidden"[^>]*>', "", answer.text)
    assert stored()[0] == 1


def test_odd_input_is_remarked_beside_its_field_with_a_fix(sheets: Any, address: str) -> None:
    answer = live(sheets, address, wheels__diameter_m="50.8")
    remark = answer.text.split('id="f-wheels-diameter_m-remarks"')[1].split("</div>")[0]
    assert "50.8 mm is half of the usual 101.6 mm wheel" in remark
    assert 'value="wheels.diameter_m=101.6"' in remark
    fields = sheets.open(address)
    fixed = sheets.post(
        address, fields, {"wheels.diameter_m": "50.8"}, fix="wheels.diameter_m=101.6"
    )
    assert dict(sheets.read(fixed.text))["wheels.diameter_m"] == "101.6"


def test_a_ratio_upside_down_offers_the_right_one(sheets: Any, address: str) -> None:
    answer = live(sheets, address, drive__ratio="0.148")
    assert answer.status_code == 200
    assert "Not worked out yet" in answer.text
    assert 'value="drive.ratio=6.76"' in answer.text


def test_a_value_outside_its_own_range_is_worked_out_and_said(sheets: Any, address: str) -> None:
    stated = {"wheels.grip:low": "1", "wheels.grip:high": "1.2", "wheels.grip:source": "assumed"}
    fields = sheets.open(address)
    answer = sheets.post(address, fields, {**stated, "wheels.grip": "0.8"}, to=f"{address}/live")
    assert "Not worked out yet" not in answer.text
    assert "low ≤ value ≤ high" in answer.text
    assert sheets.post(address, fields, {**stated, "wheels.grip": "0.8"}).status_code == 422


@pytest.mark.parametrize("seq", ["", "-1", "x", "9" * 40])
def test_a_sequence_that_is_no_number_is_answered_as_the_first(
    sheets: Any, address: str, seq: str
) -> None:
    answer = sheets.post(address, sheets.open(address), {"seq": seq}, to=f"{address}/live")
    assert answer.headers["answer-sequence"] == "0"


def test_a_form_from_elsewhere_is_refused(sheets: Any, stored: Any, address: str) -> None:
    fields = [(name, text) for name, text in sheets.open(address) if name != "csrf_token"]
    for to in (address, f"{address}/live", f"{address}/remove"):
        assert sheets.post(address, fields, {"drive.ratio": "7"}, to=to).status_code == 403
    assert stored()[0] == 1


def test_a_variant_is_made_and_another_base_becomes_todays(
    client: TestClient, forms: Any, stored: Any, address: str
) -> None:
    made = forms.send(f"{address}/duplicate")
    assert made.headers["location"].endswith("/candidates/swerve-2")
    assert "Four steered modules (variant)" in client.get(made.headers["location"]).text
    forms.send(f"{address}/baseline")
    assert stored()[1]["baseline"] is True
    assert "baseline" not in stored("tank")[1]


def test_a_candidate_is_removed_and_the_history_keeps_it(
    client: TestClient, forms: Any, stored: Any, address: str
) -> None:
    assert forms.send(f"{address}/remove").status_code == 303
    assert stored() == (2, {})
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("step", ["", "/live", "/duplicate", "/remove", "/baseline"])
def test_a_candidate_that_is_not_there_is_said(forms: Any, study_id: str, step: str) -> None:
    answer = forms.send(f"/studies/{study_id}/candidates/nobody{step}")
    assert answer.status_code == 404


def test_the_mass_ledger_tells_what_stays_goes_and_comes(client: TestClient, address: str) -> None:
    page = client.get(address).text
    ledger = page.split("Mass ledger")[1].split("Bodies</h2>")[0]
    assert ledger.index("Stays") < ledger.index("Goes out") < ledger.index("Comes in")
    assert "modules × 4" in ledger
    assert "Left of the limit" in ledger
