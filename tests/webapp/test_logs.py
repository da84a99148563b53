"""The log: a line a request, without what opens a link or was typed."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.errors import StorageError
from webapp.logs import configure_logs, path_for_log
from webapp.settings import Settings, SettingsError


@pytest.fixture
def lines(caplog: pytest.LogCaptureFixture) -> Iterator[Any]:
    """The lines of requests so far."""
    with caplog.at_level(logging.DEBUG, logger="switchover"):
        yield lambda: [
            record.getMessage() for record in caplog.records if record.name == "switchover.requests"
        ]


def test_a_request_has_one_line(client: TestClient, study_id: str, lines: Any) -> None:
    page = client.get(f"/studies/{study_id}/history?note=typed")
    (line,) = lines()
    found = re.fullmatch(rf"GET /studies/{study_id}/history 200 (\d+\.\d) ms (\d+) B", line)
    assert found
    assert int(found[2]) == len(page.content)
    assert float(found[1]) > 0


def test_a_refused_host_and_a_lost_page_have_lines_too(client: TestClient, lines: Any) -> None:
    client.get("/", headers={"host": "elsewhere.test"})
    client.get("/nowhere")
    assert [line.split()[:3] for line in lines()] == [
        ["GET", "/", "400"],
        ["GET", "/nowhere", "404"],
    ]


def test_static_files_and_health_are_for_debugging(
    client: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO, logger="switchover"):
        client.get("/health")
        client.get("/static/none.css")
    assert [record.getMessage().split()[1] for record in caplog.records] == ["/static/none.css"]


def test_no_form_and_no_cookie_is_logged(
    forms: Any, client: TestClient, caplog: pytest.LogCaptureFixture, lines: Any
) -> None:
    token = forms.token()
    client.cookies.set("units", "odd-cookie")
    forms.send("/preferences/author", {"author": "Mara-typed-this"})
    assert lines()
    for secret in ("Mara-typed-this", "odd-cookie", token):
        assert secret not in caplog.text


@pytest.mark.parametrize(
    "address", ["/shared/{}", "/%73hared/{}/power", "/ballots/{}", "/pit//Shared/{}"]
)
def test_a_links_secret_is_not_logged(
    client: TestClient, caplog: pytest.LogCaptureFixture, lines: Any, address: str, link_to: Any
) -> None:
    token = link_to()
    client.get(address.format(token))
    assert f"…{token[-4:]}" in lines()[-1]
    assert token[:-4] not in caplog.text


@pytest.mark.parametrize(
    ("path", "shown"),
    [
        ("/shared/short", "/shared/…"),
        ("/studies/abc/candidates/tank", "/studies/abc/candidates/tank"),
        ("/a\r\n2026 GET /b", "/a%0D%0A2026%20GET%20/b"),
        ('/a"b\\c\x1b[31m', "/a%22b%5Cc%1B[31m"),
        ("/ü\u2028\ud800", "/%C3%BC%E2%80%A8%3F"),
        ("/" + "x" * 400, "/" + "x" * 299),
    ],
)
def test_a_path_stays_on_its_line(path: str, shown: str) -> None:
    assert path_for_log(path) == shown


def test_an_error_has_the_mark_that_its_page_shows(
    app: FastAPI, lines: Any, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    errors: list[Exception] = [RuntimeError("boom"), StorageError("The disk is full.")]

    def fail(*_: Any) -> None:
        raise errors.pop(0)

    monkeypatch.setattr("webapp.pages.shared_view.opening.open_link", fail)
    with TestClient(app, base_url="http://localhost", raise_server_exceptions=False) as client:
        for status in (500, 503):
            page = client.get("/shared/secrettoken123456")
            mark = page.text.split("under the mark ")[1][:8]
            assert page.status_code == status
            assert re.fullmatch(
                rf"GET /shared/…3456 {status} [\d.]+ ms \d+ B mark {mark}", lines()[-1]
            )
            assert f"failed under mark {mark}" in caplog.text


def test_what_was_typed_is_not_in_the_databases_own_message(
    client: TestClient, app: FastAPI
) -> None:
    from sqlalchemy import text
    from sqlalchemy.exc import DBAPIError

    with pytest.raises(DBAPIError) as failed, app.state.store.writing() as session:
        session.execute(text("INSERT INTO nowhere VALUES (:typed)"), {"typed": "secret plan"})
    assert "secret plan" not in str(failed.value)


@pytest.fixture
def untouched() -> Iterator[None]:
    """Logging as it was before, afterwards."""
    root, ours = logging.getLogger(), logging.getLogger("switchover")
    before = (list(root.handlers), root.level, ours.level)
    yield
    for handler in set(root.handlers) - set(before[0]):
        root.removeHandler(handler)
        handler.close()
    root.setLevel(before[1])
    ours.setLevel(before[2])


@pytest.mark.usefixtures("untouched")
@pytest.mark.parametrize(("level", "kept"), [("info", 2), ("warning", 1)])
def test_the_log_goes_to_a_file(tmp_path: Path, level: Any, kept: int) -> None:
    path = tmp_path / "switchover.log"
    configure_logs(Settings(log_file=str(path), log_level=level))
    logging.getLogger("switchover.requests").info("GET / 200")
    logging.getLogger("switchover").error("failed")
    lines = path.read_text(encoding="utf-8").splitlines()
    assert len(lines) == kept
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z ERROR failed", lines[-1])


@pytest.mark.usefixtures("untouched")
def test_a_log_that_cannot_be_written_stops_the_start(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"SWITCHOVER_LOG_FILE is .*cannot be written"):
        configure_logs(Settings(log_file=str(tmp_path / "none" / "switchover.log")))
