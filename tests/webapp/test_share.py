"""The page of shared links."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import list_links


def make(forms: Any, study_id: str, **fields: str) -> Any:
    typed = {"kind": "frozen", "label": "For the mentors", "expires": "never", **fields}
    return forms.send(f"/studies/{study_id}/share/new", typed)


def address_in(page: str) -> str:
    found = re.search(r'id="new-address"[^>]* value="([^"]+)"', page)
    assert found
    return found[1]


def test_a_new_link_is_shown_once(client: TestClient, forms: Any, study_id: str) -> None:
    address = address_in(make(forms, study_id).text)
    assert re.fullmatch(r"http://localhost/shared/[\w-]{22,}", address)
    assert client.get(address).status_code == 200
    assert address not in client.get(f"/studies/{study_id}/share").text


def test_the_list_tells_what_each_link_shows(client: TestClient, forms: Any, study_id: str) -> None:
    make(forms, study_id)
    make(forms, study_id, kind="live", label="Pit screen", expires="week")
    page = client.get(f"/studies/{study_id}/share").text
    assert "frozen, revision 1" in page
    assert "live, newest revision" in page
    assert "open until" in page
    assert "For the mentors" in page


def test_a_form_sent_twice_makes_one_link(app: FastAPI, forms: Any, study_id: str) -> None:
    first = make(forms, study_id, once="k")
    second = make(forms, study_id, once="k")
    assert address_in(first.text) == address_in(second.text)
    assert len(list_links(app.state.store, study_id)) == 1


def test_a_revoked_link_is_closed(
    app: FastAPI, client: TestClient, forms: Any, study_id: str
) -> None:
    address = address_in(make(forms, study_id).text)
    link = list_links(app.state.store, study_id)[0]
    answer = forms.send(f"/studies/{study_id}/share/{link.id}/revoke")
    assert answer.status_code == 303
    assert client.get(address).status_code == 410
    assert "✕ revoked" in client.get(f"/studies/{study_id}/share").text


def test_a_link_is_revoked_only_from_its_own_study(
    app: FastAPI, client: TestClient, forms: Any, study_id: str
) -> None:
    address = address_in(make(forms, study_id).text)
    link = list_links(app.state.store, study_id)[0]
    other = forms.send(f"/studies/{study_id}/duplicate").headers["location"]
    forms.send(f"{other}/share/{link.id}/revoke")
    assert client.get(address).status_code == 200


@pytest.mark.parametrize(
    ("field", "value"), [("kind", "molten"), ("expires", "someday"), ("label", "x" * 200)]
)
def test_a_form_that_cannot_be_used_makes_no_link_and_keeps_what_was_typed(
    app: FastAPI, forms: Any, study_id: str, field: str, value: str
) -> None:
    answer = make(forms, study_id, **{field: value})
    assert answer.status_code == 422
    assert "There is a problem" in answer.text
    assert field == "label" or "For the mentors" in answer.text
    assert list_links(app.state.store, study_id) == []


def test_the_address_is_that_of_the_configured_server(
    app: FastAPI, forms: Any, study_id: str
) -> None:
    app.state.settings = app.state.settings.model_copy(
        update={"base_url": "http://robot.local:8000"}
    )
    page = make(forms, study_id).text
    assert address_in(page).startswith("http://robot.local:8000/shared/")
    assert "this computer only" not in page


def test_an_address_of_this_computer_says_so(forms: Any, study_id: str) -> None:
    assert "leads to this computer only" in make(forms, study_id).text
