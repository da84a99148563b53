"""The shoving page: a match, how long a push lasts, dead parts; the same for viewers."""

from __future__ import annotations

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from models.study import parse_study
from models.units import UnitSystem
from webapp.shared.links import StudyLinks
from webapp.shared.shoving.context import shoving_context
from webapp.shared.shoving.words import lasts


def page(client: TestClient, study_id: str, **query: Any) -> str:
    answer = client.get(f"/studies/{study_id}/shoving", params=query)
    assert answer.status_code == 200, answer.text[:300]
    return answer.text


def context(document: dict[str, Any], **asked: Any) -> dict[str, Any]:
    links = StudyLinks.for_study("s")
    return shoving_context(parse_study(document), links, UnitSystem.SI, **asked)


def row(rows: list[Any], name: str) -> list[str]:
    return [cell.text for cell in next(one for one in rows if one.name == name).cells]


def test_the_page_leads_with_who_moves_whom(client: TestClient, study_id: str) -> None:
    text = page(client, study_id, mass="20", grip="0.5")
    lead = re.search(r'class="lead">(.*?)</p>', text, re.DOTALL)
    assert lead
    assert "move it back" in lead[1]
    assert 'aria-current="page">Shoving' in text
    assert "never against people" in text


def test_without_an_opponent_todays_likeness_stands_in(document: dict[str, Any]) -> None:
    found = context(document)
    assert "as much as today's base" in found["assumed"]


def test_the_studys_opponent_fills_the_form(document: dict[str, Any]) -> None:
    document["yardsticks"]["opponent"] = {"mass_kg": 48, "grip": 0.9, "push_force_n": 200}
    found = context(document)
    assert [typed.text for typed in found["asked"][:3]] == ["48", "0.9", "200"]
    assert "limited by its motors" in found["assumed"]
    emptied = context(document, push="")
    assert emptied["asked"][2].value is None
    assert "pushes as hard as that" in emptied["assumed"]


def test_a_light_opponent_is_moved_and_a_heavy_one_moves_all(document: dict[str, Any]) -> None:
    light = context(document, mass="15", grip="0.5")
    assert all(text.startswith("✓ moves it") for text in row(light["match_rows"],
                                                             "Both push head-on"))  # fmt: skip
    assert all(text == "✓ holds" for text in row(
        light["match_rows"], "It stands, the other shoves its side"))  # fmt: skip
    heavy = context(document, mass="400", grip="1.5")
    assert all(text.startswith("✕ is moved") for text in row(heavy["match_rows"],
                                                             "Both push head-on"))  # fmt: skip
    assert all(text == "does not move it" for text in row(
        heavy["match_rows"], "It shoves the other's side"))  # fmt: skip


@pytest.mark.parametrize(
    ("name", "typed"),
    [("mass", "0"), ("mass", "4000"), ("grip", "x"), ("grip", "1,1"), ("push", "-3"),
     ("push", "1e999"), ("stuck", "400"), ("stuck", "across")],
)  # fmt: skip
def test_what_cannot_be_used_is_told_and_kept(
    client: TestClient, study_id: str, name: str, typed: str
) -> None:
    answer = client.get(f"/studies/{study_id}/shoving", params={name: typed})
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert f'href="#{name}"' in answer.text
    assert f'value="{typed}"' in answer.text
    assert "nan" not in answer.text.lower().split("<main")[1]


def test_what_is_not_given_says_so_and_nothing_reads_as_zero(document: dict[str, Any]) -> None:
    found = context(document)
    assert set(row(found["push_rows"], "Branch breaker lasts")) == {"not given"}
    assert set(row(found["push_rows"], "Winding lasts")) == {"not given"}
    assert "Not given, so that it may be shorter" in found["first"]


def test_breakers_and_windings_give_up_by_what_was_typed(document: dict[str, Any]) -> None:
    document["power"].update(
        {"branch_breaker_a": 5, "branch_breaker_curve": [[1.2, 60], [4, 1]],
         "main_breaker_a": 900, "main_breaker_curve": [[1.3, 100], [2, 10]]}
    )  # fmt: skip
    for motor in document["motors"].values():
        motor.update({"winding_heat_j_per_k": 5000, "winding_limit_c": 150})
    found = context(document)
    assert set(row(found["push_rows"], "Main breaker lasts")) == {"holds"}
    assert "branch breaker" in row(found["push_rows"], "Gives up first")
    assert "before a branch breaker gives up" in found["first"]
    assert "not given" not in found["first"].lower()


def test_dead_parts_are_shown_by_candidate(document: dict[str, Any]) -> None:
    found = context(document, stuck="90")
    for one in found["dead"]:
        names = [line["name"] for line in one["rows"]]
        assert names[0] == "Whole"
        assert names[1].startswith("One motor off")
        if one["mark"].layout == "swerve":
            assert names[-1] == "One module stuck"
            assert one["rows"][-1]["where"].endswith("at 90°")
        whole, dead = one["rows"][0]["cells"], one["rows"][-1]["cells"]
        assert float(dead[1].text) < float(whole[1].text)
        assert dead[4].text in ("✓ yes", "✕ no")


def test_a_dead_side_is_named(document: dict[str, Any]) -> None:
    tank = next(one for one in document["candidates"] if one["layout"] == "tank")
    tank["drive"]["motor_count"] = 2
    found = context(document, shown=[tank["key"]])
    cells = found["dead"][0]["rows"][1]["cells"]
    assert cells[4].text == "✕ no"
    assert cells[4].note == "cannot drive or turn"
    assert "no way to drive or turn in place" in found["dead_words"][0]


def test_without_modules_nothing_is_asked_about_them(document: dict[str, Any]) -> None:
    tank = next(one for one in document["candidates"] if one["layout"] == "tank")
    found = context(document, shown=[tank["key"]])
    assert [typed.box.name for typed in found["asked"]] == ["mass", "grip", "push"]


def test_units_follow_the_switch(client: TestClient, study_id: str, forms: Any) -> None:
    forms.send("/units", {"units": "inch-pound", "next": "/"})
    text = page(client, study_id, mass="100", push="80").split("<main")[1].split("</main")[0]
    assert "100 lb" in text
    assert "80.0 lbf" in text
    assert " N " not in text


def test_a_viewer_sees_the_same(client: TestClient, study_id: str, link_to: Any) -> None:
    shared = client.get(f"/shared/{link_to()}/shoving", params={"mass": "30"})
    assert shared.status_code == 200
    table = re.compile(r"<table.*?</table>", re.DOTALL)
    assert table.findall(shared.text) == table.findall(page(client, study_id, mass="30"))
    assert f"/studies/{study_id}" not in shared.text


def test_times_read_as_people_say_them() -> None:
    assert [lasts(seconds) for seconds in (0.42, 59.6, 1200.0)] == ["0.4 s", "60 s", "20 min"]
