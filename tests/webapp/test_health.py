"""The health address."""

from __future__ import annotations

from starlette.testclient import TestClient

from models.trade.evaluation import MODEL_VERSION


def test_it_says_what_runs(client: TestClient) -> None:
    answer = client.get("/health").json()
    assert answer["status"] == "ok"
    assert answer["model_version"] == MODEL_VERSION
