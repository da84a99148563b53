"""The power page: who browns out on which battery, its pictures, and the battery in use."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.seed import example_document
from models.services import create_study, load_study, save_sections
from models.study import parse_study
from models.trade.match import match_of
from models.units import UnitSystem
from webapp.shared.links import StudyLinks
from webapp.shared.power.context import power_context
from webapp.shared.power.pictures import below_pieces

BATTERIES = [
    {"name": "good one", "kind": "match", "internal_resistance_ohm": 0.008},
    {"name": "old one", "kind": "tired", "internal_resistance_ohm": 0.05, "charge": 0.8,
     "temperature_c": 5},
]  # fmt: skip


@pytest.fixture
def example() -> dict[str, Any]:
    return example_document()


@pytest.fixture
def example_id(app: FastAPI, client: TestClient, example: dict[str, Any]) -> str:
    return create_study(app.state.store, example, author="Ines", note="First").study_id


def context(document: dict[str, Any], battery: str | None = None, **asked: Any) -> dict[str, Any]:
    study = parse_study(document)
    payload = match_of(study, battery)
    return power_context(payload, study, StudyLinks.for_study("s"), UnitSystem.SI, **asked)


def row(rows: list[Any], name: str) -> Any:
    return next(one for one in rows if one.name == name)


def texts(rows: list[Any], name: str) -> list[str]:
    return [cell.text for cell in row(rows, name).cells]


def page(client: TestClient, study_id: str, **query: Any) -> str:
    answer = client.get(f"/studies/{study_id}/power", params=query)
    assert answer.status_code == 200, answer.text[:300]
    return answer.text


def lead(text: str) -> str:
    found = re.search(r'class="lead">(.*?)</p>', text, re.DOTALL)
    assert found
    return found[1]


def test_the_page_leads_with_who_browns_out_and_by_how_much(
    client: TestClient, example_id: str
) -> None:
    text = page(client, example_id)
    assert 'aria-current="page">Power' in text
    assert "today&#39;s A browns out in the match, 0.13 V below;" in lead(text)
    assert re.search(
        r"D browns out in the sprint, a push and the match, \d\.\d\d V below at the worst",
        lead(text),
    )
    assert "Brownout is at 7.0 V." in lead(text)
    assert "B, C and E stay above" in lead(text)
    assert "The simulation does not follow the cut." in text


def test_a_good_battery_browns_nobody_out(document: dict[str, Any]) -> None:
    document["power"].update(internal_resistance_ohm=0.001, main_wiring_ohm=0.0)
    found = context(document)
    assert "none of these browns out" in found["lead"][0]
    assert "The closest call is" in found["lead"][1]
    assert set(texts(found["own_rows"], "Browns out")) == {"✓ no"}


def test_every_battery_has_its_rows_and_the_worst_that_holds_is_named(
    example: dict[str, Any],
) -> None:
    found = context(example)
    assert [one.name for one in found["classes"]] == [
        "Battery as given", "match battery", "tired battery", "practice battery"
    ]  # fmt: skip
    practice = found["classes"][3]
    assert "15" in practice.about and "85 % charged" in practice.about
    sprint = row(practice.rows, "Lowest in the sprint")
    assert sprint.cells[0].note.startswith("✕ ")
    holding = texts(found["own_rows"], "Worst battery that holds")
    assert set(holding) <= {one.name for one in found["classes"]} | {"none"}
    assert len(set(holding)) > 1
    marked = [
        cell.note
        for one in found["classes"]
        for cell in row(one.rows, "Stays above in sprint and push").cells
    ]
    holds = [text for text in texts(found["own_rows"], "Worst battery that holds")
             if text != "none"]  # fmt: skip
    assert marked.count("the worst that does") == len(holds)
    assert "“match battery” for D" in found["after"][0]


def test_figures_are_those_of_the_simulation(example: dict[str, Any]) -> None:
    study = parse_study(example)
    payload = match_of(study, "practice battery")
    found = power_context(payload, study, StudyLinks.for_study("s"), UnitSystem.SI)
    lowest = [one["match"]["min_voltage_v"] for one in payload["candidates"][:5]]
    assert texts(found["own_rows"], "Lowest in the match") == [f"{low:.2f}" for low in lowest]
    below = [one["match"]["below_brownout_s"] for one in payload["candidates"][:5]]
    shown = [float(text) for text in texts(found["own_rows"], "Below brownout")]
    assert shown == pytest.approx(below, abs=0.06)
    assert found["looking"]


def test_the_energy_adds_up_to_what_the_battery_gives(example: dict[str, Any]) -> None:
    energy = context(example)["energy"]
    for place, given in enumerate(energy["given"]):
        parts = sum(float(cells[place].text) for _, cells in energy["rows"])
        assert parts == pytest.approx(float(given), abs=0.06 * len(energy["rows"]))
        shares = sum(cells[place].width for _, cells in energy["rows"])
        assert shares == pytest.approx(100.0, abs=0.6)
    assert energy["open"] < 0.005


def test_loads_say_when_they_run(example: dict[str, Any]) -> None:
    loads = {one.name: one for one in context(example)["loads"]}
    assert loads["scoop rollers"].during == "in the driver period"
    assert loads["scoop rollers"].mean == "6.3 A"
    assert "leg" in loads["mast winch"].during
    assert loads["Accessories"].duty == "always"
    for route in example["routes"]:
        for leg in route["legs"]:
            leg.pop("loads", None)
    loads = {one.name: one for one in context(example)["loads"]}
    assert loads["mast winch"].during.startswith("in no leg yet")


def test_the_day_counts_batteries_and_says_how(example: dict[str, Any]) -> None:
    found = context(example)
    assert sum(len(marks) for marks, _ in found["day_rows"]) == len(found["marks"])
    assert "1 + 180/" in found["day_rows"][0][1]
    assert "too few for any of these" in found["after"][-1]
    example["power"]["day"]["batteries_owned"] = 40
    assert "which is enough" in context(example)["after"][-1]


def test_without_a_day_capacity_or_routes_the_page_says_what_is_missing(
    client: TestClient, app: FastAPI, document: dict[str, Any]
) -> None:
    document["routes"] = []
    document["power"].pop("capacity_ah", None)
    study_id = create_study(app.state.store, document, author="", note="").study_id
    text = page(client, study_id)
    assert "The study has no routes yet" in text
    assert "no match" in text
    assert "A match leaves" not in text
    assert "is not given. <a href=" in text
    assert "Only one battery is described" in text
    assert "nan" not in text.split("<main")[1].lower()


def test_a_match_is_drawn_with_its_limits_periods_and_lowest_leg(example: dict[str, Any]) -> None:
    assert context(example, candidate="tank")["picked"].key == "tank"
    found = context(example)
    lowest = min(one.figures["match"]["min_voltage_v"] for one in found["driven"])
    assert found["match"]["min_voltage_v"] == lowest
    picture = found["match_plot"]
    words = [text.words for text in picture.texts]
    assert "autonomous, 15 s" in words and "driver period, 135 s" in words
    assert "brownout 7 V" in words and "warning 8.5 V" in words
    assert any(re.fullmatch(r"\d\.\d\d V, leg \d+", text) for text in words)
    assert "Time in the match, s" in words
    styles = {strip.css for strip in picture.strips}
    assert {"sag-leg", "sag-period-line"} <= styles
    assert {text.words for text in picture.scale} >= {"8 V", "100 A"}
    where = found["match"]["min_where"]
    assert where["from_s"] <= found["match"]["min_at_s"] <= where["until_s"]
    for text in picture.texts:
        assert 0.0 <= text.x <= 100.0


def test_without_a_capacity_what_is_left_is_not_known(document: dict[str, Any]) -> None:
    document["power"].pop("capacity_ah", None)
    found = context(document)
    assert "give the battery's capacity" in found["after"][1]
    assert set(texts(found["own_rows"], "Charge left after the match")) == {"not given"}


def test_one_battery_is_said_in_the_singular(example: dict[str, Any]) -> None:
    example["power"]["day"].update(matches=1)
    assert "A day needs 1 battery; 5 are there" in context(example)["after"][-1]


def test_a_line_is_cut_where_it_crosses_a_limit() -> None:
    assert below_pieces([0, 1, 2, 3], [6, 8, 8, 6], 7) == [
        ([0, 0.5], [6, 7]), ([2.5, 3], [7, 6])
    ]  # fmt: skip
    assert below_pieces([0, 1], [8, 9], 7) == []


def test_looking_at_a_battery_saves_nothing(client: TestClient, example_id: str) -> None:
    text = page(client, example_id, battery="practice battery")
    assert "You look at “practice battery”." in text
    assert "On “practice battery”" in lead(text)
    assert re.search(r"Revision</a>\s+1,", text)
    assert "You look at" not in page(client, example_id)


@pytest.mark.parametrize(
    ("query", "words"),
    [({"battery": "<b>no</b>"}, "No battery is called"),
     ({"candidate": "<b>no</b>"}, "The study has no candidate with the key")],
)  # fmt: skip
def test_what_the_study_does_not_know_is_said(
    client: TestClient, example_id: str, query: dict[str, str], words: str
) -> None:
    answer = client.get(f"/studies/{example_id}/power", params=query)
    assert answer.status_code == 404
    assert words in answer.text
    assert "<b>no</b>" not in answer.text


def test_the_battery_in_use_is_saved_and_named_by_the_overview(
    client: TestClient, app: FastAPI, sheets: Any, example_id: str
) -> None:
    address = f"/studies/{example_id}/power"
    answer = sheets.post(address, sheets.open(address), {"battery": "practice battery"})
    assert answer.status_code == 303
    assert answer.headers["location"] == f"{address}?saved=2"
    text = client.get(answer.headers["location"]).text
    assert "Saved as revision 2" in text
    assert "On “practice battery”" in lead(text)
    assert load_study(app.state.store, example_id).study.power.battery == "practice battery"
    assert "in the sprint on “practice battery”" in client.get(f"/studies/{example_id}").text
    again = sheets.post(address, sheets.open(address), {"battery": "practice battery"})
    assert again.headers["location"] == f"{address}?saved=nothing"
    back = sheets.post(address, sheets.open(address), {"battery": "As given"})
    assert back.headers["location"] == f"{address}?saved=3"
    assert load_study(app.state.store, example_id).study.power.battery is None


@pytest.mark.parametrize(("name", "words"), [("<i>none</i>", "no battery is called"),
                                              ("", "choose a battery")])  # fmt: skip
def test_an_unknown_battery_saves_nothing(
    app: FastAPI, sheets: Any, example_id: str, name: str, words: str
) -> None:
    address = f"/studies/{example_id}/power"
    answer = sheets.post(address, sheets.open(address), {"battery": name})
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert words in answer.text
    assert "<i>none</i>" not in answer.text
    assert load_study(app.state.store, example_id).revision.number == 1


def test_two_who_change_the_power_section_are_asked(
    client: TestClient, app: FastAPI, sheets: Any, example_id: str
) -> None:
    address = f"/studies/{example_id}/power"
    fields = sheets.open(address)
    theirs = load_study(app.state.store, example_id).document["power"]
    save_sections(
        app.state.store, example_id, base_revision=1,
        edits={"power": {**theirs, "channels": 24}}, author="Ravi", note="",
    )  # fmt: skip
    answer = sheets.post(address, fields, {"battery": "tired battery"})
    assert answer.status_code == 409
    assert "Ravi saved the same section meanwhile" in answer.text
    assert 'value="tired battery" selected' in answer.text
    settled = sheets.post(address, sheets.read(answer.text), {}, settle="2")
    assert settled.status_code == 303
    power = load_study(app.state.store, example_id).study.power
    assert (power.battery, power.channels) == ("tired battery", 24)


def test_a_form_without_its_token_changes_nothing(client: TestClient, example_id: str) -> None:
    answer = client.post(f"/studies/{example_id}/power", data={"battery": "tired battery"})
    assert answer.status_code in (400, 403)


def test_names_are_escaped_everywhere(
    client: TestClient, app: FastAPI, document: dict[str, Any]
) -> None:
    name = "<script>x</script>"
    document["power"].update(
        batteries=[{**BATTERIES[1], "name": name}], battery=name,
        loads=[{"name": name, "current_a": 5}],
    )  # fmt: skip
    document["candidates"][0]["name"] = name
    study_id = create_study(app.state.store, document, author="", note="").study_id
    for address in (f"/studies/{study_id}/power", f"/studies/{study_id}/wiring"):
        text = client.get(address).text
        assert name not in text
        assert "&lt;script&gt;x" in text


def test_a_viewer_sees_the_same_and_changes_nothing(
    client: TestClient, study_id: str, link_to: Any
) -> None:
    token = link_to("frozen")
    text = client.get(f"/shared/{token}/power").text
    assert 'class="viewer"' in text
    assert lead(text) == lead(page(client, study_id))
    assert "Use it for all figures" not in text
    assert "/studies/" not in text
    assert client.get(f"/shared/{token}/power", params={"battery": "no"}).status_code == 404
    assert client.get("/shared/nothing/power").status_code == 404


def test_inch_pound_and_choice_of_candidates(client: TestClient, example_id: str) -> None:
    client.cookies.set("units", "inch-pound")
    text = page(client, example_id, show=["tank"])
    assert "Sprint of 19.7 ft" in text
    client.cookies.delete("units")
    assert "battery=practice+battery&amp;show=tank" in text
    found = re.findall(r'class="figures-column"', text)
    assert len(found) == 3
