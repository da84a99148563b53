"""The page of the givens: rules, power, yardsticks, motors."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.seed import motor_classes
from models.services import load_study


@pytest.fixture
def address(study_id: str) -> str:
    return f"/studies/{study_id}/givens"


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
    assert answer.headers["location"].endswith("saved=nothing")
    assert stored() == before


NEW_TEXTS = {
    "name": "Reference study, another name",
    "notes": "A note\nof two lines",
    "rules.mass_limit_kg": "125 lb",
    "rules.perimeter_limit_m": "3000",
    "rules.autonomous_s": "20",
    "power.open_circuit_v": "12.5",
    "power.open_circuit_v:source": "measured",
    "power.internal_resistance_ohm": "18",
    "power.internal_resistance_ohm:high": "22",
    "power.capacity_ah": "",
    "power.brownout_v": "6.5",
    "yardsticks.sprint_distance_m": "18 ft",
    "yardsticks.ramp_deg": "15",
    "motors.bl60.free_speed_rpm": "6000",
    "motors.bl60.rotor_inertia_kgm2": "0.7",
}


def test_every_kind_of_field_comes_back_as_it_was_typed(
    sheets: Any, stored: Any, address: str
) -> None:
    answer = sheets.post(address, sheets.open(address), NEW_TEXTS)
    assert answer.status_code == 303, answer.text
    shown = dict(sheets.open(address))
    assert {name: shown[name] for name in NEW_TEXTS} == NEW_TEXTS
    assert stored()[1]["power"]["internal_resistance_ohm"]["high"] == "22 mΩ"
    assert "capacity_ah" not in stored()[1]["power"]


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("rules.mass_limit_kg", "", "Mass limit is missing"),
        ("rules.match_s", "long", "long"),
        ("power.open_circuit_v", "12,6", "decimal comma"),
        ("power.internal_resistance_ohm", "16000", "out of range"),
        ("yardsticks.sprint_distance_m", "6 s", "6 s"),
        ("motors.bl60.stall_torque_nm", "0", "out of range"),
        ("motors.bl60.free_current_a", "400", "out of range"),
        ("name", "", "Name is missing"),
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


def test_a_motor_is_added_from_its_class_and_can_be_driven_on(
    *, app: FastAPI, sheets: Any, stored: Any, address: str, study_id: str
) -> None:
    added = sheets.post(
        address, sheets.open(address), {"motor_class": "brushless-60"}, row="key:motors"
    )
    assert stored()[0] == 1
    assert sheets.post(address, sheets.read(added.text)).status_code == 303
    motor = load_study(app.state.store, study_id).study.motors["brushless-60"]
    figures = motor_classes()["brushless-60"]
    assert {name: getattr(motor, name) for name in figures} == pytest.approx(figures)
    candidate = f"/studies/{study_id}/candidates/swerve"
    answer = sheets.post(candidate, sheets.open(candidate), {"drive.motor": "brushless-60"})
    assert answer.status_code == 303, answer.text


def test_a_motor_in_use_has_no_button_to_remove_it(
    client: TestClient, sheets: Any, stored: Any, address: str
) -> None:
    assert 'value="remove:motors.bl60"' not in client.get(address).text
    gone = sheets.post(address, sheets.open(address), row="remove:motors.bl60")
    assert sheets.post(address, sheets.read(gone.text)).status_code == 422
    assert stored()[0] == 1


def test_routes_are_typed_on_their_own_page_and_stay_as_they_are(
    client: TestClient, sheets: Any, stored: Any, address: str
) -> None:
    before = stored()[1]["routes"]
    assert not [name for name, _ in sheets.open(address) if name.startswith("routes")]
    sheets.post(address, sheets.open(address), {"rules.match_s": "140"})
    assert stored()[1]["routes"] == before
    assert f'href="{address.removesuffix("givens")}routes"' in client.get(address).text


def test_a_first_partner_can_be_added_where_there_is_no_platform_yet(
    sheets: Any, stored: Any, address: str
) -> None:
    assert "platform" not in stored()[1]
    added = sheets.post(address, sheets.open(address), row="add:platform.partners")
    typed = {
        "platform.length_m": "2.4 m",
        "platform.partners.0.name": "neighbour",
        "platform.partners.0.mass_kg": "50",
        "platform.partners.0.at_m": "0.4 m",
    }
    assert set(typed) <= set(dict(sheets.read(added.text)))
    assert sheets.post(address, sheets.read(added.text), typed).status_code == 303
    (partner,) = stored()[1]["platform"]["partners"]
    assert partner["name"] == "neighbour"


def test_odd_input_is_remarked_while_one_types(sheets: Any, stored: Any, address: str) -> None:
    fields = sheets.open(address)
    to = f"{address}/live"
    answer = sheets.post(address, fields, {"rules.mass_limit_kg": "125", "seq": "3"}, to=to)
    assert answer.headers["answer-sequence"] == "3"
    remark = answer.text.split('id="f-rules-mass_limit_kg-remarks"')[1].split("</div>")[0]
    assert "Pounds?" in remark
    assert "125+lb" in remark
    meaning = sheets.post(address, fields, {"rules.mass_limit_kg": "125 lb"}, to=to)
    assert "= 56.70 kg" in meaning.text
    assert stored()[0] == 1


def test_another_section_saved_meanwhile_is_merged(sheets: Any, stored: Any, address: str) -> None:
    mine = sheets.open(address)
    sheets.post(address, sheets.open(address), {"rules.match_s": "140"})
    answer = sheets.post(address, mine, {"power.brownout_v": "6.3"})
    assert "merged=yes" in answer.headers["location"]
    document = stored()[1]
    assert (document["rules"]["match_s"], document["power"]["brownout_v"]) == (140, 6.3)
