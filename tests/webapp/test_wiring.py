"""The wiring page: breakers that hold or open, cables, slots, and what is not protected."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.seed import example_document
from models.services import create_study
from models.study import parse_study
from models.trade.match import match_of
from models.trade.wiring import wiring_of
from models.units import UnitSystem
from webapp.pages.wiring.context import wiring_context
from webapp.pages.wiring.curves import breaker_plot
from webapp.shared.links import StudyLinks


@pytest.fixture
def example() -> dict[str, Any]:
    return example_document()


def context(
    document: dict[str, Any], system: UnitSystem = UnitSystem.SI, **asked: Any
) -> dict[str, Any]:
    study = parse_study(document)
    power = match_of(study)
    links = StudyLinks.for_study("s", tuple(one.key for one in study.candidates))
    return wiring_context(study, power, wiring_of(study, power), links, system, **asked)


def cells(rows: list[Any], name: str) -> list[Any]:
    return list(next(one for one in rows if one.name == name).cells)


def breaker(found: dict[str, Any], which: str) -> dict[str, Any]:
    return next(one for one in found["breakers"] if one["which"] == which)


def test_the_page_leads_with_breakers_and_slots(client: TestClient, app: FastAPI) -> None:
    study_id = create_study(app.state.store, example_document(), author="", note="").study_id
    answer = client.get(f"/studies/{study_id}/wiring")
    assert answer.status_code == 200
    assert 'aria-current="page">Wiring' in answer.text
    assert "Main and branch breakers hold in every push" in answer.text
    assert "Every one of these finds its slots." in answer.text
    assert "pull on every wire" in answer.text
    assert "the battery's plug pulled" in answer.text.replace("&#39;", "'")


def test_a_small_main_breaker_opens_in_a_push_and_says_when(example: dict[str, Any]) -> None:
    example["power"]["main_breaker_a"] = 70
    found = context(example)
    assert found["lead"][0].startswith("The main breaker opens in a push of today's A, B, C and D")
    assert "at the soonest" in found["lead"][0]
    push = cells(breaker(found, "main")["rows"], "In a push")
    assert push[0].text.startswith("✕ opens after ")
    assert "× its rating" in push[0].note
    assert cells(breaker(found, "branch")["rows"], "In a push")[0].text == "✓ holds"


def test_seconds_are_those_of_the_typed_curve(example: dict[str, Any]) -> None:
    """Between two points the time is read off a straight line on log axes, by hand."""
    example["power"].update(main_breaker_a=100, main_breaker_curve=[[1.1, 1000], [11.0, 10]])
    study = parse_study(example)
    power = match_of(study)
    share = power["candidates"][0]["push"]["bus_current_a"] / 100.0
    expected = 1000.0 / (share / 1.1) ** 2
    found = wiring_of(study, power)["candidates"][0]["breakers"][0]["push_s"]
    assert found == pytest.approx(expected, rel=1e-6)
    shown = cells(breaker(context(example), "main")["rows"], "In a push")[0].text
    assert shown in (f"✕ opens after {expected:.0f} s", f"✕ opens after {expected / 60:.0f} min")


def test_what_is_not_given_is_asked_for(example: dict[str, Any]) -> None:
    for name in ("main_breaker_curve", "branch_breaker_a", "branch_breaker_curve", "cables"):
        example["power"].pop(name)
    found = context(example)
    assert (
        "Nobody can tell when the main breaker and the branch breakers would open"
        in (found["lead"][0])
    )
    assert cells(breaker(found, "main")["rows"], "In a push")[0].text == "not given"
    assert found["plots"] == []
    assert found["cables"] == []
    assert found["unprotected"] == ""


def test_a_breaker_that_does_not_protect_its_cable_is_named(example: dict[str, Any]) -> None:
    found = context(example)
    assert "“battery leads”" in found["unprotected"]
    assert len(found["cable_warnings"]) == 4
    assert any(text.startswith("B and C: in a push") for text in found["warnings"])
    example["power"]["cables"] = [
        {"name": "thick", "runs": "main", "area_mm2": 70, "length_m": 0.6}
    ]
    assert context(example)["unprotected"] == ""


def test_cables_show_resistance_drop_and_what_they_carry(example: dict[str, Any]) -> None:
    found = context(example, candidate="tank")
    lead = found["cables"][0]
    assert lead.size == "6 AWG, 13.3 mm²"
    assert lead.resistance == "1.56 mΩ at 20 °C"
    assert lead.drop == "0.37 V at 237 A"
    assert lead.stands.note.startswith("✕ at 162 A too hot in 70 s")
    assert float(lead.heat) == pytest.approx(9.9, abs=0.2)
    inch = context(example, UnitSystem.INCH_POUND, candidate="tank")
    assert inch["heat_unit"] == "W/ft"
    assert float(inch["cables"][0].heat) == pytest.approx(0.3048 * 9.94, abs=0.1)
    assert any("They agree" in text for text in found["verdicts"])
    example["power"]["main_wiring_ohm"] = 0.0001
    assert "That cannot be" in context(example)["verdicts"][0]


def test_slots_that_are_missing_are_said_in_words(example: dict[str, Any]) -> None:
    example["power"]["channels"] = 12
    found = context(example)
    assert "B is 2 short of power channels" in found["lead"][-1]
    slots = cells(found["slot_rows"], "Power channels")
    assert [cell.text for cell in slots[:2]] == ["✓ 2 free", "✕ 2 over"]
    assert slots[1].note == "takes 8, typed"
    assert slots[0].note == "takes 4, counted"
    example["power"].pop("channels")
    found = context(example)
    assert cells(found["slot_rows"], "Power channels")[0].text == "not given"
    assert "but power channels are not given" in found["lead"][-1]


def test_a_curve_is_drawn_with_its_points_and_letters() -> None:
    told = {"rating_a": 100.0, "curve": [[1.5, 100.0], [6.0, 1.0]]}
    plot = breaker_plot("Main breaker", told, [("A", 120.0), ("B", 122.0), ("C", 300.0)])
    assert plot is not None
    assert len(plot.strokes[0].ends) == 2
    letters = [label.text for label in plot.labels if label.css == "plot-letter"]
    assert letters == ["A, B", "C"]
    (x0, y0), (x1, y1) = plot.strokes[0].ends
    assert x1 > x0 and y1 > y0
    assert breaker_plot("Main breaker", {"rating_a": None, "curve": []}, []) is None


def test_one_point_and_no_pushes_still_draw() -> None:
    assert breaker_plot("Main breaker", {"rating_a": 40.0, "curve": [[2.0, 10.0]]}, []) is not None


def test_an_unknown_candidate_is_said(client: TestClient, study_id: str) -> None:
    answer = client.get(f"/studies/{study_id}/wiring", params={"candidate": "<b>x</b>"})
    assert answer.status_code == 404
    assert "<b>x</b>" not in answer.text


def test_a_study_without_wiring_still_has_the_page(client: TestClient, study_id: str) -> None:
    answer = client.get(f"/studies/{study_id}/wiring")
    assert answer.status_code == 200
    assert "Nobody can tell when" in answer.text
    assert "Describe the cables" in answer.text
    assert "nan" not in answer.text.split("<main")[1].lower()


def test_viewers_have_no_wiring_page(client: TestClient, link_to: Any) -> None:
    assert client.get(f"/shared/{link_to('frozen')}/wiring").status_code == 404
