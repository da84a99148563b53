"""What is refused or fails becomes an honest page, or JSON for programs."""

from __future__ import annotations

import logging
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.errors import (
    Fault,
    LinkClosedError,
    NotFoundError,
    SaveConflictError,
    SectionConflict,
    StorageError,
    StudyRefusedError,
    UnitError,
)


@pytest.fixture
def failing(app: FastAPI) -> Any:
    """Makes two addresses of the app raise an error, and returns a client that gets the answer."""

    def make(error: Exception) -> TestClient:
        def fail() -> None:
            raise error

        app.add_api_route("/fails", fail)
        app.add_api_route("/api/fails", fail)
        app.router.routes.insert(0, app.router.routes.pop())
        app.router.routes.insert(0, app.router.routes.pop())
        return TestClient(app, base_url="http://localhost", raise_server_exceptions=False)

    return make


def test_an_unknown_address_says_so(client: TestClient) -> None:
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert "Nothing is here" in answer.text


def test_an_unknown_study_says_so(client: TestClient) -> None:
    answer = client.get("/studies/none/history")
    assert answer.status_code == 404
    assert "Nothing is here" in answer.text


def test_an_unforeseen_error_is_said_honestly_and_logged(
    failing: Any, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR, logger="switchover"):
        answer = failing(RuntimeError("secret detail")).get("/fails")
    assert answer.status_code == 500
    assert "fault of the program" in answer.text
    assert "secret detail" not in answer.text
    assert "secret detail" in caplog.text
    mark = answer.text.split("under the mark ")[1][:8]
    assert mark in caplog.text


def test_an_unforeseen_error_reaches_the_servers_log_in_full(app: FastAPI, failing: Any) -> None:
    failing(RuntimeError("whole traceback"))
    client = TestClient(app, base_url="http://localhost")
    with pytest.raises(RuntimeError, match="whole traceback"):
        client.get("/fails")


def test_the_500_page_carries_the_security_headers(failing: Any) -> None:
    headers = failing(RuntimeError("x")).get("/fails").headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"


def test_the_log_does_not_hold_the_secret_of_a_shared_link(
    app: FastAPI, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        raise RuntimeError("boom")

    monkeypatch.setattr("webapp.pages.shared_view.opening.open_link", fail)
    with TestClient(app, base_url="http://localhost", raise_server_exceptions=False) as client:
        assert client.get("/shared/secrettoken1234").status_code == 500
    assert "boom" in caplog.text
    assert "secrettoken1234" not in caplog.text


@pytest.mark.parametrize(
    ("error", "status", "words"),
    [
        (NotFoundError("There is no study x."), 404, "There is no study x."),
        (LinkClosedError("The link was revoked."), 410, "The link was revoked."),
        (UnitError("Type a length."), 422, "Type a length."),
        (StorageError("The disk is full."), 503, "The disk is full."),
        (
            StudyRefusedError([Fault("rules.mass_limit_kg", "has to be above 0", -1, "> 0")]),
            422,
            "rules.mass_limit_kg",
        ),
    ],
)
def test_a_refusal_has_its_status_and_its_words(
    failing: Any, error: Exception, status: int, words: str
) -> None:
    client = failing(error)
    page, data = client.get("/fails"), client.get("/api/fails")
    assert (page.status_code, data.status_code) == (status, status)
    assert words in page.text
    assert set(data.json()[0]) == {"place", "given", "limit", "message"}


def test_a_conflict_shows_both_versions(failing: Any) -> None:
    conflict = SectionConflict("rules", {}, {"mass_limit_kg": 41}, {"mass_limit_kg": 42}, ["word"])
    error = SaveConflictError(
        [conflict], latest_number=7, latest_author="Ravi", latest_saved_at=None
    )
    answer = failing(error).get("/fails")
    assert answer.status_code == 409
    assert "Ravi saved revision 7" in answer.text
    assert "41" in answer.text
    assert "42" in answer.text


def test_a_fault_list_is_json_whatever_was_given(failing: Any) -> None:
    error = StudyRefusedError([Fault("a", "m", float("nan")), Fault("b", "m", 10**400)])
    given = [fault["given"] for fault in failing(error).get("/api/fails").json()]
    assert given[0] == "nan"
    assert len(given[1]) == 200


def test_a_wrong_method_is_said_in_words(client: TestClient) -> None:
    answer = client.get("/api/v1/evaluate")
    assert answer.status_code == 405
    assert answer.json()[0]["message"].startswith("Go back")
