"""What somebody sees who opens a shared link."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import load_study, save_sections

PAGES = ["", "/fit", "/charts"]


def slower(app: FastAPI, study_id: str) -> None:
    """Save a revision in which the first candidate is geared far lower."""
    state = load_study(app.state.store, study_id)
    first = state.document["candidates"][0]
    changed = {**first, "drive": {**first["drive"], "ratio": first["drive"]["ratio"] * 2}}
    save_sections(
        app.state.store,
        study_id,
        base_revision=state.revision.number,
        edits={f"candidates/{first['key']}": changed},
        author="Ravi",
        note="Geared lower",
    )


def figures(page: str) -> list[str]:
    """The texts of all cells of the page's tables."""
    return [re.sub(r"<[^>]+>|\s+", " ", cell) for cell in re.findall(r"(?s)<td.*?</td>", page)]


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("kind", ["frozen", "live"])
def test_a_viewer_gets_pages_without_anything_to_edit(
    client: TestClient, link_to: Any, page: str, kind: str
) -> None:
    answer = client.get(f"/shared/{link_to(kind)}{page}")
    assert answer.status_code == 200
    assert "/studies/" not in answer.text
    posted = set(re.findall(r'method="post"[^>]*action="([^"]+)"', answer.text))
    assert posted == {"/units", "/ranges"}
    assert "Your name" not in answer.text


def test_a_frozen_link_says_revision_author_zone_hash_and_model(
    app: FastAPI, client: TestClient, link_to: Any, study_id: str
) -> None:
    page = client.get(f"/shared/{link_to('frozen')}").text
    state = load_study(app.state.store, study_id)
    for words in ("Frozen view", "Revision 1", "Ines", "(UTC", state.revision.hash[:16], "model "):
        assert words in page


def test_a_frozen_link_keeps_its_figures_and_a_live_one_follows(
    app: FastAPI, client: TestClient, link_to: Any, study_id: str
) -> None:
    frozen, live = link_to("frozen"), link_to("live")
    before = figures(client.get(f"/shared/{frozen}").text)
    assert before == figures(client.get(f"/shared/{live}").text)
    slower(app, study_id)
    assert figures(client.get(f"/shared/{frozen}").text) == before
    assert figures(client.get(f"/shared/{live}").text) != before
    charts = [client.get(f"/shared/{token}/charts/data.json").json() for token in (frozen, live)]
    assert charts[0] != charts[1]


def test_figures_of_an_older_model_are_named_beside_the_curves(
    client: TestClient, link_to: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    token = link_to("frozen")
    assert "curves are drawn by model" not in client.get(f"/shared/{token}/charts").text
    monkeypatch.setattr("webapp.pages.shared_view.context.MODEL_VERSION", "a later one")
    assert "curves are drawn by model a later one" in client.get(f"/shared/{token}/charts").text


@pytest.mark.parametrize("page", [*PAGES, "/charts/data.json"])
def test_a_link_that_never_was_and_one_that_expired(
    client: TestClient, link_to: Any, monkeypatch: pytest.MonkeyPatch, page: str
) -> None:
    assert client.get(f"/shared/nothing{page}").status_code == 404
    token = link_to("live", expires_at=datetime.now(UTC) + timedelta(hours=1))
    assert client.get(f"/shared/{token}{page}").status_code == 200

    class Later(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> datetime:
            return datetime.now(tz) + timedelta(hours=2)

    monkeypatch.setattr("models.services.sharing.datetime", Later)
    assert client.get(f"/shared/{token}{page}").status_code == 410


@pytest.mark.parametrize("page", ["/robot", "/givens", "/history", "/share", "/study.json"])
def test_a_link_opens_no_other_page(client: TestClient, link_to: Any, page: str) -> None:
    assert client.get(f"/shared/{link_to('live')}{page}").status_code == 404


def test_a_viewer_whose_link_is_closed_is_not_sent_to_the_studies(client: TestClient) -> None:
    page = client.get("/shared/nothing").text
    assert 'href="/"' not in page
    assert "Ask whoever sent the link" in page


def test_the_address_of_a_link_may_carry_what_a_chat_program_appends(
    client: TestClient, link_to: Any
) -> None:
    assert client.get(f"/shared/{link_to('live')}.").status_code == 200
