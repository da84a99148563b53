"""Units and name, kept in the browser."""

from __future__ import annotations

from typing import Any

from starlette.testclient import TestClient


def test_units_are_kept_and_shown(client: TestClient, forms: Any) -> None:
    answer = forms.send("/units", {"units": "inch-pound", "next": "/?a=1"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/?a=1")
    page = client.get("/").text
    assert 'value="inch-pound" aria-pressed="true"' in page


def test_unknown_units_are_si(client: TestClient, forms: Any) -> None:
    client.cookies.set("units", "furlongs")
    assert 'value="si" aria-pressed="true"' in client.get("/").text
    forms.send("/units", {"units": "furlongs"})
    assert 'value="si" aria-pressed="true"' in client.get("/").text


def test_a_name_with_any_letters_comes_back(client: TestClient, forms: Any) -> None:
    forms.send("/author", {"author": "Zoë Ж; \r\n <s>"})
    page = client.get("/").text
    assert "You: Zoë Ж; &lt;s&gt;" in page


def test_a_name_can_be_taken_away(client: TestClient, forms: Any) -> None:
    forms.send("/author", {"author": "Ines"})
    forms.send("/author", {"author": ""})
    assert "Your name" in client.get("/").text
    assert "You: " not in client.get("/").text


def test_going_back_stays_on_this_server(forms: Any) -> None:
    answer = forms.send("/units", {"units": "si", "next": "//evil.test/"})
    assert answer.headers["location"] == "/"


def test_the_name_stands_on_a_save(client: TestClient, forms: Any) -> None:
    forms.send("/author", {"author": "Ravi"})
    forms.send("/studies/new", {"once": "k"})
    assert "Ravi" in client.get("/").text
