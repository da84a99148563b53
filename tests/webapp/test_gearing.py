"""The gearing page: the answer first, a map without scripts, a pick that becomes a candidate."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.seed import example_document


@pytest.fixture
def document() -> dict[str, Any]:
    """The example study, which has ratios on offer and several batteries."""
    return example_document()


def page_of(client: TestClient, study_id: str, status: int = 200, **query: Any) -> str:
    answer = client.get(f"/studies/{study_id}/gearing", params=query)
    assert answer.status_code == status
    return unescape(str(answer.text))


def take_fields(page: str) -> dict[str, str]:
    """The fields of the form that makes the pick a candidate."""
    form = re.search(r'<form method="post" action="[^"]*/gearing">(.*?)</form>', page, re.S)
    assert form
    return dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form[1]))


def box(page: str, name: str) -> str:
    found = re.search(rf'id="{name}" name="{name}" value="([^"]*)"', page)
    assert found
    return found[1]


def test_the_answer_stands_before_the_form(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="steered")
    words = "is quickest over 6.00 m, start to stop: 1.90 s. Anything from"
    assert page.index(words) < page.index('id="gear-form"')
    assert "All 5 ratios on offer lie in the tie; 5.35:1 is the quickest of them." in page


def test_the_baseline_is_shown_unasked(client: TestClient, study_id: str) -> None:
    assert '<option value="tank" selected>' in page_of(client, study_id)


def test_the_map_is_drawn_by_the_server_in_two_sizes(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="steered-fast")
    maps = re.findall(r'<svg class="gear-map.*?</svg>', page, re.S)
    assert len(maps) == 2
    for drawn in maps:
        assert "Ratio, motor turns per wheel turn" in drawn
        assert "Supply limit, A" in drawn
        assert "mark-chosen cand-d" in drawn
        assert re.search(r"line-voltage-text[^>]*>\d+(\.\d+)? V<", drawn)
        assert re.search(r"line-push-text[^>]*>\d+ N<", drawn)
        assert 'class="gear-band"' in drawn
        assert drawn.count('class="gear-offer ') == 5
        assert 'class="gear-dots" d="M' in drawn
        assert "nan" not in drawn.lower()


@pytest.mark.parametrize(
    ("against", "title"),
    [
        ("stator", "Stator limit, A"),
        ("supply", "Supply limit, A"),
        ("diameter", "Wheel diameter, mm"),
    ],
)
@pytest.mark.parametrize("key", ["tank", "steered", "mecanum"])
def test_every_axis_and_layout_draws(
    client: TestClient, study_id: str, key: str, against: str, title: str
) -> None:
    page = page_of(client, study_id, candidate=key, against=against)
    assert title in page
    assert f'<option value="{against}" selected>' in page


def test_nothing_is_picked_at_first(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="steered")
    assert "Make it a candidate" not in page
    assert "mark-picked" not in page


def test_a_pick_is_set_against_the_chosen_in_words_and_figures(
    client: TestClient, study_id: str
) -> None:
    page = page_of(client, study_id, candidate="steered-fast", ratio="6.5", supply="38")
    exchange = re.search(r'gear-exchange">(.*?)<', page)
    assert exchange
    assert exchange[1].startswith("You lose 0.0") and "and gain" in exchange[1]
    assert "mark-picked" in page
    assert "Make it a candidate" in page
    for name in ("Sprint and stop", "Lowest bus voltage in the sprint", "Pushing force"):
        assert page.count(name) >= 1


def test_ratios_on_offer_lead_to_themselves(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="steered", margin="0.7", tie="3")
    link = re.search(r'href="([^"]*ratio=48%3A15%2C[^"]*)"', page)
    assert link
    picked = unescape(client.get(link[1].partition("#")[0]).text)
    assert box(picked, "ratio") == "48:15, 18:26, 44:16"
    assert box(picked, "margin") == "0.7" and box(picked, "tie") == "3"
    assert 'class="gear-here"' in picked


def test_a_pick_becomes_a_candidate_that_opens(client: TestClient, study_id: str) -> None:
    query: dict[str, Any] = {"ratio": "48:15, 18:26, 44:16", "supply": "none", "stator": "70"}
    fields = take_fields(page_of(client, study_id, candidate="steered", **query))
    answer = client.post(f"/studies/{study_id}/gearing", data=fields)
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/studies/{study_id}/candidates/steered-geared"
    page = unescape(client.get(answer.headers["location"]).text)
    assert "Steered, one module inverted, geared 6.09" in page
    assert 'value="48:15, 18:26, 44:16"' in page
    assert 'value="70"' in page


def test_sent_twice_makes_one(client: TestClient, study_id: str) -> None:
    fields = take_fields(page_of(client, study_id, candidate="tank", ratio="7.3"))
    places = {
        client.post(f"/studies/{study_id}/gearing", data=fields).headers["location"]
        for _ in range(2)
    }
    assert places == {f"/studies/{study_id}/candidates/tank-geared"}
    assert "2, saved" in client.get(f"/studies/{study_id}").text


@pytest.mark.parametrize(
    "changes",
    [{"ratio": "seven"}, {"diameter": "nan"}, {"ratio": "inf"}, {"candidate": "none-such"},
     {"supply": ""}],
)  # fmt: skip
def test_a_form_that_names_no_design_saves_nothing(
    client: TestClient, study_id: str, changes: dict[str, str]
) -> None:
    fields = take_fields(page_of(client, study_id, candidate="tank", ratio="7.3")) | changes
    assert client.post(f"/studies/{study_id}/gearing", data=fields).status_code == 404
    assert "1, saved" in client.get(f"/studies/{study_id}").text


def test_a_design_that_no_study_takes_is_refused(client: TestClient, study_id: str) -> None:
    fields = take_fields(page_of(client, study_id, candidate="tank", ratio="7.3"))
    answer = client.post(f"/studies/{study_id}/gearing", data=fields | {"ratio": "0.5"})
    assert answer.status_code == 422
    assert "1, saved" in client.get(f"/studies/{study_id}").text


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"ratio": "fast"}, "“fast” is not a ratio"),
        ({"ratio": "6,5"}, "type 6.5"),
        ({"ratio": "1.2"}, "is geared for"),
        ({"ratio": "90"}, "is geared for"),
        ({"diameter": "4 kg"}, "is not a length"),
        ({"diameter": "2000"}, "A wheel measures 10.0 mm to 1000 mm"),
        ({"stator": "0.2"}, "between 1 A and 5000 A"),
        ({"supply": "lots"}, "“lots” is not a current"),
        ({"tie": "80"}, "within 0 % to 50 %"),
        ({"margin": "-1"}, "between 0 V and 6 V"),
    ],
)
def test_what_cannot_be_used_is_said_and_kept(
    client: TestClient, study_id: str, query: dict[str, Any], words: str
) -> None:
    page = page_of(client, study_id, 422, candidate="steered", **query)
    (name, text) = next(iter(query.items()))
    assert "<title>Error: " in page
    assert words in page
    assert box(page, name) == text
    assert re.search(rf'id="{name}"[^>]*aria-invalid="true"', page)
    assert f'<a href="#{name}">' in page


def test_the_battery_chosen_counts_for_the_whole_page(client: TestClient, study_id: str) -> None:
    usual = page_of(client, study_id, candidate="steered")
    tired = page_of(client, study_id, candidate="steered", battery="practice battery")
    assert '<option value="practice battery" selected>' in tired
    assert "Quickest that keeps 7.5 V: a supply limit of" in tired
    assert "No limit is needed for 7.5 V" in usual


def test_the_limits_found_can_be_looked_at(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="steered-fast", margin="1")
    link = re.search(r'href="([^"]*)">Look at the design with these limits', page)
    assert link
    picked = unescape(client.get(link[1].partition("#")[0]).text)
    assert "8.0 V is kept." in picked
    assert "Look at the design with these limits" not in picked


def test_the_tolerance_typed_is_the_one_used(client: TestClient, study_id: str) -> None:
    narrow = page_of(client, study_id, candidate="tank", tie="0.5 %")
    assert "is a tie with it, within 0.5 %." in narrow
    assert "Of 4 ratios on offer only 7.52:1 lies in the tie" in narrow


def test_without_ratios_on_offer_it_says_where_to_type_them(
    client: TestClient, study_id: str
) -> None:
    page = page_of(client, study_id, candidate="mecanum")
    assert "The study names no ratios on offer." in page
    assert 'id="offers-caption"' not in page


def test_inch_pound(client: TestClient, study_id: str) -> None:
    client.cookies.set("units", "inch-pound")
    page = page_of(client, study_id, candidate="tank", against="diameter")
    assert box(page, "diameter") == "5"
    assert "Wheel diameter, in" in page
    assert re.search(r"line-push-text[^>]*>\d+ lbf<", page)


def test_an_unknown_candidate_is_not_found(client: TestClient, study_id: str) -> None:
    page_of(client, study_id, 404, candidate="none-such")


def test_an_unknown_axis_or_battery_falls_back(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="tank", against="weight", battery="none such")
    assert '<option value="supply" selected>' in page
    assert '<option value="As given" selected>' in page


def test_viewers_have_no_such_page(app: FastAPI, client: TestClient, link_to: Any) -> None:
    assert client.get(f"/shared/{link_to()}/gearing").status_code == 404


def test_a_robot_that_does_not_get_going_has_a_page(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    from models.services import create_study

    document["candidates"][0]["wheels"]["rolling_coefficient"] = 0.5
    document["candidates"][0]["drive"]["stator_limit_a"] = 3
    state = create_study(app.state.store, document, author="Ines", note="")
    page = page_of(client, state.study_id, candidate="tank")
    assert "No ratio gets it going" in page
