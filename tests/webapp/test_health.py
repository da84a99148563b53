"""The health address."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.errors import StorageError
from models.storage.migrating import NEWEST
from models.trade.evaluation import MODEL_VERSION


def test_it_says_what_runs(client: TestClient) -> None:
    answer = client.get("/health").json()
    assert answer["status"] == "ok"
    assert answer["model_version"] == MODEL_VERSION
    assert answer["database"] == {"kind": "sqlite", "answers": True, "tables": NEWEST}


def test_a_database_that_fails_is_said_with_status_503(
    app: FastAPI, client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> Any:
        raise StorageError("The database server at 10.0.0.7 cannot be reached.")

    monkeypatch.setattr(app.state.store, "version", fail)
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json()["status"] == "failing"
    assert "10.0.0.7" not in answer.text


def test_a_database_that_hangs_is_not_waited_for(
    app: FastAPI, client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    import threading

    go_on = threading.Event()
    monkeypatch.setattr("webapp.pages.health.routes.PATIENCE_S", 0.05)
    monkeypatch.setattr(app.state.store, "version", lambda: go_on.wait(20))
    assert client.get("/health").status_code == 503
    go_on.set()
