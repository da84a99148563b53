"""A running app over its own empty database, and what pages and forms need in tests."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from webapp.app import create_app
from webapp.settings import Settings

REFERENCE = Path(__file__).resolve().parents[1] / "reference" / "reference-1.json"


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(database_url=f"sqlite:///{(tmp_path / 'studies.sqlite3').as_posix()}")


@pytest.fixture
def app(settings: Settings) -> FastAPI:
    return create_app(settings)


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened


@pytest.fixture
def document() -> dict[str, Any]:
    """A small valid study with three candidates."""
    loaded: dict[str, Any] = json.loads(REFERENCE.read_text(encoding="utf-8"))
    return loaded


@pytest.fixture
def study_id(app: FastAPI, client: TestClient, document: dict[str, Any]) -> str:
    """A study in the database, saved once by Ines."""
    from models.services import create_study

    state = create_study(app.state.store, document, author="Ines", note="First version")
    return state.study_id


class Forms:
    """Sends forms as a browser would: with the token that the page carried."""

    def __init__(self, client: TestClient) -> None:
        self.client = client

    def token(self, page: str = "/") -> str:
        text = self.client.get(page).text
        found = re.search(r'name="csrf_token" value="([^"]+)"', text)
        assert found, f"{page} carries no form token"
        return found[1]

    def send(self, address: str, fields: dict[str, Any] | None = None, **rest: Any) -> Any:
        fields = {"csrf_token": self.token(), **(fields or {})}
        return self.client.post(address, data=fields, **rest)


@pytest.fixture
def forms(client: TestClient) -> Forms:
    return Forms(client)


@pytest.fixture
def link_to(app: FastAPI, study_id: str) -> Any:
    """Makes a shared link and returns its token."""
    from models.services import create_link

    def make(kind: str = "frozen", **rest: Any) -> str:
        return create_link(app.state.store, study_id, kind=kind, **rest)[1]  # type: ignore[arg-type]

    return make
