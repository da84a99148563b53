"""A running app over its own empty database, and what pages and forms need in tests."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

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


class SheetReader(HTMLParser):
    """Reads the form with the id `sheet` as a browser would fill and send it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.fields: list[tuple[str, str]] = []
        self.described: dict[str, str] = {}
        self._inside = False
        self._select = ""
        self._chosen: str | None = None
        self._area = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self._inside = self._inside or (tag == "form" and given.get("id") == "sheet")
        if not self._inside or ("name" not in given and tag != "option"):
            return
        name, value = given.get("name", ""), given.get("value", "")
        if tag == "input" and (given.get("type") != "checkbox" or "checked" in given):
            self.fields.append((name, value))
        elif tag == "select":
            self._select, self._chosen = name, None
        elif tag == "option" and (self._chosen is None or "selected" in given):
            self._chosen = value
        elif tag == "textarea":
            self._area = name
            self.fields.append((name, ""))

    def handle_data(self, data: str) -> None:
        if self._area:
            name, before = self.fields[-1]
            self.fields[-1] = (name, before + data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea" and self._area:
            name, text = self.fields[-1]
            self.fields[-1] = (name, text.removeprefix("\n"))
            self._area = ""
        elif tag == "select" and self._select:
            self.fields.append((self._select, self._chosen or ""))
            self._select = ""
        elif tag == "form":
            self._inside = False


class Sheets:
    """Opens a page with a form, changes what is typed in it, and sends it."""

    def __init__(self, client: TestClient) -> None:
        self.client = client

    def read(self, page: str) -> list[tuple[str, str]]:
        return SheetReader(page).fields

    def open(self, address: str) -> list[tuple[str, str]]:
        answer = self.client.get(address)
        assert answer.status_code == 200, answer.text[:300]
        return self.read(answer.text)

    def post(
        self,
        address: str,
        fields: list[tuple[str, str]],
        changes: dict[str, str] | None = None,
        *,
        to: str = "",
        **buttons: str,
    ) -> Any:
        changes = dict(changes or {})
        sent = [(name, changes.pop(name, text)) for name, text in fields]
        sent += [*changes.items(), *buttons.items()]
        return self.client.post(
            to or address,
            content=urlencode(sent),
            headers={"content-type": "application/x-www-form-urlencoded"},
        )


@pytest.fixture
def sheets(client: TestClient) -> Sheets:
    return Sheets(client)
