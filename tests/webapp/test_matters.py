"""The page of what matters: words first, the tornado, the table; ranges on other pages."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import create_link, create_study, load_study, whole_evaluation_of
from models.study import parse_study
from webapp.shared.choice.inputs_named import address_of, input_name, whose
from webapp.shared.choice.tornado import Swing, tornado
from webapp.shared.links import StudyLinks

SPRINT = "sprint_stop_time_s"


def said(text: str) -> str:
    """What a page says, without markup and with plain spaces."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).replace("\xa0", " ").split())


def ranged(value: float, low: float, high: float, source: str = "assumed") -> dict[str, Any]:
    return {"value": value, "low": low, "high": high, "source": source}


@pytest.fixture
def uncertain(app: FastAPI, client: TestClient, document: dict[str, Any]) -> str:
    """A study in which the battery's resistance and one base's efficiency have a range."""
    document["power"]["internal_resistance_ohm"] = ranged(0.016, 0.012, 0.022)
    for one in document["candidates"]:
        one["drive"]["efficiency"] = ranged(0.9, 0.89, 0.91, "measured")
    return create_study(app.state.store, document, author="", note="").study_id


def lead(text: str) -> str:
    found = re.search(r'class="lead">(.*?)</p>', text, re.DOTALL)
    assert found
    return said(found[1])


def swing(name: str, low: float, high: float) -> Swing:
    return Swing(name, "", "", low, high, "low", "high", "", "")


def test_the_words_name_what_to_measure_first(client: TestClient, uncertain: str) -> None:
    page = client.get(f"/studies/{uncertain}/matters", params={"metric": SPRINT}).text
    words = lead(page)
    assert words.startswith("Measure this first: battery's internal resistance (assumed, 12 to 22")
    assert "it moves “Sprint and stop” of" in words
    assert "more than all others together" in words
    assert page.index('class="lead"') < page.index('id="tornado-head"')


def test_what_is_measured_already_is_told_and_the_next_guess_named(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    document["power"]["internal_resistance_ohm"] = ranged(0.016, 0.012, 0.022, "measured")
    document["power"]["main_wiring_ohm"] = ranged(0.003, 0.0028, 0.0032)
    study = create_study(app.state.store, document, author="", note="").study_id
    words = lead(client.get(f"/studies/{study}/matters", params={"metric": SPRINT}).text)
    assert words.startswith("Battery's internal resistance (measured, 12 to 22 mΩ) moves")
    assert "measure this first: main wiring and breaker (assumed, 2.8 to 3.2 mΩ)" in words


def test_the_table_holds_the_ends_and_each_input_leads_to_its_box(
    client: TestClient, uncertain: str
) -> None:
    text = client.get(f"/studies/{uncertain}/matters", params={"metric": SPRINT}).text
    assert f'href="/studies/{uncertain}/givens#f-power-internal_resistance_ohm"' in text
    assert re.search(rf'href="/studies/{uncertain}/candidates/[^"]+#f-drive-efficiency"', text)
    row = re.search(r'<tr><th scope="row"><a[^>]+>Battery.*?</tr>', text, re.DOTALL)
    assert row
    low, high, moved = (float(one) for one in re.findall(r">(\d\.\d+)<", row[0])[:3])
    assert low < high
    assert moved == pytest.approx(high - low, abs=0.0015)
    givens = client.get(f"/studies/{uncertain}/givens").text
    assert 'id="f-power-internal_resistance_ohm"' in givens


def test_inch_pound_units_reach_figure_and_input(client: TestClient, uncertain: str) -> None:
    client.cookies.set("units", "inch-pound")
    query = {"metric": "top_speed_mps"}
    text = said(client.get(f"/studies/{uncertain}/matters", params=query).text)
    assert "Top speed, full battery” of" in text
    assert "Swing, ft/s" in text


def test_routes_score_and_lead_may_be_asked_for(client: TestClient, uncertain: str) -> None:
    page = client.get(f"/studies/{uncertain}/matters").text
    figures = re.findall(r'<option value="(route_s:[^"]+)"', page)
    assert figures
    for metric in ("score", "lead", unescape(figures[0])):
        text = client.get(f"/studies/{uncertain}/matters", params={"metric": metric}).text
        assert 'class="tornado-rows"' in text, metric
    assert "Time for “" in lead(
        client.get(f"/studies/{uncertain}/matters", params={"metric": unescape(figures[0])}).text
    )


def test_a_study_without_ranges_says_how_to_give_one(client: TestClient, study_id: str) -> None:
    text = said(client.get(f"/studies/{study_id}/matters").text)
    assert "No input of this study has a range yet" in text
    assert "range, source" in text


def test_figures_of_match_and_plan_say_why_nothing_moves_them(
    client: TestClient, uncertain: str
) -> None:
    address = f"/studies/{uncertain}/matters"
    match = client.get(address, params={"metric": "match_min_voltage_v"}).text
    assert "not carried through the match" in said(match) or "does not exist" in said(match)
    plan = said(client.get(address, params={"metric": "ready_probability"}).text)
    assert "the tasks and their own ranges" in plan or "does not exist" in plan


@pytest.mark.parametrize("query", [{"metric": "swiftness"}, {"candidate": "nobody"}])
def test_what_is_not_there_is_said(client: TestClient, study_id: str, query: Any) -> None:
    answer = client.get(f"/studies/{study_id}/matters", params=query)
    assert answer.status_code == 404


def test_a_viewer_sees_the_same_without_links_to_forms(
    app: FastAPI, client: TestClient, uncertain: str
) -> None:
    token = create_link(app.state.store, uncertain, kind="live", author="")[1]
    text = client.get(f"/shared/{token}/matters", params={"metric": SPRINT}).text
    assert lead(text).startswith("Measure this first")
    assert "/studies/" not in text
    assert "#f-" not in text


def test_a_bar_reaches_from_end_to_end_about_the_present_figure() -> None:
    picture = tornado([swing("one", 1.8, 2.2), swing("two", 2.05, 1.95)], 2.0, caption="",
                      axis="t, s", now="2.00 s")  # fmt: skip
    wide, narrow = picture.rows
    assert (wide.left, wide.right) == (17.0, 83.0)
    assert wide.left_text == "low"
    assert narrow.left_text == "high"  # what the low end gives lies to the right
    assert picture.now == 50.0
    assert sum(piece.width for piece in narrow.pieces) == pytest.approx(66.0 / 4, abs=0.05)
    assert [words for _, words in picture.ticks] == ["1.8", "1.9", "2.0", "2.1", "2.2"]


def test_both_ends_on_one_side_are_drawn_over_each_other_the_further_first() -> None:
    row = tornado([swing("one", 2.4, 2.1)], 2.0, caption="", axis="", now="").rows[0]
    assert [piece.end for piece in row.pieces] == ["low", "high"]
    assert row.pieces[0].width > row.pieces[1].width
    assert row.left == 17.0


def test_inputs_are_called_by_what_they_belong_to(document: dict[str, Any]) -> None:
    study = parse_study(document)
    part = {"luck": "x", "label": "Mass of one", "places": ["robot.parts[0].mass_kg"]}
    assert input_name(part, study) == "Mass of lift"
    motor = {"luck": "x", "label": "Rotor inertia", "places": ["motors.bl60.rotor_inertia_kgm2"]}
    assert input_name(motor, study) == "Rotor inertia, 60 mm brushless"
    wheel = {"luck": "x", "label": "Inertia of one wheel",
             "places": ["candidates[0].wheels.inertia_kgm2"]}  # fmt: skip
    assert input_name(wheel, study) == "Inertia of one wheel"
    grip = {"luck": "grip of the carpet", "label": "Grip", "places": []}
    assert input_name(grip, study) == "Grip of the carpet"
    assert whose({"candidates": []}, []) == "all candidates"
    assert address_of("materials.x.density_kgm3", study, StudyLinks.for_study("s")) == ""


def test_the_switch_shows_ranges_on_candidate_and_routes(
    app: FastAPI, client: TestClient, sheets: Any, uncertain: str
) -> None:
    state = load_study(app.state.store, uncertain)
    one = whole_evaluation_of(app.state.store, state)["candidates"][0]
    low, _, high, _ = one["ranges"][SPRINT]
    words = f"{low:.2f} to {high:.2f}"
    address = f"/studies/{uncertain}/candidates/{one['key']}"
    routes = f"/studies/{uncertain}/routes"
    assert words not in client.get(address).text
    assert "route-span" not in client.get(routes).text
    client.cookies.set("ranges", "shown")
    page = client.get(address).text
    assert words in page
    name = next(iter(one["routes"]))
    ends = one["ranges"][f"route_s:{name}"]
    assert f"{ends[0]:.2f} to {ends[2]:.2f}" in client.get(routes, params={"route": name}).text
    faulty = sheets.post(address, sheets.read(page), {"drive.efficiency": "7"})
    assert faulty.status_code == 422
    assert "figure-span" not in faulty.text
