"""`POST /api/v1/evaluate`."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import list_studies
from models.study import parse_study
from models.trade.whole import whole_evaluation

ADDRESS = "/api/v1/evaluate"


def test_a_study_is_evaluated_and_not_stored(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    answer = client.post(ADDRESS, json=document)
    assert answer.status_code == 200
    assert answer.json() == json.loads(json.dumps(whole_evaluation(parse_study(document))))
    assert list_studies(app.state.store) == []


def test_a_fault_names_place_given_limit_and_message(
    client: TestClient, document: dict[str, Any]
) -> None:
    document["candidates"][1]["drive"]["ratio"] = -2
    answer = client.post(ADDRESS, json=document)
    assert answer.status_code == 422
    fault = answer.json()[0]
    assert set(fault) == {"place", "given", "limit", "message"}
    assert fault["place"] == "candidates[1].drive.ratio"
    assert fault["given"] in (-2, "-2")
    assert fault["message"]


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"null",
        b"[]",
        b'"text"',
        b"NaN",
        b'{"a": 1, "a": 2}',
        b'{"rules": {"mass_limit_kg": Infinity}}',
        b"\xff\xff",
        b"[" * 100_000,
        b'{"a":' * 5000,
        b" " * 10_000_000,
        b'{"version": ' + b"9" * 5000 + b"}",
    ],
)
def test_what_is_no_study_is_refused_in_the_same_shape(client: TestClient, body: bytes) -> None:
    answer = client.post(ADDRESS, content=body)
    assert answer.status_code == 422
    assert set(answer.json()[0]) == {"place", "given", "limit", "message"}


def test_the_documentation_pages_of_the_framework_are_off(client: TestClient) -> None:
    for path in ("/docs", "/redoc", "/openapi.json"):
        assert client.get(path).status_code == 404
