"""Every broken study file at every door: command, upload, API; nothing of it is stored."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from starlette.testclient import TestClient

from models.services import Store, list_studies
from tests.broken_studies import BROKEN, Broken
from webapp.app import create_app
from webapp.cli import main
from webapp.settings import Settings

EVERY_FILE = pytest.mark.parametrize("broken", BROKEN, ids=lambda one: one.name)


class Door(NamedTuple):
    """One running app for all files, its store, and a form token."""

    client: TestClient
    store: Store
    token: str


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    path = tmp_path_factory.mktemp("broken") / "studies.sqlite3"
    app = create_app(Settings(database_url=f"sqlite:///{path.as_posix()}"))
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as client:
        found = re.search(r'name="csrf_token" value="([^"]+)"', client.get("/").text)
        assert found
        yield Door(client, app.state.store, found[1])


@EVERY_FILE
def test_the_api_names_the_fault(door: Door, broken: Broken) -> None:
    answer = door.client.post("/api/v1/evaluate", content=broken.file())
    assert answer.status_code == 422
    fault = answer.json()[0]
    assert fault["place"] == broken.place
    assert fault["message"]


@EVERY_FILE
def test_an_upload_is_refused_and_stores_nothing(door: Door, broken: Broken) -> None:
    answer = door.client.post(
        "/studies/upload",
        data={"csrf_token": door.token},
        files={"file": ("study.json", broken.file(), "application/json")},
    )
    assert answer.status_code in (413, 422)
    assert "<h1" in answer.text
    assert list_studies(door.store) == []


@EVERY_FILE
def test_the_command_exits_2_with_a_line_a_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], broken: Broken
) -> None:
    path = tmp_path / "study.json"
    path.write_bytes(broken.file())
    with pytest.raises(SystemExit) as stop:
        raise SystemExit(main(["evaluate", str(path)]))
    assert stop.value.code == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert broken.place in said.err
    assert "Traceback" not in said.err
