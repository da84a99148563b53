"""The arrange page: the outcome in words first, the best drawn, one click to a candidate."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient


def page_of(client: TestClient, study_id: str, status: int = 200, **query: Any) -> str:
    answer = client.get(f"/studies/{study_id}/arrange", params=query)
    assert answer.status_code == status
    return str(answer.text)


def forms_on(page: str) -> list[dict[str, str]]:
    """Return the fields of every form that sends, in the order of the page."""
    found = []
    for form in re.findall(r'<form method="post" action="[^"]*/arrange">(.*?)</form>', page, re.S):
        fields = re.findall(r'name="([^"]+)" value="([^"]*)"', form)
        found.append({name: unescape(value) for name, value in fields})
    return found


@pytest.fixture
def blocked(document: dict[str, Any]) -> dict[str, Any]:
    """The study with a lift foot so wide that no arrangement stands beside it."""
    document["robot"]["keepouts"][0]["outline_m"] = [
        [0.16, 0.2], [-0.135, 0.2], [-0.135, -0.2], [0.16, -0.2],
    ]  # fmt: skip
    return document


@pytest.fixture
def blocked_id(app: FastAPI, client: TestClient, blocked: dict[str, Any]) -> str:
    from models.services import create_study

    state = create_study(app.state.store, blocked, author="Ines", note="First version")
    return state.study_id


def test_the_outcome_stands_first_in_words(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="swerve")
    words = "500 of 10\u202f000 arrangements fit. The best stands on 0.281 m²"
    assert page.index(words) < page.index('<form class="arrange-form"')
    assert page.count('class="drawing drawing-thumbnail"') == 6
    for name in ("Tips sideways", "Quarter turn in place", "Support polygon"):
        assert page.count(name) == 6


def test_the_first_steered_candidate_is_searched_unasked(client: TestClient, study_id: str) -> None:
    assert '<option value="swerve" selected>' in page_of(client, study_id)


def test_what_was_asked_for_stays_in_the_form(client: TestClient, study_id: str) -> None:
    page = page_of(client, study_id, candidate="swerve-tall", range="20", step="5 mm",
                   rank="wheelbase", sides="free")  # fmt: skip
    assert 'value="20"' in page
    assert 'value="5 mm"' in page
    assert '<option value="wheelbase" selected>' in page
    assert re.search(r'name="sides" value="free" checked', page)


def test_one_click_makes_it_a_candidate_on_the_overview(
    client: TestClient, study_id: str, forms: Any
) -> None:
    fields = forms_on(page_of(client, study_id, candidate="swerve-tall"))[0]
    answer = client.post(f"/studies/{study_id}/arrange", data=fields)
    assert answer.status_code == 303
    overview = client.get(answer.headers["location"]).text
    assert "Four upright modules, taller gearing, arranged" in overview
    fit = client.get(f"/studies/{study_id}/fit", params={"candidate": "swerve-tall-arranged"}).text
    assert "It fits" in fit


def test_sent_twice_makes_one(client: TestClient, study_id: str) -> None:
    fields = forms_on(page_of(client, study_id, candidate="swerve"))[0]
    for _ in range(2):
        assert client.post(f"/studies/{study_id}/arrange", data=fields).status_code == 303
    overview = client.get(f"/studies/{study_id}/history").text
    assert "2, saved" in overview
    assert client.get(f"/studies/{study_id}/candidates/swerve-arranged-2").status_code == 404


def test_where_none_fits_the_least_change_is_said_drawn_and_applied(
    client: TestClient, blocked_id: str
) -> None:
    page = page_of(client, blocked_id, candidate="swerve", range="10")
    assert "arrangements fits. The nearest would if “lift foot” were" in page
    assert "With the keep-outs moved" in page
    fields = forms_on(page)[0]
    assert fields["move"] == "yes"
    assert client.post(f"/studies/{blocked_id}/arrange", data=fields).status_code == 303
    again = client.get(f"/studies/{blocked_id}/fit", params={"candidate": "swerve-arranged"}).text
    assert "It fits" in again


def test_a_tank_gets_the_least_change_and_its_keepouts_moved(
    client: TestClient, study_id: str
) -> None:
    page = page_of(client, study_id, candidate="tank")
    assert "Move “lift foot” 106 mm right" in page
    assert "Shift “gearbox left” 116 mm forward" in page
    (fields,) = forms_on(page)
    assert client.post(f"/studies/{study_id}/arrange", data=fields).status_code == 303
    assert "It fits as it is drawn" in page_of(client, study_id, candidate="tank")


def test_without_bodies_the_fit_is_not_known(client: TestClient, study_id: str) -> None:
    assert "the fit is not known" in page_of(client, study_id, candidate="mecanum")


@pytest.mark.parametrize(
    "query", [{"range": "lots"}, {"step": "0"}, {"range": "400"}, {"step": "0.1"}, {"range": "4,0"}]
)
def test_a_range_that_cannot_be_searched_is_said_and_kept(
    client: TestClient, study_id: str, query: dict[str, str]
) -> None:
    page = page_of(client, study_id, 422, candidate="swerve", **query)
    assert "<title>Error: " in page
    assert "There is a problem" in page
    assert f'value="{next(iter(query.values()))}"' in page


def test_an_unknown_candidate_is_not_found(client: TestClient, study_id: str) -> None:
    page_of(client, study_id, 404, candidate="none-such")


@pytest.mark.parametrize(
    "changes",
    [
        {"rear_left": "sideways 0 0"},
        {"rear_left": "inverted 0"},
        {"rear_left": ""},
        {"candidate": "none-such"},
    ],
)
def test_a_form_that_names_no_arrangement_saves_nothing(
    client: TestClient, study_id: str, changes: dict[str, str]
) -> None:
    fields = forms_on(page_of(client, study_id, candidate="swerve"))[0] | changes
    assert client.post(f"/studies/{study_id}/arrange", data=fields).status_code == 404
    assert "1, saved" in client.get(f"/studies/{study_id}").text


@pytest.mark.parametrize("inset", ["9", "-1", "nan", "inf"])
def test_an_inset_that_no_study_takes_is_refused(
    client: TestClient, study_id: str, inset: str
) -> None:
    fields = forms_on(page_of(client, study_id, candidate="swerve"))[0]
    fields["rear_left"] = f"inverted {inset} 0"
    answer = client.post(f"/studies/{study_id}/arrange", data=fields)
    assert answer.status_code in {404, 422}


def test_inch_pound(client: TestClient, study_id: str) -> None:
    client.cookies.set("units", "inch-pound")
    page = page_of(client, study_id, candidate="swerve")
    assert "in steps of, in" in page
    assert "ft²" in page or "in²" in page


def test_the_fit_page_leads_here_for_those_who_edit(
    client: TestClient, study_id: str, link_to: Any
) -> None:
    fit = client.get(f"/studies/{study_id}/fit", params={"candidate": "swerve"}).text
    assert f'href="/studies/{study_id}/arrange?candidate=swerve"' in fit
    assert "Find an arrangement" not in client.get(f"/shared/{link_to()}/fit").text
