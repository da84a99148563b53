"""The page of revisions."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import load_study, save_sections


@pytest.fixture
def saved_twice(app: FastAPI, study_id: str) -> str:
    """A study whose mass limit Ravi has lowered in revision 2."""
    state = load_study(app.state.store, study_id)
    rules = {**state.document["rules"], "mass_limit_kg": 54.0}
    save_sections(
        app.state.store,
        study_id,
        base_revision=1,
        edits={"rules": rules},
        author="Ravi",
        note="Lighter rules",
    )
    return study_id


def test_one_revision_has_nothing_to_compare_with(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}/history").text
    assert "There is one revision so far" in page
    assert "First version" in page


def test_who_when_why_and_what_changed(client: TestClient, saved_twice: str) -> None:
    page = client.get(f"/studies/{saved_twice}/history").text
    assert "Ravi" in page
    assert "Lighter rules" in page
    assert "From revision 1 to revision 2" in page
    assert "56.0 kg → 54.0 kg" in page


def test_changes_are_told_in_the_users_units(
    client: TestClient, forms: Any, saved_twice: str
) -> None:
    forms.send("/units", {"units": "inch-pound"})
    assert "lb" in client.get(f"/studies/{saved_twice}/history").text.split("From revision 1")[1]


def test_two_named_revisions_are_compared_whatever_their_order(
    client: TestClient, saved_twice: str
) -> None:
    page = client.get(f"/studies/{saved_twice}/history?from=2&to=1").text
    assert "From revision 1 to revision 2" in page


@pytest.mark.parametrize("query", ["from=9", "to=0", "restore=9", "from=x", "to=1e3", "from=-1"])
def test_a_revision_that_is_not_there_is_said(
    client: TestClient, saved_twice: str, query: str
) -> None:
    assert client.get(f"/studies/{saved_twice}/history?{query}").status_code == 404


def test_a_restore_is_confirmed_with_what_it_changes(client: TestClient, saved_twice: str) -> None:
    page = client.get(f"/studies/{saved_twice}/history?restore=1").text
    assert "Restore revision 1?" in page
    assert "54.0 kg → 56.0 kg" in page


def test_a_restore_appends_a_revision(app: FastAPI, forms: Any, saved_twice: str) -> None:
    answer = forms.send(f"/studies/{saved_twice}/history/restore", {"revision": "1"})
    assert answer.headers["location"] == f"/studies/{saved_twice}/history"
    state = load_study(app.state.store, saved_twice)
    assert state.latest_number == 3
    assert state.document == load_study(app.state.store, saved_twice, 1).document


@pytest.mark.parametrize("number", ["", "9", "two"])
def test_a_restore_of_nothing_changes_nothing(
    app: FastAPI, forms: Any, saved_twice: str, number: str
) -> None:
    answer = forms.send(f"/studies/{saved_twice}/history/restore", {"revision": number})
    assert answer.status_code == 404
    assert load_study(app.state.store, saved_twice).latest_number == 2
